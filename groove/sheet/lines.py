"""Which measures begin a line of a part: by section and phrase, as many as can be read.

Phrases are four bars, so a line has four where they fit (E. Gould, *Behind Bars*, 2011, "Casting
off": lines follow the phrases, and a single bar is not left over).  Widths are half staff spaces,
tried with verovio.
"""

from collections.abc import Iterator, Sequence

from groove.sheet.score import Measure

BARS_A_LINE = (4, 3, 2)
VALUE_UNITS = 4.8
"""Room for one value that reads well, tried with sixteenths."""
TIGHT_VALUE_UNITS = 4.0
"""Room for one value in the fullest line of a section whose other lines have more."""
LEAST_VALUE_UNITS = 3.5
"""Room for one value where else every bar would be a line of its own."""
SHORT_SHARE = 0.7
"""A line is short with this share of the bars of a full one, or fewer."""
MEASURE_UNITS = 7.0
SYSTEM_UNITS = 24.0


def line_starts(measures: Sequence[Measure], line_units: float) -> frozenset[int]:
    """Return the numbers of the measures with which lines begin.

    A section begins a line, and so does a pass that is written out.  ``line_units`` is the width
    of a line.
    """
    return frozenset(
        row[0].number
        for section in _page_sections(measures)
        for row in _section_rows(section, line_units)
    )


def line_fillers(measures: Sequence[Measure], line_units: float) -> dict[int, tuple[Measure, ...]]:
    """Return, by the number of the last measure of a short line, bars like those that it lacks.

    The last line of a section keeps the width of bars that the other lines have, so that two bars
    are not stretched over a page (common practice, no source).  Three bars where others are four,
    and a line before a courtesy sign or within a tie, take the whole line.
    """
    sections = [_section_rows(section, line_units) for section in _page_sections(measures)]
    most = max(_bar_count(row) for rows in sections for row in rows)
    found: dict[int, tuple[Measure, ...]] = {}
    for rows, after in zip(sections, [*sections[1:], None], strict=True):
        row = rows[-1]
        full = max(map(_bar_count, rows)) if len(rows) > 1 else most
        lacking = full - _bar_count(row)
        fillers = (max(row, key=_measure_moments),) * lacking
        is_short = _bar_count(row) <= SHORT_SHARE * full
        room = _fits([[*row, *fillers]], line_units, LEAST_VALUE_UNITS)
        if is_short and room and not (after and is_bound(row[-1], after[0][0])):
            found[row[-1].number] = fillers
    return found


def _bar_count(row: Sequence[Measure]) -> int:
    """Return how many bars a row has, a pickup left out."""
    return sum(measure.number > 0 for measure in row)


def is_bound(last: Measure, following: Measure) -> bool:
    """Return whether two bars cannot be parted: signs at the line's end, a tie or a slide."""
    heads = [head for voice in last.voices for e in voice.events for head in e.heads]
    goes_on = any(head.tied_out or head.slides_out or head.slur_out for head in heads)
    return goes_on or following.shows_key or following.shows_meter


def _page_sections(measures: Sequence[Measure]) -> Iterator[Sequence[Measure]]:
    """Yield the measures by section and written-out pass; a pickup belongs to the first."""
    first = 0
    for index, measure in enumerate(measures):
        if measure.heading and index > first and measures[index - 1].number > 0:
            yield measures[first:index]
            first = index
    yield measures[first:]


def _section_rows(section: Sequence[Measure], line_units: float) -> list[Sequence[Measure]]:
    """Return a section's lines: four bars where they fit, else three, two, one.

    Three only where the section's bars are a multiple of three and not of four; where not even two
    have room everywhere, two narrow ones wherever they fit, so that few bars stand alone.
    """
    lead = 1 if section[0].number == 0 else 0
    count = len(section) - lead
    for most in BARS_A_LINE:
        rows = _rows_of(section, lead, most)
        if (most != 3 or (count % 3 == 0 and count % 4)) and _reads_well(rows, line_units):
            return rows
    return list(_narrow_rows(section, lead, line_units))


def _rows_of(section: Sequence[Measure], lead: int, most: int) -> list[Sequence[Measure]]:
    """Return rows of at most so many bars, a pickup of ``lead`` bars before the first.

    The last two share their bars, so that none is left alone: five are three and two, and two of
    two with one over are two and three.
    """
    stops = list(range(lead + most, len(section), most))
    if stops and len(section) - stops[-1] == 1:
        stops[-1:] = [stops[-1] - (most - 1) // 2] if most > 2 else []
    return [section[a:b] for a, b in zip([0, *stops], [*stops, len(section)], strict=True)]


def _narrow_rows(
    section: Sequence[Measure], lead: int, line_units: float
) -> Iterator[Sequence[Measure]]:
    """Yield rows of two bars where they fit, narrow as they are, and else of one.

    The last three are one row where they fit, so that none is left alone.
    """
    first = 0
    while first < len(section):
        own = lead if first == 0 else 0
        counts = (3, 2) if len(section) - first - own == 3 else (2,)
        tried = [section[first : first + own + count] for count in counts]
        fitting = (row for row in tried if _fits([row], line_units, LEAST_VALUE_UNITS))
        row = next(fitting, section[first : first + own + 1])
        yield row
        first += len(row)


def _reads_well(rows: Sequence[Sequence[Measure]], line_units: float) -> bool:
    """Return whether rows have room: on the whole comfortably, the fullest tightly."""
    mean = sum(_row_units(row, VALUE_UNITS) for row in rows) / len(rows)
    return mean <= line_units and _fits(rows, line_units, TIGHT_VALUE_UNITS)


def _fits(rows: Sequence[Sequence[Measure]], line_units: float, value_units: float) -> bool:
    """Return whether every row fits with so much room for a value."""
    return all(_row_units(row, value_units) <= line_units for row in rows)


def _row_units(row: Sequence[Measure], value_units: float) -> float:
    """Return the width that a row needs."""
    return SYSTEM_UNITS + sum(_measure_units(measure, value_units) for measure in row)


def _measure_moments(measure: Measure) -> int:
    """Return at how many moments of a measure something begins."""
    return len({e.value.start for voice in measure.voices for e in voice.events})


def _measure_units(measure: Measure, value_units: float) -> float:
    """Return the width that a measure needs."""
    signs = sum(
        head.shows_accidental for voice in measure.voices for e in voice.events for head in e.heads
    )
    chords = sum(2.4 * len(onset.symbol) + 2 for onset in measure.chords)
    return max(MEASURE_UNITS + value_units * _measure_moments(measure) + 1.5 * signs, chords)
