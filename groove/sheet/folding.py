"""Which played bars share a printed measure: repeats as in the chart where all passes are equal."""

from collections.abc import Hashable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import groupby

from groove.chart.model import Section, Song, WrittenBar
from groove.chart.repeats import Group, play_order, repeat_groups
from groove.events import Performance
from groove.sheet.score import Ending


@dataclass(frozen=True, slots=True, kw_only=True)
class Fold:
    """One measure to print: the bars it stands for (indices, one a pass), and its signs."""

    played: tuple[int, ...]
    opens_section: bool = False
    ends_section: bool = False
    ends_song: bool = False
    opens_repeat: bool = False
    passes: int = 0
    ending: Ending | None = None

    @property
    def has_signs(self) -> bool:
        """Whether the measure stands in a folded repeat."""
        return self.opens_repeat or self.passes > 0 or self.ending is not None


def fold_bars(
    performance: Performance, song: Song, contents: Sequence[Hashable], *, written_out: bool
) -> tuple[Fold, ...]:
    """Return the measures of a part in played order.

    ``contents`` says of every bar what the page would show, so that equal bars may share one
    measure.  A section that is only played in part is written out; sections that come again one
    after another with the same notes are repeated by signs, where no signs stand in them.
    """
    times: list[list[Fold]] = []
    indexed = list(enumerate(performance.bars))
    for _, run in groupby(indexed, key=lambda pair: (pair[1].ref.section, pair[1].ref.occurrence)):
        indices = [index for index, _ in run]
        section = _whole_section(performance, song, indices)
        if section is None or written_out:
            measures = [Fold(played=(index,)) for index in indices]
        else:
            measures = list(_fold_section(section, indices, contents))
        times.append(list(_with_edges(measures)))
    if not written_out:
        shown = [_section_content(performance, measures, contents) for measures in times]
        times = _fold_times(times, shown)
    *folds, last = (fold for measures in times for fold in measures)
    return (*folds, replace(last, ends_song=True))


def _with_edges(measures: list[Fold]) -> Iterator[Fold]:
    """Yield the measures of a section, first and last marked."""
    for number, fold in enumerate(measures):
        last = number == len(measures) - 1
        yield replace(fold, opens_section=number == 0, ends_section=last)


def _section_content(
    performance: Performance, measures: Sequence[Fold], contents: Sequence[Hashable]
) -> Hashable:
    """Return what one time through a section shows; None where it has repeat signs of its own."""
    if any(fold.has_signs for fold in measures):
        return None
    indices = [fold.played[0] for fold in measures]
    return tuple((performance.bars[index].ref.written_bar, contents[index]) for index in indices)


def _fold_times(times: Sequence[list[Fold]], shown: Sequence[Hashable]) -> list[list[Fold]]:
    """Return the times through sections, each run of equal ones once: A B A B is A B twice."""
    found: list[list[Fold]] = []
    at = 0
    while at < len(times):
        size, count = _longest_run(shown, at)
        run = [times[at + number * size : at + (number + 1) * size] for number in range(count)]
        found += _repeated_times(run) if count > 1 else run[0]
        at += size * count
    return found


