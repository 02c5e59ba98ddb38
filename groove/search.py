"""The cheapest path through layers of choices: one choice a layer, a cost for each and each move.

Exact dynamic programming over layers (S. Sayegh, Computer Music Journal 13(3), 1989; the algorithm
is Viterbi's), linear in the number of layers.  Fingering, plucking, voicings and the bass line all
ask for it.
"""

from collections.abc import Callable, Sequence
from math import inf
from operator import add
from typing import NamedTuple

from msgspec import Struct, field

Costs = Sequence[float]
Moves = Sequence[Costs]
"""For each choice of a layer the costs of the moves to it, one for each choice of the layer before.

``inf`` is a move that cannot be made.
"""
TIE = 1e-9
"""Costs closer than this are equal: sums of floats taken in another order."""
_GRAIN = 1.5 * 2.0**16
"""A number whose neighbours are 2**-36 apart."""


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
    return Path(_choices(totals.index(cost), came_from), cost)


def exact(cost: float) -> float:
    """Return a cost as the nearest multiple of 2**-36 (cost below 10,000, or ``inf``).

    Sums of such costs are exact in whatever order, so that equal ones are equal.
    """
    return (cost + _GRAIN) - _GRAIN


class Stage(Struct, eq=False):
    """The moves to a layer and the costs of its choices; one is known by its identity."""

    moves: Moves
    costs: Costs


class _State(Struct, eq=False):
    """What the paths to each choice of a layer cost above the cheapest, and what follows."""

    above: tuple[float, ...]
    after: dict[Stage, tuple["_State", float, list[int]]] = field(default_factory=dict)


class KnownStages(Struct, eq=False):
    """The stages of searches that were made, for lines in which the same stages come again.

    From layers that cost the same above their cheapest choice a stage leads to the same, wherever
    it stands: a bar that comes again is looked up.  That asks for ``exact`` costs.
    """

    _states: dict[tuple[float, ...], _State] = field(default_factory=dict)

    def cheapest_path(self, first: Costs, stages: Sequence[Stage]) -> Path:
        """Return the cheapest path from a first layer, as ``cheapest_path`` does."""
        cost = min(first, default=inf)
        if cost == inf:
            return Path((), inf, dead_end=0)
        state = self._state(first, cost)
        came_from: list[list[int]] = []
        for stage in stages:
            taken = state.after.get(stage)
            if taken is None:
                taken = self._take(state, stage)
                if taken is None:
                    return Path((), inf, dead_end=len(came_from) + 1)
                state.after[stage] = taken
            state, more, backs = taken
            cost += more
            came_from.append(backs)
        return Path(_choices(state.above.index(0.0), came_from), cost)

    def _take(self, state: _State, stage: Stage) -> tuple[_State, float, list[int]] | None:
        """Return the state after a stage, its cost and where each choice came from."""
        totals, backs = _advance(state.above, stage.moves, stage.costs)
        least = min(totals, default=inf)
        return None if least == inf else (self._state(totals, least), least, backs)

    def _state(self, totals: Costs, least: float) -> _State:
        above = tuple([total - least for total in totals])
        return self._states.setdefault(above, _State(above))


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


def _choices(last: int, came_from: Sequence[Sequence[int]]) -> tuple[int, ...]:
    """Return the choices that lead to the last one."""
    choices = [last]
    for backs in reversed(came_from):
        last = backs[last]
        choices.append(last)
    return tuple(reversed(choices))


def _advance(totals: Costs, rows: Moves, costs: Costs) -> tuple[list[float], list[int]]:
    """Return the cheapest totals of the next layer, and where each came from."""
    new_totals, backs = [], []
    for row, cost in zip(rows, costs, strict=True):
        sums = list(map(add, totals, row))
        best = min(sums)
        backs.append(sums.index(best))
        new_totals.append(best + cost)
    return new_totals, backs
