"""The MIDI room against Standard MIDI Files 1.0: its worked files, numbers and meta events."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from groove.errors import MidiError
from groove.events import Marker, Part
from groove.io.midi import MidiContents, midi_bytes, read_midi, write_midi
from groove.io.midi_contents import (
    ControlChange,
    KeySignature,
    MeterChange,
    MidiEvent,
    NoteOff,
    NoteOn,
    ProgramChange,
    TextEvent,
    TrackEnd,
    TrackName,
)
from groove.timing import Meter, TempoChange
from tests.midi_support import bars_of, mido_file, note, performance, table

FILES = table("midi_files")
MUSIC = FILES["music"]
QUANTITIES = table("midi_quantities")["quantities"]
META = table("midi_meta")


def worked_file(name: str) -> bytes:
    return bytes.fromhex(FILES[name]["hex"])


def stated_events(*, release_velocity: int) -> list[MidiEvent]:
    """Return the music of both worked files as the standard's table states it, ends apart."""
    return [
        MeterChange(0, Meter(4, 4), 24, 8),
        TempoChange(0, MUSIC["microseconds_per_quarter"]),
        *(ProgramChange(*row) for row in MUSIC["programs"]),
        *(NoteOn(*row) for row in MUSIC["starts"]),
        *(NoteOff(t, channel, p, release_velocity) for t, channel, p in MUSIC["ends"]),
    ]


def in_order(contents: MidiContents) -> list[MidiEvent]:
    """Return all events but the ends of tracks, comparable whatever track they stand in."""
    events = [event for track in contents.tracks for event in track]
    return sorted((e for e in events if not isinstance(e, TrackEnd)), key=repr)


@pytest.mark.parametrize(
    ("name", "file_format", "track_count", "release_velocity"),
    [("format_0", 0, 1, 64), ("format_1", 1, 4, 0)],
)
def test_worked_file_is_read_to_the_stated_events(
    name: str, file_format: int, track_count: int, release_velocity: int
) -> None:
    data = worked_file(name)
    assert len(data) == FILES[name]["size"]
    contents = read_midi(data)
    assert (contents.format, contents.ticks_per_quarter) == (file_format, 96)
    assert len(contents.tracks) == track_count
    stated = stated_events(release_velocity=release_velocity)
    assert len(stated) == 13
    assert in_order(contents) == sorted(stated, key=repr)
    ends = [track[-1] for track in contents.tracks]
    assert ends == [TrackEnd(MUSIC["end_tick"])] * track_count


@pytest.mark.parametrize("name", ["format_0", "format_1"])
def test_worked_file_is_written_to_the_standards_own_bytes(name: str) -> None:
    data = worked_file(name)
    assert write_midi(read_midi(data)) == data


def test_stated_music_is_written_as_the_format_0_file() -> None:
    """From the table of events alone, so that reader and writer cannot share a fault."""
    end = TrackEnd(MUSIC["end_tick"])
    track = (*stated_events(release_velocity=64), end)
    data = write_midi(MidiContents(format=0, ticks_per_quarter=96, tracks=(track,)))
    assert data == worked_file("format_0")


def test_worked_music_from_a_performance_has_the_same_notes_and_maps() -> None:
    """The same music through the performance writer, at 960 ticks: ten times each tick."""
    notes = [note(Part.KEYS, t * 10, (384 - t) * 10, p, v) for t, _, p, v in MUSIC["starts"]]
    contents = read_midi(midi_bytes(performance(notes)))
    conductor, keys = contents.tracks
    stated = stated_events(release_velocity=64)
    assert set(stated[:2]) <= set(conductor)
    starts = [(e.tick, e.pitch, e.velocity) for e in keys if isinstance(e, NoteOn)]
    ends = sorted((e.tick, e.pitch) for e in keys if isinstance(e, NoteOff))
    assert starts == [(t * 10, p, v) for t, _, p, v in MUSIC["starts"]]
    assert ends == sorted((t * 10, p) for t, _, p in MUSIC["ends"])


def test_copy_without_delta_times_is_refused() -> None:
    with pytest.raises(MidiError, match=r"track 1 of 4, byte \d+") as caught:
        read_midi(worked_file("malformed"))
    assert caught.value.exit_code == 2


