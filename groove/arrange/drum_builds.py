"""Builds and endings: the snare in quarters, eighths and sixteenths, the roll of a last chord.

Common practice, no source.
"""

from collections.abc import Iterator, Sequence

from groove.arrange.drum_strokes import ON_FEET, STICK, Stroke, is_soft, without_doubles
from groove.arrange.plan import BarPlan, Plan
from groove.bar_place import BandWord
from groove.cells.model import DrumEnding
from groove.chart.model import Density

ACCENT_LEVEL, CRASH_LEVEL = 9, 8
_FIRST_LEVEL, _LAST_LEVEL = 4, 8
_SOFTER_BY = 3
_ROLL_LEVELS = (3, 6)
_BUILD_BARS = 4
"""How many bars of a longer build grow; what is before them is at the first level."""
_PRE_CHORUS_BARS = 2
"""In how many bars before a chorus the snare builds where no word asks for it."""


def with_build(strokes: Sequence[Stroke], plan: Plan, index: int) -> list[Stroke]:
    """Return a bar's strokes thickened: kick on every beat, the snare faster from bar to bar.

    In quarters, in the bar before the last in eighths, in the last one to sixteenths; a pre-chorus
    that no word asks to build does so in its last two bars.
    """
    bar = plan.bars[index]
    left = _bars_left(plan, index)
    if bar.bar.density is not Density.BUILD and left > _PRE_CHORUS_BARS:
        return list(strokes)
    snares = list(_snares(bar, index, left))
    struck = {snare.tick for snare in snares}
    # In a roll both hands are on the snare; before it the other one is on the time.
    hands = frozenset() if left == 1 else STICK
    kept = [s for s in strokes if s.tick not in struck or s.key in hands | ON_FEET | {"snare"}]
    if left == 1:
        kept = [s for s in kept if s.key not in STICK]
    kicks = [] if is_soft(bar) else list(_kicks(bar, index))
    return without_doubles([*kicks, *kept, *snares])


def _bars_left(plan: Plan, index: int) -> int:
    """Return how many bars a build still lasts, this one among them."""
    bar = plan.bars[index].bar
    end = index
    while end + 1 < len(plan.bars):
        after = plan.bars[end + 1]
        if after.bar.is_section_start or not after.builds or after.is_counted:
            break
        if after.bar.density is not bar.density:
            break
        end += 1
    return end - index + 1


def _kicks(bar: BarPlan, index: int) -> Iterator[Stroke]:
    """Yield a kick on every beat."""
    for tick in range(bar.start_tick, bar.end_tick, bar.bar.meter.pulse_ticks):
        yield Stroke(tick, index, "kick", ACCENT_LEVEL)


def _snares(bar: BarPlan, index: int, left: int) -> Iterator[Stroke]:
    """Yield the snare of a build of which so many bars are left, rising to its end."""
    length = bar.end_tick - bar.start_tick
    pulses = bar.bar.meter.pulse_count
    beat, eighths, sixteenths = _beat_steps(bar)
    if left > 2:
        steps = beat * pulses
    elif left == 2:
        steps = eighths * pulses
    else:
        steps = eighths * (pulses // 2) + sixteenths * (pulses - pulses // 2)
    start = max(0, _BUILD_BARS - left) / _BUILD_BARS
    tick = bar.start_tick
    for step in steps:
        share = start + (tick - bar.start_tick) / length / _BUILD_BARS
        level = _FIRST_LEVEL + round((_LAST_LEVEL - _FIRST_LEVEL) * share)
        yield Stroke(tick, index, "snare", max(1, level - _SOFTER_BY * is_soft(bar)))
        tick += step


def _beat_steps(bar: BarPlan) -> tuple[list[int], list[int], list[int]]:
    """Return a beat's quarters, eighths and sixteenths in ticks.

    Where the beat is in three, eighths are long and short and sixteenths are triplets; a dotted
    beat has three eighths.
    """
    pulse = bar.bar.meter.pulse_ticks
    if bar.bar.meter.is_compound:
        return [pulse], [pulse // 3] * 3, [pulse // 6] * 6
    if bar.in_triplets:
        return [pulse], [2 * pulse // 3, pulse // 3], [pulse // 3] * 3
    return [pulse], [pulse // 2] * 2, [pulse // 4] * 4


def held_strokes(bar: BarPlan, index: int) -> Iterator[Stroke]:
    """Yield what the drums play while the band holds or stops: beat 1, and a roll under an end."""
    start = bar.start_tick
    yield Stroke(start, index, "kick", ACCENT_LEVEL)
    is_hit = bar.bar.directions.has_hit
    if bar.word is BandWord.STOP and not (is_hit and bar.feel.crash):
        yield Stroke(start, index, "snare", CRASH_LEVEL)
        return
    yield Stroke(start, index, "ride" if is_soft(bar) else "crash", CRASH_LEVEL)
    if bar.is_last and not is_hit and bar.drums and bar.drums.ending is DrumEnding.ROLL:
        yield from _roll(bar, index)


def _roll(bar: BarPlan, index: int) -> Iterator[Stroke]:
    """Yield a roll that swells from beat 2 to a last hit on the last beat."""
    pulse = bar.bar.meter.pulse_ticks
    first, last = bar.start_tick + pulse, bar.end_tick - pulse
    step = pulse // (6 if bar.in_triplets else 4)
    if last <= first:
        return
    low, high = _ROLL_LEVELS
    for tick in range(first, last, step):
        yield Stroke(tick, index, "snare", low + (high - low) * (tick - first) // (last - first))
    yield Stroke(last, index, "kick", ACCENT_LEVEL)
    yield Stroke(last, index, "ride" if is_soft(bar) else "crash", CRASH_LEVEL)
