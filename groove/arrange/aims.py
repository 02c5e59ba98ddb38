"""From what a stroke aims at to its pitch, and the reason that is told for it."""

from collections.abc import Sequence
from itertools import groupby

from msgspec.structs import replace

from groove.arrange.leads import Way, approach_words, way_to
from groove.arrange.line import ROOT_AIM, Draft
from groove.arrange.plan import BarPlan
from groove.arrange.spans import Span, SpanCursor
from groove.arrange.tones import aim_role, degree_pitch, fifth_offset
from groove.cells.model import Aim, AimKind
from groove.events import Role
from groove.neck.instrument import Tuning, root_pitch
from groove.theory.chords import Chord
from groove.theory.keys import Key
from groove.theory.pitch import pitch_name

LARGEST_LEAP = 12
TRITONE, FIFTH, OCTAVE = 6, 7, 12
UNDER_OCTAVE = (Role.FIFTH, Role.SIXTH, Role.SEVENTH)
"""Roles that climb to an octave, and go down with it."""
MAY_DROP = (Role.FIFTH, Role.OCTAVE)
"""Roles that serve an octave lower where an approach lies there."""


def give_pitches(
    drafts: list[Draft],
    spans: Sequence[Span],
    plans: Sequence[BarPlan],
    keys: Sequence[Key],
    tuning: Tuning,
) -> None:
    """Give every stroke its pitch and its reason; ghosts are left for later."""
    cursor = SpanCursor(spans)
    before: Draft | None = None
    run: list[Draft] = []
    for draft in drafts:
        span = cursor.at(draft.start)
        if run and (span is not run[0].span or not leads(draft)):
            before = lead(run, before, keys[run[0].bar], tuning)
            run = []
        draft.span = span
        if draft.aim is not None and span.chord is not None:
            key = keys[draft.bar]
            if draft.aim.kind is AimKind.GHOST:
                draft.role = Role.GHOST
            elif draft.aim.kind is AimKind.FIXED:
                draft.pitch, draft.role = draft.aim.pitch, Role.FIXED
            elif draft.aim.kind is AimKind.DEGREE:
                aim_at_degree(draft, draft.aim, span.chord, key, tuning)
            elif aim_at_next(draft, span, cursor, plans, key, tuning):
                run.append(draft)
        before = draft if draft.pitch is not None else before
    if run:
        lead(run, before, keys[run[0].bar], tuning)


def leads(draft: Draft) -> bool:
    """Return whether a stroke leads to the next chord by a step."""
    aim = draft.aim
    return aim is not None and aim.kind is AimKind.NEXT and aim.offset != 0


def aim_at_degree(draft: Draft, aim: Aim, chord: Chord, key: Key, tuning: Tuning) -> None:
    """Give a stroke the degree of its chord."""
    draft.pitch = degree_pitch(aim, chord, key, tuning)
    draft.role = aim_role(aim, chord, key)


def aim_at_next(
    draft: Draft,
    span: Span,
    cursor: SpanCursor,
    plans: Sequence[BarPlan],
    key: Key,
    tuning: Tuning,
) -> bool:
    """Aim a stroke at the next chord's root: return whether it leads there, its pitch to come.

    Where it is that root, or no other root follows, it has its pitch already.
    """
    assert draft.aim is not None and span.chord is not None
    upcoming = cursor.next_from(draft.start + 1)
    follows = upcoming is not None and upcoming.start_tick <= plans[draft.bar].end_tick
    target = upcoming.chord if upcoming and follows else None
    if target is None or target.bass_note.pitch_class == span.chord.bass_note.pitch_class:
        number = 5 if draft.aim.offset is None else 1
        aim_at_degree(draft, Aim(kind=AimKind.DEGREE, number=number), span.chord, key, tuning)
        # A note that anticipates nothing must not be tied over as if it did.
        draft.aim = ROOT_AIM
        return False
    draft.target_pitch = root_pitch(target.bass_note.pitch_class, tuning)
    if draft.aim.offset != 0:
        return True
    draft.pitch, draft.role = draft.target_pitch, Role.SLASH if target.bass else Role.ROOT
    draft.detail = "early"
    draft.span = upcoming
    return False


def lead(run: Sequence[Draft], before: Draft | None, key: Key, tuning: Tuning) -> Draft:
    """Give the strokes of a run that leads to a root their pitches; return the last."""
    first = run[0]
    assert first.span and first.span.chord and first.target_pitch is not None
    root = root_pitch(first.span.chord.bass_note.pitch_class, tuning)
    way = Way(
        chord=first.span.chord,
        key=key,
        root=root,
        goal=first.target_pitch,
        before=before.pitch if before and before.pitch is not None else root,
        may_drop=before is not None and before.time_keeping and before.role in MAY_DROP,
        lowest=tuning.lowest_pitch,
    )
    written = tuple(draft.aim.offset for draft in run if draft.aim is not None)
    offsets = way_to(way, written)
    below = way.before - OCTAVE
    if way.may_drop and below >= way.lowest and way.before - way.goal - offsets[0] > FIFTH:
        # The stroke before will be taken down (``limit_leaps``): the way begins there.
        offsets = way_to(replace(way, before=below, may_drop=False), written)
    for draft, offset in zip(run, offsets, strict=True):
        draft.pitch, draft.role = way.goal + offset, Role.APPROACH
        draft.detail = approach_words(offset, way.goal)
    return run[-1]


