"""The drum part: the feel's cell as its place in the form has it, crashes, fills, band words.

One stick is on hat or ride at a time: where the crash or a fill comes, the time-keeping hand stops
(common practice, no source).  What a drummer does about a thing stands in a room of its own: the
time's cymbal in ``drum_sounds``, marks of phrases in ``drum_touches``, builds and endings in
``drum_builds``, fills in ``drum_fills``, pushed chords in ``drum_pushes``.
"""

from collections.abc import Iterable, Iterator, Sequence

from msgspec.structs import replace

from groove.arrange.cell_grid import Grid
from groove.arrange.drum_builds import ACCENT_LEVEL, CRASH_LEVEL, held_strokes, with_build
from groove.arrange.drum_fills import choose_fills
from groove.arrange.drum_pushes import with_struck_pushes
from groove.arrange.drum_sounds import on_cymbal, with_closed_hats
from groove.arrange.drum_strokes import (
    KICKS,
    ON_FEET,
    STICK,
    Stroke,
    is_soft,
    plays_time,
    without_doubles,
)
from groove.arrange.drum_touches import comment_of, ends_phrase, laid_over, with_mark, with_touch
from groove.arrange.hits import plan_hit_ticks
from groove.arrange.levels import level_velocity
from groove.arrange.plan import BarPlan, Plan
from groove.arrange.spans import Span
from groove.bar_place import SectionKind
from groove.cells.conditions import CONDITIONS, bar_of
from groove.cells.model import DrumCell, DrumFill, DrumStroke
from groove.chart.model import BeatPoint
from groove.events import Note, Origin, Part, Role
from groove.theory.general_midi import DRUM_KEYS
from groove.timing import TICKS_PER_QUARTER, Meter

STROKE_TICKS = TICKS_PER_QUARTER // 8
PICKUP_LEVEL = 5
THIN_LEVELS_OFF = 2
_VERSE_LEVELS_OFF = 1
_FELT_LEVEL = 4


def arrange_drums(
    plan: Plan, spans: Sequence[Span], fill_bars: Iterable[int], left_over_bars: Iterable[int]
) -> tuple[Note, ...]:
    """Return the drum part on the grid.

    ``fill_bars`` are the bars that the drums fill, ``left_over_bars`` those in which it was the
    bass's turn and nothing could be played.
    """
    fills = choose_fills(plan, fill_bars, left_over_bars)
    drummer = _Drummer(plan)
    bars = [drummer.bar_strokes(index, fills.get(index)) for index in range(len(plan.bars))]
    bars = with_closed_hats(with_struck_pushes(bars, plan, spans), plan)
    return tuple(
        _stroke_note(plan.bars[index], stroke)
        for index, strokes in enumerate(bars)
        for stroke in strokes
    )


class _Drummer:
    """Lays the cells of a song's bars, bar by bar."""

    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        self.grid = Grid()
        self.known: dict[tuple[object, ...], list[tuple[int, str, int, int | None]]] = {}

    def bar_strokes(self, index: int, fill: DrumFill | None) -> list[Stroke]:
        plan, bar = self.plan, self.plan.bars[index]
        if bar.bar.is_pickup and bar.drums is not None:
            return list(_pickup_strokes(bar, index, plan.bars[index + 1].bar.meter))
        if plays_time(bar):
            strokes = self.time_strokes(index, bar, fill)
        elif not bar.has_drummer:
            strokes = []
        elif bar.word:
            strokes = list(held_strokes(bar, index))
        else:
            strokes = list(_hit_strokes(bar, index, bar.bar.directions.hits))
        return strokes if fill is None else _with_fill(strokes, bar, index, fill)

    def time_strokes(self, index: int, bar: BarPlan, fill: DrumFill | None) -> list[Stroke]:
        """Return a bar in which time goes on, its fill left out."""
        cell = bar.drums
        assert cell is not None, "only a drummer keeps time"
        strokes = self.varied(index, bar, cell, is_filled=fill is not None)
        if bar.builds and not bar.is_thin:
            strokes = with_build(strokes, self.plan, index)
        if bar.has_kicks:
            strokes = _with_kicks(strokes, bar, index)
        return _with_crash(strokes, bar, index) if _has_crash(self.plan, index, bar) else strokes

    def varied(self, index: int, bar: BarPlan, cell: DrumCell, *, is_filled: bool) -> list[Stroke]:
        """Return the cell's bar as its place in the form has it."""
        facts = bar.facts_for(cell)
        written = bar_of(cell.bars, cell.when, facts)
        strokes = self.laid(index, bar, cell, written)
        if cell.as_written or bar.is_thin or is_filled:
            return strokes
        if not ends_phrase(bar):
            touched = with_touch(strokes, bar, cell)
            comment = comment_of(bar, cell)
            return laid_over(touched, self.laid(index, bar, cell, comment)) if comment else touched
        # What the section would have here if no phrase ended.
        between = replace(facts, bar_in_section=1, is_touched=False)
        due = bar_of(cell.bars, cell.when, between)
        plain = self.laid(index, bar, cell, due)
        # A section with bars of its own keeps their sound at the end of a phrase as well.
        ends = [own for name, bars in cell.when if CONDITIONS[name].ends_phrase for own in bars]
        is_own = any(due is own for own in cell.bars) or all(written is not own for own in ends)
        return with_mark(strokes if is_own else plain, plain, bar, cell)

    def laid(
        self, index: int, bar: BarPlan, cell: DrumCell, strokes: tuple[DrumStroke, ...]
    ) -> list[Stroke]:
        """Return a cell's bar laid on a bar: thin or light where it is so, on its cymbal."""
        place = bar.bar
        start, kind, meter = bar.start_tick, place.place.kind, place.meter
        plan = bar.arrangement
        how = (plan.cymbal, plan.is_in_two, kind, meter, bar.is_thin, is_soft(bar), bar.in_triplets)
        # By identity: a song plays few bars of a cell in few ways, many times.
        key = (id(strokes), *how)
        if key not in self.known:
            found = _laid_strokes(self.grid, bar, cell, strokes)
            self.known[key] = [(s.tick - start, s.key, s.level, s.step) for s in found]
        return [
            Stroke(start + tick, index, drum, level, step)
            for tick, drum, level, step in self.known[key]
        ]


