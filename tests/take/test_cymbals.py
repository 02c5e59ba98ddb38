"""Strokes above 7 kHz that are put at known samples into a bass's low tone."""

import numpy

from groove.take.cymbals import StrokeListener
from groove.take.working_rate import WORKING_RATE_HZ
from tests.take.bass_sounds import Samples

SECS = (0.5, 0.75, 1.0, 1.31, 2.0, 2.5)


def heard(samples: Samples, parts: int = 1) -> list[float]:
    listener = StrokeListener()
    passed = list(listener.passed(iter(numpy.array_split(samples, parts))))
    assert len(numpy.concatenate(passed)) == len(samples)
    return listener.stroke_secs()


def struck(noise_db: float) -> Samples:
    """Return strokes that die away in 30 ms over a low tone and a noise that much softer."""
    rng = numpy.random.default_rng(1)
    times = numpy.arange(3 * WORKING_RATE_HZ) / WORKING_RATE_HZ
    out = numpy.sin(2 * numpy.pi * 55 * times)
    out += 0.1 * 10 ** (noise_db / 20) * rng.standard_normal(len(times))
    for sec in SECS:
        since = times - sec
        rings = (since >= 0) & (since < 0.3)
        out[rings] += 0.1 * rng.standard_normal(rings.sum()) * numpy.exp(-since[rings] / 0.03)
    return out.astype(numpy.float32)


def test_strokes_are_found_where_they_begin_each_once() -> None:
    """To 2 ms: a window of 6 ms every 1.5 ms."""
    for noise_db in (-60, -15):
        found = heard(struck(noise_db))
        assert len(found) == len(SECS)
        assert abs(numpy.array(found) - numpy.array(SECS)).max() < 0.002


def test_blocks_change_nothing() -> None:
    samples = struck(-40)
    assert heard(samples, 7) == heard(samples)


def test_a_low_tone_and_silence_have_no_strokes() -> None:
    times = numpy.arange(WORKING_RATE_HZ) / WORKING_RATE_HZ
    swell = numpy.sin(2 * numpy.pi * 55 * times) * numpy.sin(numpy.pi * times)
    assert heard(numpy.zeros(WORKING_RATE_HZ, numpy.float32)) == []
    assert heard(numpy.zeros(50, numpy.float32)) == []
    assert len(heard(swell.astype(numpy.float32))) <= 1
