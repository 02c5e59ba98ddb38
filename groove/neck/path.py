"""The cheapest fingering of a line: one layer of grips a note, and the cheapest path over them.

What two notes have in common with two earlier ones is worked out once: grips a note, costs a pair
of notes.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from groove.neck.hand import FrettingHand, Grip, Transition, move_facts
from groove.neck.shapes import HandTask
from groove.search import cheapest_path


class _Layer(NamedTuple):
    """The grips of one note and what each costs; equal grips of two notes are one value."""

    grips: tuple[Grip, ...]
    costs: list[float]


class Fingering(NamedTuple):
    """The cheapest grips and their cost; ``dead_end`` is the first note no hand gets to."""

    grips: tuple[Grip, ...]
    cost: float
    dead_end: int | None = None


@dataclass(slots=True)
class _Tables:
    """Layers and pair costs already worked out."""

    hand: FrettingHand
    layers: dict[HandTask, _Layer] = field(default_factory=dict)
    grips: dict[tuple[Grip, ...], tuple[Grip, ...]] = field(default_factory=dict)
    pairs: dict[tuple[object, ...], list[list[float]]] = field(default_factory=dict)

    def layer(self, task: HandTask) -> _Layer:
        layer = self.layers.get(task)
        if layer is None:
            own = tuple(self.hand.grips(task))
            grips = self.grips.setdefault(own, own)
            layer = _Layer(grips, [self.hand.grip_cost(task, grip) for grip in grips])
            self.layers[task] = layer
        return layer

    def pair(self, before: HandTask, task: HandTask, step: Transition) -> list[list[float]]:
        """Return for each new grip the costs from every old one."""
        olds, news = self.layer(before).grips, self.layer(task).grips
        # By identity: notes that differ in what no move asks for have their grips in common.
        facts = move_facts(before, task)
        key = (id(olds), id(news), step, facts)
        rows = self.pairs.get(key)
        if rows is None:
            cost: Callable[..., float] = self.hand.move_cost
            rows = [[cost(facts, old, new, step) for old in olds] for new in news]
            self.pairs[key] = rows
        return rows


def cheapest_grips(
    hand: FrettingHand, tasks: Sequence[HandTask], steps: Sequence[Transition]
) -> Fingering:
    """Return the cheapest grips for a line; of equal ones the first in the order of the grips.

    ``steps[i]`` leads to note ``i``; ``steps[0]`` is not read.
    """
    tables = _Tables(hand)
    layers = [tables.layer(one) for one in tasks]
    path = cheapest_path(
        [layer.costs for layer in layers], lambda i: tables.pair(tasks[i - 1], tasks[i], steps[i])
    )
    grips = tuple(layer.grips[i] for layer, i in zip(layers, path.choices, strict=False))
    return Fingering(grips, path.cost, path.dead_end)