def _laid_strokes(
    grid: Grid, bar: BarPlan, cell: DrumCell, strokes: tuple[DrumStroke, ...]
) -> list[Stroke]:
    assert cell.meter is not None, "a cell with strokes has a meter"
    pulse = bar.bar.meter.pulse_ticks
    found = [
        Stroke(
            bar.start_tick + tick,
            0,
            stroke.key,
            _softened(bar, stroke, as_written=cell.as_written),
            stroke.step,
        )
        for tick, _, stroke in grid.lay(strokes, cell.meter, bar.bar.meter)
        if (not bar.is_thin or _stays_when_thin(stroke, tick, pulse))
        and not (bar.arrangement.is_in_two and _is_felt(stroke) and tick % (2 * pulse))
    ]
    return on_cymbal(found, bar, cell)


def _softened(bar: BarPlan, stroke: DrumStroke, *, as_written: bool) -> int:
    """Return a stroke's level: all are softer in a thin bar, the time under a singer's verse."""
    softer = THIN_LEVELS_OFF if bar.is_thin else 0
    if bar.bar.place.kind is SectionKind.VERSE and stroke.key in STICK and not as_written:
        softer = max(softer, _VERSE_LEVELS_OFF)
    return max(1, stroke.level - softer)


def _stays_when_thin(stroke: DrumStroke, tick: int, pulse: int) -> bool:
    """Return whether a stroke stays in a thin bar: the time on the pulse, and the kick on 1."""
    if stroke.key == "kick":
        return tick == 0
    return stroke.key in STICK | ON_FEET and tick % pulse == 0


def _is_felt(stroke: DrumStroke) -> bool:
    """Return whether a stroke is a kick that is felt more than heard: with the walk in two, too."""
    return stroke.key in KICKS and stroke.level <= _FELT_LEVEL


def _pickup_strokes(bar: BarPlan, index: int, meter: Meter) -> Iterator[Stroke]:
    """Yield the sticks that go on counting the last beats of a bar of ``meter``."""
    pulse = meter.pulse_ticks
    first = bar.start_tick + (bar.end_tick - bar.start_tick) % pulse
    for tick in range(first, bar.end_tick, pulse):
        yield Stroke(tick, index, "side_stick", PICKUP_LEVEL, role=Role.COUNT)


def _hit_strokes(bar: BarPlan, index: int, points: Sequence[BeatPoint]) -> Iterator[Stroke]:
    """Yield hits of the whole band: the kick, and the crash, or the snare in feels without."""
    for tick in plan_hit_ticks(bar, points):
        yield Stroke(tick, index, "kick", ACCENT_LEVEL)
        hand = "crash" if bar.feel.crash else "snare"
        yield Stroke(tick, index, hand, CRASH_LEVEL)


def _with_kicks(strokes: Sequence[Stroke], bar: BarPlan, index: int) -> list[Stroke]:
    """Return the time with the kicks that the band catches; the stick is on the crash there."""
    kicks = list(_hit_strokes(bar, index, bar.bar.directions.kicks))
    caught = {kick.tick for kick in kicks}
    kept = (s for s in strokes if not (s.key in STICK and s.tick in caught))
    return without_doubles([*kicks, *kept])


def _with_crash(strokes: Sequence[Stroke], bar: BarPlan, index: int) -> list[Stroke]:
    """Return a bar with a crash on its head in place of the time."""
    kept = [s for s in strokes if not (s.key in STICK and s.tick == bar.start_tick)]
    return without_doubles([*kept, Stroke(bar.start_tick, index, "crash", CRASH_LEVEL)])


def _has_crash(plan: Plan, index: int, bar: BarPlan) -> bool:
    """Return whether a section begins here with a crash; the song itself begins without one."""
    is_first = index == 0 or plan.bars[index - 1].bar.is_pickup
    may = bar.feel.crash and not is_soft(bar)
    return may and bar.bar.is_section_start and not is_first and not bar.is_thin


def _with_fill(strokes: Sequence[Stroke], bar: BarPlan, index: int, fill: DrumFill) -> list[Stroke]:
    """Return a bar whose end is filled; a fill longer than its bar is played from its start."""
    pulse = bar.bar.meter.pulse_ticks
    start = max(bar.start_tick, bar.end_tick - round(fill.beats * pulse))
    kept = [stroke for stroke in strokes if stroke.tick < start]
    for stroke in fill.strokes:
        tick = start + round(stroke.start_beats * pulse)
        if tick < bar.end_tick:
            kept.append(Stroke(tick, index, stroke.key, stroke.level, stroke.step, Role.FILL))
    return kept


def _stroke_note(bar: BarPlan, stroke: Stroke) -> Note:
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
