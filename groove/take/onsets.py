"""Where notes begin in a recorded bass, found below the hop, with level and pitch."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from groove.take.heard_pitch import heard_pitch
from groove.take.working_rate import WORKING_RATE_HZ, at_working_rate

if TYPE_CHECKING:
    from numpy import float32
    from numpy.typing import NDArray

    Samples = NDArray[float32]
    Levels = NDArray[float32]

_WINDOW, _HOP = 1536, 128
_BANDS = 40
_LOWEST_HZ, _HIGHEST_HZ = 30.0, 10_500.0
_BACK_FRAMES = 4  # a rise counts above the loudest of the last 20 ms: a low E's period is 24 ms
_RANGE_DB = 50.0
_MOST_RISE_DB = 20.0
_LEAST_RISE_DB = 1.6
_SURE_RISE_DB = 6.0
_APART_SEC = 0.04
_BIAS_SEC = 0.001
_LEVEL_SEC = 0.08
_GHOST_UNDER_DB = 8.0
_CHUNK_SEC, _OVERLAP_SEC = 30, 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Onset:
    """The beginning of a note as it was heard.

    ``sec`` counts from the beginning of the recording; ``strength`` (0 to 1) is how sure it is
    that something was struck there; ``level_db`` is the RMS of the 80 ms from there on, in dB
    under full scale; ``pitch`` a MIDI number with its fraction, or None where none is heard, and
    ``pitch_confidence`` (0 to 1) how periodic the sound is; ``is_ghost_like`` is whether it is
    much softer than its neighbours and dies at once.
    """

    sec: float
    strength: float
    level_db: float
    pitch: float | None
    pitch_confidence: float
    is_ghost_like: bool


def detect_onsets(
    samples: "Samples | Iterable[Samples]",
    sample_rate_hz: int,
    expected: Sequence[float] | None = None,
    has_drums: bool | None = None,
) -> list[Onset]:
    """Return the onsets of a take in the order of time.

    ``samples`` are mono, whole or in blocks, at any whole rate; blocks are forgotten as they are
    heard.  ``expected`` are the moments, in seconds of the recording, at which notes are due, where
    that is known: a weak onset near one is believed sooner, none is made up.  ``has_drums`` says
    whether a band can be heard in the recording; None finds out.
    """
    blocks = _as_blocks(samples)
    found: list[Onset] = []
    for start_sec, chunk, kept_from, kept_to in _chunks(at_working_rate(blocks, sample_rate_hz)):
        for onset in _chunk_onsets(chunk, _LEAST_RISE_DB):
            if kept_from <= onset.sec < kept_to:
                found.append(replace(onset, sec=onset.sec + start_sec))
    return found


def look_again(
    samples: "Samples | Iterable[Samples]",
    sample_rate_hz: int,
    windows: Sequence[tuple[float, float]],
) -> list[Onset]:
    """Return the onsets within windows (start and end in seconds), weak ones too.

    For notes that are due there and were not found: at most one onset a window, the strongest,
    and none where nothing rises.
    """
    blocks = _as_blocks(samples)
    best: dict[tuple[float, float], Onset] = {}
    for start_sec, chunk, kept_from, kept_to in _chunks(at_working_rate(blocks, sample_rate_hz)):
        asked = [
            window
            for window in windows
            if window[1] >= start_sec + kept_from and window[0] < start_sec + kept_to
        ]
        if not asked:
            continue
        for onset in _chunk_onsets(chunk, _LEAST_RISE_DB / 2):
            sec = onset.sec + start_sec
            for window in asked:
                is_within = window[0] <= sec <= window[1] and kept_from <= onset.sec < kept_to
                if is_within and (window not in best or best[window].strength < onset.strength):
                    best[window] = replace(onset, sec=sec)
    return sorted(set(best.values()), key=lambda onset: onset.sec)


def _as_blocks(samples: "Samples | Iterable[Samples]") -> "Iterable[Samples]":
    import numpy

    return [samples] if isinstance(samples, numpy.ndarray) else samples


def _chunks(blocks: "Iterable[Samples]") -> "Iterator[tuple[float, Samples, float, float]]":
    """Yield start, samples and the part that counts, in seconds of the chunk."""
    import numpy

    size, overlap = _CHUNK_SEC * WORKING_RATE_HZ, _OVERLAP_SEC * WORKING_RATE_HZ
    held = numpy.zeros(0, numpy.float32)
    start = 0
    for block in blocks:
        held = numpy.concatenate([held, block])
        while len(held) > size + 2 * overlap:
            first = 0.0 if start == 0 else float(_OVERLAP_SEC)
            yield (
                start / WORKING_RATE_HZ,
                held[: size + 2 * overlap],
                first,
                _CHUNK_SEC + _OVERLAP_SEC,
            )
            held = held[size:]
            start += size
    if len(held):
        first = 0.0 if start == 0 else float(_OVERLAP_SEC)
        yield start / WORKING_RATE_HZ, held, first, numpy.inf


def _chunk_onsets(samples: "Samples", least_rise_db: float) -> list[Onset]:
    import numpy

    rises = numpy.minimum(_rises(_band_levels(samples)), _MOST_RISE_DB).mean(axis=1)
    peaks = _peaks(rises, least_rise_db)
    secs = [max(0.0, peak * _HOP / WORKING_RATE_HZ - _BIAS_SEC) for peak in peaks]
    levels = [_level_db(samples, sec) for sec in secs]
    onsets = []
    for place, (peak, sec) in enumerate(zip(peaks, secs, strict=True)):
        near = sorted(levels[max(0, place - 4) : place + 5])
        following = secs[place + 1] if place + 1 < len(secs) else len(samples) / WORKING_RATE_HZ
        pitch, confidence = heard_pitch(samples, sec, following)
        onsets.append(
            Onset(
                sec=sec,
                strength=float(min(1.0, rises[peak] / _SURE_RISE_DB)),
                level_db=levels[place],
                pitch=pitch,
                pitch_confidence=confidence,
                is_ghost_like=levels[place] < near[len(near) // 2] - _GHOST_UNDER_DB,
            )
        )
    return onsets


def _band_levels(samples: "Samples") -> "Levels":
    """Return the level in dB of each band in each frame; frame n is centred at n hops."""
    import numpy

    edges = numpy.geomspace(_LOWEST_HZ, _HIGHEST_HZ, _BANDS + 2)
    bins = numpy.arange(_WINDOW // 2 + 1) * WORKING_RATE_HZ / _WINDOW
    bank = numpy.zeros((len(bins), _BANDS), numpy.float32)
    for band, (low, centre, high) in enumerate(zip(edges, edges[1:], edges[2:], strict=False)):
        shape = numpy.minimum((bins - low) / (centre - low), (high - bins) / (high - centre))
        shape = shape.clip(0)
        if shape.sum() < 0.5:
            shape[numpy.argmin(abs(bins - centre))] = 1
        bank[:, band] = shape / shape.sum()
    padded = numpy.concatenate([numpy.zeros(_WINDOW // 2), samples, numpy.zeros(_WINDOW)])
    padded = padded.astype(numpy.float32)
    frames = numpy.lib.stride_tricks.sliding_window_view(padded, _WINDOW)[::_HOP]
    frames = frames[: len(samples) // _HOP + 1]
    window = numpy.hanning(_WINDOW).astype(numpy.float32)
    levels = numpy.empty((len(frames), _BANDS), numpy.float32)
    for start in range(0, len(frames), 1024):
        spectrum = numpy.fft.rfft(frames[start : start + 1024] * window)
        power = (spectrum.real**2 + spectrum.imag**2) @ bank
        levels[start : start + 1024] = 10 * numpy.log10(power + 1e-12)
    top = numpy.percentile(levels.max(axis=1), 95)
    floor = numpy.maximum(numpy.percentile(levels, 15, axis=0) + 3, top - _RANGE_DB)
    floored: Levels = numpy.maximum(levels, floor).astype(numpy.float32)
    return floored


def _rises(levels: "Levels") -> "Levels":
    """Return how far each band rises above its loudest of the last 20 ms, before the window."""
    import numpy

    count, lag = len(levels), _BACK_FRAMES
    padded = numpy.concatenate([numpy.repeat(levels[:1], lag + _BACK_FRAMES, axis=0), levels])
    before = padded[:count]
    for step in range(1, _BACK_FRAMES):
        before = numpy.maximum(before, padded[step : step + count])
    above: Levels = numpy.maximum(levels - before, 0)
    return above


def _peaks(rises: "Levels", least: float) -> list[int]:
    """Return the frames whose rise is the largest within 40 ms, and large enough."""
    half = int(_APART_SEC * WORKING_RATE_HZ / _HOP)
    peaks: list[int] = []
    for frame in (rises > least).nonzero()[0]:
        near = rises[max(0, frame - half) : frame + half + 1]
        if rises[frame] >= near.max() and (not peaks or frame - peaks[-1] > half):
            peaks.append(int(frame))
    return peaks


def _level_db(samples: "Samples", sec: float) -> float:
    import numpy

    first = int(sec * WORKING_RATE_HZ)
    part = samples[first : first + int(_LEVEL_SEC * WORKING_RATE_HZ)]
    return float(10 * numpy.log10(numpy.mean(numpy.square(part)) + 1e-12)) if len(part) else -120.0
