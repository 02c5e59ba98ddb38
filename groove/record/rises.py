"""Where the level rises in a recording, in four bands, a hundred times a second.

A rise is one over the louder of the two moments before, so that a low note's own periods are none;
see ``groove.take.band_levels`` for the finer lens by which a bass alone is heard.
"""

from functools import lru_cache
from itertools import pairwise
from typing import TYPE_CHECKING

from groove.take.working_rate import WORKING_RATE_HZ

if TYPE_CHECKING:
    from groove.arrays import Floats

RISE_WINDOW = 512
RISE_HOP = 220
RISE_STEP_SEC = RISE_HOP / WORKING_RATE_HZ
BAND_EDGES_HZ = (0.0, 200.0, 1200.0, 5000.0, 11_026.0)
"""Kick and bass; the bodies of bass, keys and snare; the snare's wires; cymbals."""

_LEAST = 1e-9
_RANGE_DB = 40.0
_LOUD_PERCENT = 95
_MOST_DB = 15.0


def band_powers(frames: "Floats") -> "Floats":
    """Return the power of each band in some moments, shape (moments, bands)."""
    import numpy

    window, bank = _lens()
    spectra = numpy.fft.rfft(frames * window)
    powers: Floats = ((spectra.real**2 + spectra.imag**2) @ bank).astype(numpy.float32)
    return powers


@lru_cache(maxsize=1)
def _lens() -> "tuple[Floats, Floats]":
    import numpy

    bins = numpy.fft.rfftfreq(RISE_WINDOW, 1 / WORKING_RATE_HZ)
    bank = numpy.zeros((len(bins), len(BAND_EDGES_HZ) - 1), numpy.float32)
    for band, (low, high) in enumerate(pairwise(BAND_EDGES_HZ)):
        bank[(bins >= low) & (bins < high), band] = 1
    return numpy.hanning(RISE_WINDOW).astype(numpy.float32), bank


def rises(powers: "Floats") -> "Floats":
    """Return how much the level rises at each moment, each band about 0 with a spread of 1."""
    import numpy

    levels = 10 * numpy.log10(powers + _LEAST)
    levels = numpy.maximum(levels, numpy.percentile(levels, _LOUD_PERCENT, axis=0) - _RANGE_DB)
    before = numpy.concatenate([levels[:1], levels[:1], levels])[: len(levels) + 1]
    rising = levels - numpy.maximum(before[1:], before[:-1])
    rising = numpy.sqrt(rising.clip(0, _MOST_DB))
    rising -= rising.mean(axis=0)
    even: Floats = (rising / (rising.std(axis=0) + _LEAST)).astype(numpy.float32)
    return even
