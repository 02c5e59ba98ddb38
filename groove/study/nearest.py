"""How far two bass cells are from each other, and which known ones come nearest to a line's."""

from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction
from math import lcm

from msgspec import Struct

from groove.cells.model import Aim, AimKind, BassBar, BassCell
from groove.cells.tokens import token_text
from groove.timing import Meter

SOUND, PITCHED, OTHER_DEGREE = 0.25, 0.5, 0.25
"""What sets two cells apart at a place in the bar: that something sounds there, that it has a
pitch, and which degree is asked for (common practice, no source).

So a ghost more or less is a quarter of a note more or less, and another degree a half.
"""
MOST_NEAREST = 3
OTHER_TEMPO = 0.5
"""How much farther, in notes a bar, a feel is that is meant for another tempo (as above)."""


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


class NearFeel(Struct, frozen=True, kw_only=True):
    """A feel and how far a line is from its bass cell, in plain notes a bar in the mean.

    ``is_at_tempo`` says that the line is played as fast as the feel is meant for.
    """

    name: str
    distance: float
    is_at_tempo: bool


class _BarPlaces(Struct, frozen=True):
    """Where in a bar something sounds, where it has a pitch, and which degrees are asked for."""

    sounds: frozenset[float]
    pitched: frozenset[float]
    degrees: frozenset[tuple[float, str]]


def _mean_difference(one: Sequence[_BarPlaces], other: Sequence[_BarPlaces]) -> float:
    """Return how far two cells are from each other, in plain notes a bar.

    Both are gone round until they end together, and the mean of their bars is taken, so that a
    cell is 0 from itself written twice.  Every place in a bar has weights (see ``SOUND``), whose
    differences are added; such a sum is a metric: 0 for the same strokes, the same in both
    directions, never longer than by way of a third cell.  Lengths and levels do not count.
    """
    count = lcm(len(one), len(other))
    total = sum(
        _difference(one[index % len(one)], other[index % len(other)]) for index in range(count)
    )
    return total / count


def _difference(one: _BarPlaces, other: _BarPlaces) -> float:
    """Return the sum of what sets two bars apart: all that either has, without what both have."""
    return (
        SOUND * len(one.sounds ^ other.sounds)
        + PITCHED * len(one.pitched ^ other.pitched)
        + OTHER_DEGREE * len(one.degrees ^ other.degrees)
    )


def _places(bar: BassBar) -> _BarPlaces:
    """Return where a bar has what weighs."""
    aims = [(float(stroke.start_beats), stroke.aim) for stroke in bar.strokes]
    pitched = [(at, aim) for at, aim in aims if aim.kind is not AimKind.GHOST]
    return _BarPlaces(
        sounds=frozenset(at for at, _ in aims),
        pitched=frozenset(at for at, _ in pitched),
        degrees=frozenset((at, _step_word(aim)) for at, aim in pitched),
    )


def _step_word(aim: Aim) -> str:
    """Return what a stroke asks for; every approach to the next chord counts as one."""
    return "approach" if aim.kind is AimKind.NEXT else token_text(aim)


class KnownCells:
    """Cells that lines are held against, what sets them apart worked out once."""

    def __init__(self, cells: Iterable[BassCell]) -> None:
        """``cells`` with their bars under every condition."""
        self._known = [
            (cell.meter, cell.name, condition, bars, [_places(bar) for bar in bars])
            for cell in cells
            for condition, bars in (("", cell.bars), *cell.when)
            if bars
        ]

    def distances(self, bars: Sequence[BassBar], meter: Meter) -> dict[str, float]:
        """Return how far some bars are from each cell of their meter, under its best condition."""
        own = [_places(bar) for bar in bars]
        found: dict[str, float] = {}
        for known, name, _, _, places in self._known:
            if known == meter:
                distance = _mean_difference(own, places)
                found[name] = min(distance, found.get(name, distance))
        return found

    def nearest(self, bars: Sequence[BassBar], meter: Meter) -> tuple[Near, ...]:
        """Return the cells of a meter nearest to some bars, the nearest first, each once."""
        own = [_places(bar) for bar in bars]
        found = sorted(
            (_mean_difference(own, places), condition, name, index)
            for index, (known, name, condition, _, places) in enumerate(self._known)
            if known == meter
        )
        best: dict[str, Near] = {}
        for distance, condition, name, index in found:
            if name not in best and len(best) < MOST_NEAREST:
                differences = list(_differences(bars, self._known[index][3]))
                best[name] = Near(
                    name=name,
                    condition=condition,
                    distance=distance,
                    more=_of_kind("more", differences),
                    less=_of_kind("less", differences),
                    other=_of_kind("other", differences),
                )
        return tuple(best.values())


_Place = tuple[int, Fraction]


def _of_kind(kind: str, differences: Iterable[tuple[str, _Place]]) -> tuple[_Place, ...]:
    return tuple(place for found, place in differences if found == kind)


def _differences(
    bars: Sequence[BassBar], others: Sequence[BassBar]
) -> Iterator[tuple[str, _Place]]:
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
            elif _step_word(own[at]) != _step_word(known[at]):
                yield "other", place
