"""What the onsets of a take say in numbers: mean, spread, drift, places, kinds, passes.

Deviations are in milliseconds, late is positive.  What is said of them stands in ``verdict``.
"""

from collections.abc import Mapping, Sequence
from enum import StrEnum
from typing import TYPE_CHECKING

from msgspec import Struct

from groove.take.alignment import LOCAL_NOTES, Alignment
from groove.take.heard import HeardNote
from groove.take.reference import TakeReference
from groove.take.regression import LineFit, fit_carried_over
from groove.verdict import limit

if TYPE_CHECKING:
    import numpy
    from numpy.typing import NDArray

    Floats = NDArray[numpy.float64]

LEFT_MS = 90.0
"""How far the slow course of a take may leave a tempo before it is no longer the measure."""
BENT_MS = limit("heard_ms")
"""The same of a player's own tempo, which nobody asked for."""
SLOT_NOTES = 3
"""A slot with fewer notes has no mean of its own."""
OUTLIER_SDS = 5.0


class MeasuredBy(StrEnum):
    """What single deviations are measured against."""

    REFERENCE = "the reference's tempo"
    OWN = "your own steady tempo"
    MOVING = "your own tempo as it moved"


class Known(StrEnum):
    """By what a lateness of the whole take is known."""

    NOTHING = ""
    CLICK = "the click or the drums in the file"
    LATENCY = "the latency that you gave"


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

    @property
    def error_ms(self) -> float:
        """The standard error of the mean, as its interval has it."""
        low, high = self.mean_interval_ms or (0.0, 0.0)
        return (high - low) / 4


class _Rows:
    """The pairs of a take as columns."""

    def __init__(
        self, reference: TakeReference, heard: Sequence[HeardNote], alignment: Alignment
    ) -> None:
        import numpy

        self.notes = [reference.notes[pair.expected] for pair in alignment.pairs]
        self.due = numpy.array([note.sec for note in self.notes])
        self.onset = numpy.array([heard[pair.heard].sec for pair in alignment.pairs])
        self.piece = numpy.array([alignment.pieces[pair.expected] for pair in alignment.pairs])
        self.slot = numpy.array([note.slot for note in self.notes])
        self.bar = numpy.array([note.bar for note in self.notes])
        self.is_timed = numpy.array([note.is_timed for note in self.notes])
        if self.is_timed.sum() < 8:
            self.is_timed[:] = True
        self.moving = numpy.array([alignment.predicted_secs[p.expected] for p in alignment.pairs])

    def slot_columns(self) -> "Floats":
        """Return a column for each slot but the commonest that has notes enough, around 0."""
        import numpy

        names, counts = numpy.unique(self.slot[self.is_timed], return_counts=True)
        common = names[counts.argmax()]
        own = [
            name
            for name, count in zip(names, counts, strict=True)
            if count >= SLOT_NOTES and name != common
        ]
        if len(own) > self.is_timed.sum() / 3:
            own = []
        return (
            numpy.array([(self.slot == name).astype(float) for name in own])
            .reshape(len(own), len(self.slot))
            .T
        )

    def piece_columns(self) -> "Floats":
        """Return a column for each piece after the first."""
        import numpy

        names = sorted(set(self.piece.tolist()))[1:]
        return (
            numpy.array([(self.piece == name).astype(float) for name in names])
            .reshape(len(names), len(self.piece))
            .T
        )


