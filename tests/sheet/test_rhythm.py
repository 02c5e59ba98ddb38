"""How bars are written: durations add up, ties and tuplets read back, the beat stays readable.

Groupings are those of E. Gould, *Behind Bars* (2011), "Grouping" and "Rests"; a value's length is
arithmetic: a base note, its dots, its tuplet.
"""

from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from groove.sheet.rhythm import Value, written_values
from groove.sheet.spelling import BarAccidentals, StaffPitch, spell
from groove.theory.chords import parse_chord
from groove.timing import Meter

METERS = [Meter(*m) for m in ((4, 4), (3, 4), (2, 4), (6, 8), (12, 8), (9, 8), (5, 4), (7, 8))]


def stated_ticks(value: Value, bar_ticks: int) -> Fraction:
    """Return what a value lasts by its signs alone."""
    if value.base == 0:
        return Fraction(bar_ticks)
    length = Fraction(3840, value.base) * (2 - Fraction(1, 2**value.dots))
    return length * value.tuplet.normal / value.tuplet.actual if value.tuplet else length


@st.composite
def bars(draw: st.DrawFn) -> tuple[Meter, tuple[tuple[int, int], ...]]:
    """Draw a meter and strokes on a grid of sixteenths or of triplets a quarter."""
    meter = draw(st.sampled_from(METERS))
    step = draw(st.sampled_from([240, 320, 160] if meter.unit == 4 else [240]))
    slots = int(meter.bar_quarters * 960) // step
    edges = sorted(draw(st.sets(st.integers(0, slots), min_size=2, max_size=12)))
    spans = [(a * step, b * step) for a, b in pairwise(edges)]
    return meter, tuple(span for span in spans if draw(st.booleans()))


@settings(derandomize=True, deadline=None, max_examples=60)
@given(bars())
def test_every_bar_is_full_and_says_its_own_lengths(
    bar: tuple[Meter, tuple[tuple[int, int], ...]],
) -> None:
    meter, spans = bar
    values = written_values(meter, spans)
    ticks = int(meter.bar_quarters * 960)
    at = 0
    for value in values:
        assert value.start == at
        assert stated_ticks(value, ticks) == value.ticks
        at = value.end
    assert at == ticks
    joined: list[tuple[int, int, int, bool]] = []
    for value in values:
        if value.is_rest:
            continue
        if joined and joined[-1][2] == value.stroke:
            assert joined[-1][3]
            joined[-1] = (joined[-1][0], value.end, value.stroke, value.ties_on)
        else:
            joined.append((value.start, value.end, value.stroke, value.ties_on))
    assert [(start, end) for start, end, _, _ in joined] == list(spans)
    check_beams_begin_and_end(values)


def check_beams_begin_and_end(values: Sequence[Value]) -> None:
    """Every beam that begins ends (MusicXML 4.0, ``beam-value``), level by level."""
    open_levels: set[int] = set()
    for value in values:
        for level, word in enumerate(value.beams):
            if word == "begin":
                assert level not in open_levels
                open_levels.add(level)
            elif word == "end":
                open_levels.remove(level)
            elif word == "continue":
                assert level in open_levels
    assert not open_levels


CASES = [
    # 4/4: the middle of the bar is shown; a whole bar is one note.
    (Meter(4, 4), ((0, 3840),), "1"),
    (Meter(4, 4), ((480, 2400),), "r8 4.~ 8 r8 r4"),
    (Meter(4, 4), ((0, 1440), (1440, 3840)), "4. 8~ 2"),
    (Meter(4, 4), ((960, 2880),), "r4 2 r4"),
    (Meter(4, 4), ((0, 480), (480, 1440), (1440, 1920)), "8 4 8 r2"),
    # Sixteenths keep to their beat.
    (Meter(4, 4), ((720, 1200),), "r8. 16~ 16 r16 r8 r2"),
    # 3/4 has no half rest; 6/8 is in two, and its last two eighths are two rests.
    (Meter(3, 4), ((0, 960),), "4 r4 r4"),
    (Meter(6, 8), ((0, 1440), (1440, 1920)), "4. 8 r8 r8"),
    (Meter(6, 8), ((480, 1920),), "r8 4~ 8 r8 r8"),
    (Meter(12, 8), ((0, 960), (960, 1440)), "4 8 r4. r2."),
    # Triplets: a swung pair written out, and three of a kind.
    (Meter(2, 4), ((0, 640), (640, 960)), "4t 8t r4"),
    (Meter(2, 4), ((0, 320), (320, 640), (640, 960)), "8t 8t 8t r4"),
    (Meter(2, 4), (), "r0"),
]


def shown(value: Value) -> str:
    tie = "~" if value.ties_on else ""
    tuplet = "t" if value.tuplet else ""
    return f"{'r' * value.is_rest}{value.base}{'.' * value.dots}{tuplet}{tie}"


@pytest.mark.parametrize(("meter", "spans", "wanted"), CASES)
def test_a_copyist_would_write(
    meter: Meter, spans: tuple[tuple[int, int], ...], wanted: str
) -> None:
    found = " ".join(shown(value) for value in written_values(meter, spans))
    assert found.replace("r8.", "r8 r16").split() == wanted.replace("r8.", "r8 r16").split()


@pytest.mark.parametrize(
    ("pitch", "chord", "fifths", "target", "name"),
    [
        (42, "D", 2, None, "F#"),  # the third of D
        (42, "Ebm", -3, None, "Gb"),  # the third of E flat minor
        (42, "C", 0, 43, "F#"),  # up to G
        (44, "C", 0, 43, "Ab"),  # down to G
        (46, "C7", 0, None, "Bb"),  # the chord's seventh
        (47, "F7", -1, 46, "B"),  # a white key keeps its name
    ],
)
def test_spelling(pitch: int, chord: str, fifths: int, target: int | None, name: str) -> None:
    """Chord tones as the chord has them, half steps as leading notes (Gould, "Accidentals")."""
    found = spell(pitch, parse_chord(chord), fifths, target)
    assert found.letter + {1: "#", -1: "b", 0: ""}[found.alter] == name


def test_accidentals_hold_to_the_bar_line() -> None:
    """A sign holds for its line until the bar line, in its octave only (Gould)."""
    signs = BarAccidentals(2)
    f_sharp, f_natural = StaffPitch("F", 1, 2), StaffPitch("F", 0, 2)
    assert not signs.printed(f_sharp, held=False)
    assert signs.printed(f_natural, held=False)
    assert not signs.printed(f_natural, held=False)
    assert signs.printed(f_sharp, held=False)
    assert signs.printed(StaffPitch("F", 0, 3), held=False)
