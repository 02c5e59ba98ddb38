"""A take beside its reference: which onset is which note, at which tempo, from where on.

The way, in steps: an offset that moves slowly (``offsets``), local lines through what lies near
it, the pairing that has the most pairs in order (``pairing``), and the lines once more through
these pairs, so that a window may be narrow where the tempo moves.
"""

from collections.abc import Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

from msgspec import Struct

from groove.take.heard import HeardNote, OffsetPath
from groove.take.jumped import TakeJump, has_other_end, jump_margin, nearest
from groove.take.offsets import find_offsets, pitch_weights
from groove.take.pairing import Pair, pair_in_order
from groove.take.reference import TakeReference, gaps_sec

if TYPE_CHECKING:
    from groove.arrays import Doubles, Places

WIDEST_WINDOW_SEC = 0.12
WINDOW_SHARE = 0.6
"""How far a note may lie from where it is due: this share of its distance to its neighbour."""
FIRST_WINDOW_SEC = 0.2
LOCAL_NOTES = 16
"""How many notes on each side tell where a note is due."""
PITCH_COST_SEC = 0.06
"""How much farther away an onset of another pitch counts."""
AMBIGUOUS_UNDER = 0.01
"""A start is ambiguous where the next best explains nearly as much, as a share of the onsets."""
AMBIGUOUS_WAY_NOTES = 3.0
"""So is a way through the bars where another one explains as many notes but these."""
LEAST_SCORE = 0.35
"""Under this share of what could be explained a take is taken for another song."""


FEWEST_ONSETS = 4
"""Fewer notes lie beside anything."""
EDGE_BEATS = 4
"""As many beats at either end may be unheard notes; more were not played."""


class Alignment(Struct, frozen=True, kw_only=True):
    """What lies beside what.

    ``predicted_secs`` says where in the file each expected note was due at the player's own pace,
    ``pieces`` which run without a jump it belongs to.  ``first`` and ``last`` bound what was
    played of the reference (indices, the last one included).  ``jump_margin`` is how many notes
    fewer other bars would explain, left out or repeated in the place of those that are told.
    ``has_other_end`` is whether its last bars may be bars from farther on.
    """

    pairs: tuple[Pair, ...]
    predicted_secs: tuple[float, ...]
    pieces: tuple[int, ...]
    ratio: float
    jumps: tuple[TakeJump, ...]
    first: int
    last: int
    path: OffsetPath
    jump_margin: float = float("inf")
    has_other_end: bool = False

    @property
    def starts_ambiguously(self) -> bool:
        """Whether another start explains the take nearly as well."""
        return self.path.margin < AMBIGUOUS_UNDER

    @property
    def is_ambiguous(self) -> bool:
        """Whether another start does, or other bars that are left out or repeated."""
        margin = min(self.path.way_margin, self.jump_margin)
        return self.starts_ambiguously or self.has_other_end or margin < AMBIGUOUS_WAY_NOTES

    @property
    def fits(self) -> bool:
        """Whether the take is one of this reference at all."""
        return self.path.score >= LEAST_SCORE and len(self.pairs) >= FEWEST_ONSETS


def align(
    reference: TakeReference,
    heard: Sequence[HeardNote],
    *,
    start_sec: float | None = None,
    path: OffsetPath | None = None,
) -> Alignment:
    """Return a take beside its reference.

    ``start_sec`` is where in the file the reference begins, to within a second, where that is
    known; ``path`` where the take lies, where it was found before.  Both have at least one note.
    """
    import numpy

    if path is None:
        is_grid = not reference.is_line
        path = find_offsets(reference.notes, heard, start_sec=start_sec, is_grid=is_grid)
    due = numpy.array([note.sec for note in reference.notes])
    onsets = numpy.array([note.sec for note in heard])
    worth = pitch_weights(reference.notes, heard, is_grid=not reference.is_line)
    penalties = PITCH_COST_SEC * (1 - worth)
    pieces, jumps, predicted = _pieces(reference, path, due, onsets, worth)
    gaps = numpy.array(gaps_sec(reference.notes)) / path.ratio
    narrow = numpy.minimum(WIDEST_WINDOW_SEC, WINDOW_SHARE * gaps)
    wide = numpy.minimum(FIRST_WINDOW_SEC, WINDOW_SHARE * gaps)
    pairs: list[Pair] = []
    for windows in (wide, narrow, narrow, narrow):
        pairs = _paired(predicted, onsets, windows, penalties, pieces)
        predicted = _local_lines(due, onsets, pairs, pieces, predicted)
    first = pairs[0].expected if pairs else 0
    last = pairs[-1].expected if pairs else 0
    return Alignment(
        pairs=tuple(pairs),
        predicted_secs=tuple(predicted.tolist()),
        pieces=tuple(pieces.tolist()),
        ratio=_fitted_ratio(due, onsets, pairs, pieces, path.ratio),
        jumps=tuple(jumps),
        first=first,
        last=last,
        path=path,
        jump_margin=jump_margin(reference, heard, worth, jumps, predicted.tolist(), pieces),
        has_other_end=has_other_end(reference, pairs, worth, jumps),
    )


