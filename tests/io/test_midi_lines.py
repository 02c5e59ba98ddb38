"""MIDI bass tracks under a chart's bars: our own renders, made files (mido), published ones."""

import io
from fractions import Fraction
from pathlib import Path
from typing import Any

import mido
import music21
import pytest

from groove.cells.model import Library
from groove.chart.form import unroll
from groove.chart.model import Song, TabLine
from groove.chart.parse import parse_chart
from groove.chart.write import write_chart
from groove.errors import MidiError, OptionError
from groove.events import Part, Performance
from groove.io.midi import midi_bytes
from groove.io.midi_line import song_with_midi
from groove.io.midi_song import read_midi_song
from groove.pipeline import PerformOptions, perform_song
from groove.text.notices import notice_texts
from tests.io.line_judges import sounds
from tests.sheet.parts import UNLIKE_NAMES, sections_once

PRIMITIVE = Path(music21.__file__).parent / "midi" / "testPrimitive"
OTHER_FEELS = {"ladder 0": ("shuffle",), "ladder 2": ("sixteenths",)}
JUMPS = """
intro:
| D | G |
verse:
| (segno) Bm | A | (to coda) G | (D.S. al coda) A |
end:
| (coda) D |
"""
CHORDS = (
    ("Eb", "Ab", "Bb7"), ("E", "E", "C#m"), ("Am", "Am", "Dm"),
)  # fmt: skip
LADDER = tuple(
    f"""
title: ladder
tempo: {80 + 27 * number}
key: {key}
verse:
|: {one} | {two} :|1. {one} :|2. {two} |
| {two} | {one} {two} | {one} | {two} |
form: verse x2
"""
    for number, (key, one, two) in enumerate(CHORDS)
)
TEXTS = {name: sections_once(name) for name in UNLIKE_NAMES}
TEXTS |= {f"ladder {i}": text for i, text in enumerate(LADDER)}


def bass_events(data: bytes) -> list[tuple[int, int]]:
    """Return (tick, pitch) of every bass note as mido reads a file of ours."""
    file = mido.MidiFile(file=io.BytesIO(data))
    (track,) = [track for track in file.tracks if track.name == "bass"]
    now = 0
    found = []
    for message in track:
        now += message.time
        if message.type == "note_on" and message.velocity:
            found.append((now, message.note))
    return found


def bass_alone(performance: Performance) -> list[tuple[int, int]]:
    """Return the same of a file without the others, which mido need not read."""
    return bass_events(midi_bytes(performance, parts=(Part.BASS,)))


@pytest.mark.parametrize("name", TEXTS)
def test_our_own_tight_render_comes_back_note_for_note(name: str, library: Library) -> None:
    """Rendered, laid under its chart, written as a chart, read, rendered: the same notes.

    Swing included; 7 charts in their own feel, two short ones in one of two others.
    """
    compared = 0
    for feel in (None, *OTHER_FEELS.get(name, ())):
        options = PerformOptions(tight=True, feel=feel)
        song = parse_chart(TEXTS[name])
        performance = perform_song(song, library, options)
        data = midi_bytes(performance)
        laid = song_with_midi(song, data, "own.mid", "", library, options)
        back = parse_chart(write_chart(laid))
        assert back.sections == laid.sections and back.form == laid.form
        again = bass_alone(perform_song(back, library, options))
        assert again == bass_alone(performance)
        compared += len(again)
    assert compared > 60


def test_seven_charts_are_compared() -> None:
    assert len(TEXTS) == 7 and {*OTHER_FEELS} < {*TEXTS}


PRIMITIVES = {
    "test02.mid": (3, 41), "test08.mid": (0, 17), "test10.mid": (0, 16),
    "test11.mid": (0, 16), "test12.mid": (3, 3), "test20.mid": (0, 34),
}  # fmt: skip
"""Files with a single line, the part that music21 has it in, and how many notes lie on the neck."""


