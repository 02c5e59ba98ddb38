"""The chords of a song on the tick axis: when each sounds, and where it really changes."""

from collections.abc import Sequence

from msgspec import Struct

from groove.arrange.plan import BarPlan
from groove.chart.model import ChordSpan
from groove.chart.push import Push
from groove.errors import ChartError
from groove.events import ChordOnset
from groove.neck.instrument import Tuning, root_pitch
from groove.theory.chords import Chord
from groove.timing import quarters_to_ticks


class Span(Struct, frozen=True, kw_only=True):
    """One chord as it sounds: from ``start_tick`` (its push taken off) to ``end_tick``.

    ``bar`` is the index of the bar in which the chart has its ``onset``; ``is_change`` whether
    another chord sounded before, or a section begins; ``lift`` how many semitones the lowest root
    lies above the lowest string there.
    """

    start_tick: int
    end_tick: int
    bar: int
    onset: ChordOnset
    is_change: bool
    begins_section: bool
    lift: int = 0

    def root_pitch(self, tuning: Tuning) -> int:
        """Return where its root, or slash note, is played."""
        assert self.chord is not None
        return root_pitch(self.chord.bass_note.pitch_class, tuning, self.lift)

    @property
    def chord(self) -> Chord | None:
        """The chord, None for no chord."""
        return self.onset.chord

    @property
    def grid_tick(self) -> int:
        """Where the chart has it."""
        return self.start_tick + self.onset.pushed_ticks

    @property
    def is_pushed(self) -> bool:
        """Whether it sounds before its place in the chart."""
        return self.onset.pushed_ticks > 0


def _push_ticks(span: ChordSpan, plan: BarPlan) -> int:
    """Return how early a chord arrives.

    An eighth is in triplet feels the last triplet.  Raises ChartError for a sixteenth there.
    """
    if span.push is None:
        return 0
    if span.push is not Push.EIGHTH:
        _refuse_straight_push(span, plan)
        return quarters_to_ticks(span.push.quarters)
    triplet = plan.bar.meter.pulse_quarters / 3
    return quarters_to_ticks(triplet if plan.in_triplets else span.push.quarters)


def _refuse_straight_push(span: ChordSpan, plan: BarPlan) -> None:
    """Refuse a push by a sixteenth where the beat is felt in three."""
    if span.push is Push.SIXTEENTH and plan.in_triplets:
        raise ChartError(
            f"found {span.push_sign}{span.written} where the beat is in three",
            place=span.place,
            hint=f"expected <{span.written}, which arrives on the last triplet",
        )


def chord_onsets(plans: Sequence[BarPlan]) -> tuple[tuple[ChordOnset, ...], ...]:
    """Return the chords of every bar, each with how early it sounds.

    A push at the start of the song waits for the bar; one that is longer than the chord before
    begins where that chord began.
    """
    found: list[tuple[ChordOnset, ...]] = []
    earliest: int | None = None
    for plan in plans:
        own = []
        for span in plan.bar.chords:
            tick = quarters_to_ticks(span.start_quarters)
            grid = plan.start_tick + tick
            start = grid if earliest is None else max(grid - _push_ticks(span, plan), earliest)
            own.append(
                ChordOnset(
                    chord=span.chord, written=span.written, tick=tick, pushed_ticks=grid - start
                )
            )
            earliest = start
        found.append(tuple(own))
    return tuple(found)


def chord_spans(
    plans: Sequence[BarPlan], onsets: Sequence[tuple[ChordOnset, ...]]
) -> tuple[Span, ...]:
    """Return every chord of a song that is heard, in order, pushes taken off its start.

    ``onsets`` are the chords of every bar (``chord_onsets``).
    """
    placed = [
        (plan.start_tick + onset.sounding_tick, index, onset)
        for index, (plan, own) in enumerate(zip(plans, onsets, strict=True))
        for onset in own
    ]
    ends = [start for start, *_ in placed[1:]] + [plans[-1].end_tick if plans else 0]
    spans: list[Span] = []
    for (start, index, onset), end in zip(placed, ends, strict=True):
        if end <= start:
            continue
        before = spans[-1] if spans else None
        begins = onset.tick == 0 and plans[index].bar.is_section_start
        spans.append(
            Span(
                start_tick=start,
                end_tick=end,
                bar=index,
                onset=onset,
                is_change=begins or before is None or before.chord != onset.chord,
                begins_section=begins,
                lift=plans[index].lift,
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
