"""Where a take stands against its reference: tempo ratio, and an offset that moves slowly.

Every distance between an onset and an expected note votes for an offset; the votes are counted
for some seconds of the reference at a time, and the best path through these counts may move a
little from one to the next, or jump where a bar was left out or played twice.  This is done for
each tempo at which the take may be played, and the tempo with the best path is taken.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil
from typing import TYPE_CHECKING

from groove.take.heard import HeardNote, OffsetPath
from groove.take.reference import ExpectedNote

if TYPE_CHECKING:
    from groove.arrays import Doubles, Places

BIN_SEC = 0.02
SEGMENT_SEC, GRID_SEGMENT_SEC = 2.5, 1.25
"""How long a segment lasts in the take; on a grid a slow slip would soon reach the next slot."""
GRID_RATIOS = tuple(round(1 + 0.01 * step, 2) for step in sorted(range(-6, 7), key=abs))
"""The same where any slot of a grid may be struck: half the tempo would fit as well."""
TEMPO_RATIOS = (
    *(round(1 + 0.03 * step, 2) for step in (0, -1, 1, -2, 2, -3, 3, -4, 4, 5)),
    0.5,
    2.0,
    0.48,
    0.52,
    1.92,
    2.08,
)
"""How fast the take may be against its reference; finer differences are found afterwards."""
UNHEARD_COST = 0.5
"""What an expected note costs that nothing was heard for, between the take's first and last."""
MOVE_COST = 0.06
"""What it costs to move by one bin from one segment to the next, in notes."""
MOST_MOVED = 6
JUMP_COST = 5.0
"""What a jump costs, in notes: a bar must be worth as much."""
AGAIN_COST = 0.3
"""What a second of a jump forward costs on top, as a share of the notes in it."""
LEFT_OUT_COST = 0.6
"""The same of a jump back, where two notes of the reference would be heard in one onset.

Not all of them: the one of the two that nobody played has another pitch, as a rule.
"""
NEAR_SEC = 0.25
"""Two starts nearer to each other than this are one."""
ELSEWHERE_SEC = 0.6
"""A path that is farther from another for a segment lies elsewhere: half a bar, at the least."""
CLOSE_ENOUGH = 0.8
"""The share of what is possible from which on no other tempo is tried."""
START_COST, GRID_START_COST = 0.02, 0.3
"""How much less likely, as a share of all notes, it is to begin elsewhere than at the start.

A grid has no notes of its own that would say so.
"""
SPREAD, GRID_SPREAD = (1.0, 0.8, 0.4), (0.7, 0.2)
"""What a vote is worth one, two and three bins beside its own; on a grid the next slot is near."""
NO_JUMP_COST = 1e4
PITCH_WEIGHTS, GRID_PITCH_WEIGHTS = (1.0, 0.8, 0.3, 0.6), (1.0, 0.9, 0.5, 0.7)
"""What a vote is worth with the same pitch, an octave of it, another, or an unknown one.

A line of one's own leads through other notes than those of the chord.
"""


def pitch_weights(
    expected: Sequence[ExpectedNote], heard: Sequence[HeardNote], *, is_grid: bool = False
) -> "Doubles":
    """Return what a pair is worth by its pitches, for every (expected, heard)."""
    import numpy

    same, octave, other, unknown = GRID_PITCH_WEIGHTS if is_grid else PITCH_WEIGHTS
    weights = numpy.full((len(expected), len(heard)), unknown)
    known = numpy.array([note.pitch is not None for note in heard])
    pitch = numpy.array([note.pitch if note.pitch is not None else 0.0 for note in heard])
    sure = numpy.array([note.pitch_confidence for note in heard])
    known_rows: dict[tuple[int, ...], Doubles] = {}  # a line has few pitches, each of them often
    for row, note in enumerate(expected):
        if not note.pitches or note.is_ghost:
            continue
        if note.pitches in known_rows:
            weights[row] = known_rows[note.pitches]
            continue
        apart = numpy.min([abs(pitch - each) for each in note.pitches], axis=0)
        within = numpy.abs((apart + 6) % 12 - 6)
        worth = numpy.where(apart < 0.6, same, numpy.where(within < 0.6, octave, other))
        weights[row] = numpy.where(known, unknown + (worth - unknown) * sure, unknown)
        known_rows[note.pitches] = weights[row]
    return weights


