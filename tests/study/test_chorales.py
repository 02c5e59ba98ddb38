"""Chorales that music21 ships, beside the analyses that people made of them by hand.

The analyses are those of ``bach/choraleAnalyses`` in music21's corpus (A. Jones, D. Tymoczko and
H. Robb), the scores its MusicXML files; both are read from the installed package, by music21 and by
us.  A numeral is held against the first time that its bar is sung: our scores play repeats, the
analyses do not.
"""

from bisect import bisect_right
from fractions import Fraction
from functools import cache
from pathlib import Path

import music21
from msgspec import Struct
from msgspec.structs import replace
from music21 import converter, roman

from groove.io.studied import ReadLine, read_line
from groove.study.note_kinds import NoteKind
from groove.study.result import study_line
from groove.study.studied_line import BarFrame, StudyChord
from groove.theory.chords import Chord, build_chord
from groove.theory.pitch import SpelledPitch

BACH = Path(music21.__file__).parent / "corpus" / "bach"
CHORALES = {1: "269", 5: "267", 7: "17.7", 10: "38.6"}
"""Riemenschneider's numbers and the catalogue's, as the heads of the analyses have them.

Of the first ten these are the ones whose scores number their bars as the analyses do; the others
part at a phrase's end, where one has two halves of a bar and the other a whole one.
"""
JUDGED_BARS = 10
"""So many bars of each chorale: music21 takes longer to read an analysis than we to study it."""
LETTERS = {"F": -1, "C": 0, "G": 1, "D": 2, "A": 3, "E": 4, "B": 5}
SUFFIXES = {
    (0, 4, 7): "", (0, 3, 7): "m", (0, 3, 6): "dim", (0, 4, 8): "+", (0, 4, 7, 10): "7",
    (0, 4, 7, 11): "maj7", (0, 3, 7, 10): "m7", (0, 3, 6, 10): "m7b5", (0, 3, 6, 9): "dim7",
}  # fmt: skip
INVERSIONS = (
    {NoteKind.ROOT, NoteKind.OCTAVE}, {NoteKind.THIRD}, {NoteKind.FIFTH}, {NoteKind.SEVENTH},
)  # fmt: skip
"""What the bass of a chord has in root position, and in its first to third inversion."""


class Numeral(Struct, frozen=True):
    """A chord of an analysis: where it begins in quarters, what it is, its inversion."""

    start_quarters: Fraction
    chord: Chord
    inversion: int


@cache
def read_by_ear(number: int) -> ReadLine:
    """Return a chorale's bass with the chords that its other voices sing."""
    return read_line(str(BACH / f"bwv{CHORALES[number]}.mxl"), None, lambda _: None)


@cache
def numerals(number: int) -> tuple[Numeral, ...]:
    """Return the numerals of an analysis' first bars, where the bars of the score have them."""
    path = BACH / "choraleAnalyses" / f"riemenschneider{number:03}.rntxt"
    head = path.read_text(encoding="utf-8").partition(f"\nm{JUDGED_BARS + 1} ")[0]
    analysis = converter.parse(head, format="romantext")
    frames: dict[int, BarFrame] = {}
    for frame in read_by_ear(number).frames:
        frames.setdefault(frame.number, frame)
    found = []
    for each in analysis.recurse().getElementsByClass(roman.RomanNumeral):
        inside = Fraction(each.offset).limit_denominator(24)
        bar = frames.get(int(each.measureNumber or 0))
        root = each.root()
        shape = tuple(sorted({(pitch.midi - root.midi) % 12 for pitch in each.pitches}))
        if bar and inside < bar.meter.bar_quarters and shape in SUFFIXES:
            fifths = LETTERS[root.step] + 7 * int(root.alter)
            chord = build_chord(SpelledPitch(fifths), SUFFIXES[shape], None)
            at = bar.start_quarters + inside
            found.append(Numeral(at, chord, each.inversion()))
    return tuple(found)


def given(frame: BarFrame, due: tuple[Numeral, ...]) -> BarFrame:
    """Return a bar with the chords of an analysis in place of those that were heard."""
    end = frame.start_quarters + frame.meter.bar_quarters
    inside = [each for each in due if frame.start_quarters <= each.start_quarters < end]
    chords = [
        StudyChord(chord=each.chord, start_quarters=each.start_quarters - frame.start_quarters)
        for each in inside
    ]
    return replace(frame, chords=tuple(chords))


def test_what_the_bass_sings_is_the_inversion_that_an_analyst_writes() -> None:
    # 97 % of the numerals under which the bass begins a note.
    same = total = 0
    for number in CHORALES:
        due, line = numerals(number), read_by_ear(number)
        frames = [given(frame, due) for frame in line.frames]
        study = study_line(line.notes, frames, {}, title="", part="")
        by_place = {
            each.bar.frame.start_quarters + each.note.slot * each.bar.slot_quarters: each.kind
            for each in study.notes
        }
        for each in due:
            if each.start_quarters in by_place:
                total += 1
                same += by_place[each.start_quarters] in INVERSIONS[each.inversion]
    assert total >= 120
    assert same / total >= 0.95


def test_the_roots_that_are_heard_in_chorales_are_an_analysts() -> None:
    # Those on beats: chords are heard by the beat.  From the other voices and the bass: 81 %.
    same = total = 0
    for number in CHORALES:
        due, line = numerals(number), read_by_ear(number)
        heard = [
            (frame.start_quarters + chord.start_quarters, chord.chord)
            for frame in line.frames
            for chord in frame.chords
        ]
        places = [at for at, _ in heard]
        for each in due:
            if each.start_quarters.denominator > 1:
                continue
            chord = heard[bisect_right(places, each.start_quarters) - 1][1]
            total += 1
            same += chord is not None and (chord.root.pitch_class == each.chord.root.pitch_class)
    assert total >= 120
    assert same / total >= 0.8
