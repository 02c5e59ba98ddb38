"""The limiter against an outside meter: pyloudnorm's reading of loudness, an FFT's of true peak."""

import numpy
import pytest
from numpy.typing import NDArray

from groove.io.limiter import MOST_REDUCTION_DB, Limited, limit_peaks
from groove.io.loudness import frame_peaks

RATE = 44_100


def lively(seconds: float = 5.0, *, peak: float = 0.7) -> NDArray[numpy.float32]:
    """A quiet tone under strokes that stand far above it."""
    at = numpy.arange(int(seconds * RATE)) / RATE
    tone = 0.2 * numpy.sin(2 * numpy.pi * 110 * at)
    stroke = peak * numpy.exp(-((at % 0.5) / 0.02)) * numpy.sin(2 * numpy.pi * 900 * at)
    return numpy.stack([tone + stroke, tone + 0.5 * stroke], axis=1).astype(numpy.float32)


def outside_loudness(samples: NDArray[numpy.float32]) -> float:
    import pyloudnorm  # it loads scipy.signal: two seconds in every process that collects

    return float(pyloudnorm.Meter(RATE, filter_class="DeMan").integrated_loudness(samples))


def outside_peak_dbtp(samples: NDArray[numpy.float32]) -> float:
    """True peak by an FFT filled up with zeros to eight times the rate."""
    spectrum = numpy.fft.rfft(samples, axis=0)
    more = numpy.fft.irfft(spectrum, 8 * len(samples), axis=0) * 8
    return float(20 * numpy.log10(numpy.abs(more).max()))


def limited(samples: NDArray[numpy.float32], target: float) -> Limited:
    result = limit_peaks(samples, RATE, target_lufs=target, ceiling_dbtp=-1.0)
    assert result is not None
    return result


def test_the_target_is_reached_under_the_ceiling() -> None:
    mix = lively()
    target = outside_loudness(mix) + 1.5
    result = limited(mix, target)
    shaped = mix * result.curve[:, None]
    assert outside_loudness(shaped) == pytest.approx(target, abs=0.1)
    assert outside_peak_dbtp(shaped) <= -1.0
    assert 1 < result.reduction_db < MOST_REDUCTION_DB
    assert 0 < result.share < 1


def test_the_gain_moves_gently() -> None:
    """No step between two samples over 0.02 dB: at 44.1 kHz, 6 dB take 5 ms at least."""
    curve = limited(lively(), -14.0).curve
    steps_db = numpy.abs(numpy.diff(20 * numpy.log10(curve)))
    assert 0 < steps_db.max() < 0.04


def test_it_falls_before_a_peak_and_comes_back_slowly() -> None:
    mix = (0.05 * lively(4.0)).astype(numpy.float32)
    mix[2 * RATE : 2 * RATE + 40] = 0.9
    result = limited(mix, -24.0)
    rest, curve = result.curve[RATE], result.curve / result.curve[RATE]
    assert rest > 0
    # What is told of the time turned down: by more than a tenth of a decibel.
    assert result.share == pytest.approx(float((curve < 10 ** (-0.1 / 20)).mean()), abs=0.005)
    assert 0.05 < result.share < 0.3
    assert curve[2 * RATE + 20] == pytest.approx(curve.min(), rel=0.01)
    assert curve[2 * RATE - 44] < 0.999  # a millisecond before
    assert curve[2 * RATE - 882] > 0.999  # twenty before
    halfway = (1 + curve.min()) / 2
    back = int(numpy.argmax(curve[2 * RATE + 400 :] > halfway)) / RATE
    assert 0.05 < back < 0.2
    assert curve[3 * RATE] > 0.99


def test_no_moment_is_turned_down_by_more_than_six_decibels() -> None:
    mix = lively()
    result = limited(mix, -6.0)
    assert result.reduction_db == pytest.approx(MOST_REDUCTION_DB, abs=0.2)
    assert outside_loudness(mix * result.curve[:, None]) < -7


@pytest.mark.parametrize("mix", [lively(peak=0.1), numpy.zeros((RATE, 2), numpy.float32)])
def test_what_one_gain_can_do_is_left_to_it(mix: NDArray[numpy.float32]) -> None:
    assert limit_peaks(mix, RATE, target_lufs=-30, ceiling_dbtp=-1.0) is None


def test_peaks_of_frames_see_between_samples() -> None:
    """A sine at a quarter of the rate, 45 degrees off: 3.01 dB over its samples."""
    at = numpy.arange(6400)
    wave = (0.5 * numpy.sin(numpy.pi / 2 * at + numpy.pi / 4)).astype(numpy.float32)
    peaks = frame_peaks(numpy.stack([wave, 0.1 * wave], axis=1), 64)
    assert len(peaks) == 100
    assert peaks[5:-5] == pytest.approx(0.5, rel=0.01)
    assert numpy.abs(wave).max() == pytest.approx(0.5 / 2**0.5)