class _Votes:
    """The votes of one take for its offset, segment by segment of the reference."""

    def __init__(
        self,
        expected: Sequence[ExpectedNote],
        heard: Sequence[HeardNote],
        start_sec: float | None,
        *,
        is_grid: bool,
    ) -> None:
        import numpy

        self.due = numpy.array([note.sec for note in expected])
        self.weights = numpy.array([note.weight for note in expected])
        self.heard = numpy.array([note.sec for note in heard])
        self.start_sec = start_sec
        self.unheard_cost = 0.0 if is_grid else UNHEARD_COST
        self.spread = GRID_SPREAD if is_grid else SPREAD
        self.segment_sec = GRID_SEGMENT_SEC if is_grid else SEGMENT_SEC
        self.start_cost = GRID_START_COST if is_grid else START_COST
        self.jump_cost = NO_JUMP_COST if is_grid else JUMP_COST
        strength = numpy.clip([note.strength for note in heard], 0.3, 1.0)
        self.worth = (
            pitch_weights(expected, heard, is_grid=is_grid) * strength * self.weights[:, None]
        )
        self.rate = len(expected) / max(1.0, float(self.due[-1] - self.due[0]))
        self.possible = float(min(self.worth.max(axis=1).sum(), self.worth.max(axis=0).sum()))

    def segments(self, ratio: float) -> "Places":
        """Return the segment of each note, from 0, at a tempo."""
        import numpy

        at = numpy.floor((self.due - self.due[0]) / (ratio * self.segment_sec)).astype(int)
        _, found = numpy.unique(at, return_inverse=True)
        return found

    def scores(self, ratio: float) -> "tuple[Doubles, float]":
        """Return the score of every (segment, offset), and the offset of the first bin."""
        import numpy

        due = self.due / ratio
        segments = self.segments(ratio)
        count = int(segments[-1]) + 1
        low = self.heard[0] - due[-1] - 1.0
        high = self.heard[-1] - due[0] + 1.0
        bins = int((high - low) / BIN_SEC) + 1
        votes = numpy.empty((count, bins))
        first, last, whole = numpy.empty(count), numpy.empty(count), numpy.empty(count)
        for segment in range(count):
            rows = segments == segment
            at = (self.heard[None, :] - due[rows, None] - low) / BIN_SEC
            place = numpy.clip(at.astype(int), 0, bins - 1).ravel()
            votes[segment] = numpy.bincount(place, self.worth[rows].ravel(), minlength=bins)
            first[segment], last[segment] = due[rows].min(), due[rows].max()
            whole[segment] = self.weights[rows].sum()
        heard = numpy.minimum(_smoothed(votes, self.spread), whole[:, None])
        offsets = low + BIN_SEC * (numpy.arange(bins) + 0.5)
        length = numpy.maximum(last - first, 0.1)[:, None]
        begins = numpy.maximum(first[:, None] + offsets, self.heard[0] - 0.1)
        ends = numpy.minimum(last[:, None] + offsets, self.heard[-1] + 0.1)
        inside = numpy.clip((ends - begins) / length, 0.0, 1.0)
        missing = numpy.maximum(whole[:, None] * inside - heard, 0.0)
        return heard - self.unheard_cost * missing, low

    def prior(self, ratio: float, low: float, bins: int) -> "Doubles":
        """Return what each offset of the first segment costs before anything is heard."""
        import numpy

        offsets = low + BIN_SEC * (numpy.arange(bins) + 0.5)
        start = offsets + self.due[0] / ratio
        if self.start_sec is not None:
            far = numpy.abs(start - self.start_sec)
            return numpy.where(far <= 1.5, 0.0, -1e3)
        far = numpy.minimum(numpy.abs(start - self.heard[0]) / 4.0, 1.0)
        cost: Doubles = -self.start_cost * self.possible * far
        return cost


