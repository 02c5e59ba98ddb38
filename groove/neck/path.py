"""The cheapest way through a line: one layer of grips a note, and the cheapest path over them.

Exact dynamic programming over layers (S. Sayegh, Computer Music Journal 13(3), 1989; the
algorithm is Viterbi's).  The time is linear in the number of notes.  What two notes have in
common with two earlier ones is worked out once: grips a note, costs a pair of notes.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from math import inf
from operator import add
from typing import NamedTuple

from groove.neck.hand import Grip, Hand, Step
from groove.neck.shapes import Asked


class Layer(NamedTuple):
    """The grips of one note and what each costs."""

    grips: list[Grip]
    costs: list[float]


class Path(NamedTuple):
    """The cheapest grips and their cost; ``dead_end`` is the first note no hand gets to."""

    grips: tuple[Grip, ...]
    cost: float
    dead_end: int | None = None


@dataclass(slots=True)
class _Tables:
    """Layers and pair costs already worked out."""

    hand: Hand
    layers: dict[Asked, Layer] = field(default_factory=dict)
    pairs: dict[tuple[Asked, Asked, Step], list[list[float]]] = field(default_factory=dict)

    def layer(self, asked: Asked) -> Layer:
        layer = self.layers.get(asked)
        if layer is None:
            grips = self.hand.grips(asked)
            layer = Layer(grips, [self.hand.grip_cost(asked, grip) for grip in grips])
            self.layers[asked] = layer
        return layer

    def pair(self, before: Asked, asked: Asked, step: Step) -> list[list[float]]:
        """Return for each new grip the costs from every old one."""
        key = (before, asked, step)
        rows = self.pairs.get(key)
        if rows is None:
            cost: Callable[..., float] = self.hand.move_cost
            old_grips = self.layer(before).grips
            rows = [
                [cost(before, old, asked, new, step) for old in old_grips]
                for new in self.layer(asked).grips
            ]
            self.pairs[key] = rows
        return rows


def line_cost(
    hand: Hand, asked: Sequence[Asked], steps: Sequence[Step], grips: Sequence[Grip]
) -> float:
    """Return what a whole line costs with the given grips; ``steps[0]`` is not read."""
    cost = sum(map(hand.grip_cost, asked, grips))
    for i in range(1, len(asked)):
        cost += hand.move_cost(asked[i - 1], grips[i - 1], asked[i], grips[i], steps[i])
    return cost


def cheapest_path(hand: Hand, asked: Sequence[Asked], steps: Sequence[Step]) -> Path:
    """Return the cheapest grips for a line; of equal ones the first in the order of the grips.

    ``steps[i]`` leads to note ``i``; ``steps[0]`` is not read.
    """
    if not asked:
        return Path((), 0.0)
    tables = _Tables(hand)
    totals = list(tables.layer(asked[0]).costs)
    came_from: list[list[int]] = []
    for i in range(len(asked)):
        if i:
            rows = tables.pair(asked[i - 1], asked[i], steps[i])
            totals, backs = _advance(totals, rows, tables.layer(asked[i]).costs)
            came_from.append(backs)
        if min(totals, default=inf) == inf:
            return Path((), inf, dead_end=i)
    return _walked_back([tables.layer(one).grips for one in asked], totals, came_from)


def _advance(
    totals: list[float], rows: list[list[float]], costs: list[float]
) -> tuple[list[float], list[int]]:
    """Return the cheapest totals of the next layer, and where each came from."""
    new_totals, backs = [], []
    for row, cost in zip(rows, costs, strict=True):
        sums = list(map(add, totals, row))
        best = min(sums)
        backs.append(sums.index(best))
        new_totals.append(best + cost)
    return new_totals, backs


def _walked_back(layers: list[list[Grip]], totals: list[float], came_from: list[list[int]]) -> Path:
    cost = min(totals)
    index = totals.index(cost)
    chosen = [layers[-1][index]]
    for grips, backs in zip(reversed(layers[:-1]), reversed(came_from), strict=True):
        index = backs[index]
        chosen.append(grips[index])
    return Path(tuple(reversed(chosen)), cost)
