"""The strokes of a bass line: what is struck when and how loud, before pitches are known.

Cells are laid on the bars, pushed chords are struck early, and every chord's first stroke comes to
stand on its root.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence

from msgspec.structs import replace

from groove.arrange.cell_grid import STOP_TICKS, Grid
from groove.arrange.drafts import CHANGE_LEVEL, ROOT_AIM, TIE_LEVEL, Draft
from groove.arrange.draws import draw_for
from groove.arrange.plan import BarPlan, Plan
from groove.arrange.spans import Span, spans_by_bar
from groove.arrange.touches import touched
from groove.arrange.walking import walking_bar
from groove.bar_place import BandWord
from groove.cells.conditions import bar_of, condition_of, takes_touch
from groove.cells.model import AimKind, BassBar, BassCell
from groove.chart.model import WrittenNote
from groove.events import Maker
from groove.timing import TRIPLET_SWING, Meter


def cell_strokes(plan: Plan, spans: Sequence[Span]) -> list[Draft]:
    """Return the strokes and ties of every bar as its cell has them, in order."""
    drafts: list[Draft] = []
    grid = Grid()
    by_bar = spans_by_bar(spans)
    for index, bar in enumerate(plan.bars):
        cell = bar.bass
        if cell is None or bar.is_written or bar.has_hits:
            continue
        own = by_bar.get(index, [])
        # A pickup only leads in: the root of each of its chords, held.
        generator = "long" if bar.word or bar.bar.is_pickup else cell.generator
        if generator:
            after = next(iter(by_bar.get(index + 1, ())), None)
            drafts += GENERATORS[generator](bar, index, cell.name, own, after)
        else:
            drafts += _cell_bar(grid, bar, index, cell)
    return drafts


def _long_bar(
    plan: BarPlan, index: int, cell: str, spans: Sequence[Span], _after: Span | None
) -> Iterator[Draft]:
    """Yield one long note a chord; a stop is one short note on beat 1."""
    for span in spans:
        start = span.grid_tick
        end = min(span.end_tick, plan.end_tick)
        if plan.word is BandWord.STOP:
            end = min(end, start + STOP_TICKS)
        if span.chord and start < end:
            yield Draft(
                start=start, end=end, bar=index, cell=cell, level=CHANGE_LEVEL, aim=ROOT_AIM
            )
        if plan.word is BandWord.STOP:
            return


GENERATORS: dict[
    str, Callable[[BarPlan, int, str, Sequence[Span], Span | None], Iterable[Draft]]
] = {"long": _long_bar, "walking": walking_bar}
"""What makes a bar of the cells that are no row of steps: from its plan, its index, the cell's
name, its chords and the first of the next bar."""


def _cell_bar(grid: Grid, plan: BarPlan, index: int, cell: BassCell) -> Iterator[Draft]:
    """Yield the strokes of one bar of a cell, and the tie at its head."""
    assert cell.meter is not None, "only a generator serves any meter"
    written = _written_bar(plan, cell, cell.meter)
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
            as_written=cell.as_written,
            maker=Maker.RIFF if cell.as_written else Maker.CELL,
        )


def _written_bar(plan: BarPlan, cell: BassCell, meter: Meter) -> BassBar:
    """Return the bar of a cell that a played bar takes, touched where it has none for that.

    A player's own line has the notes that it has.
    """
    facts = plan.facts_for(cell)
    written = bar_of(cell.bars, cell.when, facts)
    takes = takes_touch(condition_of(cell.when, facts))
    if not facts.is_touched or cell.as_written or not takes:
        return written
    ref, time = plan.bar.ref, plan.arrangement.draw_time
    draw = draw_for(plan.seed, "bass", "touch", plan.bar.stem, ref.bar_in_section, time)
    return touched(written, meter.pulse_count, draw)


def with_pushes(
    drafts: list[Draft], spans: Sequence[Span], plans: Sequence[BarPlan]
) -> list[Draft]:
    """Return the line with every pushed chord struck early and tied over its place."""
    pushed = [span for span in spans if span.is_pushed]
    if not pushed:
        return drafts
    for span in pushed:
        drafts = _push_one(drafts, span, plans)
    return drafts


def _push_one(drafts: list[Draft], span: Span, plans: Sequence[BarPlan]) -> list[Draft]:
    """Return the line with one pushed chord: its stroke takes the place of those between."""
    early, grid = span.start_tick, span.grid_tick
    bar = span.bar if early >= plans[span.bar].start_tick else span.bar - 1
    cell = plans[span.bar].bass
    if cell is None or span.chord is None or (bar == span.bar and plans[bar].has_hits):
        return drafts
    # A half of a beat is swung to where a chord comes that is pushed by a triplet.
    half = plans[bar].bar.meter.pulse_ticks // 2
    since = min(early, grid - half) if plans[bar].swing == TRIPLET_SWING else early
    kept, end = [], min(grid + plans[span.bar].bar.meter.pulse_ticks, span.end_tick)
    for draft in drafts:
        if since <= draft.start <= grid:
            end = draft.end if draft.start == grid else end
            continue
        if draft.start < early < draft.end:
            # What was held over the chord's place is held by the pushed note instead.
            end = draft.end if draft.end > grid else end
            draft.end = early
            if draft.anticipates:
                # The chart says how early the chord comes: the cell does not come before it.
                draft.aim = ROOT_AIM
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
        pushed_ticks=span.onset.pushed_ticks,
    )
    return sorted([*kept, stroke], key=lambda draft: draft.start)


def with_changes(
    drafts: list[Draft], spans: Sequence[Span], plans: Sequence[BarPlan]
) -> list[Draft]:
    """Return the line with each chord's first stroke on its root, silent where no chord is."""
    groups = _strokes_by_span(drafts, spans)
    line: list[Draft] = []
    for span, own in zip(spans, groups, strict=True):
        plan = plans[span.bar]
        if plan.is_written:
            line += _joined(line, own, span)
            continue
        if span.chord is None:
            _end_before(line, span)
            continue
        if plan.has_hits:
            _end_before(line, span)
        elif span.is_change and not span.is_pushed:
            own = changed(line, own, span, plan)
        elif own and own[0].is_tie:
            own = _tied_over(line, own)
        for draft in own:
            draft.span = span
        line += own
    return line