def _smoothed(votes: "Doubles", shares: Sequence[float]) -> "Doubles":
    """Return votes that count for the bins beside theirs too, a hand being no machine."""
    out = votes.copy()
    for away, share in enumerate(shares, 1):
        out[:, away:] += share * votes[:, :-away]
        out[:, :-away] += share * votes[:, away:]
    return out


@dataclass(frozen=True, slots=True, kw_only=True)
class _AtTempo:
    """A tempo, the votes at it as ``_Votes.scores`` has them, and the best path through them."""

    ratio: float
    scores: "Doubles"
    low: float
    path: "Places"
    value: float


def _at_tempo(votes: _Votes, ratio: float) -> _AtTempo:
    scores, low = votes.scores(ratio)
    prior = votes.prior(ratio, low, scores.shape[1])
    value, path = _best_path(scores, prior, votes.rate * ratio, votes.jump_cost)
    return _AtTempo(ratio=ratio, scores=scores, low=low, path=path, value=value)


def _way_margin(votes: _Votes, best: _AtTempo) -> float:
    """Return how much better a path is than the best that lies elsewhere for a segment or more.

    Values up to each bin from the beginning on, and from the end back, tell the best path through
    it.  Of bars that are left out or repeated a jump may stand before or after: around one a path
    lies elsewhere that is far from both its sides.  Which bars they are, ``jump_margin`` weighs.
    """
    import numpy

    scores, path = best.scores, best.path
    bins = scores.shape[1]
    rate = votes.rate * best.ratio
    up_to = _values(scores, votes.prior(best.ratio, best.low, bins), rate, votes.jump_cost)
    # From the end back a jump forward is one back, so the offsets are turned too.
    back = _values(scores[::-1, ::-1], numpy.zeros(bins), rate, votes.jump_cost)[::-1, ::-1]
    through = up_to + back - scores
    most = float(through.max())
    columns, near = numpy.arange(bins)[None, :], round(ELSEWHERE_SEC / BIN_SEC)
    away = numpy.abs(columns - path[:, None]) > near
    for turn in _turns(path):
        before, after = path[turn - 1], path[turn]
        length = 1 + ceil(abs(int(after - before)) * BIN_SEC / votes.segment_sec)
        away[turn : turn + length] &= numpy.abs(columns - before) > near
        away[max(0, turn - length) : turn] &= numpy.abs(columns - after) > near
    return most - float(numpy.where(away, through, -1e9).max())


def _best_path(
    scores: "Doubles", prior: "Doubles", rate: float, jump_cost: float
) -> "tuple[float, Places]":
    """Return the best path's score and its bin in every segment.

    ``rate`` is how many notes a second of the take has.
    """
    import numpy

    count = len(scores)
    values = _values(scores, prior, rate, jump_cost)
    path = numpy.empty(count, numpy.intp)
    path[-1] = values[-1].argmax()
    for row in range(count - 1, 0, -1):
        path[row - 1] = _came_from(values[row - 1], int(path[row]), rate * BIN_SEC, jump_cost)
    return float(values[-1].max()), path


def _values(scores: "Doubles", prior: "Doubles", rate: float, jump_cost: float) -> "Doubles":
    """Return the score of the best path up to each (segment, bin)."""
    import numpy

    count, bins = scores.shape
    values = numpy.empty((count, bins))
    values[0] = scores[0] + prior
    for row in range(1, count):
        before = values[row - 1]
        best = _jumped(before, rate * BIN_SEC) - jump_cost
        numpy.maximum(best, before, out=best)
        for move in range(1, MOST_MOVED + 1):
            moved = before - MOVE_COST * move
            numpy.maximum(best[move:], moved[: bins - move], out=best[move:])
            numpy.maximum(best[: bins - move], moved[move:], out=best[: bins - move])
        values[row] = best + scores[row]
    return values


