"""The keys part: voicings in the cell's rhythm, as dense as the section asks.

Under a singer few notes, in a chorus all of them; a hole where the bass fills, and never the note
of its octaves with them (common practice, no source).
"""

from bisect import bisect_left
from collections.abc import Iterator, Mapping, Sequence

from msgspec import Struct
from msgspec.structs import replace

from groove.arrange.arrangement import Comping
from groove.arrange.cell_grid import STOP_TICKS, Grid
from groove.arrange.draws import draw_for
from groove.arrange.hits import plan_hit_ticks
from groove.arrange.levels import level_velocity
from groove.arrange.plan import BarPlan, Plan
from groove.arrange.spans import Span
from groove.arrange.voicings import HIGHEST, Voicing, in_four_voices, lead_voices
from groove.bar_place import BandWord
from groove.cells.conditions import bar_of, condition_of
from groove.cells.model import KeysCell, KeysStroke
from groove.chart.model import BeatPoint
from groove.events import Note, Origin, Part, Role

_CHANGE_LEVEL = 6
_HIT_LEVEL = 8
_AGAIN_LEVEL = 5
_MANY_STROKES = 3
"""From how many whole chords a bar on a sparse keyboard leaves the softer ones out."""


class _KeysDraft(Struct, frozen=True, gc=False, order=True):
    """One stroke of the keys: start and end tick, level, voices, in octaves, step of the cell."""

    start: int
    end: int
    level: int
    voices: tuple[int, ...] = ()
    octaves: bool = False
    step: int | None = None


_Orders = dict[tuple[int, str, int, int | None], list[tuple[KeysStroke, ...]]]
"""The bars of a cell as they were drawn, by cell, section, phrase and time."""


class _HeardBass(Struct, frozen=True):
    """What the keys hear of the bass: where it fills, and the notes of its octaves by tick."""

    fills: Sequence[tuple[int, int]]
    octaves: Mapping[int, int]


def arrange_comping(plan: Plan, spans: Sequence[Span], bass: Sequence[Note]) -> tuple[Note, ...]:
    """Return the keys part on the grid, with stated lengths and the cells' velocities.

    ``bass`` is the bass part, which the keys leave room.
    """
    voicings = lead_voices(plan, spans)
    heard = _heard_bass(plan, bass)
    strokes = _strokes_by_bar(plan)
    notes: list[Note] = []
    pending = iter(strokes)
    stroke = next(pending, None)
    for span, voicing in zip(spans, voicings, strict=True):
        own = []
        while stroke is not None and stroke.start < span.end_tick:
            own.append(stroke)
            stroke = next(pending, None)
        bar = plan.bars[span.bar]
        if span.chord is None or bar.keys is None or not voicing:
            continue
        for draft in _span_strokes(span, own, bar):
            if draft.start > span.start_tick and _is_filled(heard.fills, draft.start):
                continue
            pitches = _chosen_voices(voicing, draft, bar)
            notes += _struck(plan, span, draft, _apart(pitches, heard.octaves.get(draft.start)))
    return tuple(notes)


def _struck(plan: Plan, span: Span, draft: _KeysDraft, pitches: Sequence[int]) -> Iterator[Note]:
    bar = plan.bars[span.bar]
    sounding = plan.bars[span.bar - 1] if draft.start < bar.start_tick else bar
    for pitch in pitches:
        yield Note(
            part=Part.KEYS,
            grid_tick=draft.start,
            length_ticks=max(1, min(draft.end, span.end_tick) - draft.start),
            pitch=pitch,
            velocity=level_velocity(draft.level),
            origin=Origin(
                bar=sounding.bar.ref,
                onset=span.onset,
                cell=bar.keys.name if bar.keys else "",
                role=Role.VOICING,
                level=draft.level,
                step=draft.step,
                pushed_ticks=max(0, span.grid_tick - draft.start),
            ),
        )


