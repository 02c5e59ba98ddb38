"""The neck in words and as a text diagram: where roots lie, shifts in order, two fingerings."""

from collections.abc import Sequence

from groove.events import Bar, Place, placed
from groove.neck.fingering import FingeredLine
from groove.neck.instrument import INLAY_FRETS, Tuning
from groove.neck.line_figures import (
    ReturningShift,
    RootPlace,
    bars_by_number,
    easier_points,
    fingering_figures,
    returning_shifts,
    root_moves,
    root_name,
    root_places,
)
from groove.text.counts import counted

COUNT_WORDS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
_FEWEST_FRETS = 5
CELL_WIDTH = 5
FIGURE_NAMES = {
    "shifts": "shifts",
    "hard_shifts": "hard shifts",
    "travel_mm": "travel in mm",
    "stretches": "stretches",
    "rolled": "rolled with one finger",
    "string_crossings": "strings crossed",
    "open_strings": "open strings",
    "above_seventh": "above the seventh fret",
}
FIGURE_WORDS = {
    "shifts": "fewer shifts: {mine} instead of {other}",
    "hard_shifts": "fewer hard shifts: {mine} instead of {other}",
    "travel_mm": "less travel: {mine:.0f} mm instead of {other:.0f} mm",
    "stretches": "fewer stretches: {mine} instead of {other}",
    "rolled": "fewer notes rolled with one finger: {mine} instead of {other}",
    "string_crossings": "fewer strings crossed: {mine} instead of {other}",
    "open_strings": "fewer open strings to mute: {mine} instead of {other}",
    "above_seventh": "fewer notes above the seventh fret: {mine} instead of {other}",
}


def count_word(count: int) -> str:
    """Return a small number in words, a larger one in digits."""
    return COUNT_WORDS[count] if 0 <= count < len(COUNT_WORDS) else str(count)


def move_words(old: Place, new: Place) -> str:
    """Return a move from place to place as a player says it: ``same fret, next string down``.

    Up the neck is towards the higher frets, up in strings towards the higher ones.
    """
    strings = old.string - new.string
    frets = new.fret - old.fret
    if not strings and not frets:
        return "same place"
    if new.fret:
        fret_words = _fret_words(frets)
    else:
        fret_words = "to the open string" if old.fret else "open string"
    parts = [fret_words, _string_words(strings)]
    return ", ".join(part for part in parts if part)


def _fret_words(frets: int) -> str:
    if frets == 0:
        return "same fret"
    noun = "fret" if abs(frets) == 1 else "frets"
    return f"{'up' if frets > 0 else 'down'} {count_word(abs(frets))} {noun}"


def _string_words(strings: int) -> str:
    if strings == 0:
        return ""
    side = "up" if strings > 0 else "down"
    if abs(strings) == 1:
        return f"next string {side}"
    return f"{count_word(abs(strings))} strings {side}"


def neck_text(line: FingeredLine, bars: Sequence[Bar], *, title: str, width: int = 80) -> str:
    """Return roots on the neck, the moves between them, the shifts in order, and totals."""
    parts = [
        f"{title}\n\nRoots on the neck (numbers: the order in which they come)",
        neck_diagram(root_places(line), line.tuning, width=width),
        "From root to root\n" + _moves_text(line),
        _shifts_text(line, bars),
        _totals_text(line),
    ]
    return "\n\n".join(parts) + "\n"


def neck_diagram(places: Sequence[RootPlace], tuning: Tuning, *, width: int = 80) -> str:
    """Return a fretboard with the roots on it, the highest string on top; a name has its number.

    A root that is too high for the width is left to the list under the diagram.
    """
    room = (width - 4) // (CELL_WIDTH + 1) - 1
    last = min(max([_FEWEST_FRETS, *(place.fret for place in places)]), room)
    lines = [_string_diagram(places, string, last, tuning) for string in tuning.strings]
    dots = "".join(f" {_inlay(fret):^{CELL_WIDTH}}" for fret in range(last + 1))
    lines.append("   " + dots.rstrip())
    for place in places:
        where = "open" if place.fret == 0 else f"fret {place.fret}"
        string = tuning.string_words(place.string)
        times = "once" if place.count == 1 else f"{place.count} times"
        lines.append(f"{place.number:>3} {place.name}: {string}, {where}, {times}")
    return "\n".join(lines)


