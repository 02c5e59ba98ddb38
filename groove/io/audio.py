"""Samples become the bytes of an audio file.

WAV and FLAC hold 16-bit samples without dither unless more are asked for: every player and phone
reads them, the rounding lies some 80 dB under a mix at -16 LUFS, and the same samples give the same
bytes.  Values over full scale are clipped, not wrapped, but in WAV of floats.
"""

import io
import struct
import zlib
from collections.abc import Sequence
from types import MappingProxyType
from typing import TYPE_CHECKING

from groove.errors import OptionError, OutputError
from groove.io.loudness import true_peak_dbtp
from groove.io.sound_tags import SoundMarker, id3_tag, wav_markers

if TYPE_CHECKING:
    from numpy import float32, int16, int32
    from numpy.typing import NDArray

    from groove.arrays import Samples

AUDIO_FORMATS = MappingProxyType(
    {
        ".wav": ("WAV", "PCM_16"),
        ".flac": ("FLAC", "PCM_16"),
        ".ogg": ("OGG", "VORBIS"),
        ".mp3": ("MP3", "MPEG_LAYER_III"),
    }
)
"""Suffix of a file -> container and coding, by the names that libsndfile has for them."""

SAMPLE_FORMATS = MappingProxyType({"16": "PCM_16", "24": "PCM_24", "float": "FLOAT"})
"""What can be asked of a WAV file -> its coding; FLAC holds the whole numbers."""

LOSSY_SUFFIXES = frozenset({".ogg", ".mp3"})

_BLOCK_FRAMES = 65_536  # one OGG write of more than about 45 s crashes the process

_FULL_SCALE = MappingProxyType({"PCM_16": 2**15 - 1, "PCM_24": 2**23 - 1})  # the largest sample
_PADDING_BITS = 8  # 24 bits are handed over in the upper ones of 32
_REVERSED_BITS = bytes(int(f"{byte:08b}"[::-1], 2) for byte in range(256))
_OGG_SERIAL, _OGG_CRC, _OGG_SEGMENTS = 14, 22, 26  # places in a page header, RFC 3533 section 6


def audio_bytes(
    samples: "Samples",
    sample_rate: int,
    *,
    suffix: str,
    factor: float = 1.0,
    sample_format: str | None = None,
    title: str = "",
    markers: Sequence[SoundMarker] = (),
) -> bytes:
    """Return a whole audio file of samples of shape (frames, 2), each multiplied by ``factor``.

    ``sample_rate`` is in Hz; ``suffix`` is ``.wav``, ``.flac``, ``.ogg`` or ``.mp3`` (a key of
    ``AUDIO_FORMATS``); full scale is 1.0.  ``sample_format`` is a key of ``SAMPLE_FORMATS``, None
    the format's usual one.  The same samples give the same bytes.  Raises ``OptionError`` for
    samples that the format does not hold, ``OutputError`` if the coder refuses them.
    """
    import numpy
    import soundfile

    container, coding = AUDIO_FORMATS[suffix]
    if sample_format is not None:
        coding = held_coding(suffix, sample_format)
    scale = numpy.float32(factor)
    buffer = io.BytesIO()
    try:
        with soundfile.SoundFile(
            buffer, "w", sample_rate, samples.shape[1], format=container, subtype=coding
        ) as file:
            if title and container != "MP3":  # there it would be an ID3v1 tag, of 30 letters
                file.title = title
            for start in range(0, len(samples), _BLOCK_FRAMES):
                block = samples[start : start + _BLOCK_FRAMES] * scale
                file.write(_coded(block, coding))
    except (RuntimeError, ValueError) as error:
        raise OutputError(
            f"cannot make a {suffix} file: {error}", hint="write a .wav file instead"
        ) from None
    data = buffer.getvalue()
    if container == "OGG":
        return _with_fixed_serial(data)
    if container == "MP3":
        return id3_tag(title, markers, len(samples) / sample_rate) + data if title else data
    if container == "WAV":
        return wav_markers(_without_peak_date(data), markers, sample_rate)
    return data


def held_coding(suffix: str, sample_format: str) -> str:
    """Return the coding of the samples asked for; raise ``OptionError`` where a file has no such.

    ``sample_format`` is a key of ``SAMPLE_FORMATS``.
    """
    container, _ = AUDIO_FORMATS[suffix]
    coding = SAMPLE_FORMATS[sample_format]
    if suffix in LOSSY_SUFFIXES:
        raise OptionError(
            f"a {suffix} file has no samples of {sample_format} bits: --bits",
            hint="leave --bits out, or write a .wav or .flac file",
        )
    if container == "FLAC" and coding == "FLOAT":
        raise OptionError(
            "a .flac file holds no floats: --bits float",
            hint="expected 16 or 24, or a .wav file",
        )
    return coding


def encoded_peak_dbtp(data: bytes) -> float | None:
    """Return the true peak in dBTP of a whole audio file as a decoder gives it, None of silence."""
    import soundfile

    samples, _ = soundfile.read(io.BytesIO(data), dtype="float32", always_2d=True)
    return true_peak_dbtp(samples)


def _coded(block: "Samples", coding: str) -> "NDArray[float32 | int16 | int32]":
    """Return whole numbers, rounded to the nearest: libsndfile's own conversion rounds down."""
    import numpy

    if coding not in _FULL_SCALE:
        return block.copy(order="C")
    full_scale = _FULL_SCALE[coding]
    steps = numpy.rint(block * numpy.float64(full_scale))
    clipped = numpy.clip(steps, -full_scale, full_scale)
    if coding == "PCM_16":
        return clipped.astype(numpy.int16, order="C")
    return clipped.astype(numpy.int32, order="C") << _PADDING_BITS


def _without_peak_date(wav: bytes) -> bytes:
    """Return a WAV file whose PEAK chunk has no time of the clock: libsndfile adds one to floats.

    The chunk stands before the samples: version, seconds since 1970, then a peak a channel.
    """
    at = wav.find(b"PEAK", 0, wav.find(b"data"))
    return wav if at < 0 else wav[: at + 12] + bytes(4) + wav[at + 16 :]


def _with_fixed_serial(ogg: bytes) -> bytes:
    """Return an Ogg stream with serial number 1: libsndfile draws one from the clock.

    Pages and their checksum: RFC 3533, section 6.
    """
    pages = bytearray(ogg)
    at = 0
    while at < len(pages):
        lacing = at + _OGG_SEGMENTS + 1
        body = lacing + pages[at + _OGG_SEGMENTS]
        end = body + sum(pages[lacing:body])
        struct.pack_into("<I", pages, at + _OGG_SERIAL, 1)
        struct.pack_into("<I", pages, at + _OGG_CRC, 0)
        struct.pack_into("<I", pages, at + _OGG_CRC, _ogg_checksum(bytes(pages[at:end])))
        at = end
    return bytes(pages)


def _ogg_checksum(page: bytes) -> int:
    """Return the CRC of a page: zlib's polynomial, bits in the other order, no inversion."""
    mirrored = zlib.crc32(page.translate(_REVERSED_BITS), 0xFFFFFFFF) ^ 0xFFFFFFFF
    return int(f"{mirrored:032b}"[::-1], 2)
