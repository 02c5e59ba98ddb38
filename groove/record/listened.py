"""A recording as what is heard of it: pitches, rises of level, tuning; the samples are let go."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from groove.record.heard_tones import TONE_HOP, TONE_WINDOW, TuningHistogram, tone_levels
from groove.record.rises import RISE_HOP, RISE_WINDOW, band_powers, rises
from groove.take.working_rate import WORKING_RATE_HZ

if TYPE_CHECKING:
    from numpy import float32
    from numpy.typing import NDArray

    Floats = NDArray[float32]

_AT_ONCE = 32
"""So many windows and their spectra stay near the processor."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Listened:
    """What is heard of a recording, in moments from its first one on.

    ``tones`` has a row every ``TONE_STEP_SEC`` (see ``tone_levels``), ``rises`` one every
    ``RISE_STEP_SEC``; ``tuning_cents`` is how far it is tuned up, -50 to 50, from a' = 440 Hz.
    ``start_sec`` is where in the whole recording the first row is.
    """

    tones: "Floats"
    rises: "Floats"
    tuning_cents: float
    length_sec: float
    start_sec: float = 0.0

    def later_by(self, seconds: float) -> "Listened":
        """Return it as a part of a recording that begins that much before it."""
        return replace(self, start_sec=self.start_sec + seconds)


def listen(blocks: "Iterable[Floats]") -> Listened:
    """Return what is heard of mono samples at ``WORKING_RATE_HZ``, which come in any blocks."""
    import numpy

    tuning = TuningHistogram()
    slow, quick = _Moments(TONE_WINDOW, TONE_HOP), _Moments(RISE_WINDOW, RISE_HOP)
    tones: list[Floats] = []
    powers: list[Floats] = []
    count = 0
    for block in blocks:
        count += len(block)
        tones += (tone_levels(frames, tuning) for frames in slow.of(block))
        powers += (band_powers(frames) for frames in quick.of(block))
    tones += (tone_levels(frames, tuning) for frames in slow.last())
    powers += (band_powers(frames) for frames in quick.last())
    return Listened(
        tones=numpy.concatenate(tones),
        rises=rises(numpy.concatenate(powers)),
        tuning_cents=tuning.cents,
        length_sec=count / WORKING_RATE_HZ,
    )


class _Moments:
    """Windows centred on every hop-th sample of a stream."""

    def __init__(self, window: int, hop: int) -> None:
        """Begin before the first sample."""
        import numpy

        self._window, self._hop = window, hop
        self._held = numpy.zeros(window // 2, numpy.float32)

    def of(self, block: "Floats") -> "Iterator[Floats]":
        """Yield the windows that end in a block, shape (moments, window)."""
        import numpy

        self._held = numpy.concatenate([self._held, block])
        count = (len(self._held) - self._window) // self._hop + 1
        if count <= 0:
            return
        views = numpy.lib.stride_tricks.sliding_window_view(self._held, self._window)
        views = views[:: self._hop][:count]
        for first in range(0, count, _AT_ONCE):
            yield views[first : first + _AT_ONCE]
        self._held = self._held[count * self._hop :]

    def last(self) -> "Iterator[Floats]":
        """Yield the windows that reach past the last sample."""
        import numpy

        yield from self.of(numpy.zeros(self._window // 2 + self._hop, numpy.float32))