def due_range(reference: TakeReference, alignment: Alignment) -> range:
    """Return the notes that were due while the player played: a few at either end count too."""
    notes = reference.notes
    edge = EDGE_BEATS * reference.beat_sec
    first, last = alignment.first, alignment.last
    if notes[first].sec - notes[0].sec < edge:
        first = 0
    if notes[-1].sec - notes[last].sec < edge:
        last = len(notes) - 1
    return range(first, last + 1)


def _paired(
    predicted: "Doubles",
    onsets: "Doubles",
    windows: "Doubles",
    penalties: "Doubles",
    pieces: "Places",
) -> list[Pair]:
    """Return the best pairs of those notes that were played at all."""
    import numpy

    rows = numpy.flatnonzero(pieces >= 0)
    found = pair_in_order(
        predicted[rows].tolist(), onsets.tolist(), windows[rows].tolist(), penalties[rows]
    )
    return [Pair(int(rows[pair.expected]), pair.heard) for pair in found]


def _pieces(
    reference: TakeReference,
    path: OffsetPath,
    due: "Doubles",
    onsets: "Doubles",
    worth: "Doubles",
) -> "tuple[Places, list[TakeJump], Doubles]":
    """Return the piece of each expected note (-1 where it was left out), jumps and first guess."""
    import numpy

    segments = numpy.array(path.segments)
    centres = numpy.array([due[segments == each].mean() for each in range(segments[-1] + 1)])
    offsets = numpy.array(path.offsets_sec)
    pieces = numpy.zeros(len(due), numpy.intp)
    predicted = numpy.empty(len(due))
    jumps: list[TakeJump] = []
    bounds = [0, *path.jumps, len(centres)]
    for number, (low, high) in enumerate(pairwise(bounds)):
        rows = (segments >= low) & (segments < high)
        pieces[rows] = number
        predicted[rows] = _through(due[rows], centres[low:high], offsets[low:high], path.ratio)
    for number, segment in enumerate(path.jumps):
        left = numpy.flatnonzero((segments >= segment - 2) & (segments < segment))
        right = numpy.flatnonzero((segments >= segment) & (segments < segment + 2))
        before_rows, after_rows = left[pieces[left] == number], right[pieces[right] == number + 1]
        if not len(before_rows) or not len(after_rows):
            continue  # the turn before has taken all of it
        before = _side(due, onsets, before_rows, predicted, path.ratio)
        after = _side(due, onsets, after_rows, predicted, path.ratio)
        near = numpy.concatenate([left[pieces[left] == number], right])
        ends, begins = _turn(due, onsets, worth, near, before, after)
        pieces[near[0] : ends] = number
        pieces[ends:begins] = -1
        pieces[begins : near[-1] + 1] = number + 1
        predicted[near[0] : ends] = before(due[near[0] : ends])
        predicted[begins : near[-1] + 1] = after(due[begins : near[-1] + 1])
        shift = float(offsets[segment] - offsets[segment - 1])
        jumps.append(_jump(reference, begins, shift, path.ratio))
    return pieces, jumps, predicted


def _through(due: "Doubles", centres: "Doubles", offsets: "Doubles", ratio: float) -> "Doubles":
    import numpy

    found: Doubles = due / ratio + numpy.interp(due, centres, offsets)
    return found


class _DueLine(Struct, frozen=True):
    """Where notes are due near a jump, by what was heard on one side of it."""

    level_sec: float
    slope: float

    def __call__(self, due: "Doubles") -> "Doubles":
        return due * self.slope + self.level_sec


def _side(
    due: "Doubles", onsets: "Doubles", rows: "Places", predicted: "Doubles", ratio: float
) -> _DueLine:
    """Return the line through the onsets that lie near to where some notes are due."""
    import numpy

    level = float((predicted[rows] - due[rows] / ratio).mean())
    away = onsets[nearest(onsets, predicted[rows])] - predicted[rows]
    near = numpy.abs(away) < FIRST_WINDOW_SEC / 2
    if near.sum() < 6:
        return _DueLine(level, 1 / ratio)
    at, sounded = due[rows][near], (predicted[rows] + away)[near]
    ends = [_robust_value(at, sounded, each) for each in (float(at[0]), float(at[-1]))]
    slope = (ends[1] - ends[0]) / max(0.1, float(at[-1] - at[0]))
    if abs(slope * ratio - 1) > 0.08:
        return _DueLine(level, 1 / ratio)
    return _DueLine(ends[0] - slope * float(at[0]), slope)


