"""How loud a take is in bands, around a moment: what the search for onsets looks at.

Two lenses.  The slow one has a window of 70 ms, long enough to part the notes of a bass; the quick
one of 12 ms, short enough to see when something happened.  Levels are over the noise and under
the loudest of the take's stretch, so that neither gain nor noise changes what is seen.
"""

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

from groove.take.working_rate import WORKING_RATE_HZ

if TYPE_CHECKING:
    from groove.arrays import Floats, Places

HOP_FRAMES = 128
"""5.8 ms: how far apart the moments are at which the whole take is looked at."""

_RANGE_DB = 55.0
_TOP_PERCENT = 95
_NOISE_PERCENT = 12  # a band is quiet for at least this share of the time
_NOISE_MARGIN_DB = 2.0
_UNIT_DB = 20.0
_AT_ONCE = 1024
_LEAST_POWER = 1e-12


@dataclass(frozen=True, kw_only=True)
class Lens:
    """A window in samples, its bands, and the moments that are seen, in hops from the present."""

    window: int
    bands: int
    lowest_hz: float
    highest_hz: float
    moments: tuple[int, ...]

    @property
    def width(self) -> int:
        """How many numbers this lens gives of one moment."""
        return self.bands * len(self.moments)


SLOW = Lens(
    window=1536,
    bands=28,
    lowest_hz=32.0,
    highest_hz=10_000.0,
    moments=(-10, -6, -3, -1, 1, 3, 6, 10),
)
QUICK = Lens(
    window=256, bands=10, lowest_hz=100.0, highest_hz=10_000.0, moments=tuple(range(-6, 7))
)
LENSES = (SLOW, QUICK)
_EDGE = SLOW.window // 2


class Scene:
    """A stretch of a take, some seconds to a minute, ready to be looked at anywhere.

    Built from mono samples at the working rate.
    """

    def __init__(self, samples: "Floats") -> None:
        """Look at the stretch once every hop; noise and top level are those of the stretch."""
        import numpy

        edge = numpy.zeros(_EDGE, numpy.float32)
        peak = numpy.float32(abs(samples).max(initial=0.0)) or numpy.float32(1)
        self._padded = numpy.concatenate([edge, (samples / peak).astype(numpy.float32), edge])
        centres = numpy.arange(0, len(samples) + 1, HOP_FRAMES)
        raw = [self._levels(lens, centres) for lens in LENSES]
        self._tops = [float(numpy.percentile(levels.max(axis=1), _TOP_PERCENT)) for levels in raw]
        self._floors = [
            numpy.maximum(
                numpy.percentile(levels, _NOISE_PERCENT, axis=0) + _NOISE_MARGIN_DB,
                top - _RANGE_DB,
            ).astype(numpy.float32)
            for levels, top in zip(raw, self._tops, strict=True)
        ]
        self._seen = [self._scaled(number, levels) for number, levels in enumerate(raw)]

    def every_hop(self) -> "Floats":
        """Return what is seen at each hop from the start on, shape (hops, numbers)."""
        import numpy

        parts = []
        for lens, seen in zip(LENSES, self._seen, strict=True):
            most = max(lens.moments)
            rows = numpy.pad(seen, ((most, most), (0, 0)), mode="edge")
            parts += [rows[most + moment : most + moment + len(seen)] for moment in lens.moments]
        return numpy.concatenate(parts, axis=1)

    def at(self, frames: "Places") -> "Floats":
        """Return what is seen at any samples of the stretch, shape (samples, numbers)."""
        import numpy

        parts = []
        for number, lens in enumerate(LENSES):
            moments = frames[:, None] + numpy.array(lens.moments) * HOP_FRAMES
            last = len(self._padded) - 2 * _EDGE
            levels = self._levels(lens, moments.ravel().clip(0, last))
            parts.append(self._scaled(number, levels).reshape(len(frames), lens.width))
        return numpy.concatenate(parts, axis=1)

    def _levels(self, lens: Lens, centres: "Places") -> "Floats":
        """Return levels in dB of the bands, in windows round these samples."""
        import numpy

        bank, window = _bank(lens)
        starts = centres + (_EDGE - lens.window // 2)
        windows = numpy.lib.stride_tricks.sliding_window_view(self._padded, lens.window)
        levels = numpy.empty((len(centres), lens.bands), numpy.float32)
        for first in range(0, len(centres), _AT_ONCE):
            spectrum = numpy.fft.rfft(windows[starts[first : first + _AT_ONCE]] * window)
            power = (spectrum.real**2 + spectrum.imag**2) @ bank
            levels[first : first + _AT_ONCE] = 10 * numpy.log10(power + _LEAST_POWER)
        return levels

    def _scaled(self, number: int, levels: "Floats") -> "Floats":
        import numpy

        scaled: Floats = (numpy.maximum(levels, self._floors[number]) - self._tops[number]) / (
            numpy.float32(_UNIT_DB)
        )
        return scaled.astype(numpy.float32)


@lru_cache(maxsize=8)  # a lens each
def _bank(lens: Lens) -> "tuple[Floats, Floats]":
    """Return the weights of bins in bands (triangles, evenly spaced in pitch) and the window."""
    import numpy

    edges = numpy.geomspace(lens.lowest_hz, lens.highest_hz, lens.bands + 2)
    bins = numpy.arange(lens.window // 2 + 1) * WORKING_RATE_HZ / lens.window
    window = numpy.hanning(lens.window).astype(numpy.float32)
    bank = numpy.zeros((len(bins), lens.bands), numpy.float32)
    for band in range(lens.bands):
        low, centre, high = edges[band : band + 3]
        shape = numpy.minimum((bins - low) / (centre - low), (high - bins) / (high - centre))
        shape = shape.clip(0)
        if shape.sum() < 0.5:  # narrower than the bins are apart
            shape[numpy.argmin(abs(bins - centre))] = 1
        bank[:, band] = shape / shape.sum() / float((window**2).sum())
    return bank, window
