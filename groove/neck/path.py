"""The cheapest fingering of a line: one layer of grips a note, and the cheapest path over them.

What two notes have in common with two earlier ones is worked out once: grips a note, costs a pair
of notes, and the stage of the search from one to the other.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import groupby, pairwise
from typing import NamedTuple

from groove.neck.hand import FrettingHand, Grip, MoveFacts, Transition, move_facts
from groove.neck.shapes import HandTask
from groove.search import Costs, KnownStages, Moves, Stage, exact

_Rows = list[list[float]]


@dataclass(eq=False, slots=True)
class _Layer:
    """The grips of one note and what each costs; equal grips of two notes are one value.

    ``has_open`` is whether one of them is an open string.
    """

    task: HandTask
    grips: tuple[Grip, ...]
    costs: Costs
    has_open: bool
    stages: dict[tuple["_Layer", Transition], Stage] = field(default_factory=dict)
    """The stages of the search that lead here, by where they come from."""


class Fingering(NamedTuple):
    """The cheapest grips and their cost; ``dead_end`` is the first note no hand gets to."""

    grips: tuple[Grip, ...]
    cost: float
    dead_end: int | None = None


@dataclass(slots=True)
class GripTables:
    """A hand's layers, pair costs and stages already worked out, for one line or several."""

    hand: FrettingHand
    stages: KnownStages = field(default_factory=KnownStages)
    _layers: dict[HandTask, _Layer] = field(default_factory=dict)
    _grips: dict[tuple[Grip, ...], tuple[Grip, ...]] = field(default_factory=dict)
    _pairs: dict[tuple[object, ...], _Rows] = field(default_factory=dict)
    _travels: dict[tuple[int, bool, int], list[float]] = field(default_factory=dict)

    def layer(self, task: HandTask) -> _Layer:
        """Return the grips of a note, and what each costs."""
        layer = self._layers.get(task)
        if layer is None:
            own = tuple(self.hand.grips(task))
            grips = self._grips.setdefault(own, own)
            costs = [exact(self.hand.grip_cost(task, grip)) for grip in grips]
            layer = _Layer(task, grips, costs, any(grip.fret == 0 for grip in grips))
            self._layers[task] = layer
        return layer

    def stage(self, before: _Layer, layer: _Layer, step: Transition) -> Stage:
        """Return the stage of the search from one note's grips to the next one's."""
        key = (before, step)
        stage = layer.stages.get(key)
        if stage is None:
            stage = layer.stages[key] = Stage(self._moves(before, layer, step), layer.costs)
        return stage

    def _moves(self, before: _Layer, layer: _Layer, step: Transition) -> Moves:
        """Return for each new grip the costs from every old one."""
        olds, news = before.grips, layer.grips
        # By identity: notes that differ in what no move asks for have their grips in common.
        # What comes after a note is asked of open strings alone.
        facts = move_facts(before.task, layer.task)
        open_haste = step.open_haste if layer.has_open else None
        key = (id(olds), id(news), step.same_run, step.haste, open_haste, facts)
        rows = self._pairs.get(key)
        if rows is None:
            rows = self._pairs[key] = self._price(facts, olds, news, step)
        return rows

    def _price(
        self, facts: MoveFacts, olds: Sequence[Grip], news: Sequence[Grip], step: Transition
    ) -> _Rows:
        """Return what every move costs: the hand's way, and what changes besides.

        Grips that differ by their position alone (those of an open string, some of the little
        finger) have their change in common, whether the hand stays or goes.
        """
        starts = [[(old, old.position, _hold(old)) for old in at] for at in _by_place(olds)]
        staying: dict[_Hold, dict[_Hold, float]] = {}
        going: dict[_Hold, dict[_Hold, float]] = {}
        rows: _Rows = []
        for end in _by_place(news):
            across = [(self.hand.across_cost(facts, old[0][0], end[0]), old) for old in starts]
            for new in end:
                here, hold = new.position, _hold(new)
                stays, goes = staying.setdefault(hold, {}), going.setdefault(hold, {})
                travels = self._travel_to(here, step.haste_to(new), is_written=facts.is_written)
                row = []
                for apart, start in across:
                    for old, there, before in start:
                        changes = stays if there == here else goes
                        change = changes.get(before)
                        if change is None:
                            fingers = self.hand.fingers_cost(facts.touch, old, new, step)
                            change = changes[before] = exact(apart + fingers)
                        row.append(travels[there] + change)
                rows.append(row)
        return rows

    def _travel_to(self, position: int, haste: int, *, is_written: bool) -> list[float]:
        """Return what the hand's way to a position costs, by the position from which it comes."""
        key = (position, is_written, haste)
        travels = self._travels.get(key)
        if travels is None:
            travels = [
                exact(self.hand.travel_cost(old, position, haste, is_written=is_written))
                for old in range(self.hand.options.fret_count + 1)
            ]
            self._travels[key] = travels
        return travels


def _by_place(grips: Iterable[Grip]) -> list[list[Grip]]:
    """Return the grips of each string and fret, which stand beside each other."""
    return [list(place) for _, place in groupby(grips, key=lambda grip: (grip.string, grip.fret))]


_Hold = tuple[int, int, int, int]


def _hold(grip: Grip) -> _Hold:
    """Return all of a grip but the hand's position."""
    return grip.string, grip.fret, grip.finger, grip.root_string


def cheapest_grips(
    tables: GripTables, tasks: Sequence[HandTask], steps: Sequence[Transition]
) -> Fingering:
    """Return the cheapest grips for a line; of equal ones the first in the order of the grips.

    ``steps[i]`` leads to note ``i``; ``steps[0]`` is not read.
    """
    layers = [tables.layer(task) for task in tasks]
    if not layers:
        return Fingering((), 0.0)
    path = tables.stages.cheapest_path(
        layers[0].costs,
        [
            tables.stage(before, layer, step)
            for (before, layer), step in zip(pairwise(layers), steps[1:], strict=False)
        ],
    )
    grips = tuple([layer.grips[i] for layer, i in zip(layers, path.choices, strict=False)])
    return Fingering(grips, path.cost, path.dead_end)
