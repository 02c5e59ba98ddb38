"""A performance on a record's own time: its bars begin and end where the record's do."""

from collections.abc import Iterator, Sequence
from itertools import accumulate

from msgspec.structs import replace

from groove.bar_place import BarRef
from groove.cut import cut_bars, joined
from groove.events import Bar, Performance
from groove.record.aligned import HeardSong
from groove.record.heard_bar import HeardBar
from groove.timing import TICKS_PER_QUARTER, Meter, TempoChange, TempoMap

WAIT_SECTION = "elsewhere"
"""What bars are called in which the record plays no part of the song."""
_LEAST_WAIT_SEC = 0.001
_QUARTER = Meter(1, 4)


def like_record(performance: Performance, heard: HeardSong) -> Performance:
    """Return the band on a record's time, from the record's first sample on.

    It plays the bars that the record has, in its order, each at the record's tempo, and waits
    before the first and where the record plays something else.  ``performance`` is the one that
    the record was held against.
    """
    pieces: list[Performance] = []
    at_sec = 0.0
    for run in _runs(heard.bars):
        model = performance.bars[run[0].index]
        wait_sec = run[0].sec - at_sec
        if wait_sec >= _LEAST_WAIT_SEC:
            usual_sec = (run[-1].end_sec - run[0].sec) / len(run)
            pieces.append(_wait(performance, model, wait_sec, usual_sec))
        else:
            run = [replace(run[0], sec=at_sec), *run[1:]]
        pieces.append(_on_time(cut_bars(performance, [one.index for one in run]), run))
        at_sec = run[-1].end_sec
    return joined(pieces)


def from_first_bar(heard: HeardSong) -> HeardSong:
    """Return a record as if it began with the first bar that is heard."""
    start = heard.bars[0].sec
    bars = tuple(
        replace(one, sec=one.sec - start, end_sec=one.end_sec - start) for one in heard.bars
    )
    return replace(heard, bars=bars)


def _runs(bars: Sequence[HeardBar]) -> Iterator[list[HeardBar]]:
    """Yield the bars that come one after the other."""
    run: list[HeardBar] = []
    for one in bars:
        if run and not one.follows:
            yield run
            run = []
        run.append(one)
    if run:
        yield run


def _on_time(piece: Performance, run: Sequence[HeardBar]) -> Performance:
    """Return a piece with each bar as long as the record's."""
    changes = [
        TempoChange(bar.start_tick, _microseconds(one.end_sec - one.sec, bar.length_ticks))
        for bar, one in zip(piece.bars, run, strict=True)
    ]
    return replace(piece, tempo_map=TempoMap(tuple(changes)))


def _microseconds(seconds: float, ticks: int) -> int:
    return max(1, round(seconds * 1_000_000 * TICKS_PER_QUARTER / ticks))


def _wait(performance: Performance, model: Bar, seconds: float, usual_sec: float) -> Performance:
    """Return rest for some seconds: whole bars like ``model``, or quarters where it is shorter."""
    quarter_sec = usual_sec * TICKS_PER_QUARTER / model.length_ticks
    meter, length = model.meter, round(model.meter.bar_quarters * TICKS_PER_QUARTER)
    if seconds < quarter_sec * length / TICKS_PER_QUARTER:
        meter, length = _QUARTER, TICKS_PER_QUARTER
    count = max(1, round(seconds / (quarter_sec * length / TICKS_PER_QUARTER)))
    starts = accumulate([length] * (count - 1), initial=0)
    ref = BarRef(section=WAIT_SECTION, written_bar=0, played_bar=-1)
    bars = [
        replace(model, ref=ref, start_tick=start, length_ticks=length, meter=meter, chords=())
        for start in starts
    ]
    return replace(
        performance,
        notes=(),
        bars=tuple(replace(bar, word=None) for bar in bars),
        tempo_map=TempoMap((TempoChange(0, _microseconds(seconds, count * length)),)),
        markers=(),
        end_tick=count * length,
    )
