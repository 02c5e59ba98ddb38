"""The drum part: the feel's cell, crashes, fills, and words to the band.

One stick is on hat or ride at a time: where the crash or a fill comes, the time-keeping hand stops
(common practice, no source).
"""

from collections.abc import Iterable, Iterator, Sequence

from groove.arrange.drum_fills import choose_fills
from groove.arrange.drum_pushes import is_soft, with_struck_pushes
from groove.arrange.drum_strokes import ON_FEET, STICK, Stroke
from groove.arrange.hits import hit_ticks
from groove.arrange.levels import level_velocity
from groove.arrange.plan import BarPlan, Plan
from groove.arrange.rhythm import Grid
from groove.arrange.spans import Span
from groove.cells.conditions import bar_of
from groove.cells.model import DrumCell, DrumFill, DrumStroke
from groove.chart.model import Density
from groove.events import BandWord, Note, Origin, Part, Role
from groove.theory.general_midi import DRUM_KEYS
from groove.timing import TICKS_PER_QUARTER, Meter

STROKE_TICKS = TICKS_PER_QUARTER // 8
CRASH_LEVEL = 8
ACCENT_LEVEL = 9
PICKUP_LEVEL = 5
FOOT_LEVEL = 4
THIN_LEVELS_OFF = 2
BUILD_LEVEL, BUILD_RISE = 4, 4


def arrange_drums(plan: Plan, spans: Sequence[Span], fill_bars: Iterable[int]) -> tuple[Note, ...]:
    """Return the drum part on the grid; ``fill_bars`` are the bars that the drums fill."""
    fills = choose_fills(plan, fill_bars)
    grid = Grid()
    bars = [
        [
            Stroke(bar.start_tick + tick, index, key, level, step, role)
            for tick, key, level, step, role in _bar_strokes(
                grid, plan, index, bar, fills.get(index)
            )
        ]
        for index, bar in enumerate(plan.bars)
    ]
    return tuple(
        _stroke_note(plan.bars[index], stroke)
        for index, strokes in enumerate(with_struck_pushes(bars, plan, spans))
        for stroke in strokes
    )


BarStroke = tuple[int, str, int, int | None, Role]
"""Ticks from the bar line, key, level, step of the cell, role."""


def _bar_strokes(
    grid: Grid, plan: Plan, index: int, bar: BarPlan, fill: DrumFill | None
) -> Iterator[BarStroke]:
    """Yield the strokes of one bar."""
    cell = bar.drums
    if cell is None:
        return
    if bar.bar.is_pickup:
        yield from _pickup_strokes(bar, plan.bars[index + 1].bar.meter)
    elif not cell.bars:
        return
    elif bar.word:
        yield from _word_strokes(bar)
    elif bar.has_hits:
        for tick in hit_ticks(bar, bar.bar.directions.hits):
            yield from _hit_strokes(bar, tick)
    else:
        strokes = _time_strokes(grid, plan, index, bar, cell, fill)
        is_plain = not (bar.has_kicks or bar.bar.density is Density.BUILD)
        yield from strokes if is_plain else _without_doubles(strokes)


def _pickup_strokes(bar: BarPlan, meter: Meter) -> Iterator[BarStroke]:
    """Yield the sticks that go on counting the last beats of a bar of ``meter``."""
    pulse = meter.pulse_ticks
    length = bar.end_tick - bar.start_tick
    for tick in range(length % pulse, length, pulse):
        yield tick, "rim", PICKUP_LEVEL, None, Role.COUNT


def _hit_strokes(bar: BarPlan, tick: int) -> Iterator[BarStroke]:
    """Yield one hit of the whole band: the kick, and the crash, or the snare in feels without."""
    yield tick, "kick", ACCENT_LEVEL, None, Role.STROKE
    yield tick, "crash" if bar.feel.crash else "snare", CRASH_LEVEL, None, Role.STROKE


def _build_strokes(bar: BarPlan) -> Iterator[BarStroke]:
    """Yield what a build adds: the kick on every beat, the snare between, louder and louder.

    Common practice, no source.
    """
    pulse = bar.bar.meter.pulse_ticks
    count = (bar.end_tick - bar.start_tick) // pulse
    for number in range(count):
        yield number * pulse, "kick", ACCENT_LEVEL, None, Role.STROKE
        level = BUILD_LEVEL + BUILD_RISE * number // max(1, count - 1)
        yield number * pulse + pulse // 2, "snare", level, None, Role.STROKE


