"""A recording as what is heard of it: pitches, rises of level, tuning; the samples are let go."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import accumulate
from typing import TYPE_CHECKING

from groove.record.heard_tones import TONE_HOP, TONE_STEP_SEC, TONE_WINDOW, tone_levels, tuning_of
from groove.record.rises import RISE_HOP, RISE_STEP_SEC, RISE_WINDOW, band_powers, rises
from groove.take.working_rate import WORKING_RATE_HZ

if TYPE_CHECKING:
    from groove.arrays import Doubles, Floats

_AT_ONCE = 32
"""So many windows and their spectra stay near the processor."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Listened:
    """What is heard of a recording, in moments from its first one on.

    ``tones`` has a row every ``TONE_STEP_SEC`` (see ``tone_levels``), ``rises`` one every
    ``RISE_STEP_SEC``; ``tunings`` are the weights of some rows each, ``tuned_rows`` the first of
    these rows (see ``tuning_weights``).  ``start_sec`` is where in the whole recording the first
    row is, ``length_sec`` how long the recording is from there on.
    """

    tones: "Floats"
    rises: "Floats"
    tunings: "Doubles"
    tuned_rows: tuple[int, ...]
    length_sec: float
    start_sec: float = 0.0

    @property
    def tuning_cents(self) -> float:
        """How far it is tuned up, -50 to 50, from a' = 440 Hz."""
        return tuning_of(self.tunings.sum(axis=0))

    @property
    def end_sec(self) -> float:
        """Where the whole recording ends."""
        return self.start_sec + self.length_sec

    def later_by(self, seconds: float) -> "Listened":
        """Return it as a part of a recording that begins that much before it."""
        return replace(self, start_sec=self.start_sec + seconds)

    def part(self, first_sec: float, end_sec: float) -> "Listened":
        """Return what is heard between two places, counted from its own first moment."""
        first, end = max(0, round(first_sec / TONE_STEP_SEC)), round(end_sec / TONE_STEP_SEC)
        shift_sec = first * TONE_STEP_SEC
        heard = [number for number, row in enumerate(self.tuned_rows) if first <= row < end]
        return Listened(
            tones=self.tones[first:end],
            rises=self.rises[round(shift_sec / RISE_STEP_SEC) : round(end_sec / RISE_STEP_SEC)],
            tunings=self.tunings[heard],
            tuned_rows=tuple(self.tuned_rows[number] - first for number in heard),
            length_sec=self.length_sec - shift_sec,
            start_sec=self.start_sec + shift_sec,
        )


def listen(blocks: "Iterable[Floats]") -> Listened:
    """Return what is heard of mono samples at ``WORKING_RATE_HZ``, which come in any blocks."""
    import numpy

    slow, quick = _Moments(TONE_WINDOW, TONE_HOP), _Moments(RISE_WINDOW, RISE_HOP)
    tones: list[tuple[Floats, Doubles]] = []
    powers: list[Floats] = []
    count = 0
    for block in blocks:
        count += len(block)
        tones += map(tone_levels, slow.of(block))
        powers += map(band_powers, quick.of(block))
    tones += map(tone_levels, slow.last())
    powers += map(band_powers, quick.last())
    return Listened(
        tones=numpy.concatenate([levels for levels, _ in tones]),
        rises=rises(numpy.concatenate(powers)),
        tunings=numpy.array([weights for _, weights in tones]),
        tuned_rows=tuple(accumulate((len(levels) for levels, _ in tones[:-1]), initial=0)),
        length_sec=count / WORKING_RATE_HZ,
    )


class _Moments:
    """Windows centred on every hop-th sample of a stream."""

    def __init__(self, window: int, hop: int) -> None:
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
