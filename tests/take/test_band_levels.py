"""What is seen of a tone whose level is known in steps: decibels under the take's top, by 20."""

from collections.abc import Sequence

import numpy
import pytest

from groove.take.band_levels import SLOW, Scene
from groove.take.working_rate import WORKING_RATE_HZ

TONE_HZ = 441.0
QUIET = -float("inf")
FLOOR = -55 / 20
"""What is seen of a band in which there is nothing: 55 dB under the top."""


def seen(steps: Sequence[tuple[float, float]]) -> list[list[float]]:
    """Return the bands as the slow lens sees them, in the middle of each step.

    A step is a length in seconds and a level in dB, -inf for silence.
    """
    gains = [
        numpy.full(round(sec * WORKING_RATE_HZ), 10 ** (level_db / 20)) for sec, level_db in steps
    ]
    gain = numpy.concatenate(gains)
    tone = gain * numpy.sin(2 * numpy.pi * TONE_HZ / WORKING_RATE_HZ * numpy.arange(len(gain)))
    ends = numpy.cumsum([sec for sec, _ in steps])
    middles = [end - sec / 2 for end, (sec, _) in zip(ends, steps, strict=True)]
    frames = numpy.array([round(sec * WORKING_RATE_HZ) for sec in middles])
    before = SLOW.moments.index(-1) * SLOW.bands
    found = Scene(tone.astype(numpy.float32)).at(frames)
    return [row[before : before + SLOW.bands].tolist() for row in found]


def loudest(steps: Sequence[tuple[float, float]]) -> list[float]:
    """Return what is seen of the tone itself in each step."""
    return [max(bands) for bands in seen(steps)]


def test_levels_are_twentieths_under_the_top() -> None:
    """10 dB less are half a unit less."""
    assert loudest([(3, 0), (3, -10), (3, -20), (3, QUIET)]) == pytest.approx(
        [0, -0.5, -1, FLOOR], abs=0.01
    )


def test_nothing_is_seen_far_under_the_top() -> None:
    """A tone 45 dB under the top is seen, 65 dB under it is not; silence is -55 dB."""
    found = loudest([(4, 0), (4, -45), (4, -65), (4, QUIET)])
    assert found == pytest.approx([0, -45 / 20, FLOOR, FLOOR], abs=0.01)


def test_a_single_loud_moment_is_not_the_top() -> None:
    """The top is what 95 of 100 moments lie under: 3 are not seen, 8 are."""
    assert loudest([(7.7, 0), (0.3, 12), (2, QUIET)]) == pytest.approx([0, 0.6, FLOOR], abs=0.01)
    assert loudest([(7.2, 0), (0.8, 12), (2, QUIET)]) == pytest.approx([-0.6, 0, FLOOR], abs=0.01)


def test_what_always_sounds_is_noise() -> None:
    """A band's noise is what it is under for 12 moments of 100, with 2 dB on top.

    Of a tone that is 30 dB softer for 20 moments the soft part is noise; where it is so for 7
    only, it is no noise, and the part 10 dB down is.
    """
    assert loudest([(4, 0), (4, -10), (2, -30)]) == pytest.approx([0, -0.5, -1.4], abs=0.01)
    assert loudest([(4, 0), (5.3, -10), (0.7, -30)]) == pytest.approx([0, -0.4, -0.4], abs=0.01)
