"""Which measures begin a line of a part: by section and phrase, as many as can be read.

Phrases are four bars, so a line has four where they fit (E. Gould, *Behind Bars*, 2011, "Casting
off": lines follow the phrases, and a single bar is not left over).  Widths are half staff spaces,
tried with verovio.
"""

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from groove.sheet.finishing import WORDS_SHARE, words_width
from groove.sheet.score import Measure

BARS_A_LINE = (4, 3, 2)
PAPER_VALUE_UNITS = 2.6
"""Room for one value: 2.1 mm on A4, where four bars of sixteenths have a line; numbers of the tab
are 1.3 mm wide."""
SCREEN_VALUE_UNITS = 4.0
"""Room for one value on a screen, which is read while a hand moves."""
SHORT_SHARE = 0.7
"""A line is short with this share of the bars of a full one, or fewer."""
MEASURE_UNITS = 7.0
SYSTEM_UNITS = 24.0
SIGN_UNITS = 12.0
"""Room for the sign of a bar that is as the one before, or of rests that are counted."""
TEXT_UNITS = 4.5
"""The size of the engraver's text."""


@dataclass(frozen=True, slots=True)
class Room:
    """The width of a line, and of one value in it, in half staff spaces."""

    line: float
    value: float = PAPER_VALUE_UNITS


def line_starts(measures: Sequence[Measure], room: Room) -> frozenset[int]:
    """Return the numbers of the measures with which lines begin.

    A section begins a line, and so does a pass that is written out.
    """
    return frozenset(
        row[0].number
        for section in _page_sections(measures)
        for row in _section_rows(section, room)
    )


def sign_measures(measures: Sequence[Measure], starts: Collection[int]) -> frozenset[int]:
    """Return the numbers of the measures that signs stand for: none begins a line.

    ``starts`` are the numbers of those that do.
    """
    found: set[int] = set()
    for measure, after in pairwise([*measures, None]):
        assert measure is not None
        if measure.like_before == 1 and measure.number not in starts:
            found.add(measure.number)
        elif measure.like_before == 2 and measure.number not in found and after:
            pair = {measure.number, after.number}
            if after.like_before == 2 and not pair & {*starts}:
                found |= pair
    return frozenset(found)


def words_units(measure: Measure) -> float:
    """Return the width of the words of a measure that stands for bars printed before."""
    sizes = (WORDS_SHARE * TEXT_UNITS, *(TEXT_UNITS for _ in measure.as_before[1:]))
    return words_width(measure.as_before, sizes)


def line_fillers(measures: Sequence[Measure], room: Room) -> dict[int, tuple[Measure, ...]]:
    """Return, by the number of the last measure of a short line, bars like those that it lacks.

    The last line of a section keeps the width of bars that the other lines have, so that two bars
    are not stretched over a page (common practice, no source).  Three bars where others are four,
    and a line before a courtesy sign or within a tie, take the whole line.
    """
    sections = [_section_rows(section, room) for section in _page_sections(measures)]
    most = max(_bar_count(row) for rows in sections for row in rows)
    widest = max(measures, key=_measure_moments)
    found: dict[int, tuple[Measure, ...]] = {}
    for rows, after in zip(sections, [*sections[1:], None], strict=True):
        row = rows[-1]
        if row[0].as_before:
            for each in rows:
                free = room.line - _row_units(each, room)
                count = int(free / _measure_units(widest, room))
                found[each[-1].number] = (widest,) * count
            continue
        full = max(map(_bar_count, rows)) if len(rows) > 1 else most
        lacking = full - _bar_count(row)
        fillers = (max(row, key=_measure_moments),) * lacking
        is_short = _bar_count(row) <= SHORT_SHARE * full
        has_room = _fits([[*row, *fillers]], room)
        if is_short and has_room and not (after and is_bound(row[-1], after[0][0])):
            found[row[-1].number] = fillers
    return found


def _bar_count(row: Sequence[Measure]) -> int:
    """Return how many bars a row has, a pickup left out."""
    return sum(measure.number > 0 for measure in row)


def is_bound(last: Measure, following: Measure) -> bool:
    """Return whether two bars cannot be parted: signs at the line's end, a tie or a slide."""
    goes_on = any(head.leads_on for head in last.heads)
    return goes_on or following.shows_key or following.shows_meter