class _Course:
    """The slow course of a take: level, tempo and change of tempo, beside means of slots."""

    def __init__(self, rows: _Rows) -> None:
        import numpy

        self.rows = rows
        used = rows.is_timed.copy()
        self.middle = float(rows.due[used].mean())
        tau = rows.due - self.middle
        self.bends = used.sum() >= limit("notes_for_drift")
        shape = [numpy.ones_like(tau), tau]
        if self.bends:
            shape.append(tau**2 - float((tau[used] ** 2).mean()))
        pieces, slots = rows.piece_columns(), rows.slot_columns()
        centred = [column - column[used].mean() for column in (*pieces.T, *slots.T)]
        self.columns = numpy.array([*shape, *centred]).T
        self.slow = len(shape) + pieces.shape[1]
        away = rows.onset - rows.due
        for _ in range(2):
            self.plain, *_ = numpy.linalg.lstsq(self.columns[used], away[used], rcond=None)
            left = away - self.columns @ self.plain
            spread = 1.4826 * float(numpy.median(numpy.abs(left[used])))
            used = used & (numpy.abs(left) <= max(OUTLIER_SDS * spread, 0.005))
        self.used, self.left = used, left
        self.fit: LineFit | None = None
        if used.sum() >= self.columns.shape[1] + 6:
            self.fit = fit_carried_over(self.columns[used], away[used])

    def values(self) -> "Floats":
        """Return where each note lies by the slow course alone, against its place at the start."""
        found: Floats = self.columns[:, : self.slow] @ self.plain[: self.slow]
        return found

    def straight(self) -> "Floats":
        """Return the same without the change of tempo."""
        import numpy

        kept = [column for column in range(self.slow) if not (self.bends and column == 2)]
        away = self.rows.onset - self.rows.due
        used = self.used
        found, *_ = numpy.linalg.lstsq(self.columns[used][:, kept], away[used], rcond=None)
        values: Floats = self.columns[:, kept] @ found
        return values

    def sd_sec(self) -> float | None:
        """Return the spread of single notes around slow course and means of slots."""
        freedom = int(self.used.sum()) - self.columns.shape[1]
        if freedom < 6:
            return None
        total = float((self.left[self.used] ** 2).sum())
        return float((total / freedom) ** 0.5)


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
    import numpy

    rows = _Rows(reference, heard, alignment)
    course = _Course(rows)
    away = rows.onset - rows.due
    measure, line = _measured(rows, course, free_tempo=free_tempo)
    deviations = away - line
    deviations = deviations - deviations[course.used].mean()
    mean = 0.0
    is_known = known_by is not Known.NOTHING and start_sec is not None
    if is_known and start_sec is not None:
        late = away - start_sec - _whole_steps(rows, course, start_sec, reference.beat_sec)
        mean = float(late[course.used].mean())
        if measure is MeasuredBy.REFERENCE:
            deviations = late
    half = 0.0
    if course.fit:
        low, high = course.fit.interval(0)
        half = (high - low) / 2
    sd_sec = course.sd_sec()
    if measure is MeasuredBy.MOVING:
        sd_sec = _local_sd_sec(rows, away - line)
    begin, end, tempo = _tempi(reference, rows, course)
    drift = _drift(course, tempo)
    # A tempo that goes here and there has no even course: then the local lines are the course.
    slow = line if measure is MeasuredBy.MOVING else course.values()
    around = 1000 * (away - slow)
    around = around - around[course.used].mean()
    start = float(away[course.used].mean()) - mean
    if measure is not MeasuredBy.REFERENCE and not is_known:
        start = _start(rows, line)
    gaps = numpy.diff(rows.due)
    return TakeFigures(
        notes=len(rows.due),
        deviations_ms=tuple((1000 * deviations).tolist()),
        measure=measure,
        known_by=known_by if is_known else Known.NOTHING,
        offset_sec=start,
        mean_ms=1000 * mean,
        mean_interval_ms=(1000 * (mean - half), 1000 * (mean + half)) if course.fit else None,
        sd_ms=None if sd_sec is None else 1000 * sd_sec,
        tempo_bpm=tempo,
        begin_bpm=begin,
        end_bpm=end,
        change_percent=100 * (end / begin - 1),
        drift_bpm_per_min=drift[0] if drift else None,
        drift_interval=drift[1] if drift else None,
        beats=float(rows.due[-1] - rows.due[0]) / reference.beat_sec,
        interval_ms=1000 * float(numpy.median(gaps)) if len(gaps) else 0.0,
        slot_bias_ms=_slots(rows, course, around),
        bars=_groups(around, [reference.bars[bar].number for bar in rows.bar.tolist()], rows),
        kinds=_kinds(around, rows),
        passes=_passes(reference, around, rows),
        swing=_swing(reference, rows, course, around),
    )


def _local_sd_sec(rows: _Rows, left: "Floats") -> float | None:
    """Return the spread around local lines and means of slots.

    A line of some 32 notes takes two of their degrees of freedom with it.
    """
    import numpy

    columns = rows.slot_columns()
    columns = numpy.concatenate([numpy.ones((len(left), 1)), columns], axis=1)
    found, *_ = numpy.linalg.lstsq(columns, left, rcond=None)
    left = left - columns @ found
    spread = 1.4826 * float(numpy.median(numpy.abs(left)))
    kept = left[numpy.abs(left) <= max(OUTLIER_SDS * spread, 0.005)]
    freedom = len(kept) * (1 - 1 / LOCAL_NOTES) - columns.shape[1]
    if freedom < 6:
        return None
    return float((float((kept**2).sum()) / freedom) ** 0.5)


