"""What the reader accepts and refuses: mido judges what it reads, chance what it bears."""

from io import BytesIO
from typing import Any

import mido
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from groove.errors import MidiError
from groove.events import Marker, Performance
from groove.io.midi import MidiContents, midi_bytes, read_midi, write_midi
from groove.io.midi_contents import (
    LARGEST_MIDI_BYTES,
    ControlChange,
    KeySignature,
    MeterChange,
    MidiEvent,
    NoteOff,
    NoteOn,
    ProgramChange,
    TrackEnd,
    TrackName,
)
from groove.timing import Meter, TempoChange
from tests.midi_support import table
from tests.strategies_events import performances

CHECKED = settings(derandomize=True, deadline=None, max_examples=30)
HEADER = bytes.fromhex("4D546864 00000006 0000 0001 0060")
END = bytes.fromhex("00 FF 2F 00")
WORKED = [bytes.fromhex(table("midi_files")[name]["hex"]) for name in ("format_0", "format_1")]


def file_of(track: bytes, *, header: bytes = HEADER) -> bytes:
    return header + b"MTrk" + len(track).to_bytes(4, "big") + track


BYTES = st.integers(0, 127)
TEXT = st.text(st.characters(max_codepoint=127), max_size=8)
CHANNEL_FIELDS: dict[str, dict[str, st.SearchStrategy[Any]]] = {
    "note_on": {"note": BYTES, "velocity": BYTES},
    "note_off": {"note": BYTES, "velocity": BYTES},
    "control_change": {"control": BYTES, "value": BYTES},
    "program_change": {"program": BYTES},
    "polytouch": {"note": BYTES, "value": BYTES},
    "aftertouch": {"value": BYTES},
    "pitchwheel": {"pitch": st.integers(-8192, 8191)},
}
META_FIELDS: dict[str, dict[str, st.SearchStrategy[Any]]] = {
    "track_name": {"name": TEXT},
    "marker": {"text": TEXT},
    "lyrics": {"text": TEXT},
    "set_tempo": {"tempo": st.integers(1, 0xFFFFFF)},
    "time_signature": {
        "numerator": st.integers(1, 255),
        "denominator": st.sampled_from([1, 2, 4, 8, 16, 32]),
        "clocks_per_click": st.integers(0, 255),
    },
    "sequencer_specific": {"data": st.lists(st.integers(0, 255), max_size=200)},
}
DELTAS = st.sampled_from([0, 1, 127, 128, 960]) | st.integers(0, 0x0FFFFFFF)


def messages() -> st.SearchStrategy[Any]:
    """Draw messages of mido, those that the reader passes over among them."""
    builders = [
        st.builds(mido.Message, st.just(kind), channel=st.integers(0, 15), time=DELTAS, **fields)
        for kind, fields in CHANNEL_FIELDS.items()
    ]
    builders += [
        st.builds(mido.MetaMessage, st.just(kind), time=DELTAS, **fields)
        for kind, fields in META_FIELDS.items()
    ]
    data = st.lists(BYTES, max_size=200)
    builders.append(st.builds(mido.Message, st.just("sysex"), time=DELTAS, data=data))
    return st.one_of(builders)


BY_MIDO: dict[str, Any] = {
    "note_on": lambda t, m: (NoteOn if m.velocity else NoteOff)(
        t, m.channel + 1, m.note, m.velocity
    ),
    "note_off": lambda t, m: NoteOff(t, m.channel + 1, m.note, m.velocity),
    "control_change": lambda t, m: ControlChange(t, m.channel + 1, m.control, m.value),
    "program_change": lambda t, m: ProgramChange(t, m.channel + 1, m.program),
    "track_name": lambda t, m: TrackName(t, m.name),
    "marker": lambda t, m: Marker(t, m.text),
    "set_tempo": lambda t, m: TempoChange(t, m.tempo),
    "end_of_track": lambda t, m: TrackEnd(t),
    "time_signature": lambda t, m: MeterChange(
        t, Meter(m.numerator, m.denominator), m.clocks_per_click
    ),
}
"""The event that a message of mido at a tick stands for; the others are passed over."""


