"""Strokes aimed at their chords, and the anchors of a line: pitches given before the search.

The first stroke of every chord, a root wherever one is asked for, and notes whose pitch is given
are anchors.  What leads on is told where to.
"""

from collections.abc import Sequence

from msgspec.structs import replace

from groove.arrange.degree_tones import heard_role
from groove.arrange.drafts import Draft
from groove.arrange.plan import BarPlan
from groove.arrange.spans import Span, SpanCursor
from groove.cells.model import Aim, AimKind
from groove.events import PitchRule, Reason, Role
from groove.neck.instrument import Tuning, root_pitch

_EARLY = Reason(PitchRule.EARLY)


def aim_strokes(
    drafts: Sequence[Draft], spans: Sequence[Span], plans: Sequence[BarPlan], tuning: Tuning
) -> None:
    """Give every stroke its chord, the root that it leads to, and where it is an anchor its pitch.

    What leads to the next root and has none to lead to is the root or the fifth instead.
    """
    heads = _place_heads(drafts, spans, tuning)
    cursor = SpanCursor(spans)
    for draft in drafts:
        span = draft.span = cursor.at(draft.start)
        aim = draft.aim
        if aim is None:
            continue
        if aim.kind is AimKind.GHOST:
            draft.role = Role.GHOST
        elif aim.kind is AimKind.FIXED:
            draft.pitch, draft.role = aim.pitch, Role.FIXED
        elif span.chord is None:
            continue
        elif aim.kind in (AimKind.NEXT, AimKind.WALK):
            upcoming = cursor.next_from(draft.start + 1)
            if upcoming and upcoming.chord and upcoming.start_tick <= plans[draft.bar].end_tick:
                root = upcoming.root_pitch(tuning)
                draft.target_pitch = heads.get(upcoming.start_tick, root)
            if aim.kind is AimKind.NEXT:
                _aim_at_next(draft, aim, span, upcoming, tuning)
        if draft.aim and _is_root(draft.aim):
            _anchor(draft, span, tuning)


def _place_heads(drafts: Sequence[Draft], spans: Sequence[Span], tuning: Tuning) -> dict[int, int]:
    """Put what stands at a chord's head in place of its root into the register of the roots.

    Return these pitches by their tick.
    """
    cursor = SpanCursor(spans)
    found = {}
    for draft in drafts:
        if not draft.is_head:
            continue
        span = cursor.at(draft.start)
        assert draft.aim is not None and span.chord is not None
        degree = span.chord.degree(draft.aim.number)
        assert degree is not None, "only a degree that the chord has stands at its head"
        pitch_class = span.chord.root.pitch_class + degree.semitones
        draft.pitch = found[draft.start] = root_pitch(pitch_class, tuning, span.lift)
        draft.role = heard_role(draft.pitch, span.chord)
    return found


def _aim_at_next(draft: Draft, aim: Aim, span: Span, upcoming: Span | None, tuning: Tuning) -> None:
    """Let a stroke that leads to another root be an approach, or that root before its time."""
    assert span.chord is not None
    if draft.target_pitch in (None, span.root_pitch(tuning)):
        draft.aim, draft.target_pitch = in_its_own_chord(aim), None
    elif aim.offset == 0 and upcoming and upcoming.chord:
        draft.pitch, draft.span, draft.reason = draft.target_pitch, upcoming, _EARLY
        draft.role = Role.SLASH if upcoming.chord.bass else Role.ROOT


def in_its_own_chord(aim: Aim) -> Aim:
    """Return what is played in place of a step to the next root where nothing is led to."""
    return replace(aim, kind=AimKind.DEGREE, number=5 if aim.offset is None else 1, offset=0)


def _is_root(aim: Aim) -> bool:
    """Return whether an aim is the plain root, which has one place."""
    return aim.kind is AimKind.DEGREE and aim.number == 1 and not (aim.is_altered or aim.octaves)


def _anchor(draft: Draft, span: Span, tuning: Tuning) -> None:
    """Put a stroke on its chord's root, or slash note, in its register."""
    assert span.chord is not None
    draft.pitch = span.root_pitch(tuning)
    draft.role = Role.SLASH if span.chord.bass else Role.ROOT
