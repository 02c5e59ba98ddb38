"""Which of a drummer's fills stands where: small inside a section, the longest before a chorus.

Common practice, no source.
"""

from collections import Counter
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
    FillSize.BAR: (Fraction(3, 8), Fraction(1)),
}
"""More than which share of a bar, and up to which, a fill of a size takes."""
_Fills = dict[tuple[str, int, FillSize, bool], DrumFill]
"""Fills by section, bar, size, and whether the drums come back there."""


def choose_fills(
    plan: Plan, indices: Iterable[int], left_over: Iterable[int]
) -> Mapping[int, DrumFill]:
    """Return the fill of the drums in each bar that has one.

    ``indices`` are the bars that they fill by plan, ``left_over`` those that they have because the
    bass found nothing to play there.  A fill is heard again after the others of its size that were
    heard less, and the longest stands before the last of several choruses.  The first time through
    is chosen first, so that it is the same whatever comes later.
    """
    found = sorted(indices)
    firsts = [index for index in found if plan.bars[index].arrangement.draw_time is None]
    laters = [index for index in found if plan.bars[index].arrangement.draw_time is not None]
    # By identity: hashing a fill's fractions costs more than choosing it.
    counts: Counter[int] = Counter()
    chosen: dict[int, DrumFill] = {}
    known: _Fills = {}
    for index in (*firsts, *laters):
        fill = _fill_at(plan, index, counts, known)
        if fill:
            chosen[index] = fill
            counts[id(fill)] += 1
    # What the bass leaves depends on the chords, and moves no other bar's fill.
    for index in left_over:
        own: _Fills = {}
        fill = _fill_at(plan, index, Counter(), own)
        if plan.bars[index].arrangement.draw_time is not None:
            fill = _fill_at(plan, index, Counter(), own)
        if fill:
            chosen[index] = fill
    return chosen


def _fill_at(
    plan: Plan,
    index: int,
    counts: Counter[int],
    known: _Fills,
) -> DrumFill | None:
    """Return which fill stands in a bar; ``known`` are those of the first times through."""
    bar, after = plan.bars[index], plan.bars[index + 1]
    returns = drums_return(plan, index)
    cell = after.drums if returns else bar.drums
    if cell is None or not cell.fills:
        return None
    # A pick-up in a bar that plans no fill is a beat.
    size = bar.arrangement.fill or FillSize.BEAT
    is_longest = after.arrangement.place.is_last_chorus and after.bar.is_section_start
    fills = _fills_of(cell, size, bar)
    if is_longest:
        return fills[-1]
    if size is FillSize.BAR and len(fills) > 1:
        fills = fills[:-1]
    ref = bar.bar.ref
    place = (bar.bar.stem, ref.bar_in_section, size, returns)
    if bar.arrangement.draw_time is None and place in known:
        return known[place]
    first = known.get(place)
    fresh = [fill for fill in fills if fill is not first] or fills
    draw = draw_for(bar.seed, "drums", "fill", bar.bar.stem, ref.bar_in_section, None)
    start = int(draw.random() * len(fresh))
    turned = [*fresh[start:], *fresh[:start]]
    if size is not FillSize.BAR:
        # What may lead into a chorus is kept for it, as long as there is another.
        leading = {id(fill) for fill in _fills_of(cell, FillSize.BAR, bar)}
        turned.sort(key=lambda fill: id(fill) in leading)
    found = min(turned, key=lambda fill: counts[id(fill)])
    known.setdefault(place, found)
    return found


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
    return not bar.has_drummer or (bar.is_thin and bar.bar.is_section_end)


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
