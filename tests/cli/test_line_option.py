"""``--line``: a bass line from a MIDI file or a part of a score, in every command that has one."""

import io
import re
from xml.etree import ElementTree

import mido
import pytest

from tests.cli.command import Command

CHART = "title: Own\ntempo: 100\nkey: C\nfeel: straight eighths\nverse:\n| C | F |\n"
SCORE = """<score-partwise version="4.0"><part-list>
<score-part id="P1"><part-name>Voice</part-name></score-part>
<score-part id="P2"><part-name>Low One</part-name></score-part></part-list>
<part id="P1"><measure number="1"><attributes><divisions>1</divisions></attributes>
<harmony><root><root-step>C</root-step></root><kind>major</kind></harmony>
<note><pitch><step>C</step><octave>5</octave></pitch><duration>4</duration></note></measure></part>
<part id="P2"><measure number="1"><attributes><divisions>1</divisions></attributes>
<note><pitch><step>G</step><octave>2</octave></pitch><duration>4</duration></note></measure></part>
</score-partwise>"""


def midi(*pitches: int) -> bytes:
    """Return a file with one whole note a bar, by mido."""
    file = mido.MidiFile(ticks_per_beat=96)
    track = mido.MidiTrack()
    track.append(mido.Message("program_change", program=33))
    for pitch in pitches:
        track.append(mido.Message("note_on", note=pitch, velocity=90))
        track.append(mido.Message("note_off", note=pitch, time=4 * 96))
    file.tracks.append(track)
    out = io.BytesIO()
    file.save(file=out)
    return out.getvalue()


def heard(data: bytes) -> list[int]:
    (track,) = [t for t in mido.MidiFile(file=io.BytesIO(data)).tracks if t.name == "bass"]
    return [m.note for m in track if m.type == "note_on" and m.velocity]


OPEN = {"G": 43, "D": 38, "A": 33, "E": 28}
"""Open strings of a four-string bass as MIDI numbers."""


def fretted(tab: str) -> set[int]:
    """Return the pitches of a printed tab: each fret above the open string of its row."""
    rows = [row for row in tab.splitlines() if row[1:3] == " |"]
    return {OPEN[row[0]] + int(fret) for row in rows for fret in re.findall("[0-9]+", row)}


@pytest.fixture
def here(groove: Command) -> Command:
    groove.write("own.txt", CHART)
    groove.write("two.musicxml", SCORE)
    (groove.folder / "bass.mid").write_bytes(midi(38, 45))
    return groove


def test_a_midi_line_is_in_every_output(here: Command) -> None:
    """D2 and A2, wherever they are fingered: MIDI, tab, a chart to keep, MusicXML, another key."""
    said = here("render", "own.txt", "--line", "bass.mid", "-o", "out.mid", "--tight")
    assert said.code == 0 and "track 1 of bass.mid" in said.err
    assert heard((here.folder / "out.mid").read_bytes()) == [38, 45]
    tab = here("tab", "own.txt", "--line", "bass.mid")
    assert tab.code == 0 and fretted(tab.out) == {38, 45}
    shown = here("show", "own.txt", "--line", "bass.mid", "--chart")
    assert shown.code == 0
    here.write("kept.txt", shown.out)
    assert here("render", "kept.txt", "-o", "kept.mid", "--tight").code == 0
    assert heard((here.folder / "kept.mid").read_bytes()) == [38, 45]
    assert here("neck", "own.txt", "--line", "bass.mid").code == 0
    made = here("sheet", "own.txt", "--line", "bass.mid", "-o", "out.musicxml")
    assert made.code == 0
    assert here("render", "out.musicxml", "-o", "again.mid", "--tight").code == 0
    assert heard((here.folder / "again.mid").read_bytes()) == [38, 45]
    moved = here("render", "own.txt", "--line", "bass.mid", "--key", "D", "-o", "d.mid", "--tight")
    assert moved.code == 0
    assert heard((here.folder / "d.mid").read_bytes()) == [40, 47]


def test_one_changed_pitch_of_our_score_is_heard_and_seen(here: Command) -> None:
    """Ours out, one pitch changed, ours in: MIDI, tab and MusicXML have the changed note."""
    assert here("sheet", "own.txt", "--line", "bass.mid", "-o", "mine.musicxml").code == 0
    text = (here.folder / "mine.musicxml").read_text(encoding="utf-8")
    # A2 sounds and is written an octave up as A3; B3 is two frets higher.
    assert text.count("<step>A</step>") == 1
    here.write("mine.musicxml", text.replace("<step>A</step>", "<step>B</step>"))
    said = here("render", "mine.musicxml", "-o", "mine.mid", "--tight")
    assert said.code == 0 and "no longer its chart's own" in said.err
    assert heard((here.folder / "mine.mid").read_bytes()) == [38, 47]
    assert here("sheet", "mine.musicxml", "-o", "back.musicxml").code == 0
    back = (here.folder / "back.musicxml").read_text(encoding="utf-8")
    assert back.count("<step>B</step>") == 1 and "<step>A</step>" not in back
    assert fretted(here("tab", "mine.musicxml").out) == {38, 47}


