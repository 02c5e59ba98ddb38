"""Hits and kicks of the band: where they fall, and what the bass plays there.

``(hits 1 2+)``: all play these and nothing else; ``(kicks 2+)``: all catch them while time goes on
(common practice, no source).
"""

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import pairwise

from groove.arrange.cell_grid import STOP_TICKS
from groove.arrange.drafts import ROOT_AIM, Draft
from groove.arrange.plan import BarPlan, Plan
from groove.chart.model import BeatPoint
from groove.timing import Meter, quarters_to_ticks

_HIT_LEVEL = 9


def hit_ticks(meter: Meter, points: Sequence[BeatPoint], *, in_triplets: bool) -> list[int]:
    """Return where the band hits in a bar, in ticks from its line.

    ``2+`` is where a pushed chord of beat 3 would come: an eighth before it, in triplet feels its
    last triplet; of a beat no longer than that, its half.
    """
    if not points:
        return []
    beat = meter.beat_quarters
    early = min(meter.pulse_quarters / 3 if in_triplets else Fraction(1, 2), beat / 2)
    ends = ((point.beat * beat, point.is_off) for point in points)
    return [quarters_to_ticks(end - (early if is_off else beat)) for end, is_off in ends]


def plan_hit_ticks(plan: BarPlan, points: Sequence[BeatPoint]) -> list[int]:
    """Return where the band hits in a planned bar, in ticks of the song."""
    ticks = hit_ticks(plan.bar.meter, points, in_triplets=plan.in_triplets)
    return [plan.start_tick + tick for tick in ticks]


def with_hits(drafts: list[Draft], plan: Plan) -> list[Draft]:
    """Return the line with the band's hits and kicks; a player's own line has its own strokes."""
    # The next bar's pushed chord may come on a hit: it is struck once.
    struck = {draft.start for draft in drafts}
    hits = [
        draft
        for index, bar in enumerate(plan.bars)
        if bar.has_hits and bar.bass and not bar.is_written
        for draft in _hit_bar(bar, index, bar.bass.name)
        if draft.start not in struck
    ]
    if hits:
        drafts = sorted([*drafts, *hits], key=lambda draft: draft.start)
        starts = {hit.start for hit in hits}
        for draft, following in pairwise(drafts):
            # A chord that is pushed into the bar sounds until the band hits.
            if following.start in starts:
                draft.end = min(draft.end, following.start)
    for index, bar in enumerate(plan.bars):
        if bar.has_kicks and bar.bass and not bar.has_own_line:
            for tick in plan_hit_ticks(bar, bar.bar.directions.kicks):
                drafts = _kicked(drafts, tick, index, bar)
    return drafts


def _hit_bar(plan: BarPlan, index: int, cell: str) -> Iterator[Draft]:
    """Yield the hits of a bar: the root, short."""
    starts = plan_hit_ticks(plan, plan.bar.directions.hits)
    for start, following in zip(starts, [*starts[1:], plan.end_tick], strict=True):
        end = min(start + STOP_TICKS, following)
        yield Draft(start=start, end=end, bar=index, cell=cell, level=_HIT_LEVEL, aim=ROOT_AIM)


def _kicked(drafts: Sequence[Draft], tick: int, index: int, plan: BarPlan) -> list[Draft]:
    """Return the line with the root struck at a tick, in place of what is struck there."""
    assert plan.bass is not None
    end = min(tick + STOP_TICKS, plan.end_tick)
    for draft in drafts:
        if draft.start == tick:
            end = draft.end
        elif draft.start < tick < draft.end:
            end, draft.end = draft.end, tick
        elif tick < draft.start < end:
            end = draft.start
    kept = [draft for draft in drafts if draft.start != tick]
    name = plan.bass.name
    kick = Draft(start=tick, end=end, bar=index, cell=name, level=_HIT_LEVEL, aim=ROOT_AIM)
    return sorted([*kept, kick], key=lambda draft: draft.start)
