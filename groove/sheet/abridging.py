"""A section that comes again, on paper: "as the first time, but:" and the bars that differ alone.

So a copyist saves pages (common practice, no source).  A time through a section refers only to one
that is printed whole; bars that a tie, a slide or a slur leads into take the bar before with them.
"""

from collections.abc import Collection, Hashable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby

from msgspec.structs import replace

from groove.events import Performance
from groove.sheet.marks import section_words
from groove.sheet.score import Measure
from groove.text.times import ordinal

PRINTED_AGAIN_SHARE = 0.5
"""How much of a section may be printed again before all of it is."""
SHORT_SECTION_BARS = 4
"""A section of one line is printed again where anything in it differs: it takes no more room."""


@dataclass(frozen=True, slots=True)
class _TimeThrough:
    """One time through a section: its name, which time it is, and its bars in the performance."""

    section: str
    occurrence: int
    indices: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class _Likeness:
    """A time, an earlier one that it is like, and the places of its bars that are printed."""

    time: _TimeThrough
    like: _TimeThrough
    others: tuple[int, ...]


def abridged(
    measures: Sequence[Measure], performance: Performance, contents: Sequence[Hashable]
) -> tuple[Measure, ...]:
    """Return the measures of a part as they are printed, numbered anew.

    ``contents`` says of every played bar what a page would show.
    """
    times = _times(performance)
    units = list(_units(measures, performance))
    whole: dict[str, list[_TimeThrough]] = {}
    found: list[Measure] = []
    for unit, following in zip(units, [*units[1:], None], strict=True):
        own = [time for time in times if time.indices[0] in _played(unit)]
        leads_on = following is not None and _is_led_into(following[0])
        likenesses = _likenesses(unit, own, whole, contents, performance, leads_on=leads_on)
        if likenesses:
            found += _short_unit(unit, likenesses, performance)
            continue
        found += unit
        for time in own:
            whole.setdefault(time.section, []).append(time)
    return tuple(_renumbered(found))


def _times(performance: Performance) -> list[_TimeThrough]:
    """Return the times through sections in the order played."""
    indexed = enumerate(performance.bars)
    runs = groupby(indexed, key=lambda pair: (pair[1].ref.section, pair[1].ref.occurrence))
    return [_TimeThrough(*name, tuple(index for index, _ in run)) for name, run in runs]


def _played(measures: Sequence[Measure]) -> frozenset[int]:
    """Return the bars that some measures stand for."""
    return frozenset(index for measure in measures for index in measure.played)


def _units(measures: Sequence[Measure], performance: Performance) -> Iterator[Sequence[Measure]]:
    """Yield the measures by section; sections between the same repeat signs stay together."""
    first = 0
    is_open = False
    before = performance.bars[measures[0].played[0]].ref
    for index, measure in enumerate(measures):
        ref = performance.bars[measure.played[0]].ref
        is_new = (ref.section, ref.occurrence) != (before.section, before.occurrence)
        before = ref
        if is_new and not is_open:
            yield measures[first:index]
            first = index
        if measure.opens_repeat:
            is_open = True
        if measure.passes and measure.ending is None:
            is_open = False
        if measure.ending and measure.ending.is_last:
            is_open = False
    yield measures[first:]


def _likenesses(
    unit: Sequence[Measure],
    own: Sequence[_TimeThrough],
    whole: dict[str, list[_TimeThrough]],
    contents: Sequence[Hashable],
    performance: Performance,
    *,
    leads_on: bool,
) -> list[_Likeness]:
    """Return what each time of a unit is like; nothing where it is better printed whole."""
    if len({time.section for time in own}) != 1 or any(measure.jumps for measure in unit):
        return []
    if _played(unit) != {index for time in own for index in time.indices}:
        return []
    found: list[_Likeness] = []
    printed: list[Measure] = []
    for time in own:
        like = _nearest(time, whole.get(time.section, ()), contents, performance)
        if like is None:
            return []
        last = len(time.indices) - 1
        others = like.others + ((last,) if leads_on and time is own[-1] else ())
        places = tuple(_with_bound(sorted(set(others)), unit, time))
        if not _may_stand_alone(places, unit, time):
            return []
        found.append(_Likeness(time, like.like, places))
        printed += _printed(unit, found[-1])
    is_short = len(printed) <= PRINTED_AGAIN_SHARE * len(unit) and (
        len(unit) > SHORT_SECTION_BARS or not printed
    )
    return found if is_short and len({id(measure) for measure in printed}) == len(printed) else []


def _may_stand_alone(places: Collection[int], unit: Sequence[Measure], time: _TimeThrough) -> bool:
    """Return whether the bars at these places say by their numbers alone what they stand for.

    So every pass has them, and nothing leads into them from a bar that is not printed.
    """
    if 0 in places and _is_led_into(_measure_of(unit, time.indices[0])):
        return False
    indices = {time.indices[place] for place in places}
    own = [measure for measure in unit if {*measure.played} & {*time.indices}]
    chosen = [measure for measure in own if {*measure.played} & indices]
    numbers = [measure.written_bar for measure in own]
    return all(
        {*measure.played} & {*time.indices} <= indices and numbers.count(measure.written_bar) == 1
        for measure in chosen
    )


def _printed(unit: Sequence[Measure], likeness: _Likeness) -> list[Measure]:
    """Return the measures of a unit that a time is not like another in."""
    indices = {likeness.time.indices[place] for place in likeness.others}
    return [measure for measure in unit if {*measure.played} & indices]


