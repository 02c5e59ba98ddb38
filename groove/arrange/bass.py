"""The bass part: cells laid on the chords that sound.

The line is drafted on the tick axis in passes, each of which does one thing: the cell's rhythm,
fills in its place, pushes, chord changes, then pitches, leaps and ghosts.  Rules of the trade are
stated where they are applied (common practice, no source, unless another is named).
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from groove.arrange.fills import BassFill, FillNote
from groove.arrange.levels import level_velocity
from groove.arrange.plan import BarPlan, Plan
from groove.arrange.rhythm import Grid, bass_bar, pulse_ticks
from groove.arrange.spans import Span, SpanCursor
from groove.arrange.tones import aim_role, aim_semitones
from groove.arrange.walking import walking_bar
from groove.cells.model import Aim, AimKind, BassCell
from groove.chart.model import BandWord
from groove.events import Note, Origin, Part, Role, Touch
from groove.neck.instrument import Tuning, root_pitch
from groove.theory.chords import Chord
from groove.theory.keys import Key
from groove.theory.pitch import pitch_name
from groove.timing import TICKS_PER_QUARTER

ROOT_AIM = Aim(kind=AimKind.DEGREE, number=1)
CHANGE_LEVEL = 8
TIE_LEVEL = 7
LARGEST_LEAP = 12
STOP_TICKS = TICKS_PER_QUARTER // 2


@dataclass(slots=True, kw_only=True)
class Draft:
    """One note of the line while it is being made; private to the arranger.

    ``aim`` is None for a tie from the bar before and for notes whose pitch is given.
    """

    start: int
    end: int
    bar: int
    cell: str
    level: int
    aim: Aim | None
    step: int | None = None
    pitch: int | None = None
    role: Role = Role.ROOT
    detail: str = ""
    target_pitch: int | None = None
    time_keeping: bool = True
    span: Span | None = None

    @property
    def is_tie(self) -> bool:
        """Whether it holds the note of the bar before."""
        return self.aim is None and self.pitch is None

    @property
    def is_ghost(self) -> bool:
        """Whether it is a muted stroke."""
        return self.role is Role.GHOST or (self.aim is not None and self.aim.kind is AimKind.GHOST)

    @property
    def anticipates(self) -> bool:
        """Whether it sounds the next chord's root before its time."""
        return self.aim is not None and self.aim.kind is AimKind.NEXT and self.aim.offset == 0


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
    limit_leaps(drafts)
    voice_ghosts(drafts)
    return tuple(draft_note(draft, plan.bars) for draft in drafts if draft.pitch is not None)


# --- rhythm -----------------------------------------------------------------------------------


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
                for step in walking_bar(plan.seed, bar, own, following, keys[index], tuning)
            ]
        else:
            drafts += cell_bar(grid, bar, index, cell, own)
    return drafts


def spans_by_bar(spans: Sequence[Span]) -> dict[int, list[Span]]:
    """Return the chords of each bar by its index."""
    found: dict[int, list[Span]] = {}
    for span in spans:
        found.setdefault(span.bar, []).append(span)
    return found


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
        end = min(base + int(written.head_hold_beats * pulse_ticks(meter)), plan.end_tick)
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


# --- fills ------------------------------------------------------------------------------------


def with_fills(
    plans: Sequence[BarPlan], drafts: list[Draft], fills: dict[int, BassFill]
) -> list[Draft]:
    """Return the line with fills in place of what the cells play there."""
    kept = []
    for draft in drafts:
        fill = fills.get(draft.bar)
        if fill is None or draft.start < fill.start_tick:
            if fill:
                draft.end = min(draft.end, fill.start_tick)
            kept.append(draft)
    for bar, fill in fills.items():
        kept += [fill_draft(note, bar, plans[bar], fill) for note in fill.notes]
    return sorted(kept, key=lambda draft: draft.start)


def fill_draft(note: FillNote, bar: int, plan: BarPlan, fill: BassFill) -> Draft:
    """Return one note of a fill."""
    return Draft(
        start=note.start_tick,
        end=note.end_tick,
        bar=bar,
        cell=plan.bass.name if plan.bass else "",
        level=note.level,
        aim=None,
        pitch=note.pitch,
        role=Role.FILL,
        detail=fill.detail,
        target_pitch=fill.target_pitch,
        time_keeping=False,
    )


# --- pushes and changes -----------------------------------------------------------------------


def with_pushes(
    drafts: list[Draft], spans: Sequence[Span], plans: Sequence[BarPlan]
) -> list[Draft]:
    """Return the line with every pushed chord struck early and tied over its place."""
    pushed = [span for span in spans if span.is_pushed]
    if not pushed:
        return drafts
    for span in pushed:
        drafts = push_one(drafts, span, plans)
    return drafts


def push_one(drafts: list[Draft], span: Span, plans: Sequence[BarPlan]) -> list[Draft]:
    """Return the line with one pushed chord: its stroke takes the place of those between."""
    early, grid = span.start_tick, span.grid_tick
    bar = span.bar if early >= plans[span.bar].start_tick else span.bar - 1
    cell = plans[span.bar].bass
    if cell is None or span.chord is None:
        return drafts
    kept, end = [], min(grid + pulse_ticks(plans[span.bar].bar.meter), span.end_tick)
    for draft in drafts:
        if early <= draft.start <= grid:
            end = draft.end if draft.start == grid else end
            continue
        if draft.start < early < draft.end:
            # What was held over the chord's place is held by the pushed note instead.
            end = draft.end if draft.end > grid else end
            draft.end = early
        elif grid < draft.start < end:
            end = draft.start
        kept.append(draft)
    stroke = Draft(
        start=early,
        end=max(end, early + 1),
        bar=bar,
        cell=cell.name,
        level=CHANGE_LEVEL,
        aim=ROOT_AIM,
        detail="pushed",
    )
    return sorted([*kept, stroke], key=lambda draft: draft.start)


