"""Where drums or a click are struck beside a bass: what rises above 7 kHz, where no bass sounds.

A bass's own stroke reaches up there too, but softly and not on every eighth; who asks takes what
heaps up on the grid of eighths.
"""

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

from groove.take.working_rate import WORKING_RATE_HZ

if TYPE_CHECKING:
    from groove.arrays import Samples

LOWEST_HZ = 7000
_WINDOW, _HOP = 128, 32
LEAST_RISE_DB = 6.0
_APART_SEC = 0.08


class StrokeListener:
    """Hears what is struck above 7 kHz while the blocks of a take go by, at the working rate."""

    def __init__(self) -> None:
        """Begin with nothing heard."""
        import numpy

        self._held = numpy.zeros(0, numpy.float32)
        self._levels = [numpy.zeros(0, numpy.float32)]

    def passed(self, blocks: "Iterable[Samples]") -> "Iterator[Samples]":
        """Yield blocks as they come, each of them heard."""
        for block in blocks:
            self._hear(block)
            yield block

    def _hear(self, block: "Samples") -> None:
        """Keep the power above 7 kHz a hop."""
        import numpy

        held = numpy.concatenate([self._held, block])
        count = max(0, (len(held) - _WINDOW) // _HOP + 1)
        self._held = held[count * _HOP :]
        if not count:
            return
        window = numpy.hanning(_WINDOW).astype(numpy.float32)
        low = round(LOWEST_HZ * _WINDOW / WORKING_RATE_HZ)
        frames = numpy.lib.stride_tricks.sliding_window_view(held, _WINDOW)[::_HOP][:count]
        spectrum = numpy.fft.rfft(frames * window, axis=1)[:, low:]
        power = (spectrum.real**2 + spectrum.imag**2).sum(axis=1)
        self._levels.append(power.astype(numpy.float32))

    def stroke_secs(self) -> list[float]:
        """Return where something was struck, in seconds from the first block on.

        Found are the beginnings: a hop of 1.5 ms before which it was at least 6 dB softer.
        """
        import numpy

        levels = numpy.concatenate(self._levels)
        if not len(levels):
            return []
        decibels = 10 * numpy.log10(levels + 1e-14)
        loudest = float(numpy.percentile(decibels, 99.5))
        before = numpy.full_like(decibels, -200.0)
        before[:3] = 200.0  # nobody knows what was before the file
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
