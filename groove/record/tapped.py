"""Bar lines by hand: the player taps beats, or the first beat of every bar, along with the record.

Taps are taken as they are: each is as near as the hand was.  Whether they are beats or whole bars
the distance between them decides, by what lies nearer to the chart's tempo.
"""

from collections.abc import Sequence
from itertools import accumulate, pairwise
from math import log

from msgspec.structs import replace

from groove.errors import OptionError
from groove.events import Bar, Performance
from groove.record.aligned import HeardSong
from groove.record.heard_bar import HeardBar

FEWEST_TAPS = 4
TAPPED_CONFIDENCE = 0.9
"""A hand strays by hundredths of a second, but it knows the bar (common practice, no source)."""
_NEAR_TAPS = 4


def tapped_lines(taps: Sequence[float], performance: Performance) -> tuple[float, ...]:
    """Return the bar lines that taps give, from the first played bar on, as far as they reach.

    The first tap is the first beat of bar 1; a pickup lies before it.  Where every bar has its
    first beat, the end of the last one follows.  Raises OptionError for taps that are too few, or
    not in order.
    """
    if len(taps) < FEWEST_TAPS:
        raise OptionError(
            f"--taps has {len(taps)} of them", hint=f"expected {FEWEST_TAPS} taps or more"
        )
    disorder = next((after for before, after in pairwise(taps) if after <= before), None)
    if disorder is not None:
        raise OptionError(
            f"--taps goes back at {disorder:g}", hint="expected seconds that rise, one a line"
        )
    bars = [bar for bar in performance.bars if not bar.ref.is_pickup]
    counts = _taps_a_bar(taps, bars, performance)
    firsts = list(accumulate(counts, initial=0))
    lines = [taps[index] for index in firsts if index < len(taps)]
    if len(lines) == len(bars) > 1:
        before = max(0, len(lines) - _NEAR_TAPS)
        ticks = bars[-1].start_tick - bars[before].start_tick
        lines.append(lines[-1] + (lines[-1] - lines[before]) / ticks * bars[-1].length_ticks)
    if performance.bars[0].ref.is_pickup:
        share = performance.bars[0].length_ticks / bars[0].length_ticks
        lines.insert(0, max(0.0, taps[0] - share * counts[0] * _apart(taps[:_NEAR_TAPS])))
    return tuple(lines)


def _apart(taps: Sequence[float]) -> float:
    """Return how far apart some taps are on the mean."""
    return (taps[-1] - taps[0]) / (len(taps) - 1)


def _taps_a_bar(taps: Sequence[float], bars: Sequence[Bar], performance: Performance) -> list[int]:
    """Return how many taps each bar has: its beats, or one."""
    usual = sorted(after - before for before, after in pairwise(taps))[len(taps) // 2 - 1]
    second = performance.tempo_map.tick_to_sec
    bar_sec = second(bars[0].end_tick) - second(bars[0].start_tick)
    beats = [max(1, bar.length_ticks // bar.meter.pulse_ticks) for bar in bars]
    if abs(log(usual / bar_sec)) < abs(log(usual * beats[0] / bar_sec)):
        return [1] * len(bars)
    return beats


def tapped_song(
    lines: Sequence[float], heard: HeardSong | None, *, tuning_cents: float, length_sec: float
) -> HeardSong:
    """Return a record with its bars where they were tapped, the rest as it was heard.

    ``heard`` is None where the taps reach over all bars.
    """
    tapped = [
        HeardBar(index=index, sec=sec, end_sec=end, confidence=TAPPED_CONFIDENCE, follows=True)
        for index, (sec, end) in enumerate(pairwise(lines))
    ]
    if heard is None:
        return HeardSong(
            bars=tuple(tapped),
            semitones=0,
            tuning_cents=tuning_cents,
            length_sec=length_sec,
            cost=0.0,
            reversed_cost=0.0,
        )
    rest = [one for one in heard.bars if one.index >= len(tapped) and one.sec > lines[-2]]
    if rest and rest[0].index == len(tapped):
        rest[0] = replace(rest[0], sec=min(lines[-1], rest[0].end_sec))
    return replace(heard, bars=(*tapped, *rest))
