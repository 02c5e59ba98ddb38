"""The cheapest fingering of a line: one layer of grips a note, and the cheapest path over them.

What two notes have in common with two earlier ones is worked out once: grips a note, costs a pair
of notes.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from groove.neck.hand import FrettingHand, Grip, Transition
from groove.neck.shapes import HandTask
from groove.search import cheapest_path


class _Layer(NamedTuple):
    """The grips of one note and what each costs."""

    grips: list[Grip]
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
    pairs: dict[tuple[HandTask, HandTask, Transition], list[list[float]]] = field(
        default_factory=dict
    )

    def layer(self, asked: HandTask) -> _Layer:
        layer = self.layers.get(asked)
        if layer is None:
            grips = self.hand.grips(asked)
            layer = _Layer(grips, [self.hand.grip_cost(asked, grip) for grip in grips])
            self.layers[asked] = layer
        return layer

    def pair(self, before: HandTask, asked: HandTask, step: Transition) -> list[list[float]]:
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


def cheapest_grips(
    hand: FrettingHand, asked: Sequence[HandTask], steps: Sequence[Transition]
) -> Fingering:
    """Return the cheapest grips for a line; of equal ones the first in the order of the grips.

    ``steps[i]`` leads to note ``i``; ``steps[0]`` is not read.
    """
    tables = _Tables(hand)
    layers = [tables.layer(one) for one in asked]
    path = cheapest_path(
        [layer.costs for layer in layers], lambda i: tables.pair(asked[i - 1], asked[i], steps[i])
    )
    grips = tuple(layer.grips[i] for layer, i in zip(layers, path.choices, strict=False))
    return Fingering(grips, path.cost, path.dead_end)