def _string_diagram(places: Sequence[RootPlace], string: int, last: int, tuning: Tuning) -> str:
    cells: dict[int, str] = {}
    for place in places:
        if place.string == string:
            both = [cells[place.fret]] if place.fret in cells else []
            cells[place.fret] = "/".join([*both, f"{place.number}"])
    names = {place.number: place.name for place in places}
    line = f"{tuning.string_name(string):<3}"
    for fret in range(last + 1):
        mark = cells.get(fret, "")
        if mark.isdigit():
            mark += names[int(mark)]
        filler = " " if fret == 0 else "-"
        line += "║" if fret == 1 else "|" if fret > 1 else " "
        line += f"{mark[:CELL_WIDTH]:{filler}^{CELL_WIDTH}}"
    return line + "|"


def _inlay(fret: int) -> str:
    if fret not in INLAY_FRETS:
        return ""
    return f"*{fret}*" if fret % 12 == 0 else f"{fret}"


def _moves_text(line: FingeredLine) -> str:
    moves = [
        f"  {root_name(old)} to {root_name(new)}: {move_words(placed(old), placed(new))}"
        for old, new in root_moves(line)
    ]
    return "\n".join(moves) or "  one place for all"


def _shifts_text(line: FingeredLine, bars: Sequence[Bar]) -> str:
    """Return the shifts that matter, once each, and how many there are with time to spare."""
    listed = returning_shifts(line, bars_by_number(bars))
    easy = len(line.shifts) - sum(returning.count for returning in listed)
    spare = f"{count_word(easy)} with more than a second of time" if easy else ""
    if not listed:
        return f"Shifts: {spare or 'none'}"
    has_hard = any(one.shift.is_hard for one in listed)
    signs = [
        "! hard: over half of what a hand can do in the time" if has_hard else "",
        "x2: twice in the song as played" if any(one.count > 1 for one in listed) else "",
    ]
    legend = ", ".join(filter(None, signs))
    rows = [f"Shifts  ({legend})" if legend else "Shifts"]
    rows += ["  bar   beat   position    way     time", *map(_shift_row, listed)]
    if spare:
        rows.append(f"  and {spare}")
    return "\n".join(rows)


def _shift_row(returning: ReturningShift) -> str:
    shift = returning.shift
    beat = f"{returning.beat:.2f}".rstrip("0").rstrip(".")
    position = f"{shift.from_fret} to {shift.to_fret}"
    times = f"x{returning.count}" if returning.count > 1 else ""
    row = (
        f"  {returning.written_bar:<5} {beat:<6} {position:<9} "
        f"{shift.travel_mm:>4.0f} mm  {shift.time_ms:>5.0f} ms  {times:<4}"
    )
    return (row + ("!" if shift.is_hard else "")).rstrip()


def _totals_text(line: FingeredLine) -> str:
    figures = fingering_figures(line)
    return (
        f"Totals: {counted(len(line.notes), 'note')}, {counted(figures.shifts, 'shift')} "
        f"({figures.hard_shifts} hard), {figures.travel_mm:.0f} mm of travel,\n"
        f"  {figures.open_strings} on open strings, {counted(line.rakes, 'rake')}, "
        f"{counted(line.same_finger_repeats, 'fast repeat')} with one plucking finger"
    )


def compare_text(one: FingeredLine, other: FingeredLine, *, title: str) -> str:
    """Return two fingerings of one line side by side, and what each of them makes easier."""
    names = [_fingering_name(line) for line in (one, other)]
    figures = [fingering_figures(line) for line in (one, other)]
    rows = [title, "", f"{'':<24}" + "".join(f"{name:>22}" for name in names)]
    for field in FIGURE_WORDS:
        values = [getattr(figure, field) for figure in figures]
        rows.append(f"{FIGURE_NAMES[field]:<24}" + "".join(f"{v:>22.0f}" for v in values))
    rows.append("")
    for name, mine, theirs in zip(names, figures, reversed(figures), strict=True):
        rows.append(f"{name} makes easier:")
        points = [
            FIGURE_WORDS[point].format(mine=value, other=against)
            for point, value, against in easier_points(mine, theirs)
        ]
        rows += [f"  {point}" for point in points or ["nothing that counts here"]]
    return "\n".join(rows) + "\n"


def _fingering_name(line: FingeredLine) -> str:
    position = line.options.position_fret
    return "as it comes" if position is None else f"position {position}"
