"""What is in force in each bar of a section: dynamics, feel and density, by what was said last."""

from collections.abc import Iterator, Sequence
from fractions import Fraction

from msgspec import Struct

from groove.chart.model import Density, Directions, Dynamics, Loudness, Named, Swell

LOUDNESSES = tuple(Loudness)
"""Dynamics from the softest on, so that places tell which of two is louder."""
USUAL = Fraction(LOUDNESSES.index(Loudness.MF))


class InForce(Struct, frozen=True, kw_only=True):
    """What holds in a bar: ``level`` counts dynamics from pp (0) to ff (5), None for not said."""

    level: Fraction | None = None
    feel: Named | None = None
    density: Density | None = None


def in_force(dynamics: Dynamics | None, bars: Sequence[Directions]) -> Iterator[InForce]:
    """Yield what holds in each bar of one time through a section."""
    feel: Named | None = None
    density: Density | None = None
    for level, bar in zip(levels(dynamics, bars), bars, strict=True):
        feel = bar.feel or feel
        density = bar.density or density
        yield InForce(level=level, feel=feel, density=density)


def levels(dynamics: Dynamics | None, bars: Sequence[Directions]) -> list[Fraction | None]:
    """Return the dynamic of each bar, between two where it moves.

    A swell leads to the next dynamic, else a step by the bar before the next swell or the end.
    """
    found = list(section_levels(dynamics, len(bars)))
    current: Fraction | None = None
    index = 0
    while index < len(bars):
        bar = bars[index]
        current = Fraction(LOUDNESSES.index(bar.dynamic)) if bar.dynamic else current
        end = index + 1
        if bar.swell:
            end = next_mark(bars, index)
            now = next((n for n in (current, found[index]) if n is not None), USUAL)
            goal, last = _swell_goal(bar.swell, now, bars, end)
            for place in range(index, end):
                share = Fraction(place - index, last - index) if last > index else Fraction(0)
                found[place] = now + (goal - now) * share
            current = goal
        elif current is not None:
            found[index] = current
        index = end
    return found


def next_mark(bars: Sequence[Directions], index: int) -> int:
    """Return the next bar with a dynamic or a swell, or how many bars there are."""
    marks = (n for n in range(index + 1, len(bars)) if bars[n].dynamic or bars[n].swell)
    return next(marks, len(bars))


def _swell_goal(
    swell: Swell, now: Fraction, bars: Sequence[Directions], end: int
) -> tuple[Fraction, int]:
    """Return the level that a swell leads to, and the bar in which it is reached."""
    goal = bars[end].dynamic if end < len(bars) else None
    if goal:
        return Fraction(LOUDNESSES.index(goal)), end
    step = 1 if swell is Swell.CRESCENDO else -1
    return max(Fraction(0), min(Fraction(len(LOUDNESSES) - 1), now + step)), end - 1


def section_levels(dynamics: Dynamics | None, count: int) -> Iterator[Fraction | None]:
    """Yield the level of each bar by the section's setting alone."""
    for index in range(count):
        if dynamics is None:
            yield None
            continue
        start = Fraction(LOUDNESSES.index(dynamics.level))
        end = Fraction(LOUDNESSES.index(dynamics.end)) if dynamics.end else start
        yield start + (end - start) * Fraction(index, max(1, count - 1))