def _page_sections(measures: Sequence[Measure]) -> Iterator[Sequence[Measure]]:
    """Yield the measures by section and written-out pass; a pickup belongs to the first.

    Sections that are as before, one after another, are one: they share lines.
    """
    first = 0
    for index, measure in enumerate(measures):
        begins = measure.heading or (measure.as_before and not measures[first].as_before)
        if begins and index > first and measures[index - 1].number > 0:
            yield measures[first:index]
            first = index
    yield measures[first:]


def _section_rows(section: Sequence[Measure], room: Room) -> list[Sequence[Measure]]:
    """Return a section's lines: four bars where they fit, else three, two, one.

    Three only where the section's bars are a multiple of three and not of four; where not even two
    have room everywhere, two narrow ones wherever they fit, so that few bars stand alone.
    """
    if section[0].as_before:
        return list(_packed_rows(section, room))
    lead = 1 if section[0].number == 0 else 0
    count = len(section) - lead
    for most in BARS_A_LINE:
        rows = _rows_of(section, lead, most)
        if (most != 3 or (count % 3 == 0 and count % 4)) and _fits(rows, room):
            return rows
    return list(_narrow_rows(section, lead, room))


def _packed_rows(section: Sequence[Measure], room: Room) -> Iterator[Sequence[Measure]]:
    """Yield rows of words with the bars that differ, as many together as fit.

    Where they do not fit one line, no bar is left alone: then words have a line of their own.
    """
    starts = [index for index, measure in enumerate(section) if measure.as_before]
    row: list[Measure] = []
    for start, stop in pairwise([*starts, len(section)]):
        group = section[start:stop]
        if row and _row_units([*row, *group], room) > room.line:
            yield row
            row = []
        row += group
        while len(row) > 1 and _row_units(row, room) > room.line:
            counts = (n for n in range(len(row) - 2, 0, -1) if _fits([row[:n]], room))
            count = next(counts, 1)
            yield row[:count]
            row = row[count:]
    yield row


def _rows_of(section: Sequence[Measure], lead: int, most: int) -> list[Sequence[Measure]]:
    """Return rows of at most so many bars, a pickup of ``lead`` bars before the first.

    The last two share their bars, so that none is left alone: five are three and two, and two of
    two with one over are two and three.
    """
    stops = list(range(lead + most, len(section), most))
    if stops and len(section) - stops[-1] == 1:
        stops[-1:] = [stops[-1] - (most - 1) // 2] if most > 2 else []
    return [section[a:b] for a, b in zip([0, *stops], [*stops, len(section)], strict=True)]


def _narrow_rows(section: Sequence[Measure], lead: int, room: Room) -> Iterator[Sequence[Measure]]:
    """Yield rows of two bars where they fit, narrow as they are, and else of one.

    The last three are one row where they fit, so that none is left alone.
    """
    first = 0
    while first < len(section):
        own = lead if first == 0 else 0
        counts = (3, 2) if len(section) - first - own == 3 else (2,)
        tried = [section[first : first + own + count] for count in counts]
        fitting = (row for row in tried if _fits([row], room))
        row = next(fitting, section[first : first + own + 1])
        yield row
        first += len(row)


def _fits(rows: Sequence[Sequence[Measure]], room: Room) -> bool:
    return all(_row_units(row, room) <= room.line for row in rows)


def _row_units(row: Sequence[Measure], room: Room) -> float:
    signs = sign_measures(row, {row[0].number})
    return SYSTEM_UNITS + sum(
        _sign_units(measure) if measure.number in signs else _measure_units(measure, room)
        for measure in row
    )


def _measure_moments(measure: Measure) -> int:
    """Return at how many moments of a measure something begins."""
    if measure.is_slashed:
        return measure.meter.beats_per_bar
    return len({event.value.start for event in measure.events})


def _measure_units(measure: Measure, room: Room) -> float:
    signs = sum(head.shows_accidental for head in measure.heads)
    if measure.as_before:
        return MEASURE_UNITS + words_units(measure)
    if measure.rest_bars:
        return _sign_units(measure)
    notes = MEASURE_UNITS + room.value * _measure_moments(measure) + 1.5 * signs
    return max(notes, _chord_units(measure))


def _sign_units(measure: Measure) -> float:
    """Return the width that a measure needs which a sign stands for."""
    return max(SIGN_UNITS, _chord_units(measure))


def _chord_units(measure: Measure) -> float:
    return sum(2.4 * len(onset.symbol) + 2 for onset in measure.chords)
