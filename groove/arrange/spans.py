"""The chords of a song on the tick axis: when each sounds, and where it really changes."""

from collections.abc import Sequence
from fractions import Fraction

from msgspec import Struct

from groove.arrange.plan import BarPlan
from groove.cells.fit import pulse_quarters
from groove.chart.model import ChordSpan
from groove.theory.chords import Chord
from groove.timing import quarters_to_ticks

EIGHTH_QUARTERS = Fraction(1, 2)
SIXTEENTH_QUARTERS = Fraction(1, 4)


class Span(Struct, frozen=True, kw_only=True):
    """One chord as it sounds: from ``start_tick`` (its push taken off) to ``end_tick``.

    ``grid_tick`` is where the chart has it, ``bar`` the index of that bar; ``is_change`` whether
    another chord sounded before, or a section begins.  ``chord`` is None for no chord.
    """

    start_tick: int
    end_tick: int
    grid_tick: int
    bar: int
    chord: Chord | None
    symbol: str
    is_change: bool
    begins_section: bool

    @property
    def is_pushed(self) -> bool:
        """Whether it sounds before its place in the chart."""
        return self.start_tick < self.grid_tick


def push_ticks(span: ChordSpan, plan: BarPlan) -> int:
    """Return how early a chord arrives.

    One sign is an eighth, in triplet feels the last triplet; two are a sixteenth.
    """
    if not span.pushes:
        return 0
    if span.pushes == 2:
        return quarters_to_ticks(SIXTEENTH_QUARTERS)
    triplet = pulse_quarters(plan.bar.meter) / 3
    return quarters_to_ticks(triplet if plan.in_triplets else EIGHTH_QUARTERS)


def chord_spans(plans: Sequence[BarPlan]) -> tuple[Span, ...]:
    """Return every chord of a song in order, pushes taken off its start.

    A push at the start of the song waits for the bar; one that is longer than the chord before
    begins where that chord began.
    """
    starts: list[tuple[int, int, int, ChordSpan]] = []
    for index, plan in enumerate(plans):
        for span in plan.bar.chords:
            grid = plan.start_tick + quarters_to_ticks(span.start_quarters)
            earliest = starts[-1][0] if starts else grid
            start = max(grid - push_ticks(span, plan), earliest)
            starts.append((start, grid, index, span))
    ends = [start for start, *_ in starts[1:]] + [plans[-1].end_tick if plans else 0]
    spans: list[Span] = []
    for (start, grid, index, written), end in zip(starts, ends, strict=True):
        if end <= start:
            continue
        before = spans[-1] if spans else None
        begins = grid == plans[index].start_tick and plans[index].bar.is_section_start
        spans.append(
            Span(
                start_tick=start,
                end_tick=end,
                grid_tick=grid,
                bar=index,
                chord=written.chord,
                symbol=written.symbol,
                is_change=begins or before is None or before.symbol != written.symbol,
                begins_section=begins,
            )
        )
    return tuple(spans)


def spans_by_bar(spans: Sequence[Span]) -> dict[int, list[Span]]:
    """Return the chords of each bar by its index."""
    found: dict[int, list[Span]] = {}
    for span in spans:
        found.setdefault(span.bar, []).append(span)
    return found


class SpanCursor:
    """Finds the chord at a tick, for ticks that never go back."""

    def __init__(self, spans: Sequence[Span]) -> None:
        """Begin at the first chord."""
        self.spans = spans
        self.index = 0

    def at(self, tick: int) -> Span:
        """Return the chord that sounds at a tick not before the last one asked for."""
        spans = self.spans
        while self.index + 1 < len(spans) and spans[self.index + 1].start_tick <= tick:
            self.index += 1
        return spans[self.index]

    def next_from(self, tick: int) -> Span | None:
        """Return the first chord that starts at a tick or later, None at the song's end."""
        index = self.index
        while index < len(self.spans) and self.spans[index].start_tick < tick:
            index += 1
        return self.spans[index] if index < len(self.spans) else None
