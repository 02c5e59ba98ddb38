"""Rows under a line of bars: one a string of tab, or one of tokens, told apart by their labels."""

import re
from collections.abc import Callable, Iterator, Sequence
from typing import TYPE_CHECKING

from msgspec.structs import replace

from groove.cells.tokens import EXPECTED, TYPED, is_struck, lost_hold, parse_token, read_tokens
from groove.chart.lines import Line
from groove.chart.model import Slot, TabLine, TokenLine, WrittenBar
from groove.chart.repeats import played_before
from groove.chart.tab_signs import Cells
from groove.errors import ChartError
from groove.neck.instrument import Tuning
from groove.theory.pitch import parse_note
from groove.timing import Meter

if TYPE_CHECKING:  # loaded for the charts that have tab
    from groove.chart.tab_scale import Doubt

STRING_ROW = re.compile(r"\s*([A-Ga-g][#b♭♯]?)\s*(?=\|)")
TOKEN_ROW = re.compile(r"\s*bass\s*(?=\|)", re.IGNORECASE)
_OTHER_BASS = "a chart for another bass says so above its sections, as  tuning: five"
BEAT_ROW = re.compile(r"[\s|]*[1rR][\s|0-9rReE&+aA.]*")


def _is_string_row(text: str) -> bool:
    """Return whether a line looks like one string of tab: its name, then tab with a - or =."""
    match = STRING_ROW.match(text)
    body = _typed_text(text[match.end() :]) if match else ""
    return bool(match) and (not body.strip(" |\u00a0") or "-" in body or "=" in body)


def is_row_under_bars(text: str) -> bool:
    """Return whether a line may stand under bars."""
    return bool(TOKEN_ROW.match(text)) or _is_string_row(text) or bool(BEAT_ROW.fullmatch(text))


ReportDoubt = Callable[["Doubt", WrittenBar], None]
"""Takes what is in doubt of a bar."""


def with_rows(
    bars: Sequence[WrittenBar],
    rows: Sequence[Line],
    tuning: Tuning,
    earlier: Sequence[WrittenBar],
    report: ReportDoubt,
) -> list[WrittenBar]:
    """Return the bars of one line with what their rows say.

    ``earlier`` are the section's bars before them; ``report`` hears of bars that may be meant
    otherwise.  Raises ChartError.
    """
    if TOKEN_ROW.match(rows[0].text):
        if len(rows) > 1:
            hint = "expected one row of tokens under a line of bars"
            raise ChartError("found a second row", place=rows[1].value_place(), hint=hint)
        return _with_tokens(bars, rows[0])
    return _with_tab(bars, rows, tuning, earlier, report)


def _with_tokens(bars: Sequence[WrittenBar], row: Line) -> list[WrittenBar]:
    pieces = [
        Cells(part, row, range(column + 1, column + 1 + len(part)), column + len(part) + 1)
        for part, column in _row_parts(row, TOKEN_ROW)
    ]
    _check_count(row, len(pieces), len(bars))
    return [
        replace(bar, line=_read_token_bar(cells, bar.meter))
        for bar, cells in zip(bars, pieces, strict=True)
    ]


def _read_token_bar(cells: Cells, meter: Meter) -> TokenLine | None:
    """Return the slots of a bar of tokens, None for an empty one."""
    slots = tuple(
        Slot(token=token, place=cells.place(start, len(token)))
        for token, start in read_tokens(cells.text)
    )
    if not slots:
        return None
    for slot in slots:
        if is_struck(slot.token) and parse_token(slot.token) is None:
            message = f"found {slot.token[:30]!r}"
            raise ChartError(message, place=slot.place, hint=f"expected {EXPECTED}")
    refuse_lost_hold(slots)
    beats = meter.pulse_count
    if len(slots) % beats or len(slots) // beats > 12:
        raise ChartError(
            f"found {len(slots)} slots in a bar of {meter}: {meter.pulse_words}",
            place=cells.place(0, len(cells.text)),
            hint=f"expected a whole number to each: {beats}, {2 * beats} or {4 * beats} slots",
        )
    return TokenLine(slots=slots)


def refuse_lost_hold(slots: Sequence[Slot]) -> None:
    """Raise ChartError for a hold that follows a rest."""
    lost = lost_hold(tuple(slot.token for slot in slots))
    if lost is not None:
        hint = "expected a step or a rest: there is nothing to hold"
        raise ChartError("found a hold after a rest", place=slots[lost].place, hint=hint)


def _with_tab(
    bars: Sequence[WrittenBar],
    rows: Sequence[Line],
    tuning: Tuning,
    earlier: Sequence[WrittenBar],
    report: ReportDoubt,
) -> list[WrittenBar]:
    from groove.chart.tab_bar import read_tab_bar

    strings = [row for row in rows if STRING_ROW.match(row.text)]
    _check_strings(rows, strings, tuning)
    beat_row = rows[-1] if len(rows) > len(strings) else None
    by_string = [
        [_cells_of(row, part, column) for part, column in _row_parts(row, STRING_ROW)]
        for row in strings
    ]
    for row, pieces in zip(strings, by_string, strict=True):
        _check_count(row, len(pieces), len(bars))
    found = list(earlier)
    for index, bar in enumerate(bars):
        cells = [pieces[index] for pieces in by_string]
        if all(not each.text.strip() for each in cells):
            found.append(bar)
            continue
        _check_widths(cells)
        beats = _beat_columns(beat_row, cells[0], bar.meter) if beat_row else None
        before = played_before(found, bar.endings)
        lasting = before.line if before and isinstance(before.line, TabLine) else None
        line, doubt = read_tab_bar(cells, bar.meter, tuning, lasting, beats)
        if doubt:
            report(doubt, bar)
        found.append(replace(bar, line=line))
    return found[len(earlier) :]


