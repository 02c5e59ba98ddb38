"""Repeats and endings of a section: the groups they form, and the order of playing."""

from collections.abc import Iterator, Sequence

from msgspec import Struct

from groove.chart.model import WrittenBar
from groove.errors import ChartError


class Group(Struct, frozen=True):
    """Bars ``start`` to ``stop`` (exclusive) that are played ``passes`` times, endings included."""

    start: int
    stop: int
    passes: int


def repeat_groups(bars: Sequence[WrittenBar]) -> tuple[Group, ...]:
    """Return the repeated groups of a section, in order.

    A repeat returns to its ``|:``, else to the end of the repeat before, else to the section's
    start.  A group ends with its last ending.
    """
    groups: list[Group] = []
    start = 0
    index = 0
    while index < len(bars):
        if bars[index].opens_repeat:
            start = index
        if bars[index].closes_repeat:
            stop = index + 1
            while stop < len(bars) and bars[stop].endings and not bars[stop].opens_repeat:
                stop += 1
            groups.append(Group(start, stop, _count_passes(bars[start:stop])))
            start = stop
            index = stop
        else:
            index += 1
    return tuple(groups)


def _count_passes(bars: Sequence[WrittenBar]) -> int:
    """Return how often a group is played: its ``x``, or its highest ending, at least twice."""
    stated = max(bar.passes for bar in bars if bar.closes_repeat)
    return max(stated, *(number for bar in bars for number in (*bar.endings, 2)))


def play_order(bars: Sequence[WrittenBar]) -> Iterator[tuple[int, int]]:
    """Yield (index of the written bar, pass number) for every played bar of a section."""
    position = 0
    for group in repeat_groups(bars):
        yield from ((index, 1) for index in range(position, group.start))
        for number in range(1, group.passes + 1):
            for index in range(group.start, group.stop):
                if not bars[index].endings or number in bars[index].endings:
                    yield index, number
        position = group.stop
    yield from ((index, 1) for index in range(position, len(bars)))


def played_length(bars: Sequence[WrittenBar]) -> int:
    """Return how many bars a section has when played, without unrolling it."""
    total = len(bars)
    for group in repeat_groups(bars):
        for bar in bars[group.start : group.stop]:
            played = len(bar.endings) or group.passes
            total += played - 1
    return total


def turns(bars: Sequence[WrittenBar]) -> tuple[int, ...]:
    """Return which bar each of a section is, from 1, counted anew from where a repeat begins.

    A later ending goes on with the count where the first one does.
    """
    starts = {0, *(group.start for group in repeat_groups(bars))}
    found: list[int] = []
    count = before_endings = 0
    for index, bar in enumerate(bars):
        last = bars[index - 1] if index else None
        if index in starts:
            count = 0
        if bar.endings and (last is None or not last.endings or index in starts):
            before_endings = count
        elif bar.endings and last and last.endings != bar.endings:
            count = before_endings
        count += 1
        found.append(count)
    return tuple(found)


def check_repeats(bars: Sequence[WrittenBar]) -> None:
    """Refuse endings outside a repeat, a pass in two endings, and an ending that is missing."""
    groups = repeat_groups(bars)
    repeated = {index for group in groups for index in range(group.start, group.stop)}
    for index, bar in enumerate(bars):
        if bar.endings and index not in repeated:
            raise ChartError(
                f"the ending {ending_text(bar)} belongs to no repeat",
                place=bar.place,
                hint="expected :| at the end of the first ending, e.g. |1. A :|2. D |",
            )
    for group in groups:
        _check_endings(bars[group.start : group.stop], group.passes)


def played_before(bars: Sequence[WrittenBar], endings: tuple[int, ...]) -> WrittenBar | None:
    """Return the bar that is played before one with these endings, None for none.

    ``bars`` are all that are written before it.  A later ending follows the bar before the first
    one, not the bar written before it.
    """
    last = bars[-1] if bars else None
    if last and last.endings and endings and last.endings != endings:
        return next((bar for bar in reversed(bars) if not bar.endings), None)
    return last


def ending_text(bar: WrittenBar) -> str:
    """Return an ending as a chart has it: ``1,2.``."""
    return ",".join(str(number) for number in bar.endings) + "."


def _check_endings(bars: Sequence[WrittenBar], passes: int) -> None:
    """Refuse endings that share a pass, and passes between endings that have none."""
    taken: dict[int, WrittenBar] = {}
    before: tuple[int, ...] = ()
    for bar in bars:
        if bar.endings and bar.endings != before:
            for number in bar.endings:
                if number in taken:
                    raise ChartError(
                        f"pass {number} has two endings",
                        place=bar.place,
                        hint=f"expected the next number, e.g. |{max(taken) + 1}.",
                    )
                taken[number] = bar
        before = () if bar.closes_repeat or bar.double_bar else bar.endings
    has_gap = taken and sorted(taken) != list(range(1, len(taken) + 1))
    if has_gap or (len(taken) > 1 and len(taken) < passes):
        missing = next(n for n in range(1, passes + 1) if n not in taken)
        raise ChartError(
            f"pass {missing} of {passes} has no ending",
            place=next(iter(taken.values())).place,
            hint=f"expected one more ending: |{missing}.",
        )
