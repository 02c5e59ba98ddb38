"""Attacks where the size of a noise changes: how clear that is follows from the two sizes."""

import numpy
import pytest
from numpy.typing import NDArray

from groove.take.attack import attacks
from groove.take.working_rate import WORKING_RATE_HZ

PLACES = numpy.arange(12) * (WORKING_RATE_HZ // 5) + WORKING_RATE_HZ // 2


def found_apart(louder_db: float, early_sec: float = 0.0) -> tuple[NDArray[numpy.intp], int]:
    """Return how far attacks are found from where a noise grows, and how many are clear.

    They were seen as much too early.
    """
    rng = numpy.random.default_rng(1)
    noise = rng.standard_normal(4 * WORKING_RATE_HZ).astype(numpy.float32)
    apart, clear = [], 0
    for place in PLACES.tolist():
        grows = noise.copy()
        grows[place:] *= 10 ** (louder_db / 20)
        seen = place - round(early_sec * WORKING_RATE_HZ)
        found, is_clear = attacks(grows, numpy.array([seen]))
        apart.append(int(found[0]) - place)
        clear += bool(is_clear[0])
    return numpy.array(apart), clear


def test_a_change_is_clear_by_its_likelihood_ratio() -> None:
    """Of n values before and m after a change the log ratio is (N log s - m log t) / 2.

    Variances are 1, t, and s of all N.  At 11,025 Hz n is 57 ms, 628 values, and m 16 ms, 176: at
    7 dB s is 1.88 and the ratio 111, at 10 dB s is 2.97 and the ratio 235: under and over 150.
    """
    for louder_db, ratio in ((7, 111), (10, 235)):
        grown = 10 ** (louder_db / 10)
        whole = (628 + 176 * grown) / 804
        assert (804 * numpy.log(whole) - 176 * numpy.log(grown)) / 2 == pytest.approx(ratio, abs=1)
    assert found_apart(7)[1] == 0
    apart, clear = found_apart(10)
    assert clear == len(PLACES)
    assert abs(apart).max() <= 8


@pytest.mark.parametrize(("under_db", "is_heard"), [(30, True), (40, False), (46, False)])
def test_what_is_far_softer_than_what_rings_is_no_attack(under_db: int, is_heard: bool) -> None:
    """Noise that begins under twelve partials that ring on: a note 30 dB softer is one.

    Of the tone itself a share of 1 in 10,000 is not foretold, 40 dB under it: what is no louder
    than that is the finger on the string.
    """
    times = numpy.arange(4 * WORKING_RATE_HZ) / WORKING_RATE_HZ
    partials = [numpy.sin(2 * numpy.pi * 82.4 * k * times + k * k) for k in range(1, 13)]
    tone = numpy.sum(partials, axis=0) / 6**0.5  # of power 1
    noise = numpy.random.default_rng(1).standard_normal(len(times))
    clear = 0
    for place in PLACES.tolist():
        level_db = numpy.where(numpy.arange(len(times)) < place, -60, -under_db)
        sounds = (tone + noise * 10 ** (level_db / 20)).astype(numpy.float32)
        found, is_clear = attacks(sounds, numpy.array([place]))
        clear += bool(is_clear[0])
        assert abs(int(found[0]) - place) <= 22  # a millisecond
    assert clear == (len(PLACES) if is_heard else 0)


def test_an_attack_is_one_near_to_where_it_was_seen() -> None:
    """Within 5 ms: what is found 3.5 ms away is the attack, what is 7 ms away another stroke."""
    for early_sec in (0.0035, -0.0035):
        apart, clear = found_apart(14, early_sec)
        assert clear == len(PLACES) and abs(apart).max() <= 8
    for early_sec in (0.007, -0.007):
        apart, clear = found_apart(14, early_sec)
        assert clear == 0
        assert (apart == -round(early_sec * WORKING_RATE_HZ)).all()
