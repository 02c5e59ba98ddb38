"""Bars that were left out or played once more: which they are, and how sure that is."""

from bisect import bisect_left
from collections.abc import Sequence
from typing import TYPE_CHECKING

from msgspec import Struct

from groove.take.heard import HeardNote
from groove.take.pairing import Pair
from groove.take.reference import TakeReference

if TYPE_CHECKING:
    from groove.arrays import Doubles, Places

HALF_A_TONE = 0.6
SAME_SEC = 0.06
"""An onset as near to where a note of a repeated bar would lie is that note."""
EXPLAINED_SEC = 0.08
"""The same where a line through the notes before or after a jump is drawn on."""
SIDE_NOTES = 24
"""How many notes on either side of a jump tell how it was played there."""
LEAST_SIDE = 4
SURELY_OTHER = 0.5
"""A pair that is worth less was heard at another pitch: an unknown one is worth more."""
OTHER_SHARE = 0.15
FEW_OTHERS, FEW_OTHERS_SHARE = 2, 0.25
"""More of other pitches among the last notes are no slips; of fewer than two, only among few."""


class TakeJump(Struct, frozen=True, kw_only=True):
    """The player left the order: from the expected note ``at`` on all comes later or earlier.

    ``bars`` is how many bars were played again (positive) or left out (negative), 0 for a pause
    or a slip that is no whole bar; ``shift_sec`` how much later it goes on.
    """

    at: int
    shift_sec: float
    bars: int


def jumped_bars(
    reference: TakeReference,
    heard: Sequence[HeardNote],
    jumps: Sequence[TakeJump],
    predicted_secs: Sequence[float],
) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Return the chart's bars that were left out, and those that were played once more."""
    left_out: list[int] = []
    again: list[int] = []
    for jump in jumps:
        indices = _bars_of_jump(reference, heard, jump, predicted_secs)
        numbers = [reference.bars[at].number for at in indices]
        if jump.bars < 0:
            left_out += numbers
        else:
            again += numbers
    return tuple(left_out), tuple(again)


def has_other_end(
    reference: TakeReference, pairs: Sequence[Pair], worth: "Doubles", jumps: Sequence[TakeJump]
) -> bool:
    """Return whether the end of a take may be bars from farther on.

    So it is where the last bars were not heard and as many before them had other pitches, by
    ``worth``: a player who left those out and ended the song sounds so.
    """
    if jumps or not pairs:
        return False
    bars = [reference.notes[pair.expected].bar for pair in pairs]
    unheard = len(reference.bars) - 1 - bars[-1]
    last = [
        worth[pair.expected, pair.heard]
        for pair in pairs[bisect_left(bars, bars[-1] - unheard + 1) :]
    ]
    others = sum(bool(each < SURELY_OTHER) for each in last)
    share = FEW_OTHERS_SHARE if others < FEW_OTHERS else OTHER_SHARE
    return others > share * len(last)


def _bars_of_jump(
    reference: TakeReference,
    heard: Sequence[HeardNote],
    jump: TakeJump,
    predicted_secs: Sequence[float],
) -> range:
    """Return the indices of the bars that were left out or played once more at a jump."""
    note = reference.notes[min(jump.at, len(reference.notes) - 1)]
    bar, inside = note.bar, note.sec - reference.bars[note.bar].start_sec
    # A note that leads into the next bar may be the first that is played on from there.
    length = reference.bars[bar].end_sec - reference.bars[bar].start_sec
    bar += inside > length / 2
    before = range(max(0, bar - abs(jump.bars)), bar)
    if jump.bars <= 0:
        return before
    after = range(bar, min(len(reference.bars), bar + jump.bars))
    sounded = [
        _sounded(reference, heard, predicted_secs, bars, move)
        for bars, move in ((after, -jump.shift_sec), (before, jump.shift_sec))
    ]
    return after if sounded[0] >= sounded[1] else before


