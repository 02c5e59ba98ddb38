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
    """The grips of one note and what each costs; equal grips of two notes are one value.

    ``has_open`` is whether one of them is an open string.
    """

    grips: tuple[Grip, ...]
    costs: list[float]
    has_open: bool


class Fingering(NamedTuple):
    """The cheapest grips and their cost; ``dead_end`` is the first note no hand gets to."""

    grips: tuple[Grip, ...]
    cost: float
    dead_end: int | None = None


@dataclass(slots=True)
class GripTables:
    """A hand's layers and pair costs already worked out, for one line or several."""

    hand: FrettingHand
    layers: dict[HandTask, _Layer] = field(default_factory=dict)
    grips: dict[tuple[Grip, ...], tuple[Grip, ...]] = field(default_factory=dict)
    pairs: dict[tuple[object, ...], list[list[float]]] = field(default_factory=dict)

    def layer(self, task: HandTask) -> _Layer:
        """Return the grips of a note, and what each costs."""
        layer = self.layers.get(task)
        if layer is None:
            own = tuple(self.hand.grips(task))
            grips = self.grips.setdefault(own, own)
            costs = [self.hand.grip_cost(task, grip) for grip in grips]
            layer = _Layer(grips, costs, any(grip.fret == 0 for grip in grips))
            self.layers[task] = layer
        return layer

    def pair(self, before: HandTask, task: HandTask, step: Transition) -> list[list[float]]:
        """Return for each new grip the costs from every old one."""
        olds, (news, _, has_open) = self.layer(before).grips, self.layer(task)
        # By identity: notes that differ in what no move asks for have their grips in common.
        # What comes after a note is asked of open strings alone.
        facts, open_haste = move_facts(before, task), step.open_haste if has_open else None
        key = (id(olds), id(news), step.same_run, step.haste, open_haste, facts)
        rows = self.pairs.get(key)
        if rows is None:
            cost: Callable[..., float] = self.hand.move_cost
            rows = [[cost(facts, old, new, step) for old in olds] for new in news]
            self.pairs[key] = rows
        return rows


def cheapest_grips(
    tables: GripTables, tasks: Sequence[HandTask], steps: Sequence[Transition]
) -> Fingering:
    """Return the cheapest grips for a line; of equal ones the first in the order of the grips.

    ``steps[i]`` leads to note ``i``; ``steps[0]`` is not read.
    """
    layers = [tables.layer(one) for one in tasks]
    path = cheapest_path(
        [layer.costs for layer in layers], lambda i: tables.pair(tasks[i - 1], tasks[i], steps[i])
    )
    grips = tuple(layer.grips[i] for layer, i in zip(layers, path.choices, strict=False))
    return Fingering(grips, path.cost, path.dead_end)
