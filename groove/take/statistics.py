"""What the onsets of a take say in numbers: mean, spread, drift, places, kinds, passes.

Deviations are in milliseconds, late is positive.  What is said of them stands in ``verdict``.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import hypot
from typing import TYPE_CHECKING

from msgspec import Struct

from groove.take.alignment import Alignment
from groove.take.course import (
    Course,
    MeasuredBy,
    drift_of,
    first_sec,
    local_sd_sec,
    measured_against,
    tempi_bpm,
    whole_steps_sec,
)
from groove.take.heard import HeardNote
from groove.take.manner import LengthFigures, LoudnessFigures, length_figures, loudness_figures
from groove.take.pair_rows import PairRows
from groove.take.reference import TakeReference
from groove.verdict import limit

if TYPE_CHECKING:
    from groove.arrays import Doubles


class Known(StrEnum):
    """By what a lateness of the whole take is known."""

    NOTHING = ""
    CLICK = "the click or the drums in the file"
    LATENCY = "the latency that you gave"


BEGIN_ERROR_SEC = {Known.CLICK: 0.0015}
"""How far the beginning strays that is heard of drums or a click (SD): of made takes."""


class PlaceFigures(Struct, frozen=True, kw_only=True):
    """Deviations of the notes of one place or kind, against the mean of the take.

    ``error_ms`` is the standard error of ``mean_ms``, ``root_ms`` the root of the mean square.
    """

    mean_ms: float
    error_ms: float
    root_ms: float
    notes: int


class SwingFigures(Struct, frozen=True, kw_only=True):
    """The long share of a swung pair in percent, the player's and the band's, and how sure.

    ``apart_ms`` is how much later than the band's the second notes of pairs come; ``is_even``
    whether they do so on every beat: else single places are early or late, and no swing.
    """

    own_percent: float
    band_percent: float
    apart_ms: float
    error_ms: float
    is_even: bool


class TakeFigures(Struct, frozen=True, kw_only=True):
    """The numbers of a take.

    ``deviations_ms`` has one value a pair of the alignment.  ``offset_sec`` is where in the file
    the reference begins: where a lateness of the whole is not known (``known_by``) it is counted
    in, and ``mean_ms`` is 0.  ``slot_bias_ms`` is against the mean of the take.  Values that too
    few notes give are None.
    """

    notes: int
    deviations_ms: tuple[float, ...]
    measure: MeasuredBy
    known_by: Known
    offset_sec: float
    mean_ms: float
    mean_interval_ms: tuple[float, float] | None
    sd_ms: float | None
    tempo_bpm: float
    begin_bpm: float
    end_bpm: float
    change_percent: float
    drift_bpm_per_min: float | None
    drift_interval: tuple[float, float] | None
    beats: float
    interval_ms: float
    slot_bias_ms: Mapping[float, PlaceFigures]
    bars: Mapping[int, PlaceFigures]
    kinds: Mapping[str, PlaceFigures]
    passes: tuple[PlaceFigures, ...]
    swing: SwingFigures | None
    lengths: LengthFigures | None
    loudness: LoudnessFigures | None

    @property
    def error_ms(self) -> float:
        """The standard error of the mean, as its interval has it."""
        low, high = self.mean_interval_ms or (0.0, 0.0)
        return (high - low) / 4


def take_figures(
    reference: TakeReference,
    heard: Sequence[HeardNote],
    alignment: Alignment,
    *,
    free_tempo: bool = False,
    start_sec: float | None = None,
    known_by: Known = Known.NOTHING,
) -> TakeFigures:
    """Return the numbers of a take.

    ``start_sec`` is where in the file the reference begins, where that is exactly known, and
    ``known_by`` by what.  ``free_tempo`` takes the player's own steady tempo for the measure.
    """
    rows = PairRows(reference, heard, alignment)
    course = Course(rows)
    level = _level(reference, rows, course, free_tempo=free_tempo, start_sec=start_sec)
    begin, end, tempo = tempi_bpm(reference, rows, course)
    drift = drift_of(course, tempo)
    return TakeFigures(
        notes=len(rows.due),
        deviations_ms=tuple(level.deviations_ms.tolist()),
        measure=level.measure,
        known_by=Known.NOTHING if start_sec is None else known_by,
        offset_sec=level.start_sec,
        mean_ms=level.mean_ms,
        mean_interval_ms=_mean_interval_ms(level.mean_ms, course, known_by),
        sd_ms=level.sd_ms,
        tempo_bpm=tempo,
        begin_bpm=begin,
        end_bpm=end,
        change_percent=100 * (end / begin - 1),
        drift_bpm_per_min=drift[0] if drift else None,
        drift_interval=drift[1] if drift else None,
        beats=float(rows.due[-1] - rows.due[0]) / reference.beat_sec,
        interval_ms=_usual_interval_ms(rows),
        slot_bias_ms=_slots(rows, course, level.around_ms),
        bars=_groups(level.around_ms, rows.bar_numbers, rows),
        kinds=_kinds(level.around_ms, rows),
        passes=_passes(reference, level.around_ms, rows),
        swing=_swing(reference, rows, course, level.around_ms),
        lengths=length_figures(rows, heard, alignment) if reference.is_line else None,
        loudness=loudness_figures(rows, heard, alignment) if reference.is_line else None,
    )


def _mean_interval_ms(
    mean_ms: float, course: Course, known_by: Known
) -> tuple[float, float] | None:
    """Return where the mean lies for sure: what scatters, and how far the beginning may stray."""
    if not course.fit:
        return None
    low, high = course.fit.interval(0)
    half = 1000 * hypot((high - low) / 2, 2 * BEGIN_ERROR_SEC.get(known_by, 0.0))
    return mean_ms - half, mean_ms + half


def _usual_interval_ms(rows: PairRows) -> float:
    """Return the median time from a note that is due to the next, 0 where there is one alone."""
    import numpy

    gaps = numpy.diff(rows.due)
    return 1000 * float(numpy.median(gaps)) if len(gaps) else 0.0


@dataclass(frozen=True, kw_only=True)
class _Level:
    """What single notes are measured against, and how they lie: by it, and by the slow course.

    ``start_sec`` is where in the file the reference begins, ``mean_ms`` the lateness of the whole.
    """

    measure: MeasuredBy
    deviations_ms: "Doubles"
    around_ms: "Doubles"
    mean_ms: float
    sd_ms: float | None
    start_sec: float


def _level(
    reference: TakeReference,
    rows: PairRows,
    course: Course,
    *,
    free_tempo: bool,
    start_sec: float | None,
) -> _Level:
    """Return how notes lie; ``start_sec`` is given where it is known."""
    away = rows.onset - rows.due
    measure, line = measured_against(rows, course, free_tempo=free_tempo)
    deviations = away - line
    deviations = deviations - deviations[course.used].mean()
    mean = 0.0
    if start_sec is not None:
        late = away - start_sec - whole_steps_sec(rows, course, start_sec, reference.beat_sec)
        mean = float(late[course.used].mean())
        if measure is MeasuredBy.REFERENCE:
            deviations = late
    is_moving = measure is MeasuredBy.MOVING
    sd_sec = local_sd_sec(rows, away - line) if is_moving else course.sd_sec()
    # A tempo that goes here and there has no even course: then the local lines are the course.
    around = away - (line if is_moving else course.values())
    start = float(away[course.used].mean()) - mean
    if measure is not MeasuredBy.REFERENCE and start_sec is None:
        start = first_sec(rows, line)
    return _Level(
        measure=measure,
        deviations_ms=1000 * deviations,
        around_ms=1000 * (around - around[course.used].mean()),
        mean_ms=1000 * mean,
        sd_ms=None if sd_sec is None else 1000 * sd_sec,
        start_sec=start,
    )


def _figures(values: "Doubles") -> PlaceFigures:
    """Return the figures of some deviations in ms."""
    import numpy

    count = len(values)
    spread = float(values.std(ddof=1)) if count > 1 else 0.0
    return PlaceFigures(
        mean_ms=float(values.mean()),
        error_ms=spread / count**0.5,
        root_ms=float(numpy.sqrt((values**2).mean())),
        notes=count,
    )


def _slots(rows: PairRows, course: Course, around: "Doubles") -> dict[float, PlaceFigures]:
    """Return the deviations of each slot from the slow course, against the mean of all."""
    return {
        slot: _figures(around[course.used & (rows.slot == slot)])
        for slot in sorted(set(rows.slot[course.used].tolist()))
    }


def _groups(around: "Doubles", names: Sequence[int], rows: PairRows) -> dict[int, PlaceFigures]:
    """Return the deviations of each written bar, in the order in which they come."""
    import numpy

    labels = numpy.array(names)
    return {
        name: _figures(around[(labels == name) & rows.is_timed])
        for name in dict.fromkeys(names)
        if ((labels == name) & rows.is_timed).any()
    }


def _kinds(around: "Doubles", rows: PairRows) -> dict[str, PlaceFigures]:
    """Return the deviations of ghosts, of notes after a shift, of fills and of slurs."""
    import numpy

    kinds = {
        "ghosts": [note.is_ghost for note in rows.notes],
        "notes after a shift of the hand": [note.after_shift for note in rows.notes],
        "fills": [note.is_fill for note in rows.notes],
        "slurred notes": [note.is_slurred for note in rows.notes],
    }
    found = {}
    for name, members in kinds.items():
        own = numpy.array(members) & rows.is_timed
        if own.any():
            found[name] = _figures(around[own])
    return found


def _pass_count(reference: TakeReference) -> int:
    """Return how many passes over the same bars a reference is, 1 for what is no loop."""
    numbers = [bar.number for bar in reference.bars]
    for length in range(1, len(numbers) // 2 + 1):
        times = len(numbers) // length
        if numbers == numbers[:length] * times:
            return times
    return 1


def _passes(
    reference: TakeReference, around: "Doubles", rows: PairRows
) -> tuple[PlaceFigures, ...]:
    """Return the deviations of each pass of a loop, none for what is no loop."""
    count = _pass_count(reference)
    if count < 2:
        return ()
    length = len(reference.bars) // count
    number = rows.bar // length
    return tuple(
        _figures(around[(number == each) & rows.is_timed])
        for each in range(count)
        if ((number == each) & rows.is_timed).sum() >= limit("notes_for_bar")
    )


def _swing(
    reference: TakeReference, rows: PairRows, course: Course, around: "Doubles"
) -> SwingFigures | None:
    """Return how the player swings beside the band, None where nothing is swung."""
    import numpy

    pairs = numpy.array([reference.bars[bar].swing_pair_sec for bar in rows.bar.tolist()])
    is_off = numpy.array([note.is_swung for note in rows.notes]) & course.used
    is_on = (pairs > 0) & ~is_off & course.used
    least = limit("notes_for_place")
    if is_off.sum() < least or is_on.sum() < least:
        return None
    off, on = _figures(around[is_off]), _figures(around[is_on])
    apart = off.mean_ms - on.mean_ms
    slots = [_figures(around[is_off & (rows.slot == slot)]) for slot in set(rows.slot[is_off])]
    is_even = all(
        abs(each.mean_ms - off.mean_ms) <= max(2.5 * each.error_ms, abs(apart) / 2)
        for each in slots
        if each.notes >= least
    )
    pair_sec = float(numpy.median(pairs[is_off]))
    starts = numpy.array([reference.bars[bar].start_sec for bar in rows.bar.tolist()])
    shares = ((rows.due - starts) / numpy.where(pairs > 0, pairs, 1.0)) % 1.0
    band = float(numpy.median(shares[is_off]))
    return SwingFigures(
        own_percent=100 * (band + apart / 1000 / pair_sec),
        band_percent=100 * band,
        apart_ms=apart,
        error_ms=(off.error_ms**2 + on.error_ms**2) ** 0.5,
        is_even=is_even,
    )