def events_by_mido(track: Any) -> tuple[MidiEvent, ...]:
    now = 0
    events = []
    for message in track:
        now += message.time
        if message.type in BY_MIDO:
            events.append(BY_MIDO[message.type](now, message))
    return tuple(events)


@CHECKED
@given(st.lists(st.lists(messages(), max_size=12), min_size=1, max_size=4))
def test_reader_agrees_with_mido(tracks: list[list[Any]]) -> None:
    """mido writes what it was given, with running status where it can, and reads it again."""
    file = mido.MidiFile(type=1, ticks_per_beat=480, tracks=[mido.MidiTrack(t) for t in tracks])
    out = BytesIO()
    file.save(file=out)
    read = read_midi(out.getvalue())
    again = mido.MidiFile(file=BytesIO(out.getvalue()))
    assert (read.format, read.ticks_per_quarter) == (1, 480)
    assert read.tracks == tuple(events_by_mido(track) for track in again.tracks)


@settings(CHECKED, max_examples=12)
@given(performances())
def test_contents_come_back_from_their_bytes(song: Performance) -> None:
    contents = read_midi(midi_bytes(song))
    assert read_midi(write_midi(contents)) == contents
    assert sum(len(track) for track in contents.tracks) >= 10


def test_unknown_chunks_and_a_longer_header_are_skipped() -> None:
    """Standard MIDI Files 1.0: a reader must skip chunks that it does not know."""
    header = bytes.fromhex("4D546864 00000008 0000 0001 0060 BEEF") + b"XFIH\0\0\0\3abc"
    marker = bytes.fromhex("60 FF 06 01 41")
    contents = read_midi(file_of(marker + END, header=header))
    assert contents.tracks == ((Marker(96, "A"), TrackEnd(96)),)


def test_text_is_utf_8_or_else_latin_1() -> None:
    texts = [bytes.fromhex("00 FF 06 03 E2 99 AD"), bytes.fromhex("00 FF 06 02 FC 62")]
    events = read_midi(file_of(b"".join(texts) + END)).tracks[0]
    assert events == (Marker(0, "♭"), Marker(0, "üb"), TrackEnd(0))


def test_key_signatures_are_read() -> None:
    """sf is signed, mi 1 is minor (Standard MIDI Files 1.0): F9 is seven flats."""
    keys = bytes.fromhex("00 FF 59 02 F9 00  01 FF 59 02 03 01")
    events = read_midi(file_of(keys + END)).tracks[0]
    assert events[:2] == (KeySignature(0, -7, False), KeySignature(1, 3, True))


