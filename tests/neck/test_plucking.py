"""The plucking hand against every possible plucking, and against what players do.

Index and middle in turn, raking down to the adjacent string, index first after a rest: common
practice, no source.
"""

from itertools import product
from random import Random

import pytest
from msgspec.structs import replace

from groove.events import FretPlace, Note, Touch
from groove.neck.fingering import finger_line
from groove.neck.instrument import STANDARD
from groove.neck.options import NeckOptions
from groove.neck.plucking import PluckedStroke, pluck_line, stroke_cost
from tests.neck.neck_lines import SIXTEENTHS, cell_line, plain_line, tempo


def strokes_of(strings: list[int], window_ms: float = 150) -> list[PluckedStroke]:
    return [PluckedStroke(string, window_ms, index == 0) for index, string in enumerate(strings)]


def whole_cost(strokes: list[PluckedStroke], fingers: tuple[str, ...]) -> float:
    cost = stroke_cost(None, "", strokes[0], fingers[0])
    for i in range(1, len(strokes)):
        cost += stroke_cost(strokes[i - 1], fingers[i - 1], strokes[i], fingers[i])
    return cost


def test_equals_brute_force() -> None:
    rng = Random("plucking")
    for _ in range(200):
        strokes = [
            PluckedStroke(
                1 + int(rng.random() * 4), rng.random() * 500, i == 0 or rng.random() < 0.1
            )
            for i in range(8)
        ]
        best = min(whole_cost(strokes, fingers) for fingers in product("im", repeat=8))
        found = pluck_line(strokes)
        assert found.cost == pytest.approx(best)
        assert whole_cost(strokes, found.fingers) == pytest.approx(best)


def test_alternation_on_one_string() -> None:
    assert pluck_line(strokes_of([3] * 8)).fingers == tuple("imimimim")


def test_rake_only_to_the_adjacent_lower_string() -> None:
    rng = Random("rakes")
    raked = 0
    for _ in range(100):
        strings = [1 + int(rng.random() * 4) for _ in range(16)]
        plucking = pluck_line(strokes_of(strings))
        for i in range(1, 16):
            if plucking.fingers[i] == plucking.fingers[i - 1] and strings[i] != strings[i - 1]:
                assert strings[i] == strings[i - 1] + 1
                raked += 1
    assert raked > 20


def test_a_finger_that_must_repeat_does_so_where_there_is_time() -> None:
    # Three notes lead to octaves with the middle finger on top: one repeats, on the longer gap.
    windows_ms = (500, 250, 125, 125, *[250] * 15)
    strings = (3, 3, 3, *[3, 1] * 8)
    strokes = [
        PluckedStroke(string, window, index == 0)
        for index, (string, window) in enumerate(zip(strings, windows_ms, strict=True))
    ]
    assert pluck_line(strokes).fingers == tuple("iim" + "im" * 8)


def test_rakes_are_counted() -> None:
    plucking = pluck_line(strokes_of([1, 2, 3, 4]))
    pairs = list(zip(plucking.fingers, plucking.fingers[1:], strict=False))
    assert plucking.rakes == sum(a == b for a, b in pairs) > 0
    assert plucking.same_finger_repeats == 0


def test_easy_and_hard_crossing() -> None:
    low_to_high, high_to_low = PluckedStroke(4, 150, False), PluckedStroke(3, 150, False)
    easy = stroke_cost(low_to_high, "i", high_to_low, "m")
    hard = stroke_cost(low_to_high, "m", high_to_low, "i")
    assert easy < hard
    assert stroke_cost(high_to_low, "m", low_to_high, "i") == easy


def test_index_after_a_rest_of_a_beat() -> None:
    notes = cell_line(["A", "D"], "R R R . . . . . R R R . R R R -")
    line = finger_line(notes, tempo_map=tempo(84))
    fingers = {
        (n.origin.bar.played_bar, n.origin.step): p.pluck
        for n, p in zip(line.notes, line.places, strict=True)
    }
    assert [fingers[bar, step] for bar in (1, 2) for step in (0, 1, 2, 8, 9, 10)] == list("imi" * 4)


def test_ghosts_count_in_the_alternation() -> None:
    line = finger_line(cell_line(["A"], "R x R x R x R x R x R x R x R x"), tempo_map=tempo(84))
    assert "".join(place.pluck for place in line.places) == "im" * 8


def test_thumb() -> None:
    options = NeckOptions(thumb=True)
    line = finger_line(cell_line(["A"], SIXTEENTHS), tempo_map=tempo(84), options=options)
    assert {place.pluck for place in line.places} == {"p"}
    assert (line.rakes, line.same_finger_repeats) == (0, 0)


def test_a_steady_line_has_no_fast_repeats() -> None:
    line = finger_line(plain_line([33] * 32, 240), tempo_map=tempo(100))
    assert line.same_finger_repeats == 0


def test_what_the_fretting_hand_slurs_takes_no_plucking_finger() -> None:
    """Hammered notes between are as if they were not there, for the hand that plucks."""
    rng = Random("slurs")
    compared = 0
    for _ in range(40):
        notes: list[Note] = []
        for index, note in enumerate(plain_line([33] * 12, 240)):
            before = notes[-1] if notes else None
            is_slurred = before is not None and not before.touch.is_slurred and rng.random() < 0.4
            string = 1 + int(rng.random() * 4)
            if before and is_slurred and before.stated_place:
                string = before.stated_place.string
            place = FretPlace(string, 5 + index % 2)
            touch = Touch.HAMMER_ON if is_slurred else Touch.PLAIN
            pitch = STANDARD.pitch_at(string, place.fret)
            notes.append(replace(note, pitch=pitch, stated_place=place, touch=touch))
        plucked = [note for note in notes if not note.touch.is_slurred]
        whole, alone = (finger_line(line, tempo_map=tempo(100)) for line in (notes, plucked))
        fingers = [place.pluck for place in whole.places]
        assert [finger for finger in fingers if finger] == [p.pluck for p in alone.places]
        assert (whole.rakes, whole.same_finger_repeats) == (alone.rakes, alone.same_finger_repeats)
        compared += len(notes) - len(plucked)
    assert compared > 80
