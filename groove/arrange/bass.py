"""The bass part: cells laid on the chords that sound.

The line is drafted on the tick axis in passes, each of which does one thing: the cell's rhythm,
fills in its place, pushes, chord changes (``line``), then pitches, leaps and ghosts (``aims``).
Rules of the trade are stated where they are applied (common practice, no source, unless another
is named).
"""

from collections.abc import Iterator, Sequence

from groove.arrange.aims import give_pitches, limit_leaps, voice_ghosts
from groove.arrange.fills import BassFill, FillNote
from groove.arrange.levels import level_velocity
from groove.arrange.line import (
    CHANGE_LEVEL,
    ROOT_AIM,
    TIE_LEVEL,
    Draft,
    with_changes,
    with_fills,
    with_pushes,
)
from groove.arrange.plan import BarPlan, Plan
from groove.arrange.rhythm import STOP_TICKS, Grid, bass_bar
from groove.arrange.spans import Span, spans_by_bar
from groove.arrange.walking import walking_bar
from groove.cells.model import BassCell
from groove.events import BandWord, Note, Origin, Part, Role, Touch
from groove.neck.instrument import Tuning
from groove.theory.keys import Key


def arrange_bass(
    plan: Plan,
    spans: Sequence[Span],
    fills: dict[int, BassFill],
    keys: Sequence[Key],
    tuning: Tuning,
) -> tuple[Note, ...]:
    """Return the bass part on the grid, with stated lengths and the cells' velocities.

    ``fills`` are the bass's fills by the index of their bar, ``keys`` the key of each bar.
    """
    drafts = with_fills(plan.bars, rhythm(plan, spans, keys, tuning), fills)
    drafts = with_pushes(drafts, spans, plan.bars)
    drafts = with_changes(drafts, spans, plan.bars)
    give_pitches(drafts, spans, plan.bars, keys, tuning)
    limit_leaps(drafts, tuning)
    voice_ghosts(drafts)
    return tuple(draft_note(draft, plan.bars) for draft in drafts if draft.pitch is not None)


def rhythm(plan: Plan, spans: Sequence[Span], keys: Sequence[Key], tuning: Tuning) -> list[Draft]:
    """Return the strokes and ties of every bar, in order."""
    drafts: list[Draft] = []
    grid = Grid()
    by_bar = spans_by_bar(spans)
    for index, bar in enumerate(plan.bars):
        cell = bar.bass
        if cell is None or bar.bar.is_pickup:
            continue
        own = by_bar.get(index, [])
        if bar.word or cell.generator == "long":
            drafts += long_bar(bar, index, cell, own)
        elif cell.generator == "walking":
            following = by_bar.get(index + 1, [])
            drafts += [
                walking_draft(step, index, cell.name)
                for step in walking_bar(bar, own, following, keys[index], tuning)
            ]
        else:
            drafts += cell_bar(grid, bar, index, cell, own)
    return drafts


def long_bar(plan: BarPlan, index: int, cell: BassCell, spans: list[Span]) -> Iterator[Draft]:
    """Yield one long note a chord; a stop is one short note on beat 1."""
    for span in spans:
        start = span.grid_tick
        end = min(span.end_tick, plan.end_tick)
        if plan.word is BandWord.STOP:
            end = min(end, start + STOP_TICKS)
        if span.chord and start < end:
            yield Draft(
                start=start, end=end, bar=index, cell=cell.name, level=CHANGE_LEVEL, aim=ROOT_AIM
            )
        if plan.word is BandWord.STOP:
            return


def walking_draft(note: FillNote, bar: int, cell: str) -> Draft:
    """Return a note of a walking line, whose pitch is given."""
    return Draft(
        start=note.start_tick,
        end=note.end_tick,
        bar=bar,
        cell=cell,
        level=note.level,
        aim=None,
        pitch=note.pitch,
        role=note.role,
        detail=note.detail,
        target_pitch=note.target_pitch,
    )


def cell_bar(
    grid: Grid, plan: BarPlan, index: int, cell: BassCell, spans: list[Span]
) -> Iterator[Draft]:
    """Yield the strokes of one bar of a cell, and the tie at its head."""
    written = bass_bar(cell, plan, lambda: not (spans and spans[0].is_change))
    assert cell.meter is not None, "only a generator serves any meter"
    meter = plan.bar.meter
    base = plan.start_tick
    if written.head_hold_beats:
        end = min(base + int(written.head_hold_beats * meter.pulse_ticks), plan.end_tick)
        yield Draft(start=base, end=end, bar=index, cell=cell.name, level=TIE_LEVEL, aim=None)
    for start, end, stroke in grid.lay(written.strokes, cell.meter, meter):
        yield Draft(
            start=base + start,
            end=base + end,
            bar=index,
            cell=cell.name,
            level=stroke.level,
            aim=stroke.aim,
            step=stroke.step,
        )


def draft_note(draft: Draft, plans: Sequence[BarPlan]) -> Note:
    """Return the finished note of a draft."""
    assert draft.pitch is not None
    slides = draft.aim is not None and draft.aim.slide
    touch = Touch.GHOST if draft.role is Role.GHOST else Touch.SLIDE if slides else Touch.PLAIN
    return Note(
        part=Part.BASS,
        grid_tick=draft.start,
        length_ticks=draft.end - draft.start,
        pitch=draft.pitch,
        velocity=level_velocity(draft.level),
        touch=touch,
        origin=Origin(
            bar=plans[draft.bar].bar.ref,
            onset=draft.span.onset if draft.span else None,
            cell=draft.cell,
            role=draft.role,
            level=draft.level,
            pushed_ticks=draft.pushed_ticks,
            step=draft.step,
            detail=draft.detail,
            target_pitch=draft.target_pitch,
            time_keeping=draft.time_keeping,
        ),
    )
