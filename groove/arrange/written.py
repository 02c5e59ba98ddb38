"""Written bars: what the player wrote under a bar, as strokes that nothing moves.

The tool draws around them: chords are pushed, cells vary and fill elsewhere, and may lead into the
first written note.
"""

from collections.abc import Iterable, Iterator, Sequence

from msgspec.structs import replace

from groove.arrange.cell_grid import Grid
from groove.arrange.degree_tones import heard_role
from groove.arrange.drafts import GHOST_AIM, TIE_LEVEL, Draft
from groove.arrange.plan import BarPlan, Plan
from groove.arrange.spans import Span
from groove.chart.model import Slur, TabLine, TokenLine, WrittenNote
from groove.chart.riffs import GHOST_LEVEL, riff_bar, tick_level
from groove.events import FretPlace, Maker, Role, Touch
from groove.neck.instrument import HIGHEST_FRET, Tuning
from groove.timing import span_ticks

SLUR_TOUCHES = {
    Slur.HAMMER_ON: Touch.HAMMER_ON,
    Slur.PULL_OFF: Touch.PULL_OFF,
    Slur.SLIDE: Touch.SLIDE,
}
SLURRED_LEVELS_OFF = 2
"""How much softer the fretting hand sounds than the plucking one (common practice, no source)."""


def unpushed(spans: Sequence[Span], plans: Sequence[BarPlan]) -> list[Span]:
    """Return the chords as the bass has them: no push into a written bar or out of one.

    A written bar that begins with a hold and states no note for it lets a push from a drawn bar in.
    """
    found: list[Span] = []
    for span in spans:
        before = plans[span.bar - 1] if span.bar else None
        reaches_over = span.start_tick < plans[span.bar].start_tick
        crosses = reaches_over and before is not None and before.is_written
        lets_in = reaches_over and _holds_head(plans[span.bar]) and not crosses
        if span.is_pushed and not lets_in and (plans[span.bar].is_written or crosses):
            grid_tick = span.grid_tick
            onset = replace(span.onset, pushed_ticks=0)
            if found:
                found[-1] = replace(found[-1], end_tick=grid_tick)
            span = replace(span, start_tick=grid_tick, onset=onset)
        found.append(span)
    return found


def _holds_head(plan: BarPlan) -> bool:
    """Whether a written bar begins with whatever sounds before it."""
    line = plan.bar.line
    notes = line.notes if isinstance(line, TabLine) else ()
    return any(note.is_tied and note.pitch is None for note in notes)


def with_written(drafts: list[Draft], plan: Plan) -> list[Draft]:
    """Return the line with the strokes of the written bars, in order."""
    written = list(_written_strokes(plan.bars))
    return sorted([*drafts, *written], key=lambda draft: draft.start) if written else drafts


def _written_strokes(plans: Sequence[BarPlan]) -> Iterator[Draft]:
    """Yield what is written, bar by bar; a tie at a bar's head holds what sounds before it."""
    grid = Grid()
    for index, plan in enumerate(plans):
        line = plan.bar.line
        if isinstance(line, TabLine):
            pulse_ticks = plan.bar.meter.pulse_ticks
            own = [_tab_stroke(note, plan, index, pulse_ticks) for note in line.notes]
            own.sort(key=_by_start)
            yield from own
        elif line:
            yield from _token_strokes(grid, plan, index, line)


def _by_start(draft: Draft) -> tuple[int, int]:
    """Return what strokes of a bar are sorted by: their start, the lowest first."""
    return draft.start, draft.pitch or 0


def _tab_stroke(note: WrittenNote, plan: BarPlan, index: int, pulse_ticks: int) -> Draft:
    first, end = span_ticks(note.start_quarters, note.length_quarters)
    level = tick_level(first, pulse_ticks)
    touch = Touch.HARMONIC if note.is_harmonic else Touch.PLAIN
    if note.slur:
        touch, level = SLUR_TOUCHES[note.slur], level - SLURRED_LEVELS_OFF
    # A tie that states no fret holds whatever sounds before its bar.
    is_ghost = note.pitch is None and not note.is_tied
    return Draft(
        start=plan.start_tick + first,
        end=plan.start_tick + max(end, first + 1),
        bar=index,
        cell="",
        level=GHOST_LEVEL if is_ghost else level,
        aim=GHOST_AIM if is_ghost else None,
        pitch=note.pitch,
        role=Role.GHOST if is_ghost else Role.FIXED,
        touch=touch,
        maker=Maker.WRITTEN,
        written=note,
        written_at=note.place,
    )


def _token_strokes(grid: Grid, plan: BarPlan, index: int, line: TokenLine) -> Iterator[Draft]:
    """Yield the strokes of a row of tokens, and the tie at its head."""
    meter = plan.bar.meter
    bar = riff_bar(line.slots, meter)
    base = plan.start_tick
    if bar.head_hold_beats:
        yield Draft(
            start=base,
            end=base + int(bar.head_hold_beats * meter.pulse_ticks),
            bar=index,
            cell="",
            level=TIE_LEVEL,
            aim=None,
            maker=Maker.WRITTEN,
        )
    for start, end, stroke in grid.lay(bar.strokes, meter, meter):
        yield Draft(
            start=base + start,
            end=base + end,
            bar=index,
            cell="",
            level=stroke.level,
            aim=stroke.aim,
            step=stroke.step,
            as_written=True,
            maker=Maker.WRITTEN,
            written_at=line.slots[stroke.step].place,
        )


def name_roles(drafts: Iterable[Draft]) -> None:
    """Say what each note of tab is in its chord."""
    known: dict[tuple[int, int], Role] = {}
    for draft in drafts:
        chord = draft.chord
        if draft.written and draft.pitch is not None and chord:
            # By identity: hashing a chord takes longer than naming a note of it.
            name = (id(chord), draft.pitch)
            if name not in known:
                known[name] = heard_role(draft.pitch, chord)
            draft.role = known[name]


def give_places(drafts: Sequence[Draft], plans: Sequence[BarPlan]) -> None:
    """Give every note of tab its string and fret; a ghost lies on its string where the hand is.

    That is the fret of the note before it, whatever its string.
    """
    last: Draft | None = None
    for draft in drafts:
        note = draft.written
        if note is None:
            last = last if draft.pitch is None or draft.is_ghost else draft
        elif note.pitch is None:
            line = plans[draft.bar].bar.line
            assert isinstance(line, TabLine)
            tuning = Tuning("", line.open_pitches)
            fret = _fret_under_hand(last, note.string, tuning)
            draft.place = FretPlace(note.string, fret)
            draft.pitch = tuning.pitch_at(note.string, fret)
        else:
            assert note.fret is not None
            draft.place, last = FretPlace(note.string, note.fret), draft


def _fret_under_hand(last: Draft | None, string: int, tuning: Tuning) -> int:
    """Return where the hand is on a string after a note, 0 before any."""
    if last is None or last.pitch is None:
        return 0
    if last.place:
        return last.place.fret
    fret = last.pitch - tuning.open_pitch(string)
    return fret if 0 <= fret <= HIGHEST_FRET else 0
