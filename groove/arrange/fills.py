"""Who fills where, and what the bass plays there.

A fill stands at the end of a section; with ``many``, at every fourth bar too, though not in the
first four of a section that is softer than usual, nor shortly before its end. Bass and drums never
fill the same bar: they take turns, one fills, the other keeps time. A bass fill starts from a chord
tone near the line before it, keeps its direction and arrives on the next root on time, under one
hand, so that it can be played at any tempo; it is small inside a section and largest before a
chorus (common practice, no source).
"""

from bisect import bisect_left
from collections.abc import Iterable, Iterator, Mapping, Sequence

from msgspec import Struct
from msgspec.structs import replace

from groove.arrange.arrangement import MARKED_PHRASE_BARS, FillSize
from groove.arrange.candidates import Context
from groove.arrange.drafts import Draft
from groove.arrange.draws import draw_for, weighted_choice
from groove.arrange.drum_fills import drums_return
from groove.arrange.fill_figures import FILL_FIGURES, Figure, FillPlace, is_playable, start_of
from groove.arrange.pitches import LineSearch, fill_entry_cost
from groove.arrange.plan import BarPlan, Plan
from groove.arrange.spans import Span, spans_by_bar
from groove.bar_place import SectionKind
from groove.cells.conditions import bar_of
from groove.cells.fit import Family, meter_family
from groove.chart.model import Fills
from groove.events import Role
from groove.neck.instrument import hand_frets

FIRST_BARS = 4
BARS_BEFORE_END = 2
_FILL_PULSES = {FillSize.HALF_BEAT: 1, FillSize.BEAT: 2, FillSize.HALF_BAR: 2, FillSize.BAR: 3}
"""How many beats a fill may take, by what the place in the form has room for."""
_LEAST_NOTES = {FillSize.HALF_BEAT: 2, FillSize.BEAT: 2, FillSize.HALF_BAR: 3, FillSize.BAR: 4}
"""How many notes it has at least, where a figure of so many can be played."""
_MOST_NOTES = 6
FILL_UNITS = 3
"""Length of a fill where the pulse is the eighth, as in 7/8: its last group of three."""
HAND = 4
"""Frets that a hand covers, one finger a fret."""
_LEVELS = (6, 6, 7, 7)
FILL_SLACK = 0.5
"""How much more than the cheapest a fill may cost and still be drawn."""


class FillPlan(Struct, frozen=True, kw_only=True):
    """The bars, by their index, in which the bass fills where it can, and those of the drums."""

    bass: tuple[int, ...]
    drums: frozenset[int]

    def left_to_drums(self, plan: Plan, filled: frozenset[int]) -> frozenset[int]:
        """Return the bars that the bass leaves to the drums, after it filled those."""
        unfilled = (index for index in self.bass if index not in filled)
        return frozenset(index for index in unfilled if _has_drum_fill(plan.bars[index]))


def plan_fills(plan: Plan) -> FillPlan:
    """Return whose turn it is to fill in which bars of a song."""
    bass = []
    returns = frozenset(index for index in range(len(plan.bars)) if drums_return(plan, index))
    drums = set(returns)
    sections = list(dict.fromkeys(bar.bar.stem for bar in plan.bars))
    for index in _fill_bars(plan):
        bar = plan.bars[index]
        if index in returns:
            continue
        if _is_drummers(bar, sections.index(bar.bar.stem)):
            drums.add(index)
        else:
            bass.append(index)
    return FillPlan(bass=tuple(bass), drums=frozenset(drums))


def _has_drum_fill(plan: BarPlan) -> bool:
    return plan.drums is not None and bool(plan.drums.fills)


def _is_drummers(bar: BarPlan, section_index: int) -> bool:
    """Return whether it is the drummer who fills: drums and bass take turns.

    From phrase to phrase and from section to section, so that neither has all of them; a section
    that comes again has its fills again.  The drums lead into a chorus.
    """
    if not _has_drum_fill(bar):
        return False
    if bar.bar.is_section_end and bar.bar.place.next_kind is SectionKind.CHORUS:
        return True
    phrases = bar.bar.ref.bar_in_section // MARKED_PHRASE_BARS
    return (section_index + phrases + bar.seed) % 2 == 1


