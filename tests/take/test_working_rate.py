"""Another rate is the same sound: tones made at one rate are those made at the other."""

import numpy
import pytest

from groove.take.working_rate import WORKING_RATE_HZ, at_working_rate
from tests.take.bass_sounds import Samples

SEC = 15  # more than a block


def tone(hertz: float, rate_hz: int) -> Samples:
    times = numpy.arange(SEC * rate_hz) / rate_hz
    out: Samples = (0.5 * numpy.sin(2 * numpy.pi * hertz * times)).astype(numpy.float32)
    return out


@pytest.mark.parametrize("rate_hz", [44_100, 48_000, 32_000])
@pytest.mark.parametrize("hertz", [41.2, 5000.0, 9000.0])
def test_a_tone_is_the_tone_made_at_the_other_rate(rate_hz: int, hertz: float) -> None:
    """By the sampling theorem; up to nine tenths of the band of 11 kHz nothing is softer."""
    out = numpy.concatenate(list(at_working_rate([tone(hertz, rate_hz)], rate_hz)))
    wanted = tone(hertz, WORKING_RATE_HZ)
    assert len(out) == len(wanted)
    inside = slice(WORKING_RATE_HZ, -WORKING_RATE_HZ)  # a tone that is cut off has other sounds
    assert abs(out - wanted)[inside].max() < 1e-3


def test_what_lies_above_the_band_is_gone() -> None:
    out = numpy.concatenate(list(at_working_rate([tone(12_000.0, 44_100)], 44_100)))
    assert abs(out)[WORKING_RATE_HZ:-WORKING_RATE_HZ].max() < 1e-3
