"""The touch of a bass cell that has none of its own, two ways, and where the drums take theirs.

What a touch may be is common practice, no source.
"""

from collections import Counter
from random import Random

import pytest

from groove.arrange.touches import touched
from groove.cells.library import library_from
from groove.cells.model import BassBar
from groove.cells.read import read_bass_cell
from groove.cells.tokens import token_text
from groove.events import Part
from groove.pipeline import perform_chart
from groove.theory.general_midi import DRUM_KEYS
from tests.arrange.songs import LIBRARY
from tests.cells.cell_lines import DRUMS


def bar_of_steps(steps: str, slots_per_beat: int = 1) -> BassBar:
    """Return the bar of a cell in 4/4."""
    levels = " ".join("." if token in "-._" else "8" for token in steps.split())
    cell = {
        **{"format": 1, "name": "own", "summary": "", "meter": "4/4", "levels": levels},
        **{"steps": steps, "slots_per_beat": slots_per_beat},
    }
    return read_bass_cell(cell, "own.toml").bars[0]


def ways(steps: str, slots_per_beat: int = 1) -> set[str]:
    """Return the bars that chance makes of one, a stroke as its beat from 0 and its token."""
    found = set()
    for seed in range(20):
        bar = touched(bar_of_steps(steps, slots_per_beat), 4, Random(seed))
        found.add(" ".join(f"{float(s.start_beats):g}{token_text(s.aim)}" for s in bar.strokes))
    return found


@pytest.mark.parametrize(
    ("steps", "slots_per_beat", "expected"),
    [
        # The last beat gives its half to what leads, or the one before is an octave.
        ("R R R R", 1, {"0R 1R 28 3R", "0R 1R 2R 3R 3.5>*"}),
        # A last eighth leads itself; a bar that leads already has the octave alone.
        ("R - 5 - R - 5 5", 2, {"0R 15 2R 38 3.55", "0R 15 2R 35 3.5>*"}),
        ("R - - 5 R - - >*", 2, {"0R 1.55 28 3.5>*"}),
        # No octave beside an octave, and no root at the head is touched.
        ("R - - - 5 - 8 >*", 2, {"0R 25 38 3.5>*"}),
        ("R - - -", 1, {"0R"}),
        ("R 3 5 x", 1, {"0R 13 28 3x"}),
    ],
)
def test_a_touch_is_an_octave_or_a_step_that_leads(
    steps: str, slots_per_beat: int, expected: set[str]
) -> None:
    assert ways(steps, slots_per_beat) == expected


def test_what_leads_is_no_louder_than_a_leading_note() -> None:
    bars = [touched(bar_of_steps("R R R R"), 4, Random(seed)) for seed in range(20)]
    led = [bar.strokes for bar in bars if len(bar.strokes) == 5]
    assert led
    assert {(strokes[-1].level, float(strokes[-2].length_beats)) for strokes in led} == {(7, 0.5)}


def test_a_chorus_with_drums_of_its_own_keeps_their_sound_where_it_is_touched() -> None:
    """The cowbell of the touch is for sections that are played on the plain bars."""
    rows = {"kick": "9 . 8 .", "snare": ". 9 . 9"}
    when = {"touch": {**rows, "cowbell": "9 9 9 9"}, "chorus": {**rows, "ride": "9 9 9 9"}}
    cell = {**DRUMS, "name": "belled", "when": when}
    library = library_from([("drums", "own/belled.toml", cell)], LIBRARY)
    bars = "| C | F | G | C | C | F | G | C |"
    belled: Counter[str] = Counter()
    for seed in range(1, 11):
        text = (
            f"feel: straight eighths\ndrums: belled\nvary: much\nfills: none\nseed: {seed}\n"
            f"verse:\n{bars}\nchorus:\n{bars}\nform: verse x2, chorus x2, verse\n"
        )
        belled.update(
            note.origin.bar.section
            for note in perform_chart(text, library).notes
            if note.part is Part.DRUMS and note.pitch == DRUM_KEYS["cowbell"]
        )
    assert belled["verse"] > 0
    assert belled["chorus"] == 0
