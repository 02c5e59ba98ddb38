"""What each weight of the fretting hand is for, shown by a short line fingered as it is taught.

Every line's places and fingers are counted by hand: one finger a fret from the fifth fret up,
1-2-4 below it with the third finger helping the little one, an octave under first and little
finger two strings and two frets apart, the shapes of ``shared/tables/shapes.toml``, and else
common practice, no source.  A weight set to 0 must spoil one of these lines.
"""

from collections.abc import Sequence
from functools import partial
from typing import NamedTuple

import pytest
from msgspec.structs import fields, replace

from groove.events import Note, Role, Touch
from groove.neck import fingering
from groove.neck.hand import Grip, make_hand
from groove.neck.instrument import STANDARD
from groove.neck.options import HAND_WEIGHTS, HASTE, HandWeights, NeckOptions, haste_index
from groove.neck.shapes import HandTask, Shape
from tests.neck.neck_lines import cell_line, plain_line, tempo

STRINGS = {"E": 4, "A": 3, "D": 2, "G": 1}


class Line(NamedTuple):
    """A line, how it is fingered, and why.

    ``fingered`` has a note a word: the string, the fret and after a point the fingers that will
    do, any where none is said; ``x4`` after a word is the same four times.
    """

    notes: Sequence[Note]
    bpm: float
    fingered: str
    why: str
    options: NeckOptions = NeckOptions()


def touched(notes: list[Note], index: int, touch: Touch) -> list[Note]:
    return [replace(n, touch=touch) if i == index else n for i, n in enumerate(notes)]


def approaching(notes: list[Note], index: int) -> list[Note]:
    led = replace(notes[index].origin, role=Role.APPROACH)
    return [replace(n, origin=led) if i == index else n for i, n in enumerate(notes)]


def again(chords: list[str], cell: str) -> list[Note]:
    """Return a cell in eighths on each chord, the last bar being the first one come again."""
    notes = cell_line(chords, cell, 2)
    first = notes[0].origin.bar.written_bar
    return [
        replace(n, origin=replace(n.origin, bar=replace(n.origin.bar, written_bar=first)))
        if n.origin.bar.played_bar == len(chords)
        else n
        for n in notes
    ]


