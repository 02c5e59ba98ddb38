"""A gentle limiter: the loudest moments are turned down, so that the whole may be louder.

Look-ahead limiting as it is usual in mastering (common practice, no source): the gain that a moment
needs is held for some milliseconds around it, comes back slowly, and moves smoothly, so that no
edge is heard.  Both channels, and every stem, take the same gain, so that stems still add up to
the mix and nothing wanders between left and right.
"""

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from groove.io.loudness import frame_peaks, integrated_loudness_lufs

if TYPE_CHECKING:
    from groove.arrays import Doubles, Floats, Samples

MOST_REDUCTION_DB = 6.0
"""No moment is turned down by more: the song stays under its target instead."""

_FRAME = 64
_AROUND_FRAMES = 4  # 5.8 ms at 44.1 kHz before a peak: no edge is heard
_RELEASE_SEC = 0.15
_TRIES = 5
_NEAR_LU = 0.05
_COUNTED_DB = 0.1  # less is not counted as turned down
_HELD_DB = 0.05  # what moving gain may add between the samples


@dataclass(frozen=True, kw_only=True, eq=False)
class Limited:
    """The gain of every sample that brings a mix to its target under the ceiling.

    ``curve`` has shape (frames,); ``reduction_db`` is how far the loudest moment is turned down
    against the rest, ``share`` how much of the time anything is.
    """

    curve: "Floats"
    reduction_db: float
    share: float


def limit_peaks(
    mix: "Samples", sample_rate: int, *, target_lufs: float, ceiling_dbtp: float
) -> Limited | None:
    """Return the gain that makes a mix as loud as asked for, None where one number would do.

    ``mix`` has shape (frames, 2), full scale 1.0.  Where the target asks for more than
    ``MOST_REDUCTION_DB`` at the loudest moment, the song stays under it.
    """
    import numpy

    peaks = frame_peaks(mix, _FRAME)
    loudness = integrated_loudness_lufs(mix, sample_rate)
    if loudness is None or not peaks.any():
        return None
    ceiling = 10 ** ((ceiling_dbtp - _HELD_DB) / 20)
    headroom_db = 20 * math.log10(ceiling / float(peaks.max()))
    gain_db = target_lufs - loudness
    if gain_db <= headroom_db:
        return None
    most_db = headroom_db + MOST_REDUCTION_DB
    for _ in range(_TRIES):
        gain_db = min(gain_db, most_db)
        held = _held_gain(peaks * 10 ** (gain_db / 20), ceiling, sample_rate)
        curve = _every_sample(held, len(mix)) * numpy.float32(10 ** (gain_db / 20))
        reached = integrated_loudness_lufs(mix * curve[:, None], sample_rate)
        assert reached is not None
        if gain_db == most_db or target_lufs - reached < _NEAR_LU:
            break
        gain_db += target_lufs - reached
    return Limited(
        curve=curve,
        reduction_db=-20 * math.log10(float(held.min())),
        share=float((held < 10 ** (-_COUNTED_DB / 20)).mean()),
    )


def _held_gain(peaks: "Doubles", ceiling: float, sample_rate: int) -> "Doubles":
    """Return the gain of every frame: never more than any frame around it needs.

    The least gain of the frames around, then a slow way back, then an average over as many frames:
    what is averaged has seen the peak, so that the average has too.
    """
    import numpy

    reach = 2 * _AROUND_FRAMES + 1
    needed = numpy.minimum(1.0, ceiling / numpy.maximum(peaks, 1e-9))
    padded = numpy.pad(needed, 2 * _AROUND_FRAMES, mode="edge")
    least = numpy.lib.stride_tricks.sliding_window_view(padded, reach).min(axis=1)
    released = _released(least, sample_rate)
    window = numpy.hanning(reach + 2)[1:-1]
    return numpy.convolve(released, window / window.sum(), mode="valid")


def _released(least: "Doubles", sample_rate: int) -> "Doubles":
    """Return gain that falls at once and comes back slowly."""
    import numpy

    back = 1 - math.exp(-_FRAME / sample_rate / _RELEASE_SEC)
    gain, gains = 1.0, []
    for needed in least.tolist():
        gain = min(needed, gain + (1 - gain) * back)
        gains.append(gain)
    return numpy.array(gains)


def _every_sample(held: "Doubles", frames: int) -> "Floats":
    """Return the gain of every sample, straight from the middle of a frame to the next."""
    import numpy

    middles = numpy.arange(len(held)) * _FRAME + _FRAME / 2
    return numpy.interp(numpy.arange(frames), middles, held).astype(numpy.float32)
