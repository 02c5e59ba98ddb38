"""Which played bars share a printed measure: repeats, with endings where only the ends differ."""

from collections.abc import Hashable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import groupby, pairwise

from groove.chart.model import Section, Song, WrittenBar
from groove.chart.repeats import Group, play_order, repeat_groups
from groove.events import Performance
from groove.sheet.score import Ending
from groove.sheet.signs import JumpSign

LONGEST_ENDING_SHARE = 0.25
"""An ending that the chart has not is at most a quarter of its section (common practice)."""
MOST_OWN_ENDINGS = 4
"""More endings than these are harder to follow than bars written out (common practice)."""


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
    jumps: tuple[JumpSign, ...] = ()

    @property
    def has_signs(self) -> bool:
        """Whether the measure stands in a folded repeat."""
        return self.opens_repeat or self.passes > 0 or self.ending is not None


@dataclass(frozen=True, slots=True)
class _Shown:
    """What the page has of a bar; ``begins_held`` where its first note is held over from before."""

    written_bar: int
    content: Hashable
    begins_held: bool


def fold_bars(
    performance: Performance,
    song: Song,
    contents: Sequence[Hashable],
    begins_held: Sequence[bool],
    *,
    written_out: bool,
) -> tuple[Fold, ...]:
    """Return the measures of a part in played order.

    ``contents`` says of every bar what the page would show, so that equal bars may share one
    measure, ``begins_held`` whether it begins with a note that is held over.  A section that is
    only played in part is written out; sections that come again one after another with the same
    notes are repeated by signs, with an ending for each time where only their last bars differ,
    unless signs stand in them already.
    """
    shown = [
        _Shown(bar.ref.written_bar, content, is_held)
        for bar, content, is_held in zip(performance.bars, contents, begins_held, strict=True)
    ]
    times: list[list[Fold]] = []
    indexed = list(enumerate(performance.bars))
    for _, run in groupby(indexed, key=lambda pair: (pair[1].ref.section, pair[1].ref.occurrence)):
        indices = [index for index, _ in run]
        section = _whole_section(performance, song, indices)
        if section is None or written_out:
            measures = [Fold(played=(index,)) for index in indices]
        else:
            measures = list(_fold_section(section, indices, shown))
        times.append(list(_with_edges(measures)))
    if not written_out:
        names = [performance.bars[measures[0].played[0]].ref.section for measures in times]
        times = _fold_times(times, names, shown)
    *folds, last = (fold for measures in times for fold in measures)
    return (*folds, replace(last, ends_song=True))


def _with_edges(measures: list[Fold]) -> Iterator[Fold]:
    """Yield the measures of a section, first and last marked."""
    for number, fold in enumerate(measures):
        last = number == len(measures) - 1
        yield replace(fold, opens_section=number == 0, ends_section=last)


