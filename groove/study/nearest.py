"""How far two bass cells are from each other, and which known ones come nearest to a line's."""

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from math import lcm

from msgspec import Struct

from groove.cells.model import Aim, AimKind, BassBar, BassCell
from groove.cells.tokens import token_text

SOUND, PITCHED, OTHER_DEGREE = 0.25, 0.5, 0.25
"""What sets two cells apart at a place in the bar: that something sounds there, that it has a
pitch, and which degree is asked for (common practice, no source).

So a ghost more or less is a quarter of a note more or less, and another degree a half.
"""
MOST_NEAREST = 3


class Near(Struct, frozen=True, kw_only=True):
    """A known cell near to another: its name, under which condition, and the distance a bar.

    ``more`` and ``less`` are the places, in beats from 1, where it strikes and the other does not
    and the other way round, ``other`` where it asks for another degree; each with its bar from 1.
    """

    name: str
    condition: str
    distance: float
    more: tuple[tuple[int, Fraction], ...]
    less: tuple[tuple[int, Fraction], ...]
    other: tuple[tuple[int, Fraction], ...]


_Weights = Mapping[tuple[Fraction, str], float]


def cell_distance(one: Sequence[BassBar], other: Sequence[BassBar]) -> float:
    """Return how far two cells are from each other, in plain notes a bar.

    Both are gone round until they end together, and the mean of their bars is taken, so that a
    cell is 0 from itself written twice.  Every place in a bar has weights (see ``SOUND``), whose
    differences are added; such a sum is a metric: 0 for the same strokes, the same in both
    directions, never longer than by way of a third cell.  Lengths and levels do not count.
    """
    if not one or not other:
        return 0.0 if one == other else float("inf")
    count = lcm(len(one), len(other))
    total = sum(
        _bar_distance(one[index % len(one)], other[index % len(other)]) for index in range(count)
    )
    return total / count


def _bar_distance(one: BassBar, other: BassBar) -> float:
    """Return the sum of what sets two bars apart."""
    first, second = _weights(one), _weights(other)
    return sum(abs(first.get(place, 0.0) - second.get(place, 0.0)) for place in {*first, *second})


def _weights(bar: BassBar) -> _Weights:
    """Return the weights of a bar by place and by what they stand for."""
    found: dict[tuple[Fraction, str], float] = {}
    for stroke in bar.strokes:
        at = stroke.start_beats
        found[at, "sound"] = SOUND
        if stroke.aim.kind is not AimKind.GHOST:
            found[at, "pitched"] = PITCHED
            found[at, f"degree {_asked(stroke.aim)}"] = OTHER_DEGREE
    return found


def _asked(aim: Aim) -> str:
    """Return what a stroke asks for; every approach to the next chord counts as one."""
    return "approach" if aim.kind is AimKind.NEXT else token_text(aim)


def nearest_cells(
    bars: Sequence[BassBar], meter: object, known: Mapping[str, BassCell]
) -> tuple[Near, ...]:
    """Return the known cells of a meter nearest to some bars, the nearest first."""
    found = [
        _near(bars, cell.name, condition, others)
        for cell in known.values()
        if cell.meter == meter
        for condition, others in (("", cell.bars), *cell.when)
        if others
    ]
    best: dict[str, Near] = {}
    for near in sorted(found, key=lambda near: (near.distance, near.condition)):
        best.setdefault(near.name, near)
    return tuple(best.values())[:MOST_NEAREST]


def _near(bars: Sequence[BassBar], name: str, condition: str, others: Sequence[BassBar]) -> Near:
    """Return how far a known cell is from some bars, and where they differ."""
    differences = list(_differences(bars, others))
    by_kind = {
        kind: tuple(place for found, place in differences if found == kind)
        for kind in ("more", "less", "other")
    }
    return Near(name=name, condition=condition, distance=cell_distance(bars, others), **by_kind)


def _differences(
    bars: Sequence[BassBar], others: Sequence[BassBar]
) -> Iterator[tuple[str, tuple[int, Fraction]]]:
    """Yield what a known cell has more, less and otherwise, and where."""
    for index in range(lcm(len(bars), len(others))):
        own = {s.start_beats: s.aim for s in bars[index % len(bars)].strokes}
        known = {s.start_beats: s.aim for s in others[index % len(others)].strokes}
        for at in sorted({*own, *known}):
            place = (index + 1, at + 1)
            if at not in own:
                yield "more", place
            elif at not in known:
                yield "less", place
            elif _asked(own[at]) != _asked(known[at]):
                yield "other", place
