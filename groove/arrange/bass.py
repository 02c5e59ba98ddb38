"""The bass part: strokes laid on the chords that sound, and the pitches that they are given.

Rules of the trade are stated where they are applied (common practice, no source, unless another
is named).
"""

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence

from msgspec import Struct

from groove.arrange.anchors import aim_strokes
from groove.arrange.drafts import Draft
from groove.arrange.fills import with_fills
from groove.arrange.hits import with_hits
from groove.arrange.levels import level_velocity
from groove.arrange.pitches import LineSearch, voice_ghosts
from groove.arrange.plan import BarPlan, Plan
from groove.arrange.spans import Span
from groove.arrange.strokes import cell_strokes, with_changes, with_pushes
from groove.arrange.weights import WEIGHTS, Weights
from groove.arrange.written import give_places, name_roles, unpushed, with_written
from groove.cells.model import AimKind
from groove.events import Maker, Note, Origin, Part, Role, Touch
from groove.neck.instrument import Tuning
from groove.notices import Notice, NoticeKind
from groove.theory.keys import Key

_MOST_AT_ONCE = 6
"""How many notes may sound at once: one a string."""


class BassLine(Struct, frozen=True):
    """The bass part on the grid, the indices of the bars in which it fills, and what is told."""

    notes: tuple[Note, ...]
    filled: frozenset[int]
    notices: tuple[Notice, ...]


def arrange_bass(
    plan: Plan,
    spans: Sequence[Span],
    fill_bars: Sequence[int],
    keys: Sequence[Key],
    tuning: Tuning,
    weights: Weights = WEIGHTS,
) -> BassLine:
    """Return the bass part with stated lengths and the cells' velocities.

    ``fill_bars`` are the indices of the bars in which it fills where it can, ``keys`` the key of
    each bar.
    """
    spans = unpushed(spans, plan.bars)
    drafts = with_hits(with_pushes(cell_strokes(plan, spans), spans, plan.bars), plan)
    drafts = with_written(drafts, plan)
    holds = [draft for draft in drafts if draft.is_written and draft.is_tie]
    drafts = with_changes(drafts, spans, plan.bars)
    aim_strokes(drafts, spans, plan.bars, tuning)
    search = LineSearch(plan.bars, keys, tuning, weights)
    search.fix_written(drafts)
    written = [draft for draft in drafts if draft.is_written]
    heads = {draft.start: draft.pitch for draft in reversed(written) if draft.pitch is not None}
    drafts, filled = with_fills(drafts, plan, spans, fill_bars, search, heads)
    search.give_pitches(drafts)
    name_roles(written)
    voice_ghosts(drafts)
    give_places(drafts, plan.bars)
    notes = (_note(draft, plan.bars) for draft in drafts if draft.pitch is not None)
    notices = (
        *_raised(drafts, plan.bars, search),
        *_holding_nothing(holds, drafts, plan.bars),
        *_sliding_in(drafts, plan.bars),
    )
    return BassLine(tuple(notes), filled, notices)


def _raised(
    drafts: Iterable[Draft], plans: Sequence[BarPlan], search: LineSearch
) -> Iterator[Notice]:
    """Yield a notice for each riff or row of tokens that falls below the lowest string: once."""
    reported = set()
    for draft in drafts:
        is_own = draft.maker is not Maker.CELL and draft.aim is not None and draft.sounds
        if not is_own or draft.aim is None or draft.aim.kind is not AimKind.DEGREE:
            continue
        bar = plans[draft.bar].bar.ref.written_bar
        name = draft.cell or f"bar {bar}"
        if name not in reported and search.falls_below(draft):
            reported.add(name)
            values = (("name", name), ("symbol", draft.span.onset.symbol if draft.span else ""))
            yield Notice(kind=NoticeKind.RAISED, bar=bar, values=values)


def _holding_nothing(
    holds: Sequence[Draft], drafts: Sequence[Draft], plans: Sequence[BarPlan]
) -> Iterator[Notice]:
    """Yield a notice for each written bar whose head holds a note that is not there: once."""
    sounding = [draft for draft in drafts if draft.pitch is not None] if holds else []
    starts = [draft.start for draft in sounding]
    reported = set()
    for hold in holds:
        before = bisect_right(starts, hold.start)
        at_once = sounding[max(0, before - _MOST_AT_ONCE) : before]
        bar = plans[hold.bar].bar.ref.written_bar
        if bar not in reported and all(draft.end <= hold.start for draft in at_once):
            reported.add(bar)
            yield Notice(kind=NoticeKind.HOLDS_NOTHING, bar=bar)


def _sliding_in(drafts: Iterable[Draft], plans: Sequence[BarPlan]) -> Iterator[Notice]:
    """Yield a notice where the first note of all is a step that slides from the one before."""
    first = next((draft for draft in drafts if draft.pitch is not None), None)
    if first and first.aim and first.aim.slide:
        yield Notice(kind=NoticeKind.SLIDES_IN, bar=plans[first.bar].bar.ref.written_bar)


def _note(draft: Draft, plans: Sequence[BarPlan]) -> Note:
    assert draft.pitch is not None
    slides = draft.aim is not None and draft.aim.slide
    touch = Touch.GHOST if draft.role is Role.GHOST else Touch.SLIDE if slides else draft.touch
    written = draft.written
    return Note(
        part=Part.BASS,
        grid_tick=draft.start,
        length_ticks=draft.end - draft.start,
        pitch=draft.pitch,
        velocity=level_velocity(draft.level),
        touch=touch,
        stated_place=draft.place,
        bend_semitones=written.bend_semitones if written else 0,
        has_vibrato=written is not None and written.has_vibrato,
        origin=Origin(
            bar=plans[draft.bar].bar.ref,
            onset=draft.span.onset if draft.span else None,
            cell=draft.cell,
            role=draft.role,
            level=draft.level,
            pushed_ticks=draft.pushed_ticks,
            step=draft.step,
            reason=draft.reason,
            target_pitch=draft.target_pitch,
            time_keeping=draft.time_keeping,
            maker=draft.maker,
            written_at=draft.written_at,
        ),
    )
