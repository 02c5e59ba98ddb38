"""How long the notes of a part are, and how they are tied, as music21 10.5.1 reads both staves.

What is expected comes from the performance (its grid and what its cells state), not from the code
that cuts strokes into written values: a stroke lasts as stated, or until the next one, or until
the song ends, and all values written for it are tied into one chain.
"""

from fractions import Fraction
from itertools import pairwise
from statistics import harmonic_mean
from typing import Any
from xml.etree import ElementTree

import music21
import pytest

from groove.cells.model import Library
from groove.events import Part, Performance
from groove.sheet.build import build_score
from groove.sheet.musicxml import musicxml_text
from groove.sheet.score import Score
from tests.sheet.music21_reading import expected, read_notes, struck, written_places
from tests.sheet.parts import REPEATS, played

TIES = {
    (False, False): None,
    (False, True): "start",
    (True, True): "continue",
    (True, False): "stop",
}
"""What music21 calls the tie of a note by (held from before, held on)."""


def ticks(quarters: Any) -> int:
    return round(Fraction(quarters) * 960)


def read_values(staff: Any) -> list[tuple[int, int, int, str | None]]:
    """Return (tick, ticks, written pitch, tie) of every note that music21 has on a staff."""
    return [
        (ticks(n.offset), ticks(n.quarterLength), n.pitch.midi, n.tie.type if n.tie else None)
        for n in staff.flatten().notes
        if type(n) is music21.note.Note
    ]


def score_values(score: Score) -> list[tuple[int, int, int, str | None]]:
    """Return the same of the score, an octave up as a bass is written."""
    found = []
    bar = 0
    for measure in score.measures:
        for event in measure.voices[0].events:
            for head in event.heads:
                tie = TIES[head.tied_in, head.tied_out]
                start = bar + event.value.start
                found.append((start, event.value.ticks, head.note.pitch + 12, tie))
        bar += measure.ticks
    return found


def chains(values: list[tuple[int, int, int, str | None]]) -> list[tuple[int, int, int]]:
    """Return (start, end, pitch) of every stroke; a broken chain of ties is an error."""
    found: list[tuple[int, int, int]] = []
    is_open = False
    for start, length, pitch, tie in values:
        assert is_open == (tie in ("continue", "stop")), f"a broken tie at {start}"
        if is_open:
            begun, end, held = found.pop()
            assert (end, held) == (start, pitch), f"a tie that joins nothing at {start}"
            found.append((begun, start + length, pitch))
        else:
            found.append((start, start + length, pitch))
        is_open = tie in ("start", "continue")
    assert not is_open
    return found


def strokes(performance: Performance) -> list[tuple[int, int, int]]:
    """Return (start, end, written pitch) of the bass strokes as the page must have them."""
    notes = sorted(performance.part_notes(Part.BASS), key=lambda note: note.grid_tick)
    ends = [*(note.grid_tick for note in notes[1:]), performance.bars[-1].end_tick]
    written = written_places(performance)
    return [
        (
            written(note.grid_tick),
            written(min(note.grid_tick + note.written_ticks, end)),
            note.pitch + 12,
        )
        for note, end in zip(notes, ends, strict=True)
    ]


def as_played(staff: Any) -> Any:
    """Return a staff with its repeats played, a copy only where it has any."""
    marks = staff.recurse().getElementsByClass(("RepeatMark", "RepeatBracket"))
    return staff.expandRepeats() if marks else staff


Example = tuple[Performance, Score, list[Any], list[Any]]
MIXED = """
title: Mixed Lock
tempo: 104
key: Bb
feel: straight eighths
fills: few
pickup: 1
verse:
  | Bb | <Gm7 | Cm7/F | (2/4) F7 |
chorus:
  |: Eb | 16<Bb/D |1. Cm7 | / / F7 / :|2. Bb <F7 | (stop) Bb |
bridge:
  meter: 7/8
  | Gm | Gm | F | F |
form: verse, chorus, bridge, verse
"""
COMPOUND = """
title: Slow Lock
tempo: 56
meter: 12/8
key: A
feel: slow twelve-eight
fills: few
verse:
  | A7 | D9 | <A7/G | E7sus4 E7 |
  | D | D#°7 | A/E | A7 |
form: verse x2
"""
READ = {"mixed": MIXED, "compound": COMPOUND}
"""A pickup, repeats, endings, pushes and changes of meter; a beat in three."""


@pytest.fixture(
    scope="module",
    params=READ.values(),
    ids=list(READ),
)
def read_back(request: pytest.FixtureRequest, library: Library) -> Example:
    """A chart's part, its score, both staves as music21 has them, and as it plays them."""
    song, performance, tuning = played(request.param, library)
    score = build_score(performance, song, tuning=tuning)
    staves = list(read_notes(musicxml_text(score, song)).parts)
    return performance, score, staves, [as_played(staff) for staff in staves]


def test_both_staves_have_the_values_and_ties_of_the_score(read_back: Example) -> None:
    _, score, staves, _ = read_back
    wanted = score_values(score)
    assert len(staves) == 2 and len(wanted) > 70
    for staff in staves:
        assert read_values(staff) == wanted


