"""Which of a drummer's fills stands where: small inside a section, the longest before a chorus.

Common practice, no source.
"""

from collections.abc import Iterable, Mapping
from fractions import Fraction

from groove.arrange.arrangement import FillSize
from groove.arrange.draws import draw_for
from groove.arrange.drum_strokes import plays_time
from groove.arrange.plan import BarPlan, Plan
from groove.cells.model import DrumCell, DrumFill
from groove.chart.model import Fills

_SHARES = {
    FillSize.HALF_BEAT: (Fraction(0), Fraction(1, 6)),
    FillSize.BEAT: (Fraction(0), Fraction(1, 3)),
    FillSize.HALF_BAR: (Fraction(1, 6), Fraction(1, 2)),
    FillSize.BAR: (Fraction(1, 3), Fraction(1)),
}
"""More than which share of a bar, and up to which, a fill of a size takes."""


def choose_fills(
    plan: Plan, indices: Iterable[int], taken: Iterable[int]
) -> Mapping[int, DrumFill]:
    """Return the fill of the drums in each bar that has one.

    ``indices`` are the bars that they fill, ``taken`` those that the bass does.  Where the drums
    come back after bars without them, or thin ones, they have a pick-up as well.  Fills of a size
    come round in turn, from place to place and from time to time; before the last of several
    choruses stands the longest.
    """
    sections = list(dict.fromkeys(bar.bar.ref.section for bar in plan.bars))
    filled, left = frozenset(indices), frozenset(taken)
    chosen = {}
    for index, bar in enumerate(plan.bars[:-1]):
        after = plan.bars[index + 1]
        returns = index not in left and drums_return(plan, index)
        if index not in filled and not returns:
            continue
        cell = after.drums if returns else bar.drums
        if cell is not None and cell.fills:
            number = sections.index(bar.bar.ref.section)
            chosen[index] = _fill_at(plan, index, cell, number)
    return chosen


def drums_return(plan: Plan, index: int) -> bool:
    """Return whether the drums come back after a bar without them, a breakdown or stop-time."""
    if index + 1 >= len(plan.bars):
        return False
    bar, after = plan.bars[index], plan.bars[index + 1]
    if bar.bar.is_pickup or bar.bar.directions.fill is False or bar.fills is Fills.NONE:
        return False
    if bar.arrangement.has_stop_time:
        return plays_time(after)
    if bar.is_counted or not plays_time(after) or after.is_thin:
        return False
    was_out = bar.drums is None or not bar.drums.bars
    return was_out or (bar.is_thin and bar.bar.is_section_end)


def _fill_at(plan: Plan, index: int, cell: DrumCell, section_number: int) -> DrumFill:
    """Return which of a cell's fills stands in a bar."""
    bar, after = plan.bars[index], plan.bars[index + 1]
    fills = _fills_of(cell, _size_at(bar), bar)
    if after.arrangement.place.is_last_chorus and after.bar.is_section_start:
        return fills[-1]
    if bar.arrangement.fill is FillSize.BAR and len(fills) > 1:
        fills = fills[:-1]
    draw = draw_for(bar.seed, "drums", "fills", "", 0, None)
    if bar.arrangement.fill is FillSize.BAR:
        turn = after.arrangement.place.kind_time
    else:
        phrase = bar.bar.ref.bar_in_section // bar.feel.phrase_bars
        turn = section_number + phrase + (bar.arrangement.draw_time or 1)
    return fills[(int(draw.random() * len(fills)) + turn) % len(fills)]


def _size_at(bar: BarPlan) -> FillSize:
    """Return how large a fill a bar asks for; a pick-up in a bar that plans none is a beat."""
    return bar.arrangement.fill or FillSize.BEAT


def _fills_of(cell: DrumCell, size: FillSize, bar: BarPlan) -> list[DrumFill]:
    """Return a cell's fills of a size in a bar, the longest last; the nearest where none is."""
    pulses = bar.bar.meter.pulse_count
    above, most = _SHARES[size]
    every = sorted(cell.fills, key=lambda fill: fill.beats)
    own = [fill for fill in every if above < fill.beats / pulses <= most]
    if own:
        return own
    fitting = [fill for fill in every if fill.beats / pulses <= most]
    return fitting[-1:] or every[:1]
