"""A tiny SF2 soundfont made in code: every key of every preset is one click with a step attack.

Layout by the *SoundFont Technical Specification 2.04* (E-mu/Creative, 2006), sections 4 to 8.  No
licence hangs on it, and since the first sample is the loudest, an onset can be found to the
sample.
"""

import struct

SAMPLE_RATE = 44_100
CLICK_FRAMES = 441
"""Ten milliseconds: shorter than any gap between notes of the tests."""

_GUARD_FRAMES = 46  # silence that the specification asks for after each sample (7.10)
_USUAL_PRESETS = ((0, 4), (0, 33), (128, 0))
EVERY_PRESET = tuple((bank, program) for bank in (0, 128) for program in range(128))
"""Every program and every kit: for tests that do not listen, whatever the feel."""

_ATTACK_VOL_ENV, _SAMPLE_ID, _SCALE_TUNING, _INSTRUMENT = 34, 53, 56, 41  # section 8.1.2
_INSTANT_TIMECENTS = -32_768  # section 8.1.3: "no attack time"


def _chunk(name: bytes, data: bytes) -> bytes:
    return name + struct.pack("<I", len(data)) + data + b"\0" * (len(data) % 2)


def _list(kind: bytes, *chunks: bytes) -> bytes:
    return _chunk(b"LIST", kind + b"".join(chunks))


def _name(text: str) -> bytes:
    return text.encode("ascii")[:19].ljust(20, b"\0")


def _preset(text: str, program: int, bank: int, bag: int) -> bytes:
    return _name(text) + struct.pack("<HHHIII", program, bank, bag, 0, 0, 0)


def _click_samples(level: int) -> bytes:
    falling = (level * (CLICK_FRAMES - i) // CLICK_FRAMES for i in range(CLICK_FRAMES))
    return struct.pack(f"<{CLICK_FRAMES}h", *falling) + bytes(2 * _GUARD_FRAMES)


def click_font(
    presets: tuple[tuple[int, int], ...] = _USUAL_PRESETS,
    *,
    silent: tuple[tuple[int, int], ...] = (),
) -> bytes:
    """Return the bytes of a font with these (bank, program) presets; ``silent`` ones play zeros."""
    samples = _click_samples(30_000) + _click_samples(0)
    second = CLICK_FRAMES + _GUARD_FRAMES
    headers = [
        _preset(f"click {bank}-{program}", program, bank, index)
        for index, (bank, program) in enumerate(presets)
    ]
    generators = [struct.pack("<HH", _INSTRUMENT, int(preset in silent)) for preset in presets]
    count = len(presets)
    instrument = [
        struct.pack("<HhHhHH", _ATTACK_VOL_ENV, _INSTANT_TIMECENTS, _SCALE_TUNING, 0, _SAMPLE_ID, i)
        for i in (0, 1)
    ]
    sample_headers = [
        _name(text)
        + struct.pack("<IIIIIBbHH", at, at + CLICK_FRAMES, at, at, SAMPLE_RATE, 60, 0, 0, 1)
        for text, at in (("click", 0), ("nothing", second))
    ]
    pdta = _list(
        b"pdta",
        _chunk(b"phdr", b"".join(headers) + _preset("EOP", 0, 0, count)),
        _chunk(b"pbag", b"".join(struct.pack("<HH", i, 0) for i in range(count + 1))),
        _chunk(b"pmod", bytes(10)),
        _chunk(b"pgen", b"".join(generators) + bytes(4)),
        _chunk(b"inst", _inst("click", 0) + _inst("nothing", 1) + _inst("EOI", 2)),
        _chunk(b"ibag", struct.pack("<HHHHHH", 0, 0, 3, 0, 6, 0)),
        _chunk(b"imod", bytes(10)),
        _chunk(b"igen", b"".join(instrument) + bytes(4)),
        _chunk(b"shdr", b"".join(sample_headers) + _name("EOS") + bytes(26)),
    )
    info = _list(
        b"INFO",
        _chunk(b"ifil", struct.pack("<HH", 2, 4)),
        _chunk(b"isng", b"EMU8000\0"),
        _chunk(b"INAM", b"Click test font\0"),
    )
    return _chunk(b"RIFF", b"sfbk" + info + _list(b"sdta", _chunk(b"smpl", samples)) + pdta)


def _inst(text: str, bag: int) -> bytes:
    return _name(text) + struct.pack("<H", bag)