def _longest_run(shown: Sequence[Hashable], at: int) -> tuple[int, int]:
    """Return how many sections from here come again as a group, and how often; else (1, 1).

    Of several groups the one that covers most, of those the shortest.
    """
    best = (1, 1)
    for size in range(1, (len(shown) - at) // 2 + 1):
        group = shown[at : at + size]
        if None in group:
            break
        count = 1
        while shown[at + count * size : at + (count + 1) * size] == group:
            count += 1
        if count > 1 and size * count > best[0] * best[1]:
            best = (size, count)
    return best


def _repeated_times(run: Sequence[Sequence[list[Fold]]]) -> list[list[Fold]]:
    """Return a group of sections that stands for all its times, between repeat signs."""
    group = [
        [
            replace(together[0], played=tuple(index for fold in together for index in fold.played))
            for together in zip(*same, strict=True)
        ]
        for same in zip(*run, strict=True)
    ]
    group[0][0] = replace(group[0][0], opens_repeat=True)
    group[-1][-1] = replace(group[-1][-1], passes=len(run))
    return group


def _whole_section(performance: Performance, song: Song, indices: list[int]) -> Section | None:
    """Return the section that these bars are, all of it in order; else None."""
    refs = [performance.bars[index].ref for index in indices]
    try:
        section = song.section(refs[0].section)
    except KeyError:
        return None
    order = [section.bars[index].number for index, _ in play_order(section.bars)]
    return section if order == [ref.written_bar for ref in refs] else None


def _fold_section(
    section: Section, indices: list[int], contents: Sequence[Hashable]
) -> Iterator[Fold]:
    """Yield the measures of a section, each repeat folded where its passes are equal."""
    order = list(play_order(section.bars))
    at = 0
    for group in repeat_groups(section.bars):
        first = next(place for place in range(at, len(order)) if order[place][0] == group.start)
        yield from (Fold(played=(index,)) for index in indices[at:first])
        stop = first + sum(1 for index, _ in order[first:] if group.start <= index < group.stop)
        passes = _passes_by_bar(order[first:stop], indices[first:stop])
        if _may_fold(section.bars, group, passes, contents):
            yield from _folded_group(section.bars, group, passes)
        else:
            yield from (Fold(played=(index,)) for index in indices[first:stop])
        at = stop
    yield from (Fold(played=(index,)) for index in indices[at:])


def _passes_by_bar(
    order: Sequence[tuple[int, int]], indices: Sequence[int]
) -> dict[int, tuple[int, ...]]:
    """Return the played bars of each written bar of a group."""
    found: dict[int, tuple[int, ...]] = {}
    for (written, _), played in zip(order, indices, strict=True):
        found[written] = (*found.get(written, ()), played)
    return found


def _may_fold(
    bars: Sequence[WrittenBar],
    group: Group,
    passes: dict[int, tuple[int, ...]],
    contents: Sequence[Hashable],
) -> bool:
    """Return whether every pass shows the same, and the last pass has an ending if any has."""
    endings = [number for bar in bars[group.start : group.stop] for number in bar.endings]
    if endings and group.passes not in endings:
        return False
    return all(len({contents[index] for index in played}) == 1 for played in passes.values())


def _folded_group(
    bars: Sequence[WrittenBar], group: Group, passes: dict[int, tuple[int, ...]]
) -> Iterator[Fold]:
    """Yield the measures of a folded repeat with its signs."""
    for index, signs in zip(range(group.start, group.stop), _group_signs(bars, group), strict=True):
        yield Fold(
            played=passes[index],
            opens_repeat=signs.opens_repeat,
            passes=signs.passes,
            ending=signs.ending,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class RepeatSigns:
    """What a bar has of a repeat; ``passes`` as in ``Measure``, 0 where no sign closes here."""

    opens_repeat: bool = False
    passes: int = 0
    ending: Ending | None = None


def repeat_signs(bars: Sequence[WrittenBar]) -> tuple[RepeatSigns, ...]:
    """Return the signs of every bar of a section, all its repeats folded."""
    found = [RepeatSigns()] * len(bars)
    for group in repeat_groups(bars):
        found[group.start : group.stop] = _group_signs(bars, group)
    return tuple(found)


def _group_signs(bars: Sequence[WrittenBar], group: Group) -> Iterator[RepeatSigns]:
    """Yield the signs of the bars of one repeat, also of one whose opening sign is left out."""
    for index in range(group.start, group.stop):
        ending = _ending_of(bars, group, index)
        closes = index == group.stop - 1 if ending is None else ending.closes and not ending.is_last
        yield RepeatSigns(
            opens_repeat=index == group.start,
            passes=_closing_passes(group, ending) if closes else 0,
            ending=ending,
        )


def _closing_passes(group: Group, ending: Ending | None) -> int:
    """Return how often the sign sends back, plus one: an ending's sign as often as it is played."""
    return len(ending.passes) + 1 if ending else group.passes


def _ending_of(bars: Sequence[WrittenBar], group: Group, index: int) -> Ending | None:
    """Return the ending that a bar stands in."""
    own = bars[index].endings
    if not own:
        return None
    before = bars[index - 1].endings if index > group.start else ()
    after = bars[index + 1].endings if index + 1 < group.stop else ()
    return Ending(passes=own, opens=before != own, closes=after != own, is_last=group.passes in own)
