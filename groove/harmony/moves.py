"""How roots move, and the shortest way to say it.

A progression is told as its first root and then moves, each in semitones (mod 12).  Three things
can be said, each with its price: the first root costs 1; a single move costs 1; "this unit, k
times, each time shifted by s" costs 2 (the shift and the count) and what its unit costs.  A unit
may be a single root (a move made again and again) or hold repeats itself.  The description length
is the sum; listing the chords costs one a root.  The search is exact: every way to cut and to
repeat is compared, by a table over all runs of moves (dynamic programming).  Of equal lengths the
one with fewer repeats wins, so that nothing is called a repeat that saves nothing.
"""

from collections.abc import Sequence
from functools import lru_cache
from itertools import pairwise
from operator import add

from msgspec import Struct

LONGEST_SEARCH = 96
"""Longer rows of moves are searched in pieces of this many."""
REPEAT_COST = 2


class Repeat(Struct, frozen=True):
    """A unit of moves, made ``times`` times.

    Each begins ``shift`` semitones above the last root of the one before (0-11).  An empty unit is
    a single root.
    """

    unit: tuple["Term", ...]
    shift: int
    times: int


Term = int | Repeat
"""One move in semitones (0-11), or a repeat."""


class Description(Struct, frozen=True):
    """The shortest description of a progression: its first root (0-11) and its parts."""

    first: int
    parts: tuple[Term, ...]
    length: int
    listed_length: int

    @property
    def saved(self) -> int:
        """How much shorter it is than listing the roots."""
        return self.listed_length - self.length

    @property
    def turnaround(self) -> tuple[int, ...]:
        """The single moves after the last repeat, which break it; empty without a repeat."""
        last = max((i for i, part in enumerate(self.parts) if isinstance(part, Repeat)), default=-1)
        tail = self.parts[last + 1 :] if last >= 0 else ()
        return tuple(part for part in tail if isinstance(part, int))


def root_changes(roots: Sequence[int]) -> tuple[int, ...]:
    """Return roots with immediate repetitions left out."""
    return tuple(root for n, root in enumerate(roots) if n == 0 or root != roots[n - 1])


def describe(roots: Sequence[int]) -> Description:
    """Return the shortest description of a row of roots (0-11, at least one)."""
    moves = tuple((b - a) % 12 for a, b in pairwise(roots))
    parts: list[Term] = []
    cost = 1
    for start in range(0, len(moves), LONGEST_SEARCH):
        length, found = _shortest(moves[start : start + LONGEST_SEARCH])
        cost += length
        parts += found
    return Description(roots[0], tuple(parts), cost, len(roots))


def moves_of(parts: Sequence[Term]) -> tuple[int, ...]:
    """Return the single moves that parts stand for, in order."""
    moves: list[int] = []
    for part in parts:
        if isinstance(part, int):
            moves.append(part)
        else:
            unit = moves_of(part.unit)
            moves += [*unit, *((part.shift, *unit) * (part.times - 1))]
    return tuple(moves)


@lru_cache(maxsize=4096)
def _shortest(moves: tuple[int, ...]) -> tuple[int, tuple[Term, ...]]:
    """Return the least cost of a row of moves, and the parts that have it."""
    search = _Search(moves)
    return search.cost(0, len(moves)), search.parts(0, len(moves))


_COST = 1024
"""One of cost, in a number that counts repeats below it: of equal costs the fewer repeats win."""


class _Search:
    """The table of all runs of one row of moves, filled from short ones to long ones."""

    def __init__(self, moves: tuple[int, ...]) -> None:
        self.moves = moves
        count = len(moves)
        self.alike = self.alike_runs()
        # What runs cost, by where they start or end and by length; and how each is said: the kind,
        # and where it is cut.
        self.starting, self.ending = ([[0] for _ in range(count + 1)] for _ in range(2))
        self.ways = [[(0, 0)] for _ in range(count + 1)]
        for length in range(1, count + 1):
            for start in range(count - length + 1):
                cost, way = self.best(start, length)
                self.starting[start].append(cost)
                self.ending[start + length].append(cost)
                self.ways[start].append(way)

    def alike_runs(self) -> list[list[int]]:
        """Return for each start and distance how many moves from the start equal those further."""
        count = len(self.moves)
        runs = [[0] * (count + 2) for _ in range(count + 2)]
        for start in range(count - 1, -1, -1):
            for other in range(count - 1, start, -1):
                if self.moves[start] == self.moves[other]:
                    runs[start][other] = runs[start + 1][other + 1] + 1
        return runs

    def best(self, start: int, length: int) -> tuple[int, tuple[int, int]]:
        """Return the cheapest way to say a run: cut in two, or one repeat, or one move.

        All shorter runs are known.
        """
        if length == 1:
            return _COST, (0, 0)
        lefts = self.starting[start]
        sums = list(map(add, lefts[1:], self.ending[start + length][:0:-1]))
        least = min(sums)
        way = (1, sums.index(least) + 1)
        for period in range(1, (length + 1) // 2 + 1):
            if (length + 1) % period == 0 and self.has_period(start, length, period):
                cost = REPEAT_COST * _COST + 1 + lefts[period - 1]
                if cost < least:
                    least, way = cost, (2, period)
        return least, way

    def has_period(self, start: int, length: int, period: int) -> bool:
        """Return whether a run of moves equals itself a period later."""
        return self.alike[start][start + period] >= length - period

    def cost(self, start: int, length: int) -> int:
        return self.starting[start][length] // _COST

    def parts(self, start: int, length: int) -> tuple[Term, ...]:
        """Return the parts of the cheapest way to say a run."""
        if length == 0:
            return ()
        kind, where = self.ways[start][length]
        if kind == 0:
            return (self.moves[start],)
        if kind == 1:
            return self.parts(start, where) + self.parts(start + where, length - where)
        unit = self.parts(start, where - 1)
        return (Repeat(unit, self.moves[start + where - 1], (length + 1) // where),)
