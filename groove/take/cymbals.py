"""Where drums or a click are struck beside a bass: what rises above 7 kHz, where no bass sounds.

A bass's own stroke reaches up there too, but softly and not on every eighth; who asks takes what
heaps up on the grid of eighths.
"""

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

from groove.take.working_rate import WORKING_RATE_HZ

if TYPE_CHECKING:
    from numpy import float32
    from numpy.typing import NDArray

    Samples = NDArray[float32]

LOWEST_HZ = 7000
_WINDOW, _HOP = 128, 32
LEAST_RISE_DB = 6.0
_APART_SEC = 0.08


def stroke_secs(blocks: "Iterable[Samples]") -> list[float]:
    """Return where something is struck above 7 kHz, in seconds; ``blocks`` are at the working rate.

    Found are the beginnings: a hop of 1.5 ms before which it was at least 6 dB softer.
    """
    import numpy

    levels = numpy.concatenate([numpy.zeros(0), *_levels(blocks)])
    if not len(levels):
        return []
    decibels = 10 * numpy.log10(levels + 1e-14)
    loudest = float(numpy.percentile(decibels, 99.5))
    before = numpy.full_like(decibels, -200.0)
    for away in range(3, 9):
        before[away:] = numpy.maximum(before[away:], decibels[:-away])
    rise = decibels - before
    is_struck = (rise > LEAST_RISE_DB) & (decibels > loudest - 25.0)
    found: list[float] = []
    for frame in numpy.flatnonzero(is_struck).tolist():
        sec = (frame * _HOP + _WINDOW / 2) / WORKING_RATE_HZ
        if not found or sec - found[-1] > _APART_SEC:
            found.append(sec)
    return found


def _levels(blocks: "Iterable[Samples]") -> "Iterator[NDArray[float32]]":
    """Yield the power above 7 kHz a hop, block by block."""
    import numpy

    window = numpy.hanning(_WINDOW).astype(numpy.float32)
    low = round(LOWEST_HZ * _WINDOW / WORKING_RATE_HZ)
    held = numpy.zeros(0, numpy.float32)
    for block in blocks:
        held = numpy.concatenate([held, block])
        count = (len(held) - _WINDOW) // _HOP + 1
        if count <= 0:
            continue
        frames = numpy.lib.stride_tricks.sliding_window_view(held, _WINDOW)[::_HOP][:count]
        spectrum = numpy.fft.rfft(frames * window, axis=1)[:, low:]
        yield (spectrum.real**2 + spectrum.imag**2).sum(axis=1)
        held = held[count * _HOP :]
