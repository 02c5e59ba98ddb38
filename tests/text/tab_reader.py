"""Reads tab text back into notes; judges ``groove.text.tab`` and imports nothing of it.

Works from the page alone: string lines begin with a name and ``|`` (or ``:`` where a bar goes on
from the line before), the count line has the beats in its columns.
"""

import itertools
import re
from dataclasses import dataclass
from fractions import Fraction

STRING_LINE = re.compile(r"^[A-G]b? *([|:].*[|:])$")


@dataclass(frozen=True)
class ReadNote:
    """A note as the page has it: bar from 1, beat from 1, string 1 the highest."""

    bar: int
    beat: Fraction
    string: int
    sign: str
    held_columns: int
    slide: bool


@dataclass
class ReadSystem:
    strings: list[str]
    chords: str
    count: str
    first_line: str


def read_systems(text: str) -> list[ReadSystem]:
    systems = []
    lines = text.splitlines()
    index = 0
    while index < len(lines):
        if not STRING_LINE.match(lines[index]):
            index += 1
            continue
        end = index
        while STRING_LINE.match(lines[end]):
            end += 1
        systems.append(ReadSystem(lines[index:end], lines[index - 1], lines[end], lines[index - 2]))
        index = end
    return systems


def read_bars(text: str) -> list[tuple[list[str], str]]:
    """Return each bar's string rows (highest first) and its count row, pieces joined again."""
    bars: list[tuple[list[str], str]] = []
    for system in read_systems(text):
        marks = [i for i, c in enumerate(system.strings[0]) if c in "|:" and i > 0]
        assert all(
            [i for i, c in enumerate(s) if c in "|:" and i > 0] == marks for s in system.strings
        )
        for start, end in itertools.pairwise(marks):
            rows = [line[start + 1 : end] for line in system.strings]
            count = system.count.ljust(end)[start + 1 : end]
            if system.strings[0][start] == ":":
                before, counted = bars.pop()
                rows = [a + b for a, b in zip(before, rows, strict=True)]
                count = counted + count
            bars.append((rows, count))
    return bars


def read_notes(text: str) -> list[ReadNote]:
    """Return the notes in order; a beat is a fraction counted from the columns between beats."""
    notes = []
    for number, (rows, count) in enumerate(read_bars(text), start=1):
        beats = [match.start() for match in re.finditer(r"\S+", count)]
        width = beats[1] - beats[0] if len(beats) > 1 else len(count) - beats[0]
        assert all(b - a == width for a, b in itertools.pairwise(beats))
        for string, row in enumerate(rows, start=1):
            for match in re.finditer(r"(/?)(x|\d+)(=*)", row):
                column = match.start(2) - beats[0]
                notes.append(
                    ReadNote(
                        bar=number,
                        beat=1 + Fraction(column, width),
                        string=string,
                        sign=match[2],
                        held_columns=len(match[3]),
                        slide=match[1] == "/",
                    )
                )
    return sorted(notes, key=lambda note: (note.bar, note.beat))
