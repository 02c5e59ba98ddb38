"""What a record makes of a song's form: which sections it has, at which tempo, and where."""

from collections.abc import Sequence
from itertools import groupby

from msgspec import Struct

from groove.events import Bar
from groove.record.aligned import HeardBar, HeardSong
from groove.timing import TICKS_PER_QUARTER

SURE_FROM = 0.5
"""A bar of less confidence is one to check by ear."""


class HeardSection(Struct, frozen=True, kw_only=True):
    """A section as the record has it.

    ``bars`` are its first and last bar by the chart's numbers, ``tempo_bpm`` counts the beat that
    the chart's ``tempo`` counts there, ``due_bpm`` is the chart's own.  ``is_whole`` says that it
    has all of the section's bars; ``after_gap`` that something else stands before it.
    """

    name: str
    bars: tuple[int, int]
    sec: float
    end_sec: float
    tempo_bpm: float
    due_bpm: float
    is_whole: bool
    after_gap: bool


def heard_sections(
    heard: HeardSong, bars: Sequence[Bar], line_secs: Sequence[float]
) -> tuple[HeardSection, ...]:
    """Return the sections of a record in its order.

    ``bars`` are those of the performance that it was held against, ``line_secs`` its bar lines.
    """
    groups: list[list[HeardBar]] = []
    for one in heard.bars:
        ref = bars[one.index].ref
        goes_on = groups and one.follows and one.index == groups[-1][-1].index + 1
        if goes_on and (ref.bar_in_section > 1 or bars[one.index - 1].ref.is_pickup):
            groups[-1].append(one)
        else:
            groups.append([one])
    return tuple(_section(group, bars, line_secs) for group in groups)


def _section(
    group: Sequence[HeardBar], bars: Sequence[Bar], line_secs: Sequence[float]
) -> HeardSection:
    first, last = group[0], group[-1]
    own = bars[last.index]
    quarters = sum(bars[one.index].length_ticks for one in group) / TICKS_PER_QUARTER
    beats = quarters / float(own.meter.tempo_unit_quarters)
    due_sec = line_secs[last.index + 1] - line_secs[first.index]
    numbered = [bars[one.index].ref.written_bar for one in group]
    begins = bars[first.index].ref.is_pickup or bars[first.index].ref.bar_in_section == 1
    follower = bars[last.index + 1].ref if last.index + 1 < len(bars) else None
    return HeardSection(
        name=own.ref.section,
        bars=(min(numbered), max(numbered)),
        sec=first.sec,
        end_sec=last.end_sec,
        tempo_bpm=60 * beats / max(last.end_sec - first.sec, 0.001),
        due_bpm=60 * beats / due_sec,
        is_whole=begins and (follower is None or follower.bar_in_section == 1),
        after_gap=not first.follows,
    )


def heard_form(sections: Sequence[HeardSection]) -> str:
    """Return the sections as a form line has them: ``verse x2, chorus``."""
    runs = [(name, len(list(run))) for name, run in groupby(each.name for each in sections)]
    return ", ".join(name + (f" x{count}" if count > 1 else "") for name, count in runs)


def is_as_given(heard: HeardSong, bars: Sequence[Bar]) -> bool:
    """Return whether a record has all bars of the chart in their order, and nothing between."""
    found = [one.index for one in heard.bars]
    return found == list(range(len(bars))) and all(one.follows for one in heard.bars)


def tempo_bpm(heard: HeardSong, bars: Sequence[Bar]) -> float:
    """Return the usual tempo of a record, in the beat that the song's first bar counts."""
    unit = float(bars[0].meter.tempo_unit_quarters)
    found = sorted(
        60 * bars[one.index].length_ticks / TICKS_PER_QUARTER / unit / (one.end_sec - one.sec)
        for one in heard.bars
        if one.end_sec > one.sec
    )
    return found[len(found) // 2] if found else 0.0


def confidence(heard: HeardSong) -> float:
    """Return how sure all of it is, 0 to 1: the mean of its bars."""
    return sum(one.confidence for one in heard.bars) / max(1, len(heard.bars))


def unsure_runs(heard: HeardSong) -> list[tuple[HeardBar, HeardBar]]:
    """Return the first and the last of each run of bars that should be checked by ear."""
    found: list[tuple[HeardBar, HeardBar]] = []
    goes_on = False
    for one in heard.bars:
        if one.confidence >= SURE_FROM:
            goes_on = False
            continue
        found = [*found[:-1], (found[-1][0], one)] if goes_on else [*found, (one, one)]
        goes_on = True
    return found