def _heard_bass(plan: Plan, bass: Sequence[Note]) -> _HeardBass:
    starts: dict[int, int] = {}
    octaves = {}
    for note in bass:
        if note.origin.role is Role.FILL:
            starts.setdefault(note.origin.bar.played_bar, note.grid_tick)
        elif note.origin.role is Role.OCTAVE:
            octaves[note.grid_tick] = note.pitch
    ends = {bar.bar.ref.played_bar: bar.end_tick for bar in plan.bars} if starts else {}
    return _HeardBass([(start, ends[bar]) for bar, start in sorted(starts.items())], octaves)


def _is_filled(fills: Sequence[tuple[int, int]], tick: int) -> bool:
    """Return whether the bass fills at a tick; ``fills`` are its fills in order."""
    index = bisect_left(fills, (tick + 1, 0)) - 1
    return index >= 0 and fills[index][0] <= tick < fills[index][1]


def _apart(pitches: Sequence[int], octave: int | None) -> Sequence[int]:
    """Return a stroke's pitches without the note of the bass's octave, unless no other is left."""
    if octave is None:
        return pitches
    return [pitch for pitch in pitches if (pitch - octave) % 12] or pitches


def _strokes_by_bar(plan: Plan) -> Iterator[_KeysDraft]:
    grid = Grid()
    orders: _Orders = {}
    for bar in plan.bars:
        cell = bar.keys
        if bar.has_hits and cell:
            yield from hits(bar, bar.bar.directions.hits)
            continue
        if cell is None or bar.word or bar.bar.is_pickup:
            continue
        if not cell.bars:
            yield from _restruck(bar, cell)
            continue
        laid = list(_laid_strokes(grid, bar, cell, orders))
        yield from _kicked(laid, bar) if bar.has_kicks else laid


def _laid_strokes(
    grid: Grid, bar: BarPlan, cell: KeysCell, orders: _Orders
) -> Iterator[_KeysDraft]:
    """Yield a bar's strokes as its cell has them, fewer where the band is thin."""
    assert cell.meter is not None, "a cell with strokes has a meter"
    if bar.is_thin and not cell.as_written:
        # Under a breakdown each chord is held.
        return
    strokes = _cell_bar(bar, cell, orders)
    lowest = 0
    wholes = [stroke.level for stroke in strokes if not stroke.voices]
    is_sparse = bar.arrangement.comping is Comping.SPARSE and not cell.as_written
    if is_sparse and len(wholes) >= _MANY_STROKES and min(wholes) < max(wholes):
        lowest = min(wholes) + 1
    for start, end, stroke in grid.lay(strokes, cell.meter, bar.bar.meter):
        if stroke.voices or stroke.level >= lowest:
            start, end = bar.start_tick + start, bar.start_tick + end
            yield _KeysDraft(start, end, stroke.level, stroke.voices, stroke.octaves, stroke.step)


def _cell_bar(bar: BarPlan, cell: KeysCell, orders: _Orders) -> tuple[KeysStroke, ...]:
    """Return the bar of a cell that is due; of a cell whose bars are drawn, another each time.

    In one phrase no bar is drawn twice before the others; ``orders`` are those drawn by now.
    """
    facts = bar.facts_for(cell)
    if not cell.is_drawn or condition_of(cell.when, facts):
        return bar_of(cell.bars, cell.when, facts)
    phrase, place = divmod(bar.bar.ref.bar_in_section - 1, len(cell.bars))
    section, time = bar.bar.stem, bar.arrangement.draw_time
    key = (id(cell), section, phrase, time)
    if key not in orders:
        draw = draw_for(bar.seed, "keys", "rhythm", section, phrase, time)
        left = list(cell.bars)
        orders[key] = [left.pop(int(draw.random() * len(left))) for _ in cell.bars]
    return orders[key][place]


