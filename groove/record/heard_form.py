"""What a record makes of a song's form: which sections it has, at which tempo, and where."""

from collections.abc import Sequence
from itertools import groupby

from msgspec import Struct

from groove.events import Bar
from groove.record.aligned import HeardSong
from groove.record.form_edits import begins_visit, ends_visit, visit
from groove.record.heard_bar import HeardBar
from groove.timing import TICKS_PER_QUARTER

SURE_FROM = 0.5
"""A bar of less confidence is one to check by ear."""


class HeardSection(Struct, frozen=True, kw_only=True):
    """A section as the record has it.

    ``bars`` are its first and last bar by the chart's numbers, ``tempo_bpm`` counts the beat that
    the chart's ``tempo`` counts there, ``due_bpm`` is the chart's own.  ``is_whole`` says that it
    has all of the section's bars.
    """

    name: str
    bars: tuple[int, int]
    sec: float
    end_sec: float
    tempo_bpm: float
    due_bpm: float
    is_whole: bool


def heard_sections(
    heard: HeardSong, bars: Sequence[Bar], line_secs: Sequence[float]
) -> tuple[HeardSection, ...]:
    """Return the sections of a record in its order.

    ``bars`` are those of the performance that it was held against, ``line_secs`` its bar lines.
    """
    groups: list[list[HeardBar]] = []
    for one in heard.bars:
        if groups and _goes_on(groups[-1][-1].index, one.index, bars):
            groups[-1].append(one)
        else:
            groups.append([one])
    return tuple(_section(group, bars, line_secs) for group in groups)


def _goes_on(before: int, after: int, bars: Sequence[Bar]) -> bool:
    """Return whether a bar is in the same section as the one before it, and it is no new time."""
    if visit(before, bars) != visit(after, bars):
        return False
    return not (ends_visit(before, bars) and begins_visit(after, bars))


def _section(
    group: Sequence[HeardBar], bars: Sequence[Bar], line_secs: Sequence[float]
) -> HeardSection:
    first, last = group[0], group[-1]
    own = bars[last.index]
    quarters = sum(bars[one.index].length_ticks for one in group) / TICKS_PER_QUARTER
    beats = quarters / float(own.meter.tempo_unit_quarters)
    due_sec = sum(line_secs[one.index + 1] - line_secs[one.index] for one in group)
    sec = sum(one.end_sec - one.sec for one in group)
    numbered = [bars[one.index].ref.written_bar for one in group]
    indices = [one.index for one in group]
    is_all = set(indices) == set(range(min(indices), max(indices) + 1))
    return HeardSection(
        name=own.ref.section,
        bars=(min(numbered), max(numbered)),
        sec=first.sec,
        end_sec=last.end_sec,
        tempo_bpm=60 * beats / max(sec, 0.001),
        due_bpm=60 * beats / due_sec,
        is_whole=is_all and begins_visit(min(indices), bars) and ends_visit(max(indices), bars),
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
