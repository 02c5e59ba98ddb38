"""Where tones stop whose level is drawn: a fall, a room that goes on, a string that rings."""

import numpy
import pytest

from groove.take.note_ends import sounding_sec
from groove.take.working_rate import WORKING_RATE_HZ

FOLLOWING_SEC = 1.2
TIMES = numpy.arange(round(FOLLOWING_SEC * WORKING_RATE_HZ)) / WORKING_RATE_HZ
TONE = numpy.sin(2 * numpy.pi * 55.0 * TIMES)  # an open A


def ends(level_db: numpy.ndarray) -> float | None:
    """Return where a tone ends whose level at every moment is given."""
    samples = (0.3 * TONE * 10 ** (level_db / 20)).astype(numpy.float32)
    return sounding_sec(samples, FOLLOWING_SEC)


@pytest.mark.parametrize("fall_db", [12, 60])
@pytest.mark.parametrize("end_sec", [0.15, 0.5])
def test_a_note_ends_where_it_is_damped(end_sec: float, fall_db: int) -> None:
    """A room goes on some 12 dB softer; mir_eval's tolerance of an end is 50 ms."""
    found = ends(numpy.where(end_sec > TIMES, 0.0, -float(fall_db)))
    assert found == pytest.approx(end_sec, abs=0.02)


def test_a_string_that_rings_does_not_end() -> None:
    """60 dB in two seconds: damped by nobody."""
    assert ends(-30 * TIMES) == FOLLOWING_SEC
    assert ends(numpy.where(TIMES < 0.5, 0.0, -6.0)) == FOLLOWING_SEC  # a lighter touch


def test_what_is_too_short_is_not_told() -> None:
    assert sounding_sec(numpy.ones(900, numpy.float32), 0.04) is None
