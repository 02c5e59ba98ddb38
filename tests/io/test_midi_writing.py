"""Files of performances, read back by mido and pretty_midi."""

from io import BytesIO
from typing import Any

import mido
import pretty_midi
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from music21 import key as music21_key

from groove.errors import OutputError
from groove.events import Bar, Part, Performance
from groove.io.midi import midi_bytes
from groove.timing import Meter
from tests.midi_support import (
    REF,
    absolute,
    bars_of,
    expected_strokes,
    mido_file,
    mido_strokes,
    note,
    performance,
    seconds,
    shortest_tick_sec,
)
from tests.strategies_events import performances

CHECKED = settings(derandomize=True, deadline=None, max_examples=20)
BAND = [
    note(Part.BASS, 0, 900, 28),
    note(Part.DRUMS, 0, 100, 36),
    note(Part.KEYS, 0, 900, 60),
    note(Part.CLICK, 0, 100, 76),
]


def pretty(data: bytes) -> Any:
    return pretty_midi.PrettyMIDI(BytesIO(data), charset="utf-8")


def messages_of(data: bytes, track: int, kind: str) -> list[tuple[int, Any]]:
    return [row for row in absolute(mido_file(data).tracks[track]) if row[1].type == kind]


def check_notes_come_back_from_mido(song: Performance, data: bytes) -> None:
    """Tick for tick, against the rules looked up pair by pair."""
    expected = expected_strokes(song)
    assert expected
    assert mido_strokes(data) == expected


def check_notes_come_back_from_pretty_midi_in_seconds(song: Performance, read: Any) -> None:
    """Within one tick, over several tempi; seconds by the standard's own arithmetic."""
    tolerance = shortest_tick_sec(song)
    found = sorted(
        (part.is_drum, n.pitch, n.start, n.end, n.velocity)
        for part in read.instruments
        for n in part.notes
    )
    expected = sorted(
        (channel == 10, pitch, seconds(song, onset), seconds(song, end), velocity)
        for channel, pitch, onset, end, velocity in expected_strokes(song)
    )
    # Equal pitches of bass and keys do not meet: their pitches differ.
    assert len(found) == len(expected) > 0
    for ours, theirs in zip(expected, found, strict=True):
        assert (ours[0], ours[1], ours[4]) == (theirs[0], theirs[1], theirs[4])
        assert abs(ours[2] - theirs[2]) <= tolerance
        assert abs(ours[3] - theirs[3]) <= tolerance


def check_onsets_come_back_from_mido_in_seconds(song: Performance, data: bytes) -> None:
    """mido's own clock, adding up the file's messages."""
    now = 0.0
    found = []
    for message in mido_file(data):
        now += message.time
        if message.type == "note_on":
            found.append(now)
    expected = sorted(seconds(song, onset) for _, _, onset, _, _ in expected_strokes(song))
    assert len(found) == len(expected) > 0
    assert max(abs(a - b) for a, b in zip(found, expected, strict=True)) <= shortest_tick_sec(song)


def check_no_pitch_overlaps_or_hangs_in_a_channel(song: Performance, data: bytes) -> None:
    """As a player hears it: all tracks merged in file order, whatever track a note stands in."""
    sounding = set()
    count = 0
    for message in mido.merge_tracks(mido_file(data).tracks):
        if message.type == "note_on":
            assert (message.channel, message.note) not in sounding
            sounding.add((message.channel, message.note))
            count += 1
        elif message.type == "note_off":
            sounding.remove((message.channel, message.note))
    assert not sounding
    assert count == len(expected_strokes(song)) > 0


def check_ends_come_before_starts_and_nothing_before_0(data: bytes) -> None:
    tracks = mido_file(data).tracks
    assert sum(message.type == "note_on" for track in tracks for message in track) >= 1
    for track in tracks:
        rows = [row for row in absolute(track) if row[1].type in ("note_on", "note_off")]
        order = [(tick, message.type == "note_on") for tick, message in rows]
        assert order == sorted(order)
        assert all(message.time >= 0 for message in track)