def _nearest(
    time: _TimeThrough,
    candidates: Sequence[_TimeThrough],
    contents: Sequence[Hashable],
    performance: Performance,
) -> _Likeness | None:
    """Return the time printed whole from which the fewest bars differ, of several the first."""
    bars = performance.bars
    written = [bars[index].ref.written_bar for index in time.indices]
    found = [
        _Likeness(time, like, _differing(time, like, contents))
        for like in candidates
        if [bars[index].ref.written_bar for index in like.indices] == written
    ]
    return min(found, key=lambda each: len(each.others), default=None)


def _differing(
    time: _TimeThrough, like: _TimeThrough, contents: Sequence[Hashable]
) -> tuple[int, ...]:
    """Return the places of the bars of a time that are not as in another."""
    pairs = zip(time.indices, like.indices, strict=True)
    return tuple(
        place for place, (one, other) in enumerate(pairs) if contents[one] != contents[other]
    )


def _with_bound(places: Sequence[int], unit: Sequence[Measure], time: _TimeThrough) -> list[int]:
    """Return the places with those of bars from which a tie or a slide leads into one of them."""
    found = set(places)
    for place in sorted(places, reverse=True):
        while place and _is_led_into(_measure_of(unit, time.indices[place])):
            place -= 1
            found.add(place)
    return sorted(found)


def _measure_of(unit: Sequence[Measure], index: int) -> Measure:
    """Return the measure that stands for a played bar."""
    return next(measure for measure in unit if index in measure.played)


def _is_led_into(measure: Measure) -> bool:
    """Return whether a tie, a slide or a slur leads into a measure."""
    firsts = (voice.events[0] for voice in measure.voices if voice.events)
    heads = (head for event in firsts for head in event.heads)
    return any(head.is_led_into for head in heads)


def _short_unit(
    unit: Sequence[Measure], likenesses: Sequence[_Likeness], performance: Performance
) -> list[Measure]:
    """Return what is printed in the place of a unit."""
    found: list[Measure] = []
    if any(each.others for each in likenesses):
        for each in likenesses:
            found.append(_words_measure(unit, [each], performance))
            found += _other_bars(unit, each)
            found[-1] = replace(found[-1], ends_section=True)
    else:
        found.append(_words_measure(unit, likenesses, performance))
    found[-1] = replace(found[-1], ends_section=True, ends_song=unit[-1].ends_song)
    return found


def _words_measure(
    unit: Sequence[Measure], likenesses: Sequence[_Likeness], performance: Performance
) -> Measure:
    """Return the measure with words that stands for times printed before."""
    times = [each.time for each in likenesses]
    first = unit[0]
    bars = [performance.bars[index].ref.written_bar for index in times[0].indices]
    return Measure(
        number=first.number,
        written_bar=first.written_bar,
        played=tuple(index for time in times for index in time.indices),
        meter=first.meter,
        ticks=first.ticks,
        voices=(),
        chords=(),
        key=first.key,
        section=first.section,
        as_before=(
            section_words(times[0].section, [time.occurrence for time in times]),
            _like_words(likenesses, (min(bars), max(bars))),
            *_heading_words(first),
        ),
        ends_section=True,
    )


def _like_words(likenesses: Sequence[_Likeness], bars: tuple[int, int]) -> str:
    """Return what times are like: ``as the first time, bars 5–12, but:``."""
    like = list(dict.fromkeys(each.like.occurrence for each in likenesses))
    names = " and ".join(filter(None, [", ".join(map(ordinal, like[:-1])), ordinal(like[-1])]))
    each = "each " if len(likenesses) > 1 and len(like) == 1 else ""
    but = ", but:" if any(one.others for one in likenesses) else ""
    return f"{each}as the {names} time, bars {bars[0]}–{bars[1]}{but}"


def _heading_words(first: Measure) -> Iterator[str]:
    """Yield what else the head of a section says that is not printed."""
    words = [first.dynamic.value] if first.dynamic else []
    if words:
        yield ", ".join(words)


def _other_bars(unit: Sequence[Measure], likeness: _Likeness) -> Iterator[Measure]:
    """Yield the bars of a time that are printed, each with its number and without repeats."""
    before: Measure | None = None
    printed = _printed(unit, likeness)
    swelling = _whole_swells(unit, printed)
    for measure in printed:
        keeps = id(measure) in swelling
        yield replace(
            measure,
            played=tuple(index for index in measure.played if index in likeness.time.indices),
            section="",
            heading="",
            hairpin=measure.hairpin if keeps else None,
            ends_hairpin=measure.ends_hairpin and keeps,
            opens_repeat=False,
            passes=0,
            ending=None,
            ends_section=False,
            ends_song=False,
            shows_number=before is None or measure.written_bar != before.written_bar + 1,
        )
        before = measure


def _whole_swells(unit: Sequence[Measure], printed: Sequence[Measure]) -> set[int]:
    """Return the printed bars, by identity, whose hairpins are printed from end to end."""
    shown = {id(measure) for measure in printed}
    found: set[int] = set()
    run: list[int] = []
    for measure in unit:
        run = [] if measure.hairpin else run
        run.append(id(measure))
        if measure.ends_hairpin:
            found |= set(run) if shown.issuperset(run) else set()
    return found


def _renumbered(measures: Sequence[Measure]) -> Iterator[Measure]:
    """Yield measures with their numbers on paper, and keys and meters where these now change."""
    before: Measure | None = None
    start = measures[0].number
    for number, measure in enumerate(measures, start=start):
        if measure.as_before:
            yield replace(measure, number=number)
            continue
        yield replace(
            measure,
            number=number,
            shows_meter=before is None or before.meter != measure.meter,
            changes_key=before is None or before.key != measure.key,
            shows_key=before is None or before.key.signature_fifths != measure.key.signature_fifths,
        )
        before = measure