REFUSED = {
    "nothing": (b"", "'MThd'"),
    "another kind of file": (b"RIFF" + WORKED[0], "'MThd'"),
    "header cut": (HEADER[:10], "6 bytes expected, 2 left"),
    "header short": (bytes.fromhex("4D546864 00000004 0000 0001"), "4 bytes, 6 expected"),
    "header length huge": (bytes.fromhex("4D546864 FFFFFFFF 0000 0001 0060"), "4294967295 bytes"),
    "format 3": (
        file_of(END, header=bytes.fromhex("4D546864 00000006 0003 0001 0060")),
        "format 3",
    ),
    "no tracks": (bytes.fromhex("4D546864 00000006 0001 0000 0060"), "0 tracks"),
    "two tracks in format 0": (bytes.fromhex("4D546864 00000006 0000 0002 0060"), "2 tracks"),
    "film frames": (bytes.fromhex("4D546864 00000006 0000 0001 E728"), "division 59176"),
    "division 0": (bytes.fromhex("4D546864 00000006 0000 0001 0000"), "division 0"),
    "track missing": (HEADER, "4 bytes expected, 0 left"),
    "track cut": (file_of(END)[:-1], "4 bytes expected, 3 left"),
    "track length huge": (HEADER + b"MTrk\xff\xff\xff\xff" + END, "4294967295 bytes"),
    "65535 tracks": (bytes.fromhex("4D546864 00000006 0001 FFFF 0060"), "track 1 of 65535"),
    "no end of track": (file_of(bytes.fromhex("00 90 3C 40")), "1 bytes expected, 0 left"),
    "bytes after the end": (file_of(END + b"\0"), "1 bytes after the end"),
    "empty track": (file_of(b""), "1 bytes expected, 0 left"),
    "five-byte time": (file_of(bytes.fromhex("81 80 80 80 00") + END), "more than four bytes"),
    "endless time": (file_of(b"\xff" * 100_000), "more than four bytes"),
    "no status": (file_of(bytes.fromhex("00 3C 40") + END), "no status"),
    "running status after meta": (
        file_of(bytes.fromhex("00 90 3C 40 00 FF 06 00 00 3C 00") + END),
        "no status",
    ),
    "running status after sysex": (
        file_of(bytes.fromhex("00 90 3C 40 00 F0 01 F7 00 3C 00") + END),
        "no status",
    ),
    "realtime": (file_of(bytes.fromhex("00 F8") + END), "status F8"),
    "data byte": (file_of(bytes.fromhex("00 90 3C 80") + END), "data byte 80"),
    "meta length": (file_of(bytes.fromhex("00 FF 06 8F FF FF 7F") + END), "33554431 bytes"),
    "sysex length": (file_of(bytes.fromhex("00 F0 8F FF FF 7F") + END), "33554431 bytes"),
    "tempo of two bytes": (file_of(bytes.fromhex("00 FF 51 02 07 A1") + END), "51 cannot hold"),
    "tempo 0": (file_of(bytes.fromhex("00 FF 51 03 00 00 00") + END), "51 cannot hold"),
    "meter of no beats": (file_of(bytes.fromhex("00 FF 58 04 00 02 18 08") + END), "58 cannot"),
    "meter in 2**255ths": (file_of(bytes.fromhex("00 FF 58 04 04 FF 18 08") + END), "58 cannot"),
    "eight sharps": (file_of(bytes.fromhex("00 FF 59 02 08 00") + END), "59 cannot hold 08 00"),
    "mode 2": (file_of(bytes.fromhex("00 FF 59 02 00 02") + END), "59 cannot hold"),
    "end with content": (file_of(bytes.fromhex("00 FF 2F 01 00")), "2F cannot hold"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_malformed_file_is_refused_with_its_place(name: str) -> None:
    data, words = REFUSED[name]
    with pytest.raises(MidiError) as caught:
        read_midi(data)
    assert words in caught.value.message
    assert ", byte " in caught.value.message
    assert caught.value.exit_code == 2


def test_file_that_is_too_large_is_refused() -> None:
    with pytest.raises(MidiError, match="at most 10,000,000"):
        read_midi(bytes(LARGEST_MIDI_BYTES + 1))


def read_or_refuse(data: bytes) -> bool:
    """Read; only an error of ours may come, and what is read can be looked at."""
    try:
        contents = read_midi(data)
    except MidiError as error:
        assert error.report()
        return False
    assert isinstance(contents, MidiContents)
    assert all(isinstance(track[-1], TrackEnd) for track in contents.tracks)
    return True


@CHECKED
@given(st.binary(max_size=300))
def test_any_bytes_are_read_or_refused(data: bytes) -> None:
    assert not read_or_refuse(data)


@CHECKED
@given(st.binary(max_size=300))
def test_any_track_is_read_or_refused(track: bytes) -> None:
    read_or_refuse(file_of(track))
    read_or_refuse(file_of(track + END))


@CHECKED
@given(
    st.sampled_from(WORKED),
    st.lists(st.tuples(st.integers(0, 117), st.integers(0, 255)), min_size=1, max_size=4),
)
def test_worked_file_with_changed_bytes_is_read_or_refused(
    data: bytes, changes: list[tuple[int, int]]
) -> None:
    changed = bytearray(data)
    for place, byte in changes:
        changed[place % len(changed)] = byte
    read_or_refuse(bytes(changed))


def test_worked_file_cut_anywhere_is_refused() -> None:
    cuts = [data[:length] for data in WORKED for length in range(len(data))]
    assert len(cuts) == 81 + 118
    assert not any(read_or_refuse(cut) for cut in cuts)