def _turn(
    due: "Doubles",
    onsets: "Doubles",
    worth: "Doubles",
    near: "Places",
    before: _DueLine,
    after: _DueLine,
) -> tuple[int, int]:
    """Return where the old piece ends and the new one begins, both as first indices after it.

    It is where the most onsets are explained, by their pitch too; what an earlier piece would have
    sounded after the new one has begun was left out.  Onsets of the notes around are not explained
    a second time.
    """
    import numpy

    def explained(secs: "Doubles") -> "Doubles":
        at = nearest(onsets, secs)
        found: Doubles = numpy.where(abs(onsets[at] - secs) < 0.06, worth[near, at], 0.0)
        return found

    old, new = before(due[near]), after(due[near])
    worth_old, worth_new = explained(old), explained(new)
    best, turn = -1.0, (int(near[0]), int(near[0]))
    sounded = numpy.concatenate([before(due[max(0, near[0] - 1) : near[0]]), old])
    following = after(due[near[-1] + 1 : near[-1] + 2])
    for ends in range(len(near) + 1):
        at = ends - len(near) - 1
        last = sounded[at] if len(sounded) >= -at else -numpy.inf
        begins = max(ends, int(numpy.searchsorted(new, last + 0.05)))
        if begins == len(near) and len(following) and following[0] < last + 0.05:
            continue
        value = float(worth_old[:ends].sum() + worth_new[begins:].sum())
        if value > best + 1e-9:
            best, turn = value, (int(near[0]) + ends, int(near[0]) + begins)
    return turn


def _jump(reference: TakeReference, at: int, shift_sec: float, ratio: float) -> TakeJump:
    """Return a jump in bars, where it is one of whole bars."""
    note = reference.notes[min(at, len(reference.notes) - 1)]
    bar = reference.bars[note.bar]
    bar_sec = (bar.end_sec - bar.start_sec) / ratio
    bars = round(shift_sec / bar_sec)
    is_whole = bars != 0 and abs(shift_sec - bars * bar_sec) < 0.15 * bar_sec
    return TakeJump(at=at, shift_sec=shift_sec, bars=bars if is_whole else 0)


def _local_lines(
    due: "Doubles",
    onsets: "Doubles",
    pairs: Sequence[Pair],
    pieces: "Places",
    guess: "Doubles",
) -> "Doubles":
    """Return where each note is due by a robust line through the pairs around it."""
    import numpy

    predicted = guess.copy()
    paired = numpy.array([pair.expected for pair in pairs], numpy.intp)
    heard = onsets[[pair.heard for pair in pairs]] if pairs else numpy.empty(0)
    for piece in range(int(pieces.max()) + 1):
        own = pieces[paired] == piece
        rows = numpy.flatnonzero(pieces == piece)
        if own.sum() < 4 or not len(rows):
            continue
        at, sounded = due[paired[own]], heard[own]
        places = numpy.searchsorted(at, due[rows])
        width = min(2 * LOCAL_NOTES, len(at))
        low = numpy.clip(places - LOCAL_NOTES, 0, len(at) - width)
        near = low[:, None] + numpy.arange(width)
        predicted[rows] = _robust_values(at[near], sounded[near], due[rows])
    return predicted


def _robust_value(at: "Doubles", sounded: "Doubles", wanted: float) -> float:
    """Return the value at a place of a line from which far points are weighed away."""
    import numpy

    return float(_robust_values(at[None], sounded[None], numpy.array([wanted]))[0])


def _robust_values(at: "Doubles", sounded: "Doubles", wanted: "Doubles") -> "Doubles":
    """Return the same of many lines, a row of points each."""
    import numpy

    middle = at.mean(axis=1, keepdims=True)
    x = at - middle
    weights = numpy.ones_like(x)
    for _ in range(3):
        total = weights.sum(axis=1, keepdims=True)
        mean_x = (weights * x).sum(axis=1, keepdims=True) / total
        level = (weights * sounded).sum(axis=1, keepdims=True) / total
        spread = (weights * (x - mean_x) ** 2).sum(axis=1, keepdims=True)
        product = (weights * (x - mean_x) * sounded).sum(axis=1, keepdims=True)
        is_wide = spread > 1e-9
        slope = numpy.where(is_wide, product / numpy.where(is_wide, spread, 1.0), 1.0)
        level = level - slope * mean_x
        residual = numpy.abs(sounded - level - slope * x)
        usual = numpy.median(residual, axis=1, keepdims=True)
        scale = numpy.maximum(3.0 * 1.4826 * usual, 0.01)
        weights = numpy.clip(1 - (residual / scale) ** 2, 0.01, None) ** 2
    found: Doubles = level[:, 0] + slope[:, 0] * (wanted - middle[:, 0])
    return found


def _fitted_ratio(
    due: "Doubles",
    onsets: "Doubles",
    pairs: Sequence[Pair],
    pieces: "Places",
    guess: float,
) -> float:
    """Return how fast the take is against its reference, over all of it."""
    import numpy

    if len(pairs) < 4:
        return guess
    rows = numpy.array([pair.expected for pair in pairs])
    x, y, own = due[rows], onsets[[pair.heard for pair in pairs]], pieces[rows]
    for piece in set(own.tolist()):
        x = numpy.where(own == piece, x - x[own == piece].mean(), x)
        y = numpy.where(own == piece, y - y[own == piece].mean(), y)
    spread = float((x * x).sum())
    return spread / float((x * y).sum()) if spread > 0 else guess