def _jumped(value: "Doubles", notes_a_bin: float) -> "Doubles":
    """Return the best that can be had by a jump to each bin."""
    import numpy

    bins = numpy.arange(len(value)) * notes_a_bin
    on, left = AGAIN_COST * bins, LEFT_OUT_COST * bins
    forward = numpy.maximum.accumulate(value + on) - on
    back = numpy.maximum.accumulate((value - left)[::-1])[::-1] + left
    best: Doubles = numpy.maximum(forward, back)
    return best


def _came_from(before: "Doubles", at: int, notes_a_bin: float, jump_cost: float) -> int:
    """Return the bin of the segment before from which a bin is best reached; near ones first."""
    import numpy

    away = at - numpy.arange(len(before))  # forward is positive
    jump = (
        numpy.where(away >= 0, AGAIN_COST * away, -LEFT_OUT_COST * away) * notes_a_bin + jump_cost
    )
    distance = numpy.abs(away)
    cost = numpy.where(distance <= MOST_MOVED, numpy.minimum(jump, MOVE_COST * distance), jump)
    value = before - cost
    best = numpy.flatnonzero(value >= value.max() - 1e-9)
    return int(best[numpy.abs(best - at).argmin()])


def find_offsets(
    expected: Sequence[ExpectedNote],
    heard: Sequence[HeardNote],
    *,
    start_sec: float | None = None,
    is_grid: bool = False,
) -> OffsetPath:
    """Return where a take lies against its reference.

    ``start_sec`` is where in the file the reference begins, to within a second, where that is
    known.  Of a grid (``is_grid``) no slot need be struck.  Both rows have at least one note.
    """
    ratios = GRID_RATIOS if is_grid else TEMPO_RATIOS
    votes = _Votes(expected, heard, start_sec, is_grid=is_grid)
    best = _at_tempo(votes, ratios[0])
    found = {best.ratio: best.value}
    for ratio in ratios[1:]:
        tried = _at_tempo(votes, ratio)
        found[ratio] = tried.value
        if tried.value > best.value:
            best = tried
        is_enough = best.value > CLOSE_ENOUGH * votes.possible
        if ratio == ratios[2] and is_enough and not is_grid:
            break
    value, path = best.value, best.path
    others = [other for each, other in found.items() if abs(each - best.ratio) > 0.2]
    if start_sec is None:  # that a take begins at the beginning tells nothing of how sure it is
        value -= float(votes.prior(best.ratio, best.low, int(path[0]) + 1)[-1])
    second = max([_second_start(votes, best), *others])
    offsets = best.low + BIN_SEC * (path + 0.5)
    return OffsetPath(
        ratio=best.ratio,
        segments=tuple(votes.segments(best.ratio).tolist()),
        offsets_sec=tuple(offsets.tolist()),
        jumps=tuple(_turns(path)),
        score=value / max(votes.possible, 1e-9),
        margin=(value - second) / len(heard),
        way_margin=_way_margin(votes, best),
    )


def _turns(path: "Places") -> list[int]:
    """Return the segments with which a path goes on elsewhere."""
    import numpy

    turns: list[int] = (numpy.flatnonzero(numpy.abs(numpy.diff(path)) > MOST_MOVED) + 1).tolist()
    return turns


def _second_start(votes: _Votes, best: _AtTempo) -> float:
    """Return the score of the best path that never comes near another one."""
    import numpy

    bins = best.scores.shape[1]
    near = round(NEAR_SEC / BIN_SEC)
    columns = numpy.arange(bins)
    is_near = numpy.abs(columns[None, :] - best.path[:, None]) <= near
    prior = numpy.zeros(bins)
    if votes.start_sec is not None:
        prior = votes.prior(best.ratio, best.low, bins)
    rate = votes.rate * best.ratio
    values = _values(numpy.where(is_near, -1e3, best.scores), prior, rate, NO_JUMP_COST)
    return float(values[-1].max())
