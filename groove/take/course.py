"""The slow course of a take: what its means and spreads are taken from.

Level, tempo and an even change of tempo are fitted to all that was played, beside means of slots;
where a take has a tempo that goes here and there, local lines are its course.
"""

from enum import StrEnum
from typing import TYPE_CHECKING

from groove.take.alignment import LOCAL_NOTES
from groove.take.pair_rows import PairRows
from groove.take.reference import TakeReference
from groove.take.regression import LineFit, fit_carried_over
from groove.verdict import limit

if TYPE_CHECKING:
    from groove.arrays import Doubles

LEFT_MS = 90.0
"""How far the slow course of a take may leave a tempo before it is no longer the measure."""
BENT_MS = limit("heard_ms")
"""The same of a player's own tempo, which nobody asked for."""
OUTLIER_SDS = 5.0
LEAST_OWN = 0.25
"""How much of the variance of onsets is the player's at the least (no source)."""


class MeasuredBy(StrEnum):
    """What single deviations are measured against."""

    REFERENCE = "the reference's tempo"
    OWN = "your own steady tempo"
    MOVING = "your own tempo as it moved"


class Course:
    """The slow course of a take: level, tempo and change of tempo, beside means of slots."""

    def __init__(self, rows: PairRows) -> None:
        """Fit the course; notes that stray far are left out the second time."""
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

    def values(self) -> "Doubles":
        """Return where each note lies by the slow course alone, against its place at the start."""
        found: Doubles = self.columns[:, : self.slow] @ self.plain[: self.slow]
        return found

    def straight(self) -> "Doubles":
        """Return the same without the change of tempo."""
        import numpy

        kept = [column for column in range(self.slow) if not (self.bends and column == 2)]
        away = self.rows.onset - self.rows.due
        used = self.used
        found, *_ = numpy.linalg.lstsq(self.columns[used][:, kept], away[used], rcond=None)
        values: Doubles = self.columns[:, kept] @ found
        return values

    def sd_sec(self) -> float | None:
        """Return the spread of single notes around slow course and means of slots."""
        freedom = int(self.used.sum()) - self.columns.shape[1]
        if freedom < 6:
            return None
        total = float((self.left[self.used] ** 2).sum())
        return _spread_sec(total / freedom, self.rows.error[self.used])


def measured_against(
    rows: PairRows, course: Course, *, free_tempo: bool
) -> "tuple[MeasuredBy, Doubles]":
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


def local_sd_sec(rows: PairRows, left: "Doubles") -> float | None:
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
    return _spread_sec(float((kept**2).sum()) / freedom, rows.error)


def _spread_sec(variance: float, errors: "Doubles") -> float:
    """Return the player's own spread: that of the onsets without the errors of hearing them.

    Variances of what strays each for itself add up.  A quarter of the whole is left, as the errors
    of one take may be smaller than usual.
    """
    own = variance - float((errors**2).mean())
    return float(max(own, LEAST_OWN * variance) ** 0.5)


def whole_steps_sec(rows: PairRows, course: Course, start_sec: float, beat_sec: float) -> "Doubles":
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


def first_sec(rows: PairRows, line: "Doubles") -> float:
    """Return where the reference's beginning would lie by a line that was left at its tempo."""
    import numpy

    first = rows.piece == rows.piece[0]
    return float(numpy.polyfit(rows.due[first], line[first], 1)[1])


def tempi_bpm(
    reference: TakeReference, rows: PairRows, course: Course
) -> tuple[float, float, float]:
    """Return the tempo at the first note, at the last one, and in the middle, by the fit."""
    stretch = 1 + float(course.plain[1])
    bend = 2 * float(course.plain[2]) if course.bends else 0.0
    tau = rows.due[course.used] - course.middle
    first, last = float(tau[0]), float(tau[-1])
    tempo = reference.tempo_bpm

    def at(place: float) -> float:
        return tempo / max(0.1, stretch + bend * place)

    return at(first), at(last), at(0.0)


def drift_of(course: Course, tempo: float) -> tuple[float, tuple[float, float]] | None:
    """Return the drift in beats a minute per minute and its interval, None for too few notes."""
    if not course.bends or course.fit is None:
        return None
    stretch = 1 + course.fit.values[1]
    scale = -2 * 60 * tempo / stretch**2
    return scale * course.fit.values[2], course.fit.interval(2, scale)