def limit_leaps(drafts: list[Draft], tuning: Tuning) -> None:
    """Take a note an octave lower where the leap from it would exceed an octave.

    A note before an approach is taken lower where it would be more than a fifth away, and so is
    the fifth, sixth or seventh that climbs to an octave which was itself taken lower (common
    practice, no source).
    Read backwards, so that each note is measured against where the next one ended up.  A note
    struck twice goes down as a whole: an octave between its strokes would be a new figure.
    """
    pitches = [draft.pitch for draft in drafts]
    following: Draft | None = None
    stated: int | None = None
    sinks = False
    for draft in reversed(drafts):
        if draft.pitch is None:
            continue
        own = draft.pitch
        if following is not None and following.pitch is not None and draft.time_keeping:
            repeats = own == stated and own > following.pitch
            lower_towards(draft, following, LARGEST_LEAP - repeats)
            if following.role is Role.APPROACH or (sinks and draft.role in UNDER_OCTAVE):
                stay_near(draft, following, tuning)
        lowered = draft.pitch < own
        sinks = lowered and (draft.role is Role.OCTAVE or (sinks and draft.role in UNDER_OCTAVE))
        following, stated = draft, own
    mend_climbs(drafts, pitches, tuning)


def mend_climbs(drafts: list[Draft], stated: Sequence[int | None], tuning: Tuning) -> None:
    """Let a line that climbed go back in its chord where its top was taken an octave lower.

    From the fifth down to a low sixth is a fall, and no longer a figure: the root or the fifth
    that lies well between the notes round it is played instead (common practice, no source).
    ``stated`` are the pitches before any was taken lower.
    """
    sounding = [(draft, own) for draft, own in zip(drafts, stated, strict=True) if own is not None]
    grouped = groupby(sounding, key=lambda entry: (entry[0].role, entry[1], id(entry[0].span)))
    groups = [tuple(group) for _, group in grouped]
    for group_before, group, group_after in zip(groups, groups[1:], groups[2:], strict=False):
        (before, own_before), (draft, own), after = group_before[-1], group[0], group_after[0][0]
        climbed = draft.span is before.span and own > own_before and draft.time_keeping
        if climbed and is_top(draft, after) and falls(before, draft):
            go_back([stroke for stroke, _ in group], before, after, tuning)


def is_top(draft: Draft, after: Draft) -> bool:
    """Return whether a stroke is the top of a climb: a sixth or seventh, a fifth to an approach.

    To a root a low fifth leads as well.
    """
    leads_on = draft.role is Role.FIFTH and after.role is Role.APPROACH
    return leads_on or draft.role in (Role.SIXTH, Role.SEVENTH)


def falls(before: Draft, draft: Draft) -> bool:
    """Return whether a stroke is more than a fifth below the one before it."""
    assert before.pitch is not None and draft.pitch is not None
    return before.pitch - draft.pitch > FIFTH


def go_back(strokes: Sequence[Draft], before: Draft, after: Draft, tuning: Tuning) -> None:
    """Put strokes on the root or fifth of their chord where that leaps less than they do."""
    first = strokes[0]
    assert before.pitch is not None and first.pitch is not None and after.pitch is not None
    assert first.span and first.span.chord
    chord, start, goal = first.span.chord, before.pitch, after.pitch
    root = root_pitch(chord.bass_note.pitch_class, tuning)
    fifth = root + fifth_offset(chord)
    reach = [*range(TRITONE), FIFTH] if after.role is Role.APPROACH else range(LARGEST_LEAP + 1)
    tones = {root: Role.SLASH if chord.bass else Role.ROOT, fifth: Role.FIFTH}
    if fifth - OCTAVE >= tuning.lowest_pitch:
        tones[fifth - OCTAVE] = Role.FIFTH
    near = [tone for tone in tones if tone not in (start, goal) and abs(tone - goal) in reach]
    best = min([first.pitch, *near], key=lambda pitch: leaps_round(start, pitch, goal))
    if best != first.pitch:
        for stroke in strokes:
            stroke.pitch, stroke.role, stroke.target_pitch = best, tones[best], goal
            stroke.detail = f"back in the chord, towards {pitch_name(goal)}"


def leaps_round(before: int, pitch: int, after: int) -> tuple[bool, int, int]:
    """Return whether a pitch is reached by more than a fifth, its wider move, the move to it."""
    move = abs(pitch - before)
    return move > FIFTH, max(move, abs(after - pitch)), move


def stay_near(draft: Draft, following: Draft, tuning: Tuning) -> None:
    """Let a note be no more than a fifth above the next, where there is room for it below.

    A sixth or seventh that has no room is the chord's fifth instead.
    """
    assert draft.pitch is not None and following.pitch is not None
    if draft.pitch - following.pitch <= FIFTH:
        return
    if draft.pitch - OCTAVE >= tuning.lowest_pitch:
        lower_towards(draft, following, FIFTH)
    elif draft.role in (Role.SIXTH, Role.SEVENTH) and draft.span and draft.span.chord:
        chord = draft.span.chord
        draft.pitch = root_pitch(chord.bass_note.pitch_class, tuning) + fifth_offset(chord)
        draft.role = Role.FIFTH


def lower_towards(draft: Draft, following: Draft, largest_leap: int) -> None:
    """Take a note down by octaves until it leaps no farther than that to the next."""
    assert draft.pitch is not None and following.pitch is not None
    goal = following.pitch
    while draft.pitch - goal > largest_leap and draft.role is not Role.FIXED:
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