@pytest.mark.filterwarnings("ignore::music21.midi.translate.TranslateWarning")
@pytest.mark.parametrize("name", PRIMITIVES)
def test_published_files_have_the_notes_that_music21_reads(name: str, library: Library) -> None:
    """The primitive files that music21 10.5.1 ships, without its own quantising."""
    number, count = PRIMITIVES[name]
    score: Any = music21.converter.parse(PRIMITIVE / name, forceSource=True, quantizePost=False)
    lines = int(score.highestTime // 16) + 1
    song = parse_chart("a:\n" + "| C | C | C | C |\n" * lines)
    laid = song_with_midi(
        song, (PRIMITIVE / name).read_bytes(), name, "", library, PerformOptions()
    )
    part = score.parts[number]
    wanted = sorted(
        (Fraction(note.getOffsetInHierarchy(part)).limit_denominator(960), pitch.midi)
        for note in part.recurse().notes
        for pitch in note.pitches
    )
    found = [(onset, pitch) for onset, pitch, _ in sounds(laid)]
    assert len(set(found) & set(wanted)) == count
    assert len(wanted) - count <= 3 and len(found) - count <= 1


# --- made files -------------------------------------------------------------------------------

Note = tuple[float, float, int]


def made(
    notes: list[Note], *, name: str = "bass", program: int = 33, channel: int = 1, more: Any = ()
) -> bytes:
    """Return a file with a bass track, in quarters of 480 ticks, written by mido."""
    file = mido.MidiFile(ticks_per_beat=480)
    for track_name, own, its_program, its_channel in ((name, notes, program, channel), *more):
        track = mido.MidiTrack()
        track.append(mido.MetaMessage("track_name", name=track_name))
        track.append(mido.Message("program_change", program=its_program, channel=its_channel))
        events = [(round(s * 480), 1, p) for s, _, p in own]
        events += [(round((s + n) * 480), 0, p) for s, n, p in own]
        now = 0
        for tick, is_on, pitch in sorted(events):
            kind = "note_on" if is_on else "note_off"
            track.append(
                mido.Message(kind, note=pitch, channel=its_channel, velocity=80, time=tick - now)
            )
            now = tick
        file.tracks.append(track)
    out = io.BytesIO()
    file.save(file=out)
    return out.getvalue()


def laid(text: str, data: bytes, library: Library, wanted: str = "") -> Song:
    return song_with_midi(parse_chart(text), data, "a.mid", wanted, library, PerformOptions())


def onsets(song: Song) -> list[tuple[Any, int]]:
    return [(onset, pitch) for onset, pitch, _ in sounds(song)]


FOUR = "a:\n| C | C | C | C |\n"


@pytest.mark.parametrize("slots", [4, 6, 8, 12, 16, 24])
def test_every_grid_of_a_bar_is_found(slots: int, library: Library) -> None:
    """Every slot struck, and some of them: each stays where it is.  Worked by hand."""
    step = Fraction(4, slots)
    for chosen in (range(slots), [0, 1, slots - 1]):
        notes = [(float(i * step), float(step), 36 + i % 5) for i in chosen]
        song = laid(FOUR, made(notes), library)
        assert onsets(song) == [(i * step, 36 + i % 5) for i in chosen]
        assert not any("moved" in notice for notice in notice_texts(song.notices))


def test_a_hand_beside_the_beat_is_moved_onto_it_and_told(library: Library) -> None:
    """Eighths up to 20 ms of a beat of 600 ms beside the grid are eighths, not finer notes."""
    off = [0.02, -0.03, 0.01, 0.03, -0.02, 0.03, -0.03, 0.02]
    notes = [(i / 2 + shift, 0.4, 40) for i, shift in enumerate(off)]
    song = laid(FOUR, made(notes), library)
    assert sounds(song) == [(Fraction(i, 2), 40, Fraction(1, 2)) for i in range(8)]
    (told,) = [notice for notice in notice_texts(song.notices) if "moved onto the grid" in notice]
    assert told.startswith("8 notes moved") and "0.03 of a quarter, in bar 1" in told


def test_an_early_note_belongs_to_the_bar_that_it_leads_into(library: Library) -> None:
    notes = [(0.0, 3.9, 33), (3.96, 1.0, 35), (5.0, 3.0, 36)]
    song = laid(FOUR, made(notes), library)
    assert onsets(song) == [(0, 33), (4, 35), (5, 36)]
    assert not any("left out" in notice for notice in notice_texts(song.notices))


def test_one_late_note_makes_no_finer_grid(library: Library) -> None:
    """Eighths of which one comes 54 ms late at 100 a minute: nearer to a 24th, an eighth still."""
    notes = [(i / 2 + 0.09 * (i == 5), 0.4, 40) for i in range(8)]
    assert onsets(laid(FOUR, made(notes), library)) == [(Fraction(i, 2), 40) for i in range(8)]


def test_a_note_over_the_bar_line_is_one_note(library: Library) -> None:
    song = laid(FOUR, made([(3.0, 6.0, 33), (9.0, 2.0, 35)]), library)
    assert sounds(song) == [(3, 33, 6), (9, 35, 2)]
    assert sounds(parse_chart(write_chart(song))) == sounds(song)


def test_what_does_not_fit_is_told(library: Library) -> None:
    """A track shorter than the song, a longer one, a grace note, two rows and their bars."""
    short = laid(FOUR, made([(0.0, 1.0, 33)]), library)
    assert (
        "the track lasts for 1 of the 4 bars that are played, the others are drawn"
        in notice_texts(short.notices)
    )
    assert [bar.line is None for bar in unroll(short)] == [False, True, True, True]
    long = laid(FOUR, made([(0.0, 1.0, 33), (16.0, 1.0, 35), (17.0, 1.0, 35)]), library)
    message = "the track is longer than the song: 2 notes after its end left out"
    assert message in notice_texts(long.notices)
    grace = laid(FOUR, made([(0.0, 0.05, 45), (0.06, 0.9, 33), (1.0, 1.0, 33)]), library)
    assert "bar 1: notes closer than the grid are left out" in notice_texts(grace.notices)
    assert onsets(grace) == [(0, 33), (1, 33)]


def test_the_bass_track_is_chosen_and_can_be_named(library: Library) -> None:
    """By program (General MIDI 1: 33 to 40), name, one note at a time, low range; never drums."""
    piano = ("piano", [(0.0, 1.0, 40), (0.0, 1.0, 52)], 0, 2)
    drums = ("bass drum", [(0.0, 1.0, 36)], 33, 9)
    song = laid(FOUR, made([(0.0, 1.0, 60)], name="low", program=38, more=(piano, drums)), library)
    assert onsets(song) == [(0, 60)]
    song = laid(FOUR, made([(0.0, 1.0, 60)], name="E-Bass", program=0, more=(piano,)), library)
    assert onsets(song) == [(0, 60)]
    assert "the bass line is track 1 E-Bass of a.mid" in notice_texts(song.notices)
    flute = ("flute", [(0.0, 1.0, 55)], 73, 3)
    song = laid(FOUR, made([(0.0, 1.0, 50)], name="x", program=0, more=(piano, flute)), library)
    assert onsets(song) == [(0, 50)]
    others = "a.mid:N takes another: 2 piano, 3 flute"
    assert f"the bass line is track 1 x of a.mid; {others}" in notice_texts(song.notices)
    data = made([(0.0, 1.0, 50)], more=(piano, flute))
    for wanted in ("3", "FLUTE"):
        assert onsets(laid(FOUR, data, library, wanted)) == [(0, 55)]
    with pytest.raises(OptionError) as caught:
        laid(FOUR, data, library, "flu")
    assert "a.mid has no track with notes named 'flu'" in caught.value.message
    assert "1 bass, 2 piano, 3 flute" in caught.value.hint
    with pytest.raises(OptionError, match=r"a\.mid has no notes but drums"):
        laid(FOUR, made([(0.0, 1.0, 36)], channel=9), library)
    with pytest.raises(MidiError, match=r"a\.mid: MIDI file, header"):
        laid(FOUR, b"RIFF", library)


def test_a_track_that_is_studied_is_told_where_another_would_do(tmp_path: Path) -> None:
    file, said = tmp_path / "a.mid", list[str]()
    flute = ("flute", [(0.0, 1.0, 55)], 73, 3)
    file.write_bytes(made([(0.0, 1.0, 50)], name="x", program=0, more=(flute,)))
    assert read_midi_song(str(file), said.append, "").track.name == "x"
    assert read_midi_song(str(file), said.append).track.name == "x"
    told = f"the bass line is track 1 x of {file};"
    assert said == [
        f"{told} --part N takes another: 2 flute",
        f"{told} {file}:N takes another: 2 flute",
    ]
    assert read_midi_song(f"{file}:2", said.append).track.name == "flute"
    file.write_bytes(made([(0.0, 1.0, 50)], name="E-Bass", program=0, more=(flute,)))
    assert read_midi_song(str(file), said.append, "").track.name == "E-Bass"
    assert len(said) == 2


def test_times_that_differ_become_sections_like_the_first(library: Library) -> None:
    """The verse twice, one note of bar 2 different: a section ``as`` it with that bar alone."""
    text = "verse:\n| C | F |\nform: verse x2\n"
    notes = [(0.0, 4.0, 36), (4.0, 4.0, 41), (8.0, 4.0, 36), (12.0, 4.0, 43)]
    song = laid(text, made(notes), library)
    assert [(s.name, s.like, s.changed) for s in song.sections] == [
        ("verse", "", ()), ("verse 2", "verse", (2,)),
    ]  # fmt: skip
    assert "verse: its line differs from time to time; what differs is in verse 2" in notice_texts(
        song.notices
    )
    written = write_chart(song)
    assert "as: verse" in written and "bar 2: | F |" in written
    assert onsets(parse_chart(written)) == [(0, 36), (4, 41), (8, 36), (12, 43)]


@pytest.mark.parametrize(
    ("text", "bars"),
    [
        ("a:\n|: C | F :|\n| G |\n", 5),
        ("a:\n|: C |1. F :|2. G |\n", 4),
        (JUMPS, 10),
        ("a:\n| C | F |\nb:\n| G | (tag x3) C |\n", 6),
    ],
)
def test_bars_that_differ_within_a_repeat_or_jump_are_written_out(
    text: str, bars: int, library: Library
) -> None:
    """Every bar played has a note of its own: the chords go on as they were, the form is said."""
    song = parse_chart(text)
    before = unroll(song)
    notes = [(float(bar.start_quarters), 1.0, 33 + i) for i, bar in enumerate(before)]
    data = made([*notes, (float(before[-1].start_quarters) + 2, 2.0, 33)])
    found = song_with_midi(song, data, "a.mid", "", library, PerformOptions())
    back = parse_chart(write_chart(found))
    after = unroll(back)
    assert [bar.chords[0].symbol for bar in after] == [bar.chords[0].symbol for bar in before]
    heads = [bar.line.notes[0].pitch for bar in after if isinstance(bar.line, TabLine)]
    assert heads == [33 + i for i in range(len(before))]
    assert len(before) >= bars - 1 and back.sections == found.sections


def test_key_and_transpose_move_the_line(library: Library) -> None:
    """A chart that is written in C and sounds in D has the line where it sounds."""
    data = made([(0.0, 4.0, 38), (4.0, 4.0, 43)])
    song = laid("key: C\ntranspose: 2\na:\n| C | F |\n", data, library)
    assert onsets(song) == [(0, 38), (4, 43)]
    options = PerformOptions(tight=True, transpose=3)
    assert bass_events(midi_bytes(perform_song(song, library, options))) == [(0, 41), (3840, 46)]