def file_of(track: bytes, *, header: str = "4D546864 00000006 0000 0001 0060") -> bytes:
    """Return a file of one track of these bytes."""
    return bytes.fromhex(header) + b"MTrk" + len(track).to_bytes(4, "big") + track


def test_quantities_are_read_as_the_standard_tables_them() -> None:
    read = [
        read_midi(file_of(bytes.fromhex(text) + b"\xff\x2f\x00")).tracks[0][0].tick
        for _, text in QUANTITIES
    ]
    assert read == [value for value, _ in QUANTITIES]
    assert len(read) == 14


def test_quantities_are_written_as_the_standard_tables_them() -> None:
    written = [
        write_midi(MidiContents(format=0, ticks_per_quarter=96, tracks=((TrackEnd(value),),)))
        for value, _ in QUANTITIES
    ]
    assert written == [file_of(bytes.fromhex(text) + b"\xff\x2f\x00") for _, text in QUANTITIES]
    assert len(written) == 14


@settings(derandomize=True, deadline=None)
@given(st.integers(0, 0x0FFFFFFF))
def test_every_quantity_comes_back(value: int) -> None:
    contents = MidiContents(format=0, ticks_per_quarter=96, tracks=((TrackEnd(value),),))
    data = write_midi(contents)
    assert read_midi(data) == contents
    # Seven bits a byte (the standard), so so many bytes between header, end and chunk heads.
    assert len(data) == 22 + 3 + max(1, -(-value.bit_length() // 7))


def test_quantity_that_no_file_can_hold_is_not_written() -> None:
    """0FFFFFFF is the largest legal value (Standard MIDI Files 1.0)."""
    too_late = MidiContents(format=0, ticks_per_quarter=96, tracks=((TrackEnd(0x10000000),),))
    with pytest.raises(ValueError, match="268,435,455"):
        write_midi(too_late)


@pytest.mark.parametrize(
    "event",
    [
        NoteOn(0, 0, 60, 100),
        NoteOn(0, 17, 60, 100),
        NoteOn(0, 1, 128, 100),
        NoteOff(0, 1, 60, -1),
        ProgramChange(0, 1, 128),
        ControlChange(0, 1, 7, 128),
        TempoChange(0, 1 << 24),
        MeterChange(0, Meter(3, 6), 24),
        MeterChange(0, Meter(256, 4), 24),
        KeySignature(0, 8, False),
        KeySignature(0, -8, True),
    ],
    ids=repr,
)
def test_what_has_no_bytes_is_not_written(event: MidiEvent) -> None:
    """Channels 1-16 and data of seven bits (MIDI 1.0), tempi of three bytes, units of powers of
    two, and keys of at most seven signs (Standard MIDI Files 1.0)."""
    with pytest.raises(ValueError, match=r"must be|range|invalid|power"):  # in mido's words
        write_midi(MidiContents(format=0, ticks_per_quarter=96, tracks=((event, TrackEnd(0)),)))


def test_a_meta_event_ends_running_status() -> None:
    """Standard MIDI Files 1.0: meta events cancel any running status which was in effect."""
    track = (NoteOn(0, 1, 60, 9), NoteOn(0, 1, 64, 9), Marker(0, "A"), NoteOn(0, 1, 67, 9))
    data = write_midi(MidiContents(format=0, ticks_per_quarter=96, tracks=((*track, TrackEnd(0)),)))
    assert data[22:].hex(" ") == "00 90 3c 09 00 40 09 00 ff 06 01 41 00 90 43 09 00 ff 2f 00"


def test_mido_reads_every_event_at_its_bounds() -> None:
    told: tuple[MidiEvent, ...] = (
        TrackName(0, "café ♭"),
        TextEvent(0, "x" * 200),
        Marker(0, ""),
        MeterChange(0, Meter(255, 64), 18),
        KeySignature(0, -7, False),
        KeySignature(0, 7, True),
        TempoChange(0, (1 << 24) - 1),
        ProgramChange(0, 16, 127),
        ControlChange(0, 16, 10, 0),
        NoteOn(300, 16, 127, 1),
        NoteOn(300, 1, 0, 127),
        NoteOff(301, 1, 0, 0),
        NoteOff(301, 16, 127, 64),
        TrackEnd(0x4000),
    )
    data = write_midi(MidiContents(format=0, ticks_per_quarter=96, tracks=(told,)))
    [track] = mido_file(data).tracks
    read = [{k: v for k, v in message.dict().items() if v != 0 or k != "time"} for message in track]
    assert read == [
        {"type": "track_name", "name": "café ♭"},
        {"type": "text", "text": "x" * 200},
        {"type": "marker", "text": ""},
        {
            "type": "time_signature",
            "numerator": 255,
            "denominator": 64,
            "clocks_per_click": 18,
            "notated_32nd_notes_per_beat": 8,
        },
        {"type": "key_signature", "key": "Cb"},
        {"type": "key_signature", "key": "A#m"},
        {"type": "set_tempo", "tempo": 16777215},
        {"type": "program_change", "channel": 15, "program": 127},
        {"type": "control_change", "channel": 15, "control": 10, "value": 0},
        {"type": "note_on", "channel": 15, "note": 127, "velocity": 1, "time": 300},
        {"type": "note_on", "channel": 0, "note": 0, "velocity": 127},
        {"type": "note_on", "channel": 0, "note": 0, "velocity": 0, "time": 1},
        {"type": "note_off", "channel": 15, "note": 127, "velocity": 64},
        {"type": "end_of_track", "time": 0x4000 - 301},
    ]


def conductor_bytes(data: bytes) -> bytes:
    """Return the event bytes of a file's first track."""
    return data[22 : 22 + int.from_bytes(data[18:22], "big")]


@pytest.mark.parametrize(("bpm", "microseconds", "text"), META["tempi"])
def test_tempo_bytes(bpm: int, microseconds: int, text: str) -> None:
    """Rounded 60 000 000 / bpm; 120 is the standard's own example."""
    assert round(60_000_000 / bpm) == microseconds
    song = performance([note(Part.BASS, 0, 100, 28)], tempi=[(0, microseconds)])
    assert conductor_bytes(midi_bytes(song)).count(bytes.fromhex("FF 51 03 " + text)) == 1


@pytest.mark.parametrize(("meter", "text"), META["meters"])
def test_meter_bytes_and_beat_clocks(meter: str, text: str) -> None:
    """24 clocks a quarter, a click a beat: 6/8 as in the standard's example."""
    song = performance([note(Part.BASS, 0, 100, 28)], bars=bars_of(meter, meter))
    assert conductor_bytes(midi_bytes(song)).count(bytes.fromhex("FF 58 04 " + text)) == 1
    assert conductor_bytes(midi_bytes(song)).count(b"\xff\x58") == 1


def test_key_bytes() -> None:
    """All thirty signatures."""
    compared = 0
    for name, text in META["keys"]:
        is_minor = name.endswith("minor")
        fifths = int.from_bytes(bytes.fromhex(text)[:1], "big", signed=True)
        song = performance([note(Part.BASS, 0, 100, 28)], keys=[(0, fifths, is_minor)])
        data = midi_bytes(song)
        assert conductor_bytes(data).count(bytes.fromhex("FF 59 02 " + text)) == 1, name
        key = next(m.key for m in mido_file(data).tracks[0] if m.type == "key_signature")
        assert key == name.removesuffix(" major").replace(" minor", "m")
        compared += 1
    assert compared == 30


def test_header_of_a_performance() -> None:
    """Format 1, the number of tracks, 960 ticks a quarter, as three 16-bit words."""
    data = midi_bytes(performance([note(Part.BASS, 0, 100, 28), note(Part.KEYS, 0, 9, 60)]))
    assert data[:14] == bytes.fromhex("4D 54 68 64 00 00 00 06 00 01 00 03 03 C0")
    assert data.endswith(bytes.fromhex("FF 2F 00"))
    assert data.count(b"MTrk") == data.count(bytes.fromhex("FF 2F 00")) == 3


def test_title_names_the_first_track() -> None:
    contents = read_midi(midi_bytes(performance(title="Grüße ♭VII 夜")))
    assert contents.tracks[0][0] == TrackName(0, "Grüße ♭VII 夜")