def test_music21_plays_what_the_performance_plays(read_back: Example) -> None:
    performance, _, _, heard = read_back
    wanted = expected(performance)
    assert len(wanted) > 70
    assert [struck(staff) for staff in heard] == [wanted] * 2


def test_every_stroke_lasts_as_the_performance_states(read_back: Example) -> None:
    performance, _, _, heard = read_back
    wanted = strokes(performance)
    assert len(wanted) > 70
    assert [chains(read_values(staff)) for staff in heard] == [wanted] * 2


PUSHES = """
title: Tied Weir
tempo: 90
key: D
feel: {feel}
fills: few

verse:
  |: D | <A/C# | <<Bm7 | G / <A7 / :|
  | D | <G | (hold) D | (stop) D |
"""


@pytest.mark.parametrize("feel", ["sixteenths", "slow twelve-eight", "walking"])
def test_pushes_and_holds_are_tied_in_every_pass(library: Library, feel: str) -> None:
    """Pushed chords are tied over the beat or the bar line, folded and written out."""
    text = PUSHES.format(feel=feel)
    if feel == "slow twelve-eight":
        # Where the beat is in three there is no sixteenth to push by.
        text = text.replace("<<", "<")
    song, performance, tuning = played(text, library)
    wanted = strokes(performance)
    lines = {bar.end_tick for bar in performance.bars}
    over = sum(any(start < line < end for line in lines) for start, end, _ in wanted)
    assert len(wanted) > 25 and over >= 5
    for written_out in (False, True) if feel == "walking" else (False,):
        score = build_score(performance, song, tuning=tuning, written_out=written_out)
        for staff in read_notes(musicxml_text(score, song)).parts:
            values = read_values(as_played(staff))
            assert chains(values) == wanted
            assert sum(tie == "start" for *_, tie in values) >= over


def test_every_bar_is_full_on_both_staves(read_back: Example) -> None:
    """Notes and rests of a bar follow each other without gap or overlap, up to the bar line."""
    _, score, staves, _ = read_back
    seen = 0
    for staff in staves:
        bars = staff.getElementsByClass("Measure")
        for bar, measure in zip(bars, score.measures, strict=True):
            spans = [
                (ticks(e.getOffsetInHierarchy(bar)), ticks(e.quarterLength))
                for e in bar.recurse().notesAndRests
                if not isinstance(e, music21.harmony.Harmony)
            ]
            assert spans[0][0] == 0
            assert all(a + length == b for (a, length), (b, _) in pairwise(spans))
            assert sum(spans[-1]) == measure.ticks
            seen += 1
    assert seen == 2 * len(score.measures) > 30


def test_what_sounds_tied_is_drawn_tied(library: Library) -> None:
    """``tie`` is for the ear and ``tied`` for the eye (MusicXML 4.0): a reader may use either."""
    song, performance, tuning = played(PUSHES.format(feel="sixteenths"), library)
    text = musicxml_text(build_score(performance, song, tuning=tuning), song)
    seen = {"1": 0, "2": 0}
    for note in ElementTree.fromstring(text.split("\n", 2)[2]).iter("note"):
        sounding = [tie.get("type") for tie in note.findall("tie")]
        assert [tied.get("type") for tied in note.findall("notations/tied")] == sounding
        seen[note.findtext("staff", "")] += len(sounding)
    assert seen["1"] == seen["2"] > 10


def test_the_tempi_for_the_ear_last_as_long_as_the_performance(library: Library) -> None:
    """``sound tempo`` is quarters a minute (MusicXML 4.0); played out, they give its time."""
    song, performance, tuning = played(REPEATS, library)
    score = build_score(performance, song, tuning=tuning, written_out=True)
    root = ElementTree.fromstring(musicxml_text(score, song).split("\n", 2)[2])
    divisions = int(root.findtext(".//divisions", ""))
    changes: list[tuple[Fraction, float]] = []
    start = Fraction(0)
    for element, measure in zip(root.iter("measure"), score.measures, strict=True):
        for sound in element.iter("sound"):
            if tempo := sound.get("tempo"):
                offset = Fraction(int(sound.findtext("offset", "0")), divisions)
                changes.append((start + offset, float(tempo)))
        start += Fraction(measure.ticks, 960)
    ends = [*(at for at, _ in changes[1:]), start]
    seconds = sum(
        float(end - at) * 60 / tempo for (at, tempo), end in zip(changes, ends, strict=True)
    )
    # 84 from the pickup on, said over bar 1 again; from 84 to 60 in twelve beats, 2 less each, told
    # a bar by what its three beats last; and 84 again.
    beats = [84 - 2 * number for number in range(12)]
    bars = [harmonic_mean(beats[first : first + 3]) for first in range(0, 12, 3)]
    assert changes[0][0] == 0
    assert [tempo for _, tempo in changes] == pytest.approx([84, 84, *bars, 84], rel=1e-4)
    assert seconds == pytest.approx(performance.length_sec, abs=0.001)
