"""Which played bars share a printed measure: repeats as in the chart where all passes are equal."""

from collections.abc import Hashable, Iterator, Sequence
from dataclasses import dataclass
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
    opens_repeat: bool = False
    passes: int = 0
    ending: Ending | None = None


def fold_bars(
    performance: Performance, song: Song, contents: Sequence[Hashable], *, unrolled: bool
) -> tuple[Fold, ...]:
    """Return the measures of a part in played order.

    ``contents`` says of every bar what the page would show, so that equal bars may share one
    measure.  A section that is only played in part is written out.
    """
    folds: list[Fold] = []
    indexed = list(enumerate(performance.bars))
    for _, run in groupby(indexed, key=lambda pair: (pair[1].ref.section, pair[1].ref.occurrence)):
        indices = [index for index, _ in run]
        section = whole_section(performance, song, indices)
        if section is None or unrolled:
            measures = [Fold(played=(index,)) for index in indices]
        else:
            measures = list(fold_section(section, indices, contents))
        folds += with_edges(measures)
    return tuple(folds)


def with_edges(measures: list[Fold]) -> Iterator[Fold]:
    """Yield the measures of a section, first and last marked."""
    for number, fold in enumerate(measures):
        yield Fold(
            played=fold.played,
            opens_section=number == 0,
            ends_section=number == len(measures) - 1,
            opens_repeat=fold.opens_repeat,
            passes=fold.passes,
            ending=fold.ending,
        )


def whole_section(performance: Performance, song: Song, indices: list[int]) -> Section | None:
    """Return the section that these bars are, all of it in order; else None."""
    refs = [performance.bars[index].ref for index in indices]
    try:
        section = song.section(refs[0].section)
    except KeyError:
        return None
    order = [section.bars[index].number for index, _ in play_order(section.bars)]
    return section if order == [ref.written_bar for ref in refs] else None


def fold_section(
    section: Section, indices: list[int], contents: Sequence[Hashable]
) -> Iterator[Fold]:
    """Yield the measures of a section, each repeat folded where its passes are equal."""
    order = list(play_order(section.bars))
    at = 0
    for group in repeat_groups(section.bars):
        first = next(place for place in range(at, len(order)) if order[place][0] == group.start)
        yield from (Fold(played=(index,)) for index in indices[at:first])
        stop = first + sum(1 for index, _ in order[first:] if group.start <= index < group.stop)
        passes = passes_by_bar(order[first:stop], indices[first:stop])
        if may_fold(section.bars, group, passes, contents):
            yield from folded_group(section.bars, group, passes)
        else:
            yield from (Fold(played=(index,)) for index in indices[first:stop])
        at = stop
    yield from (Fold(played=(index,)) for index in indices[at:])


def passes_by_bar(
    order: Sequence[tuple[int, int]], indices: Sequence[int]
) -> dict[int, tuple[int, ...]]:
    """Return the played bars of each written bar of a group."""
    found: dict[int, tuple[int, ...]] = {}
    for (written, _), played in zip(order, indices, strict=True):
        found[written] = (*found.get(written, ()), played)
    return found


def may_fold(
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


def folded_group(
    bars: Sequence[WrittenBar], group: Group, passes: dict[int, tuple[int, ...]]
) -> Iterator[Fold]:
    """Yield the measures of a folded repeat with its signs."""
    for index in range(group.start, group.stop):
        ending = ending_of(bars, group, index)
        closes = index == group.stop - 1 if ending is None else ending.closes and not ending.is_last
        yield Fold(
            played=passes[index],
            opens_repeat=index == group.start,
            passes=closing_passes(group, ending) if closes else 0,
            ending=ending,
        )


def closing_passes(group: Group, ending: Ending | None) -> int:
    """Return how often the sign sends back, plus one: an ending's sign as often as it is played."""
    return len(ending.passes) + 1 if ending else group.passes


def ending_of(bars: Sequence[WrittenBar], group: Group, index: int) -> Ending | None:
    """Return the ending that a bar stands in."""
    own = bars[index].endings
    if not own:
        return None
    before = bars[index - 1].endings if index > group.start else ()
    after = bars[index + 1].endings if index + 1 < group.stop else ()
    return Ending(passes=own, opens=before != own, closes=after != own, is_last=group.passes in own)