def _measured(rows: _Rows, course: _Course, *, free_tempo: bool) -> "tuple[MeasuredBy, Floats]":
    """Return what single notes are measured against, as seconds after their place at the start.

    A take that stays with the reference's tempo is measured against that; one that leaves it,
    against its own steady tempo; one that leaves even that, against its tempo as it moved.
    """
    import numpy

    slow, straight = course.values(), course.straight()
    level = numpy.zeros_like(slow)
    for piece in set(rows.piece.tolist()):
        own = rows.piece == piece
        level[own] = (rows.onset - rows.due)[own & course.used].mean()
    own_moves = numpy.abs(slow - straight).max()
    most = LEFT_MS if free_tempo else BENT_MS
    if not free_tempo and numpy.abs(slow - level).max() * 1000 <= LEFT_MS:
        return MeasuredBy.REFERENCE, level
    if own_moves * 1000 <= most:
        return MeasuredBy.OWN, straight
    moving = rows.moving - rows.due
    is_even = numpy.abs(moving - slow).max() * 1000 <= BENT_MS
    return MeasuredBy.MOVING, slow if is_even else moving


def _whole_steps(rows: _Rows, course: _Course, start_sec: float, beat_sec: float) -> "Floats":
    """Return for each note how many whole beats later than at the start its piece goes on.

    What a piece begins with tells: later on a tempo of its own may have led anywhere.
    """
    import numpy

    slow = course.values()
    steps = numpy.zeros_like(slow)
    for piece in set(rows.piece.tolist()):
        own = rows.piece == piece
        begins = float(slow[own][0]) - start_sec
        steps[own] = round(begins / beat_sec) * beat_sec
    return steps


def _start(rows: _Rows, line: "Floats") -> float:
    """Return where the reference's beginning would lie by a line that was left at its tempo."""
    import numpy

    first = rows.piece == rows.piece[0]
    return float(numpy.polyfit(rows.due[first], line[first], 1)[1])


def _tempi(reference: TakeReference, rows: _Rows, course: _Course) -> tuple[float, float, float]:
    """Return the tempo at the first note, at the last one, and in the middle, by the fit."""
    stretch = 1 + float(course.plain[1])
    bend = 2 * float(course.plain[2]) if course.bends else 0.0
    tau = rows.due[course.used] - course.middle
    first, last = float(tau[0]), float(tau[-1])
    tempo = reference.tempo_bpm

    def at(place: float) -> float:
        return tempo / max(0.1, stretch + bend * place)

    return at(first), at(last), at(0.0)


def _drift(course: _Course, tempo: float) -> tuple[float, tuple[float, float]] | None:
    """Return the drift in beats a minute per minute and its interval, None for too few notes."""
    if not course.bends or course.fit is None:
        return None
    stretch = 1 + course.fit.values[1]
    scale = -2 * 60 * tempo / stretch**2
    return scale * course.fit.values[2], course.fit.interval(2, scale)


def _figures(values: "Floats") -> PlaceFigures:
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


def _slots(rows: _Rows, course: _Course, around: "Floats") -> dict[float, PlaceFigures]:
    """Return the deviations of each slot from the slow course, against the mean of all."""
    return {
        slot: _figures(around[course.used & (rows.slot == slot)])
        for slot in sorted(set(rows.slot[course.used].tolist()))
    }


def _groups(around: "Floats", names: Sequence[int], rows: _Rows) -> dict[int, PlaceFigures]:
    """Return the deviations of each written bar, in the order in which they come."""
    import numpy

    labels = numpy.array(names)
    return {
        name: _figures(around[(labels == name) & rows.is_timed])
        for name in dict.fromkeys(names)
        if ((labels == name) & rows.is_timed).any()
    }


def _kinds(around: "Floats", rows: _Rows) -> dict[str, PlaceFigures]:
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


def pass_count(reference: TakeReference) -> int:
    """Return how many passes over the same bars a reference is, 1 for what is no loop."""
    numbers = [bar.number for bar in reference.bars]
    for length in range(1, len(numbers) // 2 + 1):
        times = len(numbers) // length
        if numbers == numbers[:length] * times:
            return times
    return 1


def _passes(reference: TakeReference, around: "Floats", rows: _Rows) -> tuple[PlaceFigures, ...]:
    """Return the deviations of each pass of a loop, none for what is no loop."""
    count = pass_count(reference)
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
    reference: TakeReference, rows: _Rows, course: _Course, around: "Floats"
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
