"""Which heard onset is which expected note: the most pairs in order, then the least deviation.

A pair may not be farther apart than its window, and no two pairs cross.  For one window
throughout the number of pairs is the largest that there is even without order: two pairs that
cross can always be uncrossed without widening either.
"""

from collections.abc import Iterator, Sequence
from itertools import accumulate
from typing import TYPE_CHECKING

from msgspec import Struct

if TYPE_CHECKING:
    from groove.arrays import Doubles, Flags


class Pair(Struct, frozen=True):
    """An expected note and the onset that is taken for it, both by index."""

    expected: int
    heard: int


def pair_in_order(
    expected_secs: Sequence[float],
    heard_secs: Sequence[float],
    windows_sec: Sequence[float],
    penalties: "Doubles | None" = None,
) -> list[Pair]:
    """Return the most pairs in order, and of as many those with the least cost.

    Both rows rise.  ``windows_sec`` says for each expected note how far its onset may lie;
    ``penalties`` (expected, heard) are added to the distance, in seconds.
    """
    import numpy

    expected, heard = numpy.asarray(expected_secs, float), numpy.asarray(heard_secs, float)
    windows = numpy.asarray(windows_sec, float)
    # A hair more than the window, as a distance of just so much is meant to be within it.
    first = numpy.searchsorted(heard, expected - windows - 1e-9, "left")
    last = numpy.searchsorted(heard, expected + windows + 1e-9, "right")
    found: list[Pair] = []
    firsts, lasts = first.tolist(), last.tolist()
    for rows in _blocks(firsts, lasts):
        low, high = min(firsts[row] for row in rows), max(lasts[row] for row in rows)
        if len(rows) == high - low == 1:  # most notes of most takes
            if abs(expected_secs[rows[0]] - heard_secs[low]) <= windows_sec[rows[0]] + 1e-9:
                found.append(Pair(rows[0], low))
            continue
        costs = numpy.abs(expected[rows][:, None] - heard[None, low:high])
        is_near = costs <= windows[rows][:, None] + 1e-9
        if penalties is not None:
            costs = costs + penalties[rows, low:high]
        pairs = _best_chain(costs, is_near)
        found += [Pair(rows[row], low + column) for row, column in pairs]
    return found


def _blocks(first: Sequence[int], last: Sequence[int]) -> Iterator[list[int]]:
    """Yield the indices of expected notes that compete for onsets, block by block."""
    rows = [row for row, (low, high) in enumerate(zip(first, last, strict=True)) if low < high]
    # A wide window may reach back behind that of the note before it.
    from_here = list(accumulate((first[row] for row in reversed(rows)), min))[::-1]
    block: list[int] = []
    reached = 0
    for row, lowest in zip(rows, from_here, strict=True):
        if block and lowest >= reached:
            yield block
            block = []
        block.append(row)
        reached = max(reached, last[row])
    if block:
        yield block


def _best_chain(costs: "Doubles", is_near: "Flags") -> list[tuple[int, int]]:
    """Return the (row, column) of the longest chain that rises in both, of the least cost."""
    import numpy

    rows, columns = costs.shape
    # One pair more is worth more than whatever all costs together can come to.
    unit = 1.0 + float(costs[is_near].sum()) if is_near.any() else 1.0
    gains = numpy.where(is_near, unit - costs, -numpy.inf)
    best = numpy.zeros((rows + 1, columns + 1))
    for row in range(rows):
        paired = best[row, :-1] + gains[row]
        here = numpy.maximum(best[row, 1:], paired)
        best[row + 1, 1:] = numpy.maximum.accumulate(here)
    found = []
    row, column = rows, columns
    while row and column:
        value = best[row, column]
        if value == best[row - 1, column]:
            row -= 1
        elif value == best[row, column - 1]:
            column -= 1
        else:
            row, column = row - 1, column - 1
            found.append((row, column))
    return found[::-1]