def _restruck(bar: BarPlan, cell: KeysCell) -> Iterator[_KeysDraft]:
    """Yield where held chords are struck again: on the band's kicks, in a chorus in half bars."""
    strokes = {kick.start: kick for kick in hits(bar, bar.bar.directions.kicks)}
    is_full = bar.arrangement.comping is Comping.FULL and cell.voice_count > _MANY_STROKES
    if is_full and not bar.is_thin:
        pulses = bar.bar.meter.pulse_count
        half = bar.start_tick + (pulses + 1) // 2 * bar.bar.meter.pulse_ticks
        for tick, level in ((bar.start_tick, _CHANGE_LEVEL), (half, _AGAIN_LEVEL)):
            if tick < bar.end_tick:
                strokes.setdefault(tick, _KeysDraft(tick, bar.end_tick, level))
    yield from sorted(strokes.values())


def hits(bar: BarPlan, points: Sequence[BeatPoint]) -> Iterator[_KeysDraft]:
    """Yield the band's hits: the whole voicing, short."""
    for start in plan_hit_ticks(bar, points):
        yield _KeysDraft(start, start + STOP_TICKS, _HIT_LEVEL)


def _kicked(laid: Sequence[_KeysDraft], bar: BarPlan) -> list[_KeysDraft]:
    """Return a bar's strokes with the kicks that the band catches; a held chord ends at one."""
    kicks = list(hits(bar, bar.bar.directions.kicks))
    starts = {kick.start for kick in kicks}
    kept = [
        replace(stroke, end=min([stroke.end, *(at for at in starts if at > stroke.start)]))
        for stroke in laid
        if stroke.start not in starts
    ]
    begins = [stroke.start for stroke in (*kept, *kicks)]
    caught = [
        replace(kick, end=min([kick.end, *(at for at in begins if at > kick.start)]))
        for kick in kicks
    ]
    return sorted([*kept, *caught], key=lambda stroke: stroke.start)


def _span_strokes(span: Span, own: list[_KeysDraft], bar: BarPlan) -> Iterator[_KeysDraft]:
    """Yield the strokes of one chord.

    A push, a word to the band and a chord that the cell passes over get a stroke of their own.
    """
    whole = _KeysDraft(span.start_tick, span.end_tick, _CHANGE_LEVEL)
    if bar.word is BandWord.STOP:
        if span.grid_tick == bar.start_tick:
            end = span.grid_tick + STOP_TICKS
            yield replace(whole, end=end, level=_CHANGE_LEVEL + 1)
        return
    if bar.has_hits:
        yield from own
        return
    later = [stroke for stroke in own if stroke.start > span.grid_tick or not span.is_pushed]
    if bar.word or (bar.keys and not bar.keys.bars):
        yield from held(whole, later)
        return
    if span.is_pushed:
        end = later[0].start if later else span.end_tick
        longest = span.grid_tick + bar.bar.meter.pulse_ticks
        yield replace(whole, end=min(end, longest), level=_CHANGE_LEVEL + 1)
    elif not later:
        yield whole
    yield from later


def held(whole: _KeysDraft, again: Sequence[_KeysDraft]) -> Iterator[_KeysDraft]:
    """Yield a held chord, struck again where ``again`` has it; a push holds over its place."""
    strokes = {whole.start: whole.level} | {stroke.start: stroke.level for stroke in again}
    ends = [*list(strokes)[1:], whole.end]
    for (at, loud), until in zip(strokes.items(), ends, strict=True):
        yield _KeysDraft(at, until, loud)


def _chosen_voices(voicing: Voicing, draft: _KeysDraft, bar: BarPlan) -> list[int]:
    """Return the pitches of a stroke; a voice above a voicing of three is its lowest, higher up."""
    is_full = bar.arrangement.comping is Comping.FULL
    plays_four = bar.keys is not None and bar.keys.voice_count > len(voicing)
    four = in_four_voices(voicing) if plays_four else voicing
    if not draft.voices:
        pitches = list(four if is_full else voicing)
    else:
        pitches = sorted({four[min(voice, len(four)) - 1] for voice in draft.voices})
    if draft.octaves:
        doubled = {p + 12 if p + 12 <= HIGHEST else p - 12 for p in pitches}
        pitches = sorted({*pitches, *doubled})
    return pitches