LINES = {
    "travel_per_mm": Line(
        plain_line([29, 46, 29, 46], 240),
        100,
        "E1.1 G3.4 E1.1 G3.4",
        "F1 and Bb2 under one hand, not seven frets apart on nearer strings",
    ),
    "shift": Line(
        plain_line([47, 47, 50], 960),
        84,
        "G4.1 G4.1 G7.4",
        "a minor third up a string is first and little finger of one hand, and no shift",
    ),
    "stretch_per_mm": Line(
        plain_line([34, 31, 31]),
        160,
        "A1.1 E3.34 E3.34",
        "a minor third down lies across two strings, two frets up, and asks for no stretch",
        NeckOptions(open_strings="no"),
    ),
    "squeeze": Line(
        cell_line(["Eb", "Eb"], "R - b7 - 8 - R -", 2),
        84,
        "A6.1 G6.1 G8.4 A6.1 A6.1 G6.1 G8.4 A6.1",
        "the octave is the little finger's, the seventh two frets under it the first finger's",
    ),
    "opened": Line(
        cell_line(["F#m"], "R - 5 - 8 - 5 -", 2),
        120,
        "E2.1 A4.4 D4.4 A4.4",
        "below the fifth fret fifth and octave are the little finger's, rolled over",
    ),
    "cross": Line(
        plain_line([37, 40]),
        120,
        "A4.1 A7.4",
        "a hand of four fingers has a minor third on one string",
        NeckOptions(span=4),
    ),
    "skip": Line(
        approaching(plain_line([39, 36, 43]), 1),
        60,
        "A6 A3.1 D5.4",
        "the fifth of C lies on the next string: no string is left out between them",
    ),
    "leap": Line(
        plain_line([37, 51, 39]),
        160,
        "A4 G8.4 A6",
        "at speed the hand does not cross from the lowest string to the highest and back",
    ),
    "approach_across": Line(
        approaching(plain_line([50, 38, 42, 43, 45]), 2),
        96,
        "G7 A5 D4.1 D5.2 D7.4",
        "F# leads to the G beside it on the D string, not from the ninth fret of the A string",
    ),
    "half_step_across": Line(
        plain_line([43, 42, 45, 48, 50]),
        120,
        "D5.2 D4.1 D7.4 G5.2 G7.4",
        "G and F# lie side by side on the D string, not on two strings four frets apart",
    ),
    "restrike": Line(
        cell_line(["G"], "R - - - 5 - - -", 2)
        + [
            replace(note, grid_tick=note.grid_tick + 3840)
            for note in cell_line(["D"], "R - - - 5 - - -", 2)
        ],
        120,
        "E3 A5.4 A5 D7",
        "the fifth of G becomes the root of D where it is, and is not struck open instead",
    ),
    "weak_root": Line(
        cell_line(["F", "C#m"], "R R R R R R R R", 2),
        60,
        "E1.1x8 A4.12x8",
        "what is pumped for a bar lies under a strong finger",
    ),
    "pump": Line(
        cell_line(["F#m", "Ab"], "R R R R R R R R", 2),
        100,
        "E2.1x8 E4.23x8",
        "what is pumped for a bar lies under a stronger finger than the little one",
    ),
    "roll": Line(
        plain_line([38, 43], 240),
        120,
        "A5.3 D5.4",
        "a fourth takes two fingers side by side, the lower one on the lower string, and no barre",
    ),
    "lift": Line(
        plain_line([37, 44, 45]),
        160,
        "A4.1 D6.3 D7.4",
        "a half step takes two fingers",
        NeckOptions(open_strings="no"),
    ),
    "hop": Line(
        cell_line(["F"], "R - 5 - 9 - 8 -", 2),
        120,
        "E1.1 A3.3 D5.4 D3.4",
        "from the fifth to the ninth, two frets up a string higher, another finger comes down",
    ),
    "refinger": Line(
        cell_line(["Ab"], "R - 5 - 8 - 5 -", 2),
        200,
        "E4.1 A6.4 D6.4 A6.4",
        "fifth and octave at one fret are one finger rolled, not a finger taken off for another",
    ),
    "open_string": Line(
        cell_line(["A"], "R - 5 - 8 - 5 -", 2),
        200,
        "E5.1 A7.4 D7.4 A7.4",
        "where the closed shape lies as well, no root is left to ring under its fifth",
        NeckOptions(span=3),
    ),
    "open_muted": Line(
        cell_line(["G", "A"], "R - 8 - x - R -", 4),
        120,
        "E3.1 D5.34 D5.34 E3.1 E5.1 D7.4 D7.4 E5.1",
        "octaves with a ghost are muted by the hand that frets them",
    ),
    "open_under_octave": Line(
        cell_line(["G", "A", "F#m"], "R 8 R 8 R 8 R 8", 2),
        120,
        "E3.1 D5.4 E3.1 D5.4 E3.1 D5.4 E3.1 D5.4 E5.1 D7.4 E5.1 D7.4 E5.1 D7.4 E5.1 D7.4 "
        "E2.1 D4.4 E2.1 D4.4 E2.1 D4.4 E2.1 D4.4",
        "an octave that is played in turn with its root has no open string ringing under it",
    ),
    "open_ghost": Line(
        cell_line(["G", "A"], "R x x R 5 - x 8", 4),
        160,
        "E3.1x4 A5.34 A5.34 D5.4 E5.1x4 A7.3x2 D7.4",
        "a ghost is muted by the hand, which it cannot do on a string that nobody frets",
    ),
    "far_from_nut": Line(
        plain_line([28, 34, 34, 28]),
        80,
        "E0 A1 A1 E0",
        "between two open E's the Bb is the one at the nut, not at the sixth fret",
    ),
    "open_missed": Line(
        cell_line(["D", "Ab"], "R R R R R R R R", 2),
        120,
        "D0x8 E4.1x8",
        "who wants open strings has the open D",
        NeckOptions(open_strings="yes"),
    ),
    "ghost_moves": Line(
        cell_line(["E", "C#m", "F#m"], "R - x R . R 5 8", 4),
        120,
        "E0x4 A2 D2 A4.1x4 D6.4 G6.4 E2.1x4 A4 D4",
        "under a ghost the hand stands where it struck the root",
    ),
    "twelfth_fret": Line(
        plain_line([47, 48, 50, 55]),
        160,
        "D9 D10 G7 G12",
        "time is kept below the twelfth fret: D3 on the seventh of the G string",
    ),
    "high_position": Line(
        plain_line([40, 42, 37], 960),
        160,
        "D2.1 D4.4 A4.4",
        "of two hands the lower one",
    ),
    "shape_break": Line(
        cell_line(["F"], "R - 5 - 9 - 8 -", 2),
        120,
        "E1.1 A3.3 D5.4 D3.4",
        "the ninth lies two frets above the octave, not on an open string",
    ),
    "high_root": Line(
        cell_line(["Bm", "D"], "R - R - 5 - 8 -", 2),
        84,
        "A2.1x2 D4 G4 A5.1x2 D7.3 G7.4",
        "B is at home on the second fret, though its octave shape lies on the seventh too",
    ),
    "off_home": Line(
        cell_line(["C#m"], "R - b3 - 5 - b3 -", 2),
        120,
        "A4.1 A7.4 D6.3 A7.4",
        "root, minor third and fifth are first, little and third finger of one hand",
    ),
    "elsewhere": Line(
        again(["D", "F#m", "D"], "R - 3 - 5 - - -"),
        72,
        "A5.2 D4.1 D7.4 E2.2 A1.1 A4.4 A5.2 D4.1 D7.4",
        "a bar that comes again is played where it was",
    ),
    "other_finger": Line(
        again(["Bb", "C", "Bb"], "R - - - 5 - - -"),
        120,
        "E6.1 A8.4 E8 A10 E6.1 A8.4",
        "and by the fingers that it was played by",
    ),
    "out_of_position": Line(
        cell_line(["A", "F", "D"], "R - - - 5 - - -", 2),
        160,
        "E5.1 A7.3 E1.1 A3 A5.1 D7.3",
        "who begins on the fifth fret plays D there too, not open",
        NeckOptions(start_fret=5),
    ),
    "slide_across": Line(
        touched(plain_line([29, 34]), 1, Touch.SLIDE),
        72,
        "E1.1 E6.1",
        "a slide is one finger on one string",
    ),
    "slide_finger": Line(
        touched(plain_line([29, 32]), 1, Touch.SLIDE),
        120,
        "E1.1 E4.1",
        "a slide up a minor third is no change of fingers",
    ),
}
"""By the weight without which the line would be fingered otherwise."""


