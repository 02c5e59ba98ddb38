"""Pairs are judged by mir_eval's maximum matching, and small cases by trying everything."""

from itertools import combinations, pairwise

import mir_eval
import numpy
import pytest

from groove.take.pairing import pair_in_order

CASES = 600


def drawn(rng: numpy.random.Generator) -> tuple[numpy.ndarray, numpy.ndarray, float]:
    span = float(rng.choice([0.5, 2.0, 8.0]))
    expected, heard = (numpy.sort(rng.uniform(0, span, rng.integers(1, 14))) for _ in range(2))
    return expected, heard, float(rng.choice([0.05, 0.12, 0.3]))


def test_as_many_pairs_as_the_maximum_matching() -> None:
    """mir_eval.util.match_events finds a maximum matching of a bipartite graph, without order."""
    rng = numpy.random.default_rng(1)
    crowded = 0
    for _ in range(CASES):
        expected, heard, window = drawn(rng)
        judged = mir_eval.util.match_events(expected, heard, window)
        pairs = pair_in_order(expected.tolist(), heard.tolist(), [window] * len(expected))
        assert len(pairs) == len(judged)
        for before, after in pairwise(pairs):
            assert before.expected < after.expected
            assert before.heard < after.heard
        for pair in pairs:
            assert abs(expected[pair.expected] - heard[pair.heard]) <= window + 1e-9
        crowded += len(judged) > 3
    assert crowded > CASES / 4


def cheapest(expected: numpy.ndarray, heard: numpy.ndarray, windows: numpy.ndarray) -> float:
    """Return the least sum of distances over all rows of the most pairs, by trying every one."""
    for count in range(min(len(expected), len(heard)), 0, -1):
        sums = [
            float(numpy.abs(expected[list(rows)] - heard[list(columns)]).sum())
            for rows in combinations(range(len(expected)), count)
            for columns in combinations(range(len(heard)), count)
            if (abs(expected[list(rows)] - heard[list(columns)]) <= windows[list(rows)]).all()
        ]
        if sums:
            return count * 1000 + min(sums)
    return 0.0


def test_of_as_many_pairs_those_with_the_least_deviation() -> None:
    rng = numpy.random.default_rng(2)
    for _ in range(100):
        expected, heard = (numpy.sort(rng.uniform(0, 0.8, rng.integers(1, 6))) for _ in range(2))
        windows = rng.uniform(0.02, 0.3, len(expected))
        pairs = pair_in_order(expected.tolist(), heard.tolist(), windows.tolist())
        found = sum(abs(expected[pair.expected] - heard[pair.heard]) for pair in pairs)
        assert len(pairs) * 1000 + found == pytest.approx(cheapest(expected, heard, windows))


def test_a_penalty_makes_the_farther_onset_the_nearer() -> None:
    penalties = numpy.array([[0.06, 0.0]])
    assert pair_in_order([1.0], [1.01, 1.04], [0.1], penalties)[0].heard == 1
    assert pair_in_order([1.0], [1.01, 1.04], [0.1])[0].heard == 0
