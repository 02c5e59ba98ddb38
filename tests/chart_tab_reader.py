"""Reads the tab under a chart's bars as a player would; judges ``--into-chart``.

Works from the page alone and imports nothing of the project: a section is a line of a name and a
colon, bars stand in lines that begin with ``|``, and under them stands one row a string, each begun
by its name.  A first column of dashes is margin; the rest divides evenly by the beats of the bar.
"""

import re
from dataclasses import dataclass, replace
from fractions import Fraction

SECTION = re.compile(r"^([A-Za-z][^:|]*):\s*$")
ROW = re.compile(r"^\s*[A-G]b? *\|(.*)\|\s*$")
SIGN = re.compile(r"x|[0-9]+")


@dataclass(frozen=True)
class PageNote:
    """A note: its section, bar there (from 1), beats from the bar line, string, sign, beats."""

    section: str
    bar: int
    start: Fraction
    string: int
    sign: str
    length: Fraction


def page_notes(text: str, beats: int) -> list[PageNote]:
    """Return the notes under the bars of a chart whose bars have so many beats, in page order."""
    found: list[PageNote] = []
    section, bar = "", 0
    rows: list[str] = []
    for line in [*text.splitlines(), ""]:
        row = ROW.match(line)
        if row:
            rows.append(row[1])
            continue
        if rows:
            cells = [each.split("|") for each in rows]
            for column in range(len(cells[0])):
                bar += 1
                for note in bar_notes([each[column] for each in cells], beats):
                    found.append(replace(note, section=section, bar=bar))
            rows = []
        heading = SECTION.match(line)
        if heading:
            section, bar = heading[1].strip(), 0
    return found


def bar_notes(strings: list[str], beats: int) -> list[PageNote]:
    """Return the notes of one bar of tab, in time; a tie at its head has the sign ``=``."""
    columns = len(strings[0])
    assert all(len(each) == columns for each in strings)
    is_held = any("=" in each for each in strings)
    beat_columns = Fraction(columns - 1, beats)
    signs = []
    for string, cells in enumerate(strings, start=1):
        tie = re.match("=+", cells)
        if tie:
            signs.append((0, tie.end(), string, "="))
        for match in SIGN.finditer(cells):
            held = re.match("=*", cells[match.end() :])
            assert held
            signs.append((match.start(), match.end() + held.end(), string, match[0]))
    starts = sorted({start for start, *_, sign in signs if sign != "="})
    found = []
    widest = max((len(sign) for *_, sign in signs), default=1)
    for start, end, string, sign in sorted(signs):
        if is_held:
            # What is held ends with its slot: a sign and a dash are the least that a slot has.
            end = -(-(end - 1) // (widest + 1)) * (widest + 1) + 1
        else:
            end = next((later for later in starts if later > start), columns)
        begin = Fraction(max(0, start - 1)) / beat_columns
        found.append(PageNote("", 0, begin, string, sign, Fraction(end - 1) / beat_columns - begin))
    return found
