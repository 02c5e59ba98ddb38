"""Which of a drummer's fills stands where: small inside a section, large before a chorus.

Common practice, no source.
"""

from collections.abc import Iterable, Mapping
from enum import IntEnum
from fractions import Fraction

from groove.arrange.draws import draw_for
from groove.arrange.plan import BarPlan, Plan
from groove.cells.model import DrumCell, DrumFill
from groove.events import SectionKind


class _FillSize(IntEnum):
    """How much of a bar a place in the form asks to fill."""

    SMALL = 0
    MIDDLE = 1
    LARGE = 2


_LONGEST_SHARE = {_FillSize.SMALL: Fraction(1, 4), _FillSize.MIDDLE: Fraction(1, 2)}
"""The share of a bar up to which a fill counts as small, and as middling."""


def choose_fills(plan: Plan, indices: Iterable[int]) -> Mapping[int, DrumFill]:
    """Return the fill of the drums in each of these bars that has a drummer with fills.

    Fills of a size come round in turn, so that none is heard again before the others; before the
    last of several choruses stands the longest.
    """
    chosen: dict[int, DrumFill] = {}
    counts = dict.fromkeys(_FillSize, 0)
    for index in sorted(indices):
        bar = plan.bars[index]
        if bar.drums is None or not bar.drums.fills:
            continue
        size = _size_at(plan, index)
        fills = _fills_of(bar.drums, size, bar)
        if size is _FillSize.LARGE and _is_last_chorus(plan.bars[index + 1]):
            chosen[index] = fills[-1]
        else:
            first = draw_for(bar.seed, "drums", f"fills {size}", "", 0, None).random()
            chosen[index] = fills[(int(first * len(fills)) + counts[size]) % len(fills)]
        counts[size] += 1
    return chosen


def _size_at(plan: Plan, index: int) -> _FillSize:
    """Return how large a fill a bar asks for."""
    bar = plan.bars[index].bar
    if not bar.is_section_end:
        return _FillSize.MIDDLE if bar.directions.fill else _FillSize.SMALL
    leads_to_chorus = bar.place.next_kind is SectionKind.CHORUS
    return _FillSize.LARGE if leads_to_chorus else _FillSize.MIDDLE


def _is_last_chorus(bar: BarPlan) -> bool:
    """Return whether a bar stands in the last of several choruses."""
    place = bar.bar.place
    return place.kind is SectionKind.CHORUS and place.kind_times > 1 and place.is_last_of_kind


def _fills_of(cell: DrumCell, size: _FillSize, bar: BarPlan) -> list[DrumFill]:
    """Return a cell's fills of a size that fit a bar, the longest last; the nearest where none is.

    A fill longer than its bar is played from its start, where a cell has no other.
    """
    pulses = bar.bar.meter.pulse_count
    every = sorted(cell.fills, key=lambda fill: fill.beats)
    fitting = [fill for fill in every if fill.beats <= pulses] or every[:1]
    own = [fill for fill in fitting if _size_of(fill, pulses) is size]
    if own:
        return own
    nearest = min(fitting, key=lambda fill: (abs(_size_of(fill, pulses) - size), -fill.beats))
    return [nearest]


def _size_of(fill: DrumFill, pulses: int) -> _FillSize:
    """Return the size of a fill in a bar of so many pulses."""
    share = fill.beats / pulses
    return next(
        (size for size, longest in _LONGEST_SHARE.items() if share <= longest), _FillSize.LARGE
    )