def test_a_part_of_a_score_is_chosen_by_name(here: Command) -> None:
    said = here("render", "two.musicxml", "--line", "low one", "-o", "two.mid", "--tight")
    assert said.code == 0
    assert heard((here.folder / "two.mid").read_bytes()) == [43]


@pytest.mark.parametrize(
    ("chart", "line", "words"),
    [
        ("own.txt", "Bass", "own.txt is no score and has no part for --line 'Bass'"),
        ("own.txt", "none.mid", "cannot read none.mid"),
        ("own.txt", "own.mid", "own.mid: MIDI file, header"),
        ("own.txt", "bass.mid:7", "bass.mid has no track with notes named '7'"),
        ("two.musicxml", "Lowe", "two.musicxml has no part with notes for --line 'Lowe'"),
    ],
)
def test_a_line_that_is_not_there_is_refused(
    here: Command, chart: str, line: str, words: str
) -> None:
    here.write("own.mid", "no MIDI")
    said = here("render", chart, "--line", line, "-o", "out.mid")
    assert said.code == 2 and words in said.err and "expected" in said.err
    assert "out.mid" not in here.files()


def test_the_line_is_not_written_over(here: Command) -> None:
    said = here("render", "own.txt", "--line", "bass.mid", "-o", "bass.mid")
    assert said.code == 2 and "would be written over a bass line" in said.err
    assert (here.folder / "bass.mid").read_bytes() == midi(38, 45)


TUNE = """X:1
T:Moss Lane
M:4/4
L:1/4
Q:1/4=96
K:D
V:1
"D"A F D2|"G"B G D2|"A7"c A E2|"D"d4|
V:2 clef=bass
D,, D,, A,,2|G,, G,, D,2|A,, A,, E,,2|D,,4|
"""


def test_a_tunes_bass_voice_is_written_under_its_bars_and_told(groove: Command) -> None:
    """ABC 2.1: D,, is D2 (38), A,, A2 as written, an octave lower on a bass guitar's staff."""
    groove.write("moss.abc", TUNE)
    said = groove("tab", "moss.abc", "--into-chart")
    assert said.code == 0 and "the bass line is that of voice 2" in said.err
    assert said.out.count("\n  | D | G | A7 | D |\n") == 1
    groove.write("moss.txt", said.out)
    (from_tune,), (from_chart,) = (groove("tab", name, "--json").json
                                   for name in ("moss.abc", "moss.txt"))  # fmt: skip
    played = [[(n["bar"], n["beat"], n["pitch"], n["string"], n["fret"]) for n in one["notes"]]
              for one in (from_tune, from_chart)]  # fmt: skip
    assert played[0] == played[1]
    # D,, D,, A,, | G,, G,, D, | A,, A,, E,, | D,, where C, is the C below the middle one (48).
    assert [note[2] for note in played[0]] == [38, 38, 45, 43, 43, 50, 45, 45, 40, 38]


def test_a_score_of_ours_becomes_a_chart_with_its_line(groove: Command) -> None:
    chart = "title: Moss\ntempo: 90\nkey: D\nfeel: soul\nverse:\n| D | G | Em7 | A7 |\n"
    groove.write("song.txt", chart)
    assert groove("sheet", "song.txt", "-o", "song.musicxml").code == 0
    said = groove("tab", "song.musicxml", "--into-chart")
    assert said.code == 0
    groove.write("back.txt", said.out)
    (first,), (back,) = (groove("tab", name, "--json").json for name in ("song.txt", "back.txt"))
    played = [[(n["bar"], n["beat"], n["pitch"], n["string"], n["fret"]) for n in one["notes"]]
              for one in (first, back)]  # fmt: skip
    assert played[0] == played[1]
    # What is struck on the staff (MusicXML 4.0): every note but those that a tie goes on to.
    notes = ElementTree.parse(groove.folder / "song.musicxml").iter("note")
    staff = [
        note for note in notes if note.findtext("staff", "1") == "1" and note.find("rest") is None
    ]
    assert len(played[0]) == sum(note.find("tie[@type='stop']") is None for note in staff)