def _without_doubles(strokes: Iterable[BarStroke]) -> Iterator[BarStroke]:
    """Yield strokes, the first of two on one drum at once."""
    seen = set()
    for stroke in strokes:
        if stroke[:2] not in seen:
            seen.add(stroke[:2])
            yield stroke


def _word_strokes(bar: BarPlan) -> Iterator[BarStroke]:
    """Yield what the drums play while the band holds or stops: beat 1."""
    yield 0, "kick", ACCENT_LEVEL, None, Role.STROKE
    if bar.bar.directions.has_hit and bar.feel.crash:
        yield 0, "crash", CRASH_LEVEL, None, Role.STROKE
    elif bar.word is BandWord.STOP:
        yield 0, "snare", CRASH_LEVEL, None, Role.STROKE
    else:
        cymbal = "ride" if is_soft(bar) else "crash"
        yield 0, cymbal, CRASH_LEVEL, None, Role.STROKE


def _time_strokes(
    grid: Grid, plan: Plan, index: int, bar: BarPlan, cell: DrumCell, fill: DrumFill | None
) -> Iterator[BarStroke]:
    """Yield the cell's strokes with the section's crash and the fill in their place."""
    assert cell.meter is not None, "a cell with strokes has a meter"
    meter = bar.bar.meter
    length = bar.end_tick - bar.start_tick
    pulse = meter.pulse_ticks
    fill_start = length - round(fill.beats * pulse) if fill else length
    crashes = _has_crash(plan, index, bar)
    caught = [tick for tick in hit_ticks(bar, bar.bar.directions.kicks) if tick < fill_start]
    for tick in caught:
        yield from _hit_strokes(bar, tick)
    if bar.bar.density is Density.BUILD:
        yield from (one for one in _build_strokes(bar) if one[0] < fill_start)
    strokes = bar_of(cell.bars, cell.when, bar.facts_for(cell))
    for tick, _, stroke in grid.lay(strokes, cell.meter, meter):
        covered = stroke.key in STICK and ((crashes and tick == 0) or tick in caught)
        if tick < fill_start and not covered and _keeps(bar, stroke, tick, pulse):
            level = max(1, stroke.level - THIN_LEVELS_OFF) if bar.is_thin else stroke.level
            yield tick, stroke.key, level, stroke.step, Role.STROKE
    if crashes:
        yield 0, "crash", CRASH_LEVEL, None, Role.STROKE
        if any(stroke.key == "open_hat" for _, _, stroke in grid.lay(strokes, cell.meter, meter)):
            # The stick that would close the hat is on the crash: the foot does it.
            yield 0, "pedal_hat", FOOT_LEVEL, None, Role.STROKE
    if fill:
        for tick, _, stroke in grid.lay(fill.strokes, cell.meter, meter):
            if fill_start + tick < length:
                yield max(0, fill_start) + tick, stroke.key, stroke.level, stroke.step, Role.FILL


def _has_crash(plan: Plan, index: int, bar: BarPlan) -> bool:
    """Return whether a section begins here with a crash; the song itself begins without one."""
    is_first = index == 0 or plan.bars[index - 1].bar.is_pickup
    may = bar.feel.crash and not is_soft(bar)
    return may and bar.bar.is_section_start and not is_first and not bar.is_thin


def _keeps(bar: BarPlan, stroke: DrumStroke, tick: int, pulse: int) -> bool:
    """Return whether a stroke stays in a thin bar: the time on the pulse, and the kick on 1."""
    if not bar.is_thin:
        return True
    if stroke.key == "kick":
        return tick == 0
    return stroke.key in STICK | ON_FEET and tick % pulse == 0


def _stroke_note(bar: BarPlan, stroke: Stroke) -> Note:
    """Return the note of one stroke."""
    return Note(
        part=Part.DRUMS,
        grid_tick=stroke.tick,
        length_ticks=STROKE_TICKS,
        pitch=DRUM_KEYS[stroke.key],
        velocity=level_velocity(stroke.level),
        origin=Origin(
            bar=bar.bar.ref,
            cell=bar.drums.name if bar.drums else "",
            role=stroke.role,
            level=stroke.level,
            step=stroke.step,
            pushed_ticks=stroke.pushed_ticks,
            time_keeping=stroke.role is not Role.FILL,
        ),
    )
