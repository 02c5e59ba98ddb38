"""The cheapest path through layers of choices: one choice a layer, a cost for each and each move.

Exact dynamic programming over layers (S. Sayegh, Computer Music Journal 13(3), 1989; the algorithm
is Viterbi's), linear in the number of layers.  Fingering, plucking, voicings and the bass line all
ask for it.
"""

from collections.abc import Callable, Sequence
from math import inf
from operator import add
from typing import NamedTuple

Costs = Sequence[float]
Moves = Sequence[Costs]
"""For each choice of a layer the costs of the moves to it, one for each choice of the layer before.

``inf`` is a move that cannot be made.
"""
TIE = 1e-9
"""Costs closer than this are equal: sums of floats taken in another order."""


class Path(NamedTuple):
    """The number of the choice taken in each layer, and what it all costs.

    ``dead_end`` is the first layer that no path gets to; then there are no choices.
    """

    choices: tuple[int, ...]
    cost: float
    dead_end: int | None = None


def cheapest_path(layers: Sequence[Costs], moves: Callable[[int], Moves]) -> Path:
    """Return the cheapest path; of equal ones that which takes the first choices.

    ``layers`` are the choices' own costs, ``moves(i)`` the costs of moving from layer i - 1 to
    layer i (i >= 1).
    """
    if not layers:
        return Path((), 0.0)
    totals = layers[0]
    came_from: list[list[int]] = []
    for i, costs in enumerate(layers):
        if i:
            totals, backs = _advance(totals, moves(i), costs)
            came_from.append(backs)
        if min(totals, default=inf) == inf:
            return Path((), inf, dead_end=i)
    cost = min(totals)
    choice = totals.index(cost)
    choices = [choice]
    for backs in reversed(came_from):
        choice = backs[choice]
        choices.append(choice)
    return Path(tuple(reversed(choices)), cost)


def near_paths(
    layers: Sequence[Costs], moves: Callable[[int], Moves], slack: float, most: int
) -> list[Path]:
    """Return the paths that cost at most ``slack`` more than the cheapest, ``most`` at most.

    In the order of their last choices; none where no path gets to the end.
    """
    tables: list[Moves] = [(), *(moves(i) for i in range(1, len(layers)))]
    totals = [layers[0]]
    for rows, costs in zip(tables[1:], layers[1:], strict=True):
        totals.append(_advance(totals[-1], rows, costs)[0])
    bound = min(totals[-1], default=inf) + slack + TIE
    found: list[Path] = []
    # Depth first from the end: a way is left where even its cheapest beginning costs too much.
    open_paths: list[tuple[tuple[int, ...], float]] = []
    if bound < inf:
        open_paths += [((choice,), 0.0) for choice in reversed(range(len(layers[-1])))]
    while open_paths and len(found) < most:
        choices, after = open_paths.pop()
        i, choice = len(layers) - len(choices), choices[0]
        if totals[i][choice] + after > bound:
            continue
        if i == 0:
            found.append(Path(choices, layers[0][choice] + after))
            continue
        after += layers[i][choice]
        row = tables[i][choice]
        open_paths += [
            ((before, *choices), after + row[before]) for before in reversed(range(len(row)))
        ]
    return found


def _advance(totals: Costs, rows: Moves, costs: Costs) -> tuple[list[float], list[int]]:
    """Return the cheapest totals of the next layer, and where each came from."""
    new_totals, backs = [], []
    for row, cost in zip(rows, costs, strict=True):
        sums = list(map(add, totals, row))
        best = min(sums)
        backs.append(sums.index(best))
        new_totals.append(best + cost)
    return new_totals, backs