def _fill_bars(plan: Plan) -> Iterator[int]:
    """Yield the indices of the bars that somebody fills."""
    for index, bar in enumerate(plan.bars[:-1]):
        asked = bar.bar.directions.fill
        if asked is False or bar.bar.is_pickup or bar.is_counted:
            continue
        if asked:
            yield index
            continue
        if bar.is_thin or plan.bars[index + 1].is_counted:
            continue
        at_end = bar.bar.is_section_end and bar.fills is not Fills.NONE
        if at_end or (bar.fills is Fills.MANY and _fills_within(plan, index)):
            yield index


def _fills_within(plan: Plan, index: int) -> bool:
    """Return whether many fills have one inside a section here: in its every fourth bar."""
    bar = plan.bars[index]
    number = bar.bar.ref.bar_in_section
    soon = plan.bars[index + 1 : index + 1 + BARS_BEFORE_END]
    is_early = number <= FIRST_BARS and bar.velocity_offset < 0
    ends_soon = any(after.bar.is_section_end for after in soon)
    return number % MARKED_PHRASE_BARS == 0 and not is_early and not ends_soon


def with_fills(
    drafts: list[Draft],
    plan: Plan,
    spans: Sequence[Span],
    bars: Iterable[int],
    search: LineSearch,
    heads: Mapping[int, int],
) -> tuple[list[Draft], frozenset[int]]:
    """Return the line with fills in place of what the cells play there, and the bars filled.

    ``heads`` are the pitches that the player wrote, by their tick: a fill may lead to one.
    """
    by_bar = spans_by_bar(spans)
    filled = set()
    for index in bars:
        place = _fill_place(plan, index, by_bar, search, heads)
        figure = _chosen_figure(place, drafts, search) if place else None
        if place and figure:
            drafts = _with_figure(drafts, place, figure)
            filled.add(index)
    return drafts, frozenset(filled)