def _check_strings(rows: Sequence[Line], strings: Sequence[Line], tuning: Tuning) -> None:
    """Refuse rows that are not one a string, highest first, and a row of beats at most."""
    names = [tuning.string_name(string) for string in tuning.strings]
    expected = f"expected one row a string, highest first: {' '.join(names)}"
    for row, name in zip(strings, names, strict=False):
        match = STRING_ROW.match(row.text)
        assert match
        label = match[1][0].upper() + match[1][1:]
        if label != name and parse_note(label).pitch_class != parse_note(name).pitch_class:
            raise ChartError(
                f"found the string {label} where {name} belongs",
                place=row.value_place(),
                hint=f"{expected}; {_OTHER_BASS}",
            )
    if len(strings) != len(names):
        raise ChartError(
            f"found {len(strings)} strings under these bars",
            place=(strings or rows)[-1].value_place(),
            hint=f"{expected}; {_OTHER_BASS}",
        )
    others = [row for row in rows if row not in strings]
    if others and (len(others) > 1 or rows[-1] is not others[0]):
        hint = "expected at most one row of beats, under the strings"
        raise ChartError("found a row out of place", place=others[0].value_place(), hint=hint)


def _check_count(row: Line, found: int, expected: int) -> None:
    """Refuse a row that has more or fewer bars than the line above."""
    if found != expected:
        raise ChartError(
            f"found {found} bar{'s' if found != 1 else ''} under a line of {expected}",
            place=row.value_place(),
            hint="expected as many as above, parted by plain | ; an empty one, | |, is drawn",
        )


def _check_widths(strings: Sequence[Cells]) -> None:
    """Refuse strings of a bar that have different numbers of columns."""
    widths = [len(cells.text) for cells in strings]
    for cells, width in zip(strings, widths, strict=True):
        if width != widths[0]:
            raise ChartError(
                f"found {width} columns where the string above has {widths[0]}",
                place=cells.place(0, width),
                hint="expected every string of a bar to be as wide",
            )


def _beat_columns(row: Line, cells: Cells, meter: Meter) -> list[int]:
    """Return the columns of a bar's beats by the row under it.  Raises ChartError."""
    first = _typed_column(cells.row.text, cells.columns[0] - 1)
    marks = [
        (index - first, index)
        for index, mark in enumerate(_typed_text(row.text))
        if mark in "0123456789rR" and first <= index < first + len(cells.text)
    ]
    if len(marks) != meter.beats_per_bar:
        raise ChartError(
            f"found {len(marks)} beats under a bar of {meter.beats_per_bar}",
            place=row.value_place(),
            hint="expected each beat's number under its column, r for a beat of rest",
        )
    return [column for column, _ in marks]


def _typed_text(text: str) -> str:
    """Return a line as it was typed."""
    return text if text.isascii() else "".join(TYPED.get(mark, mark) for mark in text)


def _typed_column(text: str, column: int) -> int:
    """Return where a column of a line stood when it was typed, both from 0."""
    return len(_typed_text(text[:column]))


def _row_parts(row: Line, label: re.Pattern[str]) -> Iterator[tuple[str, int]]:
    """Yield what a row has between its bar lines, and where each begins in the line, from 0.

    Raises ChartError.
    """
    match = label.match(row.text)
    assert match
    begin = match.end()
    body = row.text[begin:]
    end = len(body.rstrip())
    stray = re.search(r"\|\||:\||\|:|\|[0-9,]+\.", body)
    if stray:
        raise ChartError(
            f"found {stray[0]!r} in a row",
            place=row.place(begin + stray.start() + 1, len(stray[0])),
            hint="expected plain bar lines: repeats and endings stand in the chords above",
        )
    column = begin + 1
    parts = body[:end].split("|")[1:]
    for part in parts if parts[-1].strip() else parts[:-1]:
        yield part, column
        column += len(part) + 1


def _cells_of(row: Line, part: str, column: int) -> Cells:
    """Return one bar of a row; ``column`` is where it begins in the line, from 0."""
    end_column = min(column + len(part), len(row.text)) + 1
    if part.isascii() and part.isprintable():
        return Cells(part, row, range(column + 1, column + 1 + len(part)), end_column)
    text = ""
    columns: list[int] = []
    for index, mark in enumerate(part):
        shown = " " if mark.isspace() else TYPED.get(mark, mark) if mark != "_" else mark
        text += shown
        columns += [column + index + 1] * len(shown)
    return Cells(text, row, columns, end_column)