def _fold_times(
    times: Sequence[list[Fold]], names: Sequence[str], shown: Sequence[_Shown]
) -> list[list[Fold]]:
    """Return the times through sections, each run of like ones once: A B A B is A B twice.

    Of several runs the one that saves most bars, of those the shortest group.  None is repeated
    that has a section twice in a row: those have signs of their own, and repeats are not nested.
    """
    found: list[list[Fold]] = []
    at = 0
    while at < len(times):
        best, size, count = times[at : at + 1], 1, 1
        saved = 0
        for tried in range(1, (len(times) - at) // 2 + 1):
            group = names[at : at + tried]
            if any(before == after for before, after in pairwise(group)):
                break
            for again in range(_named_alike(names, at, tried), 1, -1):
                run = [
                    times[at + number * tried : at + (number + 1) * tried]
                    for number in range(again)
                ]
                folded = _repeated_times(run, shown)
                if folded and _bars_saved(run, folded) > saved:
                    best, size, count = folded, tried, again
                    saved = _bars_saved(run, folded)
        found += best
        at += size * count
    return found


def _named_alike(names: Sequence[str], at: int, size: int) -> int:
    """Return how often a group of sections comes one after another, by their names."""
    group = names[at : at + size]
    count = 1
    if names[at + size] != names[at]:
        return count
    while names[at + count * size : at + (count + 1) * size] == group:
        count += 1
    return count


def _bars_saved(run: Sequence[Sequence[list[Fold]]], folded: Sequence[list[Fold]]) -> int:
    """Return how many measures a run is shorter than what it stands for."""
    return sum(len(section) for group in run for section in group) - sum(map(len, folded))


def _repeated_times(
    run: Sequence[Sequence[list[Fold]]], shown: Sequence[_Shown]
) -> list[list[Fold]] | None:
    """Return a group of sections that stands for all its times, between repeat signs.

    None where the times differ in more than the end of their last section, or have signs.
    """
    if any(fold.has_signs for group in run for section in group for fold in section):
        return None
    lengths = [[len(section) for section in group] for group in run]
    if any(each != lengths[0] for each in lengths):
        return None
    passes = [[fold for section in group for fold in section] for group in run]
    longest = max(1, round(lengths[0][-1] * LONGEST_ENDING_SHARE))
    folded = _folded_passes(passes, shown, longest_ending=longest)
    if folded is None:
        return None
    stops = [sum(lengths[0][: number + 1]) for number in range(len(lengths[0]))]
    stops[-1] = len(folded)
    return [folded[start:stop] for start, stop in pairwise([0, *stops])]


def _folded_passes(
    passes: Sequence[Sequence[Fold]],
    shown: Sequence[_Shown],
    *,
    longest_ending: int,
    is_own: bool = True,
) -> list[Fold] | None:
    """Return passes through bars as one, with repeat signs, and endings where their ends differ.

    ``shown`` says of every bar what the page has of it.  None where they do not begin alike, or
    would need endings longer than ``longest_ending`` bars or more than ``MOST_OWN_ENDINGS``.
    Endings that are ours (``is_own``) begin with no note that is held over: before the second one
    stands no bar in which its tie could begin (common practice, no source).
    """
    contents = [[shown[fold.played[0]] for fold in one] for one in passes]
    shared = _shared_start(contents)
    if is_own:
        shared = _shared_until_struck(contents, shared)
    tails = [tuple(each[shared:]) for each in contents]
    numbers = _ending_numbers(tails)
    is_plain = not any(tails)
    longest = max(map(len, tails))
    if shared == 0 or (not is_plain and (longest > longest_ending or not all(tails))):
        return None
    if not is_plain and len(numbers) > MOST_OWN_ENDINGS:
        return None
    found = [
        replace(together[0], played=tuple(fold.played[0] for fold in together))
        for together in zip(*(one[:shared] for one in passes), strict=True)
    ]
    found[0] = replace(found[0], opens_repeat=True)
    if is_plain:
        found[-1] = replace(found[-1], passes=len(passes))
        return found
    for own in numbers:
        endings = [passes[number - 1][shared:] for number in own]
        found += _ending_folds(endings, own, is_last=own is numbers[-1])
    return found


def _shared_start(contents: Sequence[Sequence[Hashable]]) -> int:
    """Return how many bars all passes have in common from their start on."""
    shared = 0
    while all(len(each) > shared for each in contents) and (
        len({each[shared] for each in contents}) == 1
    ):
        shared += 1
    return shared


def _shared_until_struck(contents: Sequence[Sequence[_Shown]], shared: int) -> int:
    """Return how many shared bars may go before endings that begin with what is struck there."""
    while shared and any(each[shared].begins_held for each in contents if shared < len(each)):
        shared -= 1
    return shared


def _ending_numbers(tails: Sequence[Hashable]) -> list[tuple[int, ...]]:
    """Return the passes that share an ending, in the order in which the endings are written.

    The last pass plays the last ending; where it plays an earlier one, only neighbours share.
    """
    shared: dict[Hashable, list[int]] = {}
    for number, tail in enumerate(tails, start=1):
        shared.setdefault(tail, []).append(number)
    found = list(map(tuple, shared.values()))
    if len(tails) not in found[-1]:
        runs = groupby(enumerate(tails, start=1), key=lambda pair: pair[1])
        found = [tuple(number for number, _ in run) for _, run in runs]
    return found


def _ending_folds(
    endings: Sequence[Sequence[Fold]], numbers: tuple[int, ...], *, is_last: bool
) -> Iterator[Fold]:
    """Yield the measures of one ending, which all its passes share."""
    size = len(endings[0])
    for place, together in enumerate(zip(*endings, strict=True)):
        closes = place == size - 1
        yield replace(
            together[0],
            played=tuple(fold.played[0] for fold in together),
            ending=Ending(passes=numbers, opens=place == 0, closes=closes, is_last=is_last),
            passes=_sends_back(numbers, is_last=is_last) if closes else 0,
        )


def _sends_back(numbers: Sequence[int], *, is_last: bool) -> int:
    """Return what the sign of an ending says, plus one: it sends back as often as it is played.

    The last ending goes on after its last pass, and has no sign where that is its only one.
    """
    back = len(numbers) - is_last
    return back + 1 if back else 0


def _whole_section(performance: Performance, song: Song, indices: list[int]) -> Section | None:
    """Return the section that these bars are, all of it in order; else None."""
    refs = [performance.bars[index].ref for index in indices]
    try:
        section = song.section(refs[0].section)
    except KeyError:
        return None
    order = [section.bars[index].number for index, _ in play_order(section.bars)]
    return section if order == [ref.written_bar for ref in refs] else None


def _fold_section(section: Section, indices: list[int], shown: Sequence[_Shown]) -> Iterator[Fold]:
    """Yield the measures of a section, each repeat folded where its passes begin alike."""
    order = list(play_order(section.bars))
    at = 0
    for group in repeat_groups(section.bars):
        first = next(place for place in range(at, len(order)) if order[place][0] == group.start)
        yield from (Fold(played=(index,)) for index in indices[at:first])
        stop = first + sum(1 for index, _ in order[first:] if group.start <= index < group.stop)
        singles = [Fold(played=(index,)) for index in indices[first:stop]]
        numbers = [number for _, number in order[first:stop]]
        passes = [
            [fold for fold, own in zip(singles, numbers, strict=True) if own == number]
            for number in range(1, group.passes + 1)
        ]
        written = _written_ending(section.bars[group.start : group.stop])
        longest = written or max(1, round((group.stop - group.start) * LONGEST_ENDING_SHARE))
        folded = _folded_passes(passes, shown, longest_ending=longest, is_own=not written)
        yield from folded or singles
        at = stop
    yield from (Fold(played=(index,)) for index in indices[at:])


def _written_ending(bars: Sequence[WrittenBar]) -> int:
    """Return how many bars the longest ending of a repeat has in the chart, 0 where it has none."""
    return max((len([*run]) for own, run in groupby(b.endings for b in bars) if own), default=0)


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
        closes = index == group.stop - 1 if ending is None else ending.closes
        yield RepeatSigns(
            opens_repeat=index == group.start,
            passes=_closing_passes(group, ending) if closes else 0,
            ending=ending,
        )


def _closing_passes(group: Group, ending: Ending | None) -> int:
    """Return how often the sign sends back, plus one: an ending's sign as often as it is played."""
    return _sends_back(ending.passes, is_last=ending.is_last) if ending else group.passes


def _ending_of(bars: Sequence[WrittenBar], group: Group, index: int) -> Ending | None:
    own = bars[index].endings
    if not own:
        return None
    before = bars[index - 1].endings if index > group.start else ()
    after = bars[index + 1].endings if index + 1 < group.stop else ()
    return Ending(passes=own, opens=before != own, closes=after != own, is_last=group.passes in own)
