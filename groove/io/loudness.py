"""How loud a mix is, and the one gain that brings it to its target.

Loudness is the integrated loudness of ITU-R BS.1770-4 (10/2015): K weighting, 400 ms blocks that
overlap by three quarters, an absolute gate at -70 LUFS and a relative one 10 LU under the mean
of what passes it.  True peak is the peak of the signal oversampled four times (Annex 2).

The filters are applied in the frequency domain, which takes a third of the time of importing and
running a time-domain filter library.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from numpy import complex128
    from numpy.typing import NDArray

    from groove.arrays import Doubles, Floats, Places, Samples

TARGET_LUFS = -16.0
CEILING_DBTP = -1.0

_HOPS_PER_SEC = 10
_HOPS_PER_BLOCK = 4
_ABSOLUTE_GATE_LUFS = -70.0
_RELATIVE_GATE_LU = -10.0
_OFFSET_LUFS = -0.691

# The analogue prototypes behind the coefficients that BS.1770-4 prints for 48 kHz; through them the
# filters follow to other sample rates (worked out by B. De Man; pyloudnorm has them by his name).
_SHELF_HZ, _SHELF_GAIN_DB, _SHELF_Q = 1681.974450955533, 3.999843853973347, 0.7071752369554196
_HIGH_PASS_HZ, _HIGH_PASS_Q = 38.13547087602444, 0.5003270373238773

_SEGMENT_FRAMES = 1 << 17
_WARM_UP_FRAMES = 1 << 13  # the high-pass has died away by e^-40 after these

_OVERSAMPLING = 4
_TAPS = 48
_PEAK_FRAMES = 64
_PEAK_MARGIN = 10 ** (-3.1 / 20)
"""A sine at a quarter of the sample rate hides 3.01 dB between its samples, music less."""
_FRAME_MARGIN = 0.5
_PEAK_BATCH = 1000


@dataclass(frozen=True, slots=True, kw_only=True)
class Gain:
    """The gain for a mix and everything cut from it, and what the mix reaches with it.

    ``loudness_lufs`` and ``true_peak_dbtp`` are None for silence.  ``ceiling_bound`` says that
    the true-peak ceiling kept the mix under its target.
    """

    gain_db: float
    loudness_lufs: float | None
    true_peak_dbtp: float | None
    ceiling_bound: bool

    @property
    def factor(self) -> float:
        """The number that samples are multiplied with."""
        return float(10 ** (self.gain_db / 20))


def level_gain(
    mix: "Samples",
    sample_rate: int,
    *,
    target_lufs: float = TARGET_LUFS,
    ceiling_dbtp: float = CEILING_DBTP,
) -> Gain:
    """Return the one linear gain for a full mix: to the target, but never over the ceiling.

    ``mix`` has shape (frames, 2), full scale 1.0; ``sample_rate`` is in Hz.  No limiter: the
    ceiling wins, and ``loudness_lufs`` says what is then reached.
    """
    peak = true_peak_dbtp(mix)
    if peak is None:
        return Gain(gain_db=0.0, loudness_lufs=None, true_peak_dbtp=None, ceiling_bound=False)
    loudness = integrated_loudness_lufs(mix, sample_rate)
    headroom_db = ceiling_dbtp - peak
    # A mix that never passes the gate is next to silence: it is left as it is, under the ceiling.
    wanted_db = 0.0 if loudness is None else target_lufs - loudness
    gain_db = min(wanted_db, headroom_db)
    return Gain(
        gain_db=gain_db,
        loudness_lufs=None if loudness is None else loudness + gain_db,
        true_peak_dbtp=peak + gain_db,
        ceiling_bound=headroom_db < wanted_db,
    )


def integrated_loudness_lufs(samples: "Samples", sample_rate: int) -> float | None:
    """Return the integrated loudness of samples of shape (frames, channels), or None for silence.

    Silence is what never passes the absolute gate.  Left, right and centre count 1.0 each.
    Under 400 ms there is no whole block; the samples then count as one with silence after them.
    """
    import numpy

    energies = _hop_energies(samples, sample_rate)
    if len(energies) < _HOPS_PER_BLOCK:
        energies = numpy.pad(energies, (0, _HOPS_PER_BLOCK - len(energies)))
    window = numpy.ones(_HOPS_PER_BLOCK)
    block_sec = _HOPS_PER_BLOCK / _HOPS_PER_SEC
    powers = numpy.convolve(energies, window, "valid") / (block_sec * sample_rate)
    powers = powers[powers > _power(_ABSOLUTE_GATE_LUFS)]
    if not len(powers):
        return None
    relative_gate = powers.mean() * 10 ** (_RELATIVE_GATE_LU / 10)
    return _OFFSET_LUFS + 10 * math.log10(powers[powers > relative_gate].mean())


def _power(lufs: float) -> float:
    return float(10 ** ((lufs - _OFFSET_LUFS) / 10))


def _hop_energies(samples: "Samples", sample_rate: int) -> "Doubles":
    """Return the K-weighted energy of each whole tenth of a second, all channels together.

    A hop left over at the end is dropped, unless there are too few for one block.
    """
    import numpy

    frames = len(samples)
    hops = frames * _HOPS_PER_SEC // sample_rate
    if hops < _HOPS_PER_BLOCK:
        hops = -(-frames * _HOPS_PER_SEC // sample_rate)
    edges = numpy.arange(hops + 1) * sample_rate // _HOPS_PER_SEC
    energies = numpy.zeros(hops + 1)
    for start, weighted in _weighted_segments(samples, sample_rate):
        squares = numpy.square(weighted, out=weighted).sum(axis=0, dtype=numpy.float64)
        end = start + len(squares)
        first = int(numpy.searchsorted(edges, start, "right")) - 1
        last = int(numpy.searchsorted(edges, end, "left"))
        cuts = numpy.maximum(edges[first:last] - start, 0)
        energies[first:last] += numpy.add.reduceat(squares, cuts)
    return energies[:hops]


def _weighted_segments(samples: "Samples", sample_rate: int) -> "Iterator[tuple[int, Doubles]]":
    """Yield first frame and K-weighted samples, shape (channels, frames), piece by piece.

    Each piece is filtered together with the frames before it, on a circle; where the circle
    closes, in those frames, the result is wrong and dropped.
    """
    import numpy

    response = _k_response(sample_rate, _SEGMENT_FRAMES).astype(numpy.complex64)
    step = _SEGMENT_FRAMES - _WARM_UP_FRAMES
    piece = numpy.zeros((samples.shape[1], _SEGMENT_FRAMES), numpy.float32)
    for start in range(0, len(samples), step):
        before = min(start, _WARM_UP_FRAMES)
        source = samples[start - before : start + step].T
        piece[:] = 0
        at = _WARM_UP_FRAMES - before
        piece[:, at : at + source.shape[1]] = source
        weighted = numpy.fft.irfft(numpy.fft.rfft(piece) * response, _SEGMENT_FRAMES)
        yield start, weighted[:, _WARM_UP_FRAMES : at + source.shape[1]]


def _k_response(sample_rate: int, frames: int) -> "NDArray[complex128]":
    """Return the K weighting at the frequencies of a real transform of ``frames`` samples."""
    import numpy

    delay = numpy.exp(-2j * numpy.pi * numpy.arange(frames // 2 + 1) / frames)
    response: NDArray[complex128] = numpy.ones_like(delay)
    for forward, back in k_weighting(sample_rate):
        response = response * numpy.polyval(forward[::-1], delay)
        response = response / numpy.polyval(back[::-1], delay)
    return response


def k_weighting(
    sample_rate: int,
) -> tuple[tuple[tuple[float, ...], tuple[float, ...]], ...]:
    """Return (b, a) of the two stages, shelf and high-pass, for a sample rate in hertz."""
    k = math.tan(math.pi * _SHELF_HZ / sample_rate)
    high = 10 ** (_SHELF_GAIN_DB / 20)
    band = high**0.4996667741545416
    scale = 1 + k / _SHELF_Q + k * k
    shelf = (
        (
            (high + band * k / _SHELF_Q + k * k) / scale,
            2 * (k * k - high) / scale,
            (high - band * k / _SHELF_Q + k * k) / scale,
        ),
        (1.0, 2 * (k * k - 1) / scale, (1 - k / _SHELF_Q + k * k) / scale),
    )
    k = math.tan(math.pi * _HIGH_PASS_HZ / sample_rate)
    scale = 1 + k / _HIGH_PASS_Q + k * k
    high_pass = (
        (1.0, -2.0, 1.0),
        (1.0, 2 * (k * k - 1) / scale, (1 - k / _HIGH_PASS_Q + k * k) / scale),
    )
    return shelf, high_pass


def true_peak_dbtp(samples: "Samples") -> float | None:
    """Return the true peak of samples of shape (frames, channels) in dBTP, or None for silence.

    The signal is oversampled four times, but only where a sample comes within 3.1 dB of the
    largest, because that is what takes the time.
    """
    import numpy

    peak = max((float(numpy.abs(plane).max(initial=0)) for plane in samples.T), default=0.0)
    if not peak:
        return None
    highest = max(_oversampled_peak(plane, peak) for plane in samples.T)
    return 20 * math.log10(max(peak, highest))


def frame_peaks(samples: "Samples", frame: int) -> "Doubles":
    """Return the true peak of every ``frame`` samples, over all channels, of shape (frames,).

    Only frames within 6 dB of the largest sample are oversampled: the others are as their samples.
    """
    import numpy

    peak = float(numpy.abs(samples).max(initial=0))
    count = -(-len(samples) // frame)
    peaks = numpy.zeros(count)
    for plane in samples.T:
        padded = numpy.zeros(count * frame, numpy.float32)
        padded[: len(plane)] = numpy.abs(plane)
        numpy.maximum(peaks, padded.reshape(count, frame).max(axis=1), out=peaks)
        for at, highest in _oversampled_frames(plane, peak * _FRAME_MARGIN, frame):
            peaks[at] = numpy.maximum(peaks[at], highest)
    return peaks


def _oversampled_peak(plane: "Samples", peak: float) -> float:
    """Return the largest value between the samples of one channel, near its largest samples."""
    loud = _oversampled_frames(plane, peak * _PEAK_MARGIN, _PEAK_FRAMES)
    return max((float(highest.max()) for _, highest in loud), default=0.0)


def _oversampled_frames(
    plane: "Samples", least: float, frame: int
) -> "Iterator[tuple[Places, Floats]]":
    """Yield the frames of one channel that reach ``least``, and the peak between their samples."""
    import numpy

    filters = _interpolators()
    frames = -(-len(plane) // frame)
    padded = numpy.zeros(frames * frame + _TAPS, numpy.float32)
    padded[_TAPS // 2 : _TAPS // 2 + len(plane)] = plane
    loud = numpy.flatnonzero(_frame_levels(padded, frames, frame) >= least)
    windows = numpy.lib.stride_tricks.sliding_window_view(padded, frame + _TAPS)
    for start in range(0, len(loud), _PEAK_BATCH):
        chosen = loud[start : start + _PEAK_BATCH]
        pieces = windows[chosen * frame]
        taps = numpy.lib.stride_tricks.sliding_window_view(pieces, _TAPS, axis=1)
        yield chosen, numpy.abs(taps @ filters).max(axis=(1, 2))


def _frame_levels(padded: "Samples", frames: int, frame: int) -> "Floats":
    """Return the largest sample of every frame."""
    import numpy

    body = padded[_TAPS // 2 : _TAPS // 2 + frames * frame].reshape(frames, frame)
    levels: Floats = numpy.maximum(body.max(axis=1), -body.min(axis=1))
    return levels


def _interpolators() -> "Floats":
    """Return windowed-sinc filters, shape (taps, phases), for the places between two samples."""
    import numpy

    offsets = numpy.arange(_TAPS)[:, None] - (_TAPS // 2 - 1)
    phases = numpy.arange(1, _OVERSAMPLING) / _OVERSAMPLING
    distance = offsets - phases
    window = numpy.cos(numpy.pi * distance / _TAPS) ** 2
    filters = numpy.sinc(distance) * window
    result: Floats = (filters / filters.sum(axis=0)).astype(numpy.float32)
    return result
