"""Where notes begin in a recorded bass, found below the hop, with level and pitch.

The whole take is looked at every 6 ms; where an onset is likely it is looked at again from where
the onset seems to be, so that its place hardly depends on where the hops fell; where the attack is
clear, it is found to the sample.
"""

from bisect import bisect_left
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from groove.take.attack import attacks
from groove.take.band_levels import HOP_FRAMES, Scene
from groove.take.heard_pitch import heard_pitch
from groove.take.note_ends import sounding_sec
from groove.take.onset_net import onset_chances
from groove.take.working_rate import WORKING_RATE_HZ, at_working_rate

if TYPE_CHECKING:
    from groove.arrays import Flags, Floats, Places, Samples

BELIEVED = 0.4
"""The chance from which on an onset is one, where nothing is known of what is to be played."""

WEAKEST = 0.06
"""The chance of the weakest onsets that are kept: something may have been struck there."""

CLEAR_ERROR_SEC, UNCLEAR_ERROR_SEC = 0.0006, 0.003
"""How far an onset strays from the truth (SD), by whether its attack is clear: of made takes."""

_APART_SEC = 0.03
_PEAK_SHARE = 0.7  # a peak between two hops is seen lower from them
_STEPS = (96,)
_LEVEL_SEC = 0.08
_FAINT_DB = 45.0  # under the take's loud notes: the noise of a pause, no stroke
_IDLE_SEC, _IDLE_DB, _QUIET_PERCENT = 1.0, 3.0, 5
_GHOST_UNDER_DB = 8.0
_GHOST_NEIGHBOURS = 4
_CHUNK_SEC, _OVERLAP_SEC = 30, 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Onset:
    """The beginning of a note as it was heard.

    ``sec`` counts from the beginning of the recording; ``strength`` (0 to 1) is how sure it is
    that something was struck there; ``level_db`` is the RMS of the 80 ms from there on, in dB
    under full scale; ``pitch`` a MIDI number with its fraction, or None where none is heard, and
    ``pitch_confidence`` (0 to 1, 0 where none is heard) how periodic the sound is;
    ``is_ghost_like`` is whether it is much softer than its neighbours; ``error_sec`` how far
    ``sec`` strays from the truth (SD).
    """

    sec: float
    error_sec: float
    strength: float
    level_db: float
    pitch: float | None
    pitch_confidence: float
    end_sec: float | None
    is_ghost_like: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class _StruckNote:
    """An onset before it is known what its neighbours are like."""

    sec: float
    error_sec: float
    strength: float
    level_db: float
    pitch: float | None
    pitch_confidence: float
    end_sec: float | None


def detect_onsets(
    samples: "Samples | Iterable[Samples]", sample_rate_hz: int, *, least: float = BELIEVED
) -> list[Onset]:
    """Return the onsets of a take in the order of time.

    ``samples`` are mono, whole or in blocks, at any whole rate; blocks are forgotten as they are
    heard.  ``least`` is how likely an onset must be; those under ``BELIEVED`` change nothing of
    the others.
    """
    struck: list[_StruckNote] = []
    for stretch in _stretches(samples, sample_rate_hz):
        struck += stretch.heard(*stretch.likely(least))
    return _with_neighbours(struck)