def _strokes_by_span(drafts: list[Draft], spans: Sequence[Span]) -> list[list[Draft]]:
    """Return the strokes that begin while each chord sounds."""
    groups: list[list[Draft]] = [[] for _ in spans]
    index = 0
    for draft in drafts:
        while index + 1 < len(spans) and spans[index + 1].start_tick <= draft.start:
            index += 1
        groups[index].append(draft)
    return groups


def _end_before(line: list[Draft], span: Span) -> None:
    """Let the last note end where no chord begins."""
    if line and line[-1].end > span.start_tick:
        line[-1].end = span.start_tick


def changed(line: list[Draft], own: list[Draft], span: Span, plan: BarPlan) -> list[Draft]:
    """Return the strokes of a new chord, the first on its root and never a ghost."""
    start = span.start_tick
    last = line[-1] if line else None
    held = last is not None and last.end > start
    if last and held and not (last.anticipates and _leads_to(last, span)):
        own = [_struck_again(last, span), *own]
        last.end = start
        held = False
    if own and own[0].start == start and own[0].is_tie:
        early = last is not None and last.anticipates and last.end == start
        if last and early:
            last.end = own[0].end
            held = True
            own = own[1:]
    if held:
        return own
    if plan.bass and plan.bass.as_written:
        # A player's own line has the notes and the rests that it has, on a new chord too.
        if own and own[0].is_tie:
            _on_root(own[0])
        return own
    while own and own[0].is_ghost and own[0].start > start:
        own = own[1:]
    if own and (own[0].start == start or _leaves_head_open(plan, start)):
        _on_root(own[0])
        return own
    return [_stated(span, plan, own), *own] if plan.bass else []


def _leaves_head_open(plan: BarPlan, tick: int) -> bool:
    """Return whether a bar begins at a tick with a rest that its cell asks for, as in one drop."""
    cell = plan.bass
    if cell is None or not cell.bars or tick != plan.start_tick:
        return False
    bar = bar_of(cell.bars, cell.when, plan.facts_for(cell))
    return not bar.head_hold_beats and bool(bar.strokes) and bar.strokes[0].start_beats > 0


def _leads_to(draft: Draft, span: Span) -> bool:
    """Return whether a note that anticipates stands in the chord before the one that is new."""
    return draft.span is None or draft.span.end_tick == span.start_tick


def _struck_again(held: Draft, span: Span) -> Draft:
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


def _on_root(draft: Draft) -> None:
    """Put a stroke on the root, unless its pitch is given, or will be at the head of a walk."""
    if draft.pitch is not None or draft.is_head:
        return
    aim = draft.aim
    if aim is None or aim.kind is AimKind.GHOST:
        draft.level = max(draft.level, TIE_LEVEL)
    draft.aim = replace(ROOT_AIM, slide=aim is not None and aim.slide)


def _stated(span: Span, plan: BarPlan, following: Sequence[Draft]) -> Draft:
    """Return a stroke for a chord that the cell would pass over, or strike too late."""
    ends = [span.start_tick + plan.bar.meter.pulse_ticks, span.end_tick]
    end = min(ends + [draft.start for draft in following[:1]])
    name = plan.bass.name if plan.bass else ""
    return Draft(
        start=span.start_tick, end=end, bar=span.bar, cell=name, level=TIE_LEVEL, aim=ROOT_AIM
    )


def _tied_over(line: list[Draft], own: list[Draft]) -> list[Draft]:
    """Return the strokes of a held chord whose bar begins with a tie: it needs a note to hold."""
    last = line[-1] if line else None
    if last and last.end == own[0].start and not last.is_ghost and last.span is not None:
        last.end = own[0].end
        return own[1:]
    _on_root(own[0])
    return own


def _joined(line: list[Draft], own: Sequence[Draft], span: Span) -> Iterator[Draft]:
    """Yield the strokes of a chord in a written bar, after ties have held what goes on.

    A drawn note before them ends where they begin; a tie with nothing to hold is struck where a
    note is written, and is silence where only a hold is.
    """
    start = span.start_tick
    if line and not line[-1].is_written and line[-1].end > start:
        line[-1].end = start
    for draft in own:
        note = draft.written
        if draft.is_tie:
            if line and line[-1].end >= draft.start and not line[-1].is_ghost:
                line[-1].end = draft.end
            continue
        held = _held(line, note, draft.start) if note and note.is_tied else None
        if held:
            held.end = draft.end
            continue
        yield draft


def _held(line: Sequence[Draft], note: WrittenNote, tick: int) -> Draft | None:
    """Return the stroke that a tied note goes on from, None where another pass brings another."""
    for draft in reversed(line):
        if draft.written and draft.written.string == note.string:
            is_same = draft.end == tick and draft.written.pitch == note.pitch
            return draft if is_same else None
        if not draft.is_written:
            return None
    return None
