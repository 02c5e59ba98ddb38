"""Costs that decide which onset is which note, against brute force and by cases worked by hand."""

from itertools import pairwise, product

import numpy
import pytest

from groove.take.alignment import _robust_value, align
from groove.take.heard import HeardNote, in_time
from groove.take.offsets import (
    AGAIN_COST,
    BIN_SEC,
    LEFT_OUT_COST,
    MOST_MOVED,
    MOVE_COST,
    _best_path,
)
from tests.take.played import even_reference

BINS, SEGMENTS = 9, 4


def step_cost(before: int, after: int, rate: float, jump_cost: float) -> float:
    """Return what it costs to go from a bin to another: a small move, or a jump on or back."""
    away = after - before
    share = AGAIN_COST * away if away >= 0 else -LEFT_OUT_COST * away
    jump = share * rate * BIN_SEC + jump_cost
    return min(jump, MOVE_COST * abs(away)) if abs(away) <= MOST_MOVED else jump


@pytest.mark.parametrize("seed", range(6))
def test_the_best_path_is_the_best_of_all(seed: int) -> None:
    # Every path is tried: 9 bins in 4 segments are 6,561.
    rng = numpy.random.default_rng(seed)
    scores = rng.uniform(0, 2, (SEGMENTS, BINS))
    prior = rng.uniform(0, 0.5, BINS)
    rate, jump_cost = (30.0, 0.05) if seed % 2 else (4.0, 0.2)

    def worth(path: tuple[int, ...]) -> float:
        steps = pairwise(path)
        moved = sum(step_cost(before, after, rate, jump_cost) for before, after in steps)
        return float(prior[path[0]] + sum(scores[range(SEGMENTS), path]) - moved)

    value, path = _best_path(scores, prior, rate, jump_cost)
    best = max(worth(each) for each in product(range(BINS), repeat=SEGMENTS))
    assert value == pytest.approx(best)
    assert worth(tuple(path.tolist())) == pytest.approx(best)


def test_a_bar_more_costs_less_than_a_bar_left_out() -> None:
    # A player who starts again plays its notes, one who leaves out does not (common practice, no
    # source): of two jumps that are worth the same the one that repeats is believed.
    assert 0 < AGAIN_COST < LEFT_OUT_COST


def test_one_far_point_does_not_move_a_line() -> None:
    # By hand: the line is y = x; least squares with the far point gives 0.05 s more at its middle.
    at = numpy.arange(11) / 2
    sounded = at.copy()
    sounded[5] += 0.55
    assert _robust_value(at, sounded, 2.5) == pytest.approx(2.5, abs=0.001)
    assert float(numpy.polyval(numpy.polyfit(at, sounded, 1), 2.5)) == pytest.approx(2.55)


def test_the_right_pitch_wins_over_a_nearer_onset() -> None:
    reference = even_reference()
    heard = [
        HeardNote(sec=note.sec + late, pitch=pitch, pitch_confidence=1.0)
        for index, note in enumerate(reference.notes)
        for late, pitch in (((-0.01, 46.0), (0.025, 40.0)) if index % 8 == 4 else ((0.0, 40.0),))
    ]
    onsets = in_time(heard)
    pairs = align(reference, onsets, start_sec=0.0).pairs
    found = {pair.expected: onsets[pair.heard].pitch for pair in pairs}
    assert [found.get(index) for index in range(4, len(reference.notes), 8)] == [40.0] * 8