def _sounded(
    reference: TakeReference,
    heard: Sequence[HeardNote],
    predicted_secs: Sequence[float],
    bars: range,
    move_sec: float,
) -> int:
    """Return how many notes of some bars were heard so much later than where they were paired."""
    secs = [note.sec for note in heard]
    count = 0
    for note, sec in zip(reference.notes, predicted_secs, strict=True):
        if note.bar not in bars:
            continue
        low, high = (bisect_left(secs, sec + move_sec + away) for away in (-SAME_SEC, SAME_SEC))
        count += any(
            each.pitch is None
            or min((abs(each.pitch - one) for one in note.pitches), default=0) < HALF_A_TONE
            for each in heard[low:high]
        )
    return count


def jump_margin(
    reference: TakeReference,
    heard: Sequence[HeardNote],
    worth: "Doubles",
    jumps: Sequence[TakeJump],
    predicted_secs: Sequence[float],
    pieces: "Places",
) -> float:
    """Return how many notes more the bars that are told at jumps explain than any others there.

    The others are as many bars that begin elsewhere; ``worth`` is what each pair (expected,
    heard) is worth by its pitches.  Infinite for a take without jumps of whole bars.
    """
    import numpy

    onsets = numpy.array([note.sec for note in heard])
    due = numpy.array([note.sec for note in reference.notes])
    predicted = numpy.array(predicted_secs)
    rows, least = numpy.arange(len(due)), float("inf")
    for number, jump in enumerate(jumps):
        if not jump.bars:
            continue
        told = _bars_of_jump(reference, heard, jump, predicted_secs)
        sides = (
            rows[(rows < jump.at) & (pieces == number)][-SIDE_NOTES:],
            rows[(rows >= jump.at) & (pieces == number + 1)][:SIDE_NOTES],
        )
        if not told or min(len(side) for side in sides) < LEAST_SIDE:
            return 0.0
        old, new = (
            _explained(
                numpy.polyval(numpy.polyfit(due[side], predicted[side], 1), due), onsets, worth
            )
            for side in sides
        )
        values = _values(reference, due, old, new, told, repeats=jump.bars > 0)
        others = [value for first, value in values.items() if first != told.start]
        least = min(least, values[told.start] - max(others, default=0.0))
    return least


def _values(
    reference: TakeReference,
    due: "Doubles",
    old: "Doubles",
    new: "Doubles",
    told: range,
    *,
    repeats: bool,
) -> dict[int, float]:
    """Return what is explained if as many bars as are told, from each bar on, were concerned.

    Of repeated bars notes count before and after the jump, of those left out neither.  What lies
    farther from the told ones than they are long, and four bars, is not looked at.
    """
    count, most = len(told), len(reference.bars)
    low, high = max(0, told.start - count - 4), min(most, told.stop + count + 4)
    starts = [*(bar.start_sec for bar in reference.bars), reference.bars[-1].end_sec]
    is_near = (due >= starts[low] - SAME_SEC) & (due < starts[high] - SAME_SEC)
    values = {}
    for first in range(low, high - count + 1):
        begins, ends = starts[first] - SAME_SEC, starts[first + count] - SAME_SEC
        last_old, first_new = (ends, begins) if repeats else (begins, ends)
        values[first] = float(
            old[is_near & (due < last_old)].sum() + new[is_near & (due >= first_new)].sum()
        )
    return values


def _explained(secs: "Doubles", onsets: "Doubles", worth: "Doubles") -> "Doubles":
    """Return what each note's nearest onset is worth, where it is near to these times."""
    import numpy

    at = nearest(onsets, secs)
    rows = numpy.arange(len(secs))
    found: Doubles = numpy.where(numpy.abs(onsets[at] - secs) < EXPLAINED_SEC, worth[rows, at], 0.0)
    return found


def nearest(onsets: "Doubles", secs: "Doubles") -> "Places":
    """Return the index of the onset that is nearest to each time."""
    import numpy

    after = numpy.clip(numpy.searchsorted(onsets, secs), 0, len(onsets) - 1)
    before = numpy.maximum(after - 1, 0)
    return numpy.where(abs(onsets[after] - secs) < abs(onsets[before] - secs), after, before)