def _fill_place(
    plan: Plan,
    index: int,
    by_bar: dict[int, list[Span]],
    search: LineSearch,
    heads: Mapping[int, int],
) -> FillPlace | None:
    """Return where a bass fill would stand, None where the bass had better keep time.

    It needs a cell that can be left, one chord under the fill, and a next bar whose first stroke
    is on its head and not pushed.
    """
    bar, after = plan.bars[index], plan.bars[index + 1]
    own, following = by_bar.get(index, []), by_bar.get(index + 1, [])
    has_steps = bar.bass is not None and bool(bar.bass.bars) and not bar.has_own_line
    lands = after.start_tick in heads if after.is_written else _strikes_head(after)
    if not own or not following or not has_steps or not lands:
        return None
    last, goal = own[-1], following[0]
    step, longest = _fill_steps(bar)
    longest = min(longest, (bar.end_tick - max(last.start_tick, bar.start_tick)) // step)
    if not longest or last.chord is None or goal.chord is None or goal.is_pushed:
        return None
    target = heads.get(after.start_tick, goal.root_pitch(search.tuning))
    return FillPlace(
        index=index,
        plan=bar,
        span=last,
        context=Context(
            chord=last.chord,
            key=search.keys[index],
            target=target,
            tuning=search.tuning,
            weights=search.weights,
            lift=last.lift,
        ),
        target=target,
        step_ticks=step,
        longest=longest,
        least=_LEAST_NOTES[_size(bar)],
        change_tick=last.start_tick,
    )


def _size(plan: BarPlan) -> FillSize:
    """Return how large a fill may be in a bar that somebody fills."""
    return plan.arrangement.fill or FillSize.HALF_BAR


def _fill_steps(plan: BarPlan) -> tuple[int, int]:
    """Return the note value of a bass fill in ticks, and how many of them it has at most."""
    meter = plan.bar.meter
    if meter_family(meter) is Family.UNITS:
        return meter.pulse_ticks, FILL_UNITS
    parts = 3 if plan.in_triplets else 2
    # Its first beat stays with the line, but in a bar of two.
    pulses = min(_FILL_PULSES[_size(plan)], max(2, meter.pulse_count - 1))
    return meter.pulse_ticks // parts, min(pulses * parts, _MOST_NOTES)


def _strikes_head(plan: BarPlan) -> bool:
    """Return whether a bar's bass strikes beat 1, whatever its chords are."""
    cell = plan.bass
    if cell is None:
        return False
    if not cell.bars:
        return True
    facts = (replace(plan.facts_for(cell), chord_holds=holds) for holds in (True, False))
    bars = [bar_of(cell.bars, cell.when, fact) for fact in facts]
    return all(bar.strokes and bar.strokes[0].start_beats == 0 for bar in bars)


def _chosen_figure(place: FillPlace, drafts: Sequence[Draft], search: LineSearch) -> Figure | None:
    """Return the fill that chance takes of those that cost least, None where none can be played.

    Each kind of figure offers the first that begins near the line, else its cheapest.  Where some
    have as many notes as the place asks for, it is one of them.
    """
    offers: list[tuple[Figure, float]] = []
    for figures, share in FILL_FIGURES:
        found = [
            replace(figure, cost=figure.cost + _entry_cost(figure, place, drafts, search))
            for figure in figures(place)
            if is_playable(figure, place)
        ]
        found = [figure for figure in found if figure.cost < search.weights.over_octave]
        if found:
            near = (figure for figure in found if figure.cost <= search.weights.skip)
            offers.append((next(near, min(found, key=lambda figure: figure.cost)), share))
    if not offers:
        return None
    offers = [offer for offer in offers if len(offer[0].pitches) >= place.least] or offers
    bound = min(figure.cost for figure, _ in offers) + FILL_SLACK
    ref, time = place.plan.bar.ref, place.plan.arrangement.draw_time
    draw = draw_for(place.plan.seed, "band", "fill", place.plan.bar.stem, ref.bar_in_section, time)
    return weighted_choice(draw, [offer for offer in offers if offer[0].cost <= bound])


def _entry_cost(
    figure: Figure, place: FillPlace, drafts: Sequence[Draft], search: LineSearch
) -> float:
    """Return what the line costs up to a figure, and what the hand reaches for it.

    The tempo is left out of it, so that a song practised slowly has the line of the song.
    """
    context, first = place.context, figure.pitches[0]
    tick = start_of(figure, place)
    between: list[Draft] = []
    anchor: Draft | None = None
    for draft in reversed(drafts[: bisect_left(drafts, tick, key=lambda draft: draft.start)]):
        if draft.sounds and draft.pitch is not None:
            anchor = draft
            break
        if draft.sounds:
            between.insert(0, draft)
    cost = 0.0
    if between:
        cost = search.paths(anchor, between, _fill_note(place, figure, 0))[0][1]
    elif anchor and anchor.pitch is not None:
        cost = fill_entry_cost(context, anchor.pitch, first)
    reach = hand_frets([context.root, *figure.pitches, place.target], search.tuning)
    return cost + search.weights.stretch * max(0, reach - HAND)


def _with_figure(drafts: Sequence[Draft], place: FillPlace, figure: Figure) -> list[Draft]:
    """Return the line with a figure in place of what it covers."""
    start = start_of(figure, place)
    after = bisect_left(drafts, start, key=lambda draft: draft.start)
    next_bar = bisect_left(drafts, place.plan.end_tick, key=lambda draft: draft.start)
    before = drafts[:after]
    for draft in before:
        if draft.end > start:
            draft.end = start
    notes = [_fill_note(place, figure, number) for number in range(len(figure.pitches))]
    others = [draft for draft in drafts[after:next_bar] if draft.bar != place.index]
    return [*before, *notes, *others, *drafts[next_bar:]]


def _fill_note(place: FillPlace, figure: Figure, number: int) -> Draft:
    start = start_of(figure, place) + number * place.step_ticks
    return Draft(
        start=start,
        end=start + place.step_ticks,
        bar=place.index,
        cell=place.plan.bass.name if place.plan.bass else "",
        level=_LEVELS[number % len(_LEVELS)],
        aim=None,
        pitch=figure.pitches[number],
        role=Role.FILL,
        reason=figure.reason,
        target_pitch=place.target,
        time_keeping=False,
        span=place.span,
    )
