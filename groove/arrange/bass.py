"""The bass part: strokes laid on the chords that sound, and the pitches that they are given.

Rules of the trade are stated where they are applied (common practice, no source, unless another
is named).
"""

from collections.abc import Sequence

from msgspec import Struct

from groove.arrange.fills import with_fills
from groove.arrange.levels import level_velocity
from groove.arrange.pitches import LineSearch, aim_strokes, voice_ghosts
from groove.arrange.plan import BarPlan, Plan
from groove.arrange.spans import Span
from groove.arrange.strokes import Draft, cell_strokes, with_changes, with_pushes
from groove.arrange.weights import WEIGHTS, Weights
from groove.events import Note, Origin, Part, Role, Touch
from groove.neck.instrument import Tuning
from groove.theory.keys import Key


class BassLine(Struct, frozen=True):
    """The bass part on the grid, and the indices of the bars in which it fills."""

    notes: tuple[Note, ...]
    filled: frozenset[int]


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
    drafts = with_pushes(cell_strokes(plan, spans), spans, plan.bars)
    drafts = with_changes(drafts, spans, plan.bars)
    aim_strokes(drafts, spans, plan.bars, tuning)
    search = LineSearch(plan.bars, keys, tuning, weights)
    search.fix_written(drafts)
    drafts, filled = with_fills(drafts, plan, spans, fill_bars, search)
    search.give_pitches(drafts)
    voice_ghosts(drafts)
    notes = (_note(draft, plan.bars) for draft in drafts if draft.pitch is not None)
    return BassLine(tuple(notes), filled)


def _note(draft: Draft, plans: Sequence[BarPlan]) -> Note:
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