def held(line: Line, monkeypatch: pytest.MonkeyPatch, weights: HandWeights) -> list[str]:
    """Return the notes' holds: ``A5.1``, and ``A0`` for an open string."""
    monkeypatch.setattr(fingering, "make_hand", partial(make_hand, weights=weights))
    found = fingering.finger_line(line.notes, tempo_map=tempo(line.bpm), options=line.options)
    names = {number: name for name, number in STRINGS.items()}
    return [f"{names[p.string]}{p.fret}" + (f".{p.finger}" if p.fret else "") for p in found.places]


def is_taught(line: Line, holds: Sequence[str]) -> bool:
    """Return whether every note is where it is taught and under one of the fingers that do."""
    words = []
    for word in line.fingered.split():
        hold, _, times = word.partition("x")
        words += [hold] * int(times or 1)
    pairs = [
        (word.partition("."), hold.partition(".")) for word, hold in zip(words, holds, strict=True)
    ]
    return all(
        place == found_place and (not fingers or finger in fingers)
        for (place, _, fingers), (found_place, _, finger) in pairs
    )


@pytest.mark.parametrize("name", LINES)
def test_a_line_is_fingered_as_it_is_taught(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    line = LINES[name]
    holds = held(line, monkeypatch, HAND_WEIGHTS)
    assert is_taught(line, holds), (line.why, holds)


@pytest.mark.parametrize("name", [field.name for field in fields(HandWeights)])
def test_a_weight_at_0_spoils_a_line(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    line = LINES[name]
    assert not is_taught(line, held(line, monkeypatch, replace(HAND_WEIGHTS, **{name: 0.0}))), (
        line.why
    )


def test_no_line_is_for_a_weight_that_is_gone() -> None:
    assert set(LINES) == {field.name for field in fields(HandWeights)}
    assert len(LINES) == 34


def test_a_shape_that_runs_off_the_neck_has_no_home() -> None:
    # The tenth of a root on the A string would lie on a string above the G string.
    hand = make_hand(STANDARD, NeckOptions())
    grip = Grip(string=3, fret=3, finger=1, position=3, root_string=3)
    free = HandTask(36, Touch.PLAIN, True, None, None)
    off = free._replace(shape=Shape(36, (0, 16)), above_root=0)
    assert hand.grip_cost(off, grip) - hand.grip_cost(free, grip) == HAND_WEIGHTS.off_home


def test_a_row_of_haste_begins_at_its_time() -> None:
    assert [haste_index(row.window_ms) for row in HASTE] == list(range(len(HASTE)))
    assert haste_index(59.9) == 0
    assert haste_index(60.1) == 1