def with_changes(
    drafts: list[Draft], spans: Sequence[Span], plans: Sequence[BarPlan]
) -> list[Draft]:
    """Return the line with each chord's first stroke on its root, silent where no chord is."""
    groups = strokes_by_span(drafts, spans)
    line: list[Draft] = []
    for span, own in zip(spans, groups, strict=True):
        if span.chord is None:
            end_before(line, span)
            continue
        plan = plans[span.bar]
        if span.is_change and not span.is_pushed:
            own = changed(line, own, span, plan)
        elif own and own[0].is_tie:
            own = tied(line, own, span)
        for draft in own:
            draft.span = span
        line += own
    return line


def strokes_by_span(drafts: list[Draft], spans: Sequence[Span]) -> list[list[Draft]]:
    """Return the strokes that begin while each chord sounds."""
    groups: list[list[Draft]] = [[] for _ in spans]
    index = 0
    for draft in drafts:
        while index + 1 < len(spans) and spans[index + 1].start_tick <= draft.start:
            index += 1
        groups[index].append(draft)
    return groups


def end_before(line: list[Draft], span: Span) -> None:
    """Let the last note end where no chord begins."""
    if line and line[-1].end > span.start_tick:
        line[-1].end = span.start_tick


def changed(line: list[Draft], own: list[Draft], span: Span, plan: BarPlan) -> list[Draft]:
    """Return the strokes of a new chord, the first on its root and never a ghost."""
    start = span.start_tick
    last = line[-1] if line else None
    held = last is not None and last.end > start
    if last and held and not (last.anticipates and leads_to(last, span)):
        own = [struck_again(last, span), *own]
        last.end = start
        held = False
    if own and own[0].start == start and own[0].is_tie:
        early = last is not None and last.anticipates and last.end == start
        if last and early and not span.begins_section:
            last.end = own[0].end
            held = True
            own = own[1:]
    if held:
        return own
    while own and own[0].is_ghost and own[0].start > start:
        own = own[1:]
    if own:
        on_root(own[0])
        return own
    return [stated(span, plan)] if plan.bass else []


def leads_to(draft: Draft, span: Span) -> bool:
    """Return whether a note that anticipates ends in the chord it anticipates."""
    return draft.start < span.start_tick


def struck_again(held: Draft, span: Span) -> Draft:
    """Return the stroke on a chord that comes while the cell holds a note."""
    end = min(held.end, span.end_tick)
    return Draft(
        start=span.start_tick,
        end=end,
        bar=span.bar if held.bar < span.bar else held.bar,
        cell=held.cell,
        level=CHANGE_LEVEL,
        aim=ROOT_AIM,
    )


def on_root(draft: Draft) -> None:
    """Put a stroke whose pitch is not given on the root; its octave may stay."""
    if draft.pitch is not None:
        return
    aim = draft.aim
    if aim is None or aim.kind is AimKind.GHOST:
        draft.level = max(draft.level, TIE_LEVEL)
    is_octave = aim is not None and aim.kind is AimKind.DEGREE and aim.number == 8
    if aim is None or not is_octave:
        draft.aim = replace(ROOT_AIM, slide=aim is not None and aim.slide)


def stated(span: Span, plan: BarPlan) -> Draft:
    """Return a stroke for a chord that the cell would pass over."""
    end = min(span.start_tick + pulse_ticks(plan.bar.meter), span.end_tick)
    name = plan.bass.name if plan.bass else ""
    return Draft(
        start=span.start_tick, end=end, bar=span.bar, cell=name, level=TIE_LEVEL, aim=ROOT_AIM
    )


def tied(line: list[Draft], own: list[Draft], span: Span) -> list[Draft]:
    """Return the strokes of a held chord whose bar begins with a tie: it needs a note to hold."""
    last = line[-1] if line else None
    if last and last.end == own[0].start and not last.is_ghost and last.span is not None:
        last.end = own[0].end
        return own[1:]
    on_root(own[0])
    return own


# --- pitches ----------------------------------------------------------------------------------


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
        pitch += LARGEST_LEAP
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

    Read backwards, so that each note is measured against where the next one ended up.
    """
    following: Draft | None = None
    for draft in reversed(drafts):
        if draft.pitch is None:
            continue
        if following is not None and following.pitch is not None and draft.time_keeping:
            goal = following.pitch
            while draft.pitch - goal > LARGEST_LEAP:
                draft.pitch -= LARGEST_LEAP
                draft.target_pitch = goal
                draft.detail = f"an octave lower, towards {pitch_name(goal)}"
        following = draft


def voice_ghosts(drafts: list[Draft]) -> None:
    """Put every ghost on the string and fret already under the hand."""
    under_hand: int | None = None
    for draft in drafts:
        if draft.role is Role.GHOST:
            draft.pitch = under_hand
        elif draft.pitch is not None:
            under_hand = draft.pitch


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
            chord=draft.span.symbol if draft.span else "",
            cell=draft.cell,
            role=draft.role,
            step=draft.step,
            detail=draft.detail,
            target_pitch=draft.target_pitch,
            time_keeping=draft.time_keeping,
        ),
    )
