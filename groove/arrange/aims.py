"""From what a stroke aims at to its pitch, and the reason that is told for it."""

from collections.abc import Sequence

from groove.arrange.line import ROOT_AIM, Draft
from groove.arrange.plan import BarPlan
from groove.arrange.spans import Span, SpanCursor
from groove.arrange.tones import aim_role, aim_semitones
from groove.cells.model import Aim, AimKind
from groove.events import Role
from groove.neck.instrument import Tuning, root_pitch
from groove.theory.chords import Chord
from groove.theory.keys import Key
from groove.theory.pitch import pitch_name

LARGEST_LEAP = 12
OCTAVE = 12


def give_pitches(
    drafts: list[Draft],
    spans: Sequence[Span],
    plans: Sequence[BarPlan],
    keys: Sequence[Key],
    tuning: Tuning,
) -> None:
    """Give every stroke its pitch and its reason; ghosts are left for later."""
    cursor = SpanCursor(spans)
    for draft in drafts:
        span = cursor.at(draft.start)
        draft.span = span
        if draft.aim is None or span.chord is None:
            continue
        if draft.aim.kind is AimKind.GHOST:
            draft.role = Role.GHOST
        elif draft.aim.kind is AimKind.NEXT:
            upcoming = cursor.next_from(draft.start + 1)
            aim_at_next(draft, span, upcoming, plans, keys[draft.bar], tuning)
        else:
            aim_at_degree(draft, draft.aim, span.chord, keys[draft.bar], tuning)


def aim_at_degree(draft: Draft, aim: Aim, chord: Chord, key: Key, tuning: Tuning) -> None:
    """Give a stroke the degree of its chord; below the lowest string the octave above is taken."""
    pitch = root_pitch(chord.bass_note.pitch_class, tuning) + aim_semitones(aim, chord, key)
    if pitch < tuning.lowest_pitch:
        pitch += OCTAVE
    draft.pitch = pitch
    draft.role = aim_role(aim, chord)


def aim_at_next(
    draft: Draft,
    span: Span,
    upcoming: Span | None,
    plans: Sequence[BarPlan],
    key: Key,
    tuning: Tuning,
) -> None:
    """Give a stroke a note that leads to the next chord's root, or is that root."""
    assert draft.aim is not None and span.chord is not None
    here = span.chord.bass_note.pitch_class
    follows = upcoming is not None and upcoming.start_tick <= plans[draft.bar].end_tick
    target = upcoming.chord if upcoming and follows else None
    if target is None or target.bass_note.pitch_class == here:
        number = 5 if draft.aim.offset is None else 1
        aim_at_degree(draft, Aim(kind=AimKind.DEGREE, number=number), span.chord, key, tuning)
        # A note that anticipates nothing must not be tied over as if it did.
        draft.aim = ROOT_AIM
        return
    goal = root_pitch(target.bass_note.pitch_class, tuning)
    draft.target_pitch = goal
    if draft.aim.offset == 0:
        draft.pitch, draft.role = goal, Role.SLASH if target.bass else Role.ROOT
        draft.detail = "early"
        draft.span = upcoming
        return
    current = root_pitch(here, tuning)
    offset = draft.aim.offset or approach_offset(current, goal, key)
    if goal + offset < tuning.lowest_pitch:
        offset = -offset
    draft.pitch, draft.role = goal + offset, Role.APPROACH
    draft.detail = approach_words(offset, goal)


def approach_offset(current: int, goal: int, key: Key) -> int:
    """Return the approach from the side the line is moving: a step of the key, else a half step."""
    side = -1 if goal > current else 1
    scale = {pitch.pitch_class for pitch in key.scale}
    for size in (1, 2):
        if (goal + side * size) % 12 in scale:
            return side * size
    return side


def approach_words(offset: int, goal: int) -> str:
    """Return an approach as a player says it: ``half step below G1``."""
    size = {1: "half step", 2: "whole step"}[abs(offset)]
    return f"{size} {'below' if offset < 0 else 'above'} {pitch_name(goal)}"


def limit_leaps(drafts: list[Draft]) -> None:
    """Take a note an octave lower where the leap from it would exceed an octave.

    Read backwards, so that each note is measured against where the next one ended up.  A note
    struck twice goes down as a whole: an octave between its strokes would be a new figure.
    """
    following: Draft | None = None
    stated: int | None = None
    for draft in reversed(drafts):
        if draft.pitch is None:
            continue
        own = draft.pitch
        if following is not None and following.pitch is not None and draft.time_keeping:
            repeats = own == stated and own > following.pitch
            lower_towards(draft, following, LARGEST_LEAP - repeats)
        following, stated = draft, own


def lower_towards(draft: Draft, following: Draft, largest_leap: int) -> None:
    """Take a note down by octaves until it leaps no farther than that to the next."""
    assert draft.pitch is not None and following.pitch is not None
    goal = following.pitch
    while draft.pitch - goal > largest_leap:
        draft.pitch -= OCTAVE
        draft.target_pitch = goal
        draft.detail = f"an octave lower, towards {pitch_name(goal)}"


def voice_ghosts(drafts: list[Draft]) -> None:
    """Put every ghost on the string and fret already under the hand."""
    under_hand: int | None = None
    for draft in drafts:
        if draft.role is Role.GHOST:
            draft.pitch = under_hand
        elif draft.pitch is not None:
            under_hand = draft.pitch