@dataclass(frozen=True, slots=True, kw_only=True)
class _TakeChunk:
    """Some seconds of a take, of which the part from ``kept_from`` to ``kept_to`` counts."""

    samples: "Samples"
    start_frame: int
    kept_from: int
    kept_to: int

    @property
    def start_sec(self) -> float:
        return self.start_frame / WORKING_RATE_HZ

    def likely(self, least: float) -> "tuple[Places, Flags, Floats]":
        """Return the samples at which onsets are likely, which are clear, and how likely."""
        import numpy

        scene = Scene(self.samples)
        chances, distances = onset_chances(scene.every_hop())
        peaks = _peaks(chances, least * _PEAK_SHARE)
        around = (peaks[:, None] + numpy.arange(-1, 2)).clip(0, len(chances) - 1)
        frames = _agreed(around * HOP_FRAMES, chances[around], distances[around])
        for step in _STEPS:
            around = frames[:, None] + numpy.array((-step, 0, step))
            chances, distances = onset_chances(scene.at(around.ravel()))
            chances, distances = chances.reshape(around.shape), distances.reshape(around.shape)
            frames = _agreed(around, chances, distances)
        chances = chances.max(axis=1)
        frames = frames.clip(0, len(self.samples) - 1)
        kept = (chances >= least) & (frames >= self.kept_from) & (frames < self.kept_to)
        frames, chances = _apart(frames[kept], chances[kept])
        return *attacks(self.samples, frames), chances

    def heard(self, frames: "Places", is_clear: "Flags", chances: "Floats") -> list[_StruckNote]:
        """Return what is struck at these samples, with its level, pitch and end.

        A note sounds up to the next one that is believed, a weak one up to any.
        """
        import numpy

        count = len(self.samples)
        believed = numpy.where(chances >= BELIEVED, frames, count)
        to_believed = numpy.minimum.accumulate(numpy.append(believed, count)[::-1])[::-1][1:]
        to_any = numpy.append(frames[1:], count)
        ends = numpy.where(chances >= BELIEVED, to_believed, to_any)
        errors = numpy.where(is_clear, CLEAR_ERROR_SEC, UNCLEAR_ERROR_SEC)
        columns = (frames.tolist(), errors.tolist(), ends.tolist(), chances.tolist())
        struck = [self._struck(*row) for row in zip(*columns, strict=True)]
        is_idle = self._is_idle(frames)
        return [one for one, idle in zip(struck, is_idle, strict=True) if one.pitch or not idle]

    def _is_idle(self, frames: "Places") -> "Flags":
        """Return where for a second nothing rises over the noise: what stirs there is the noise.

        The quiet of the stretch is what a twentieth of it lies under.
        """
        import numpy

        size = int(_LEVEL_SEC * WORKING_RATE_HZ)
        count = max(1, len(self.samples) // size)
        parts = numpy.resize(self.samples, count * size).reshape(count, size)
        levels = 10 * numpy.log10(numpy.square(parts).mean(axis=1) + 1e-12)
        half = round(_IDLE_SEC / 2 / _LEVEL_SEC)
        padded = numpy.pad(levels, half, mode="edge")
        loudest = numpy.lib.stride_tricks.sliding_window_view(padded, 2 * half + 1).max(axis=1)
        quiet = float(numpy.percentile(levels, _QUIET_PERCENT))
        found: Flags = loudest[(frames // size).clip(0, count - 1)] < quiet + _IDLE_DB
        return found

    def _struck(self, frame: int, error_sec: float, end: int, chance: float) -> _StruckNote:
        pitch, confidence = heard_pitch(
            self.samples, frame / WORKING_RATE_HZ, end / WORKING_RATE_HZ
        )
        sec = (self.start_frame + frame) / WORKING_RATE_HZ
        sounds = sounding_sec(self.samples[frame:end], (end - frame) / WORKING_RATE_HZ)
        return _StruckNote(
            sec=sec,
            error_sec=error_sec,
            strength=chance,
            level_db=_level_db(self.samples[frame:]),
            pitch=pitch,
            pitch_confidence=confidence,
            end_sec=None if sounds is None else sec + sounds,
        )


def _stretches(samples: "Samples | Iterable[Samples]", sample_rate_hz: int) -> Iterator[_TakeChunk]:
    """Yield a take in overlapping stretches; the last may be twice as long as the others."""
    import numpy

    blocks = [samples] if isinstance(samples, numpy.ndarray) else samples
    size, overlap = _CHUNK_SEC * WORKING_RATE_HZ, _OVERLAP_SEC * WORKING_RATE_HZ
    held: list[Samples] = []
    count = start = 0
    for block in at_working_rate(blocks, sample_rate_hz):
        held.append(block)
        count += len(block)
        while count > 2 * (size + overlap):
            whole = numpy.concatenate(held)
            yield _TakeChunk(
                samples=whole[: size + 2 * overlap],
                start_frame=start,
                kept_from=overlap if start else 0,
                kept_to=size + overlap,
            )
            held, count, start = [whole[size:]], count - size, start + size
    if count:
        yield _TakeChunk(
            samples=numpy.concatenate(held),
            start_frame=start,
            kept_from=overlap if start else 0,
            kept_to=count,
        )


def _peaks(chances: "Floats", least: float) -> "Places":
    """Return the hops whose chance is the largest of their neighbourhood and at least so large."""
    import numpy

    half = round(_APART_SEC * WORKING_RATE_HZ / HOP_FRAMES)
    padded = numpy.pad(chances, half)
    around = numpy.lib.stride_tricks.sliding_window_view(padded, 2 * half + 1).max(axis=1)
    found: Places = numpy.nonzero((chances >= around) & (chances >= least))[0]
    return found


def _agreed(around: "Places", chances: "Floats", distances: "Floats") -> "Places":
    """Return where the onset is that is seen from some moments round it, by what each is sure."""
    import numpy

    seen = around + distances
    middle = (seen * chances).sum(axis=1) / chances.sum(axis=1)
    found: Places = numpy.rint(middle).astype(int)
    return found


def _apart(frames: "Places", chances: "Floats") -> "tuple[Places, Floats]":
    """Return onsets in their order; of two that are one note's, the likelier."""
    import numpy

    kept: list[int] = []
    for place in numpy.argsort(frames, kind="stable"):
        if kept and frames[place] - frames[kept[-1]] < _APART_SEC * WORKING_RATE_HZ:
            if chances[place] > chances[kept[-1]]:
                kept[-1] = int(place)
        else:
            kept.append(int(place))
    return frames[kept], chances[kept]


def _level_db(samples: "Samples") -> float:
    import numpy

    part = samples[: int(_LEVEL_SEC * WORKING_RATE_HZ)].astype(numpy.float64)
    return float(10 * numpy.log10(numpy.mean(numpy.square(part)) + 1e-12)) if len(part) else -120.0


def _with_neighbours(struck: Sequence[_StruckNote]) -> list[Onset]:
    """Return onsets, those that are far too faint left out, ghosts told by their neighbours.

    Neighbours, and what is loud, are those that are believed.
    """
    believed = [each for each in struck if each.strength >= BELIEVED]
    if not believed:
        return []
    loud_db = sorted(each.level_db for each in believed)[len(believed) * 3 // 4]
    loud = [each for each in believed if each.level_db >= loud_db - _FAINT_DB]
    places = [each.sec for each in loud]
    onsets = []
    for each in struck:
        if each.level_db < loud_db - _FAINT_DB:
            continue
        place = bisect_left(places, each.sec)
        first = max(0, place - _GHOST_NEIGHBOURS)
        near = sorted(other.level_db for other in loud[first : place + _GHOST_NEIGHBOURS + 1])
        is_soft = each.level_db < near[len(near) // 2] - _GHOST_UNDER_DB
        onsets.append(
            Onset(
                sec=each.sec,
                error_sec=each.error_sec,
                strength=each.strength,
                level_db=each.level_db,
                pitch=each.pitch,
                pitch_confidence=each.pitch_confidence,
                end_sec=each.end_sec,
                is_ghost_like=is_soft,
            )
        )
    return onsets