def check_every_track_ends_with_the_song_or_its_last_note(song: Performance, data: bytes) -> None:
    last = max([song.end_tick, *(end for _, _, _, end, _ in expected_strokes(song))])
    tracks = mido_file(data).tracks
    assert len(tracks) == 1 + len(song.parts)
    for track in tracks:
        assert [t for t, m in absolute(track) if m.type == "end_of_track"] == [last]
        assert track[-1].type == "end_of_track"


def check_part_files_hold_a_part_each_on_the_same_map(song: Performance, data: bytes) -> None:
    whole = [m for m in mido_file(data).tracks[0] if m.type != "end_of_track"]
    assert len(song.parts) == len({note.part for note in song.notes})
    for part in song.parts:
        own = midi_bytes(song, parts=(part,))
        assert mido_strokes(own) == expected_strokes(song, [part])
        tracks = mido_file(own).tracks
        assert [track.name for track in tracks[1:]] == [part]
        assert [m for m in tracks[0] if m.type != "end_of_track"] == whole


def check_bar_lines_that_a_reader_counts_are_those_of_the_song(
    song: Performance, data: bytes, read: Any
) -> None:
    """Counted from the meter events alone: so many quarters from each to the next."""
    changes = [
        (t, m.numerator * 3840 // m.denominator) for t, m in messages_of(data, 0, "time_signature")
    ]
    lines: list[int] = []
    ends = [tick for tick, _ in changes[1:]] + [song.end_tick]
    for (tick, length), end in zip(changes, ends, strict=True):
        lines += range(tick, end, length)
    assert lines == [bar.start_tick for bar in song.bars]
    assert len(read.time_signature_changes) == len(changes) >= 1


def check_tempo_events_are_the_tempo_map(song: Performance, data: bytes) -> None:
    found = [(t, m.tempo) for t, m in messages_of(data, 0, "set_tempo")]
    assert found == [(c.tick, c.microseconds) for c in song.tempo_map.changes]
    assert found


@CHECKED
@given(performances(), st.permutations(list(Part)))
def test_a_file_holds_its_performance(song: Performance, order: list[Part]) -> None:
    """Drawn and written once: each of the readers above looks at the same file."""
    data = midi_bytes(song)
    assert midi_bytes(song, parts=order) == midi_bytes(song, parts=frozenset(order)) == data
    read = pretty(data)
    check_notes_come_back_from_mido(song, data)
    check_notes_come_back_from_pretty_midi_in_seconds(song, read)
    check_onsets_come_back_from_mido_in_seconds(song, data)
    check_no_pitch_overlaps_or_hangs_in_a_channel(song, data)
    check_ends_come_before_starts_and_nothing_before_0(data)
    check_every_track_ends_with_the_song_or_its_last_note(song, data)
    check_part_files_hold_a_part_each_on_the_same_map(song, data)
    check_bar_lines_that_a_reader_counts_are_those_of_the_song(song, data, read)
    check_tempo_events_are_the_tempo_map(song, data)


def test_tracks_are_named_in_part_order_with_channel_program_volume_and_pan() -> None:
    """Percussion is on channel 10 (General MIDI 1), so the click takes the drums' kit."""
    file = mido_file(midi_bytes(performance(BAND)))
    assert (file.type, file.ticks_per_beat) == (1, 960)
    assert [track.name for track in file.tracks] == [
        "Lantern Row",
        "bass",
        "drums",
        "keys",
        "click",
    ]
    heads = []
    for track in file.tracks[1:]:
        channels = {message.channel + 1 for message in track if not message.is_meta}
        programs = [message.program for message in track if message.type == "program_change"]
        mix = {m.control: m.value for m in track if m.type == "control_change"}
        heads.append((channels, programs, mix))
    assert heads == [
        ({2}, [33], {7: 104, 10: 64}),
        ({10}, [40], {7: 100, 10: 64}),
        ({3}, [4], {7: 92, 10: 52}),
        ({10}, [40], {7: 100, 10: 64}),
    ]


def test_sound_is_chosen_before_the_first_note() -> None:
    tracks = mido_file(midi_bytes(performance(BAND))).tracks[1:]
    assert len(tracks) == 4
    for track in tracks:
        kinds = [message.type for message in track]
        assert kinds == [
            "track_name",
            "program_change",
            "control_change",
            "control_change",
            "note_on",
            "note_off",
            "end_of_track",
        ]


def test_pretty_midi_sees_the_instruments() -> None:
    found = [
        (i.name, i.program, i.is_drum) for i in pretty(midi_bytes(performance(BAND))).instruments
    ]
    assert found == [
        ("bass", 33, False),
        ("drums", 40, True),
        ("keys", 4, False),
        ("click", 40, True),
    ]


def test_click_alone_keeps_its_own_kit() -> None:
    data = midi_bytes(performance(BAND), parts=[Part.CLICK])
    assert [m.program for _, m in messages_of(data, 1, "program_change")] == [0]


@pytest.mark.parametrize(
    ("parts", "names"),
    [
        ({Part.KEYS, Part.DRUMS}, ["drums", "keys"]),
        ([Part.CLICK, Part.BASS], ["bass", "click"]),
        ((), []),
        (None, ["bass", "drums", "keys", "click"]),
    ],
)
def test_only_the_asked_parts_are_written(parts: Any, names: list[str]) -> None:
    file = mido_file(midi_bytes(performance(BAND), parts=parts))
    assert [track.name for track in file.tracks] == ["Lantern Row", *names]


def test_part_without_notes_has_no_track() -> None:
    data = midi_bytes(performance(BAND[:2]), parts=list(Part))
    assert [track.name for track in mido_file(data).tracks] == ["Lantern Row", "bass", "drums"]


def strokes_of(*notes: Any) -> list[tuple[int, int, int]]:
    """Return onset, end and velocity of the notes that a file holds."""
    return [stroke[2:] for stroke in mido_strokes(midi_bytes(performance(notes)))]


def test_note_is_cut_where_its_pitch_is_struck_again() -> None:
    assert strokes_of(note(Part.BASS, 0, 960, 28), note(Part.BASS, 480, 100, 28)) == [
        (0, 480, 80),
        (480, 580, 80),
    ]


def test_of_equal_pitches_that_begin_together_the_louder_stays() -> None:
    assert strokes_of(note(Part.KEYS, 0, 960, 60, 50), note(Part.KEYS, 0, 90, 60, 70)) == [
        (0, 90, 70)
    ]
    for click in (60, 70):  # of equals the first
        drum = note(Part.DRUMS, 0, 90, 37, 70)
        assert strokes_of(drum, note(Part.CLICK, 0, 50, 37, click)) == [(0, 90, 70)]


def test_click_does_not_silence_the_drum_that_follows_it() -> None:
    """The click's track comes after the drums', so its note ends a tick before theirs begins."""
    click, drum = note(Part.CLICK, 0, 480, 37), note(Part.DRUMS, 480, 100, 37)
    assert strokes_of(click, drum) == [(0, 479, 80), (480, 580, 80)]
    drum, click = note(Part.DRUMS, 0, 480, 37), note(Part.CLICK, 480, 100, 37)
    assert strokes_of(drum, click) == [(0, 480, 80), (480, 580, 80)]


def test_same_pitch_in_two_channels_may_overlap() -> None:
    assert strokes_of(note(Part.BASS, 0, 960, 40), note(Part.KEYS, 480, 960, 40)) == [
        (0, 960, 80),
        (480, 1440, 80),
    ]


def meters(data: bytes) -> list[tuple[int, int, int, int]]:
    """Return tick, numerator, denominator and beat clocks of each meter event."""
    return [
        (tick, m.numerator, m.denominator, m.clocks_per_click)
        for tick, m in messages_of(data, 0, "time_signature")
    ]


def test_meter_stands_where_it_changes_only() -> None:
    song = performance(BAND, bars=bars_of("4/4", "4/4", "6/8", "6/8", "3/4", "2/2", "4/4"))
    assert meters(midi_bytes(song)) == [
        (0, 4, 4, 24),
        (7680, 6, 8, 36),
        (13440, 3, 4, 24),
        (16320, 2, 2, 48),
        (20160, 4, 4, 24),
    ]


@pytest.mark.parametrize(
    ("meter", "pickup_ticks", "expected"),
    [
        ("4/4", 960, [(0, 1, 4, 24), (960, 4, 4, 24)]),
        ("4/4", 1440, [(0, 3, 8, 24), (1440, 4, 4, 24)]),
        ("6/8", 480, [(0, 1, 8, 36), (480, 6, 8, 36)]),
        ("2/2", 960, [(0, 1, 4, 48), (960, 2, 2, 48)]),
        ("4/4", 3840, [(0, 4, 4, 24)]),
    ],
)
def test_pickup_has_the_meter_of_its_length(
    meter: str, pickup_ticks: int, expected: list[tuple[int, int, int, int]]
) -> None:
    """So that bar lines fall where the song's do (Standard MIDI Files 1.0 has no pickup)."""
    song = performance(BAND, bars=bars_of(meter, meter, pickup_ticks=pickup_ticks))
    assert meters(midi_bytes(song)) == expected


def test_length_that_no_meter_has_keeps_the_bars_own() -> None:
    bar = Bar(ref=REF, start_tick=0, length_ticks=1001, meter=Meter(4, 4))
    assert meters(midi_bytes(performance(BAND, bars=(bar,)))) == [(0, 4, 4, 24)]


def test_keys_agree_with_pretty_midi_and_music21() -> None:
    """Thirty signatures: pretty_midi's key number against music21's tonic for so many sharps."""
    compared = 0
    for fifths in range(-7, 8):
        for is_minor in (False, True):
            data = midi_bytes(performance(BAND, keys=[(0, fifths, is_minor)]))
            (change,) = pretty(data).key_signature_changes
            tonic = music21_key.KeySignature(fifths).asKey("minor" if is_minor else "major").tonic
            assert change.key_number == tonic.pitchClass + 12 * is_minor
            compared += 1
    assert compared == 30


def test_key_changes_and_markers_stand_at_their_ticks() -> None:
    song = performance(
        BAND,
        bars=bars_of("4/4", "4/4", "4/4"),
        keys=[(0, 2, False), (7680, -3, True)],
        markers=[(0, "intro"), (3840, "verse ♭"), (7680, "last chorus")],
    )
    data = midi_bytes(song)
    assert [(t, m.key) for t, m in messages_of(data, 0, "key_signature")] == [
        (0, "D"),
        (7680, "Cm"),
    ]
    assert [(t, m.text) for t, m in messages_of(data, 0, "marker")] == [
        (0, "intro"),
        (3840, "verse ♭"),
        (7680, "last chorus"),
    ]


def test_conductor_has_no_notes_and_the_parts_have_no_map() -> None:
    """Format 1: tempo and meter in the first track (Standard MIDI Files 1.0)."""
    song = performance(BAND, keys=[(0, 0, False)], markers=[(0, "verse")])
    conductor, *parts = mido_file(midi_bytes(song)).tracks
    assert all(message.is_meta for message in conductor)
    assert len(parts) == 4
    for track in parts:
        assert {m.type for m in track if m.is_meta} == {"track_name", "end_of_track"}


@pytest.mark.parametrize("title", ["", "Lantern Row", "Grüße ♭VII 夜", "a" * 300])
def test_any_title_is_written_as_utf_8(title: str) -> None:
    data = midi_bytes(performance(BAND, title=title))
    assert mido_file(data).tracks[0].name == title


def test_title_with_half_a_character_is_written_with_a_question_mark() -> None:
    assert mido_file(midi_bytes(performance(BAND, title="a\ud800"))).tracks[0].name == "a?"


def test_song_that_no_file_can_hold_is_refused() -> None:
    """0FFFFFFF is the largest time between events (Standard MIDI Files 1.0)."""
    bar = Bar(ref=REF, start_tick=0, length_ticks=0x10000000, meter=Meter(4, 4))
    with pytest.raises(OutputError, match="268,435,456 ticks is too long"):
        midi_bytes(performance(BAND, bars=(bar,)))
