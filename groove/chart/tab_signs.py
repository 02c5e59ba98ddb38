"""The signs on one string of tab: frets, ghosts, harmonics, holds, slurs, bends and vibrato."""

import re
from collections.abc import Sequence
from functools import lru_cache

from msgspec import Struct

from groove.chart.lines import Line
from groove.chart.model import Slur
from groove.errors import ChartError, SourcePlace
from groove.neck.instrument import HIGHEST_FRET

HELD_COLUMN, SILENCE, MARGIN = "=", "-", "-=hp/\\"
HARMONICS = {12: 12, 7: 19, 19: 19, 5: 24, 24: 24, 4: 28, 9: 28}
"""Semitones above the open string at the nodes of a string's first modes.

A string touched at 1/2, 1/3, 1/4 or 1/5 of its length gives that many times its frequency.
"""
_SLURS = {"h": Slur.HAMMER_ON, "p": Slur.PULL_OFF, "/": Slur.SLIDE, "\\": Slur.SLIDE}
_SIGN = re.compile(
    r"(?P<fret>[0-9]+)(?:b(?P<bend>[0-9]+))?(?P<shake>~*)|(?P<ghost>x)"
    r"|<(?P<node>[0-9]+)>(?P<rings>~*)"
)
_SOUNDED = re.compile(f"[^{SILENCE}]")
_WIDEST_BEND_FRETS = 4
_SIGNS_EXPECTED = (
    "frets, - silence, = held, x ghost, 5h7 5p3 5/7 7\\5 slurs, 7b9 a bend, 7~ vibrato, <12> a "
    "harmonic"
)


_SLAP_MARKS = "spt"
_NO_SLAP = "marks of slap and pop are not read: leave them out"


class Cells(Struct, frozen=True):
    """One string's columns of one bar as typed, and where each stands in its line, from 1."""

    text: str
    row: Line
    columns: Sequence[int]
    end_column: int

    def place(self, column: int, length: int = 1) -> SourcePlace:
        """Return the place of a column of this bar."""
        columns, row = self.columns, self.row
        if column >= len(columns):
            return row.place(self.end_column)
        first = columns[column]
        width = 1 if length == 1 else columns[min(column + length, len(columns)) - 1] - first + 1
        return SourcePlace(
            source=row.source, line=row.number, column=first, text=row.text, length=max(1, width)
        )


class TabSign(Struct, frozen=True, kw_only=True, gc=False):
    """What is struck on a string: its columns, what it holds to, and what it says.

    ``fret`` is None for a ghost, and of a harmonic where the string is touched; ``number_width``
    is how many columns its number or harmonic takes, which count as one.
    """

    start: int
    end: int
    held_to: int
    slur: Slur | None = None
    fret: int | None = None
    bend_semitones: int = 0
    is_harmonic: bool = False
    has_vibrato: bool = False
    number_width: int = 1


class _Fault(Struct, frozen=True):
    """What is no sign: what is told of it, what was expected, and its columns."""

    message: str
    hint: str
    column: int
    length: int = 1


def string_signs(cells: Cells) -> tuple[TabSign, ...]:
    """Return the signs of one string.  Raises ChartError for what is none or not on the neck."""
    found, fault = _signs_of(cells.text.casefold())
    if fault:
        place = cells.place(fault.column, fault.length)
        raise ChartError(fault.message, place=place, hint=fault.hint)
    return found


@lru_cache(maxsize=4096)
def _signs_of(text: str) -> tuple[tuple[TabSign, ...], _Fault | None]:
    """Return the signs of one string, up to the first that is none: bars come again and again."""
    signs: list[TabSign] = []
    column = len(text) - len(text.lstrip(HELD_COLUMN))
    while found := _SOUNDED.search(text, column):
        column = found.start()
        slur = _SLURS.get(text[column])
        start = column + (slur is not None)
        match = _SIGN.match(text, start)
        fault = _fault_of(match) if match else _no_sign(text, column, is_slur=slur is not None)
        if fault or not match:
            return tuple(signs), fault
        held_to = match.end()
        while held_to < len(text) and text[held_to] == HELD_COLUMN:
            held_to += 1
        signs.append(_sign(match, held_to, slur))
        column = held_to
    return tuple(signs), None


def _sign(match: re.Match[str], held_to: int, slur: Slur | None) -> TabSign:
    written, bend, shake, _, node, rings = match.groups()
    fret = int(written or node) if written or node else None
    return TabSign(
        start=match.start(),
        end=match.end(),
        held_to=held_to,
        slur=slur,
        fret=fret,
        bend_semitones=int(bend) - int(written) if bend else 0,
        is_harmonic=node is not None,
        has_vibrato=bool(shake or rings),
        number_width=len(written) if written else len(match[0]) if node else 1,
    )


def _fault_of(match: re.Match[str]) -> _Fault | None:
    """Return what is wrong with a sign that reads well: what the neck or the string has not."""
    start, length = match.start(), len(match[0])
    fret, bend, node = match["fret"], match["bend"], match["node"]
    if node and (len(node) > 2 or int(node) not in HARMONICS):
        hint = "expected <12>, <7>, <5>, <4>, <9>, <19> or <24>"
        return _Fault(f"found no harmonic at fret {node[:10]}", hint, start, length)
    if fret and (len(fret) > 2 or int(fret) > HIGHEST_FRET):
        hint = f"expected 0 to {HIGHEST_FRET}; touching digits are one fret, as 1-2 are two"
        return _Fault(f"found fret {fret[:20]}", hint, start, length)
    if bend and not int(fret) < int(bend[:3]) <= int(fret) + _WIDEST_BEND_FRETS:
        hint = f"expected it to end one to four frets higher, e.g. {fret}b{int(fret) + 2}"
        return _Fault(f"found a bend from fret {fret} to {bend[:3]}", hint, start, length)
    return None


def _no_sign(text: str, column: int, *, is_slur: bool) -> _Fault:
    """Return what is told of a column that says nothing where it stands."""
    if is_slur:
        hint = "expected a fret right after it, e.g. 5h7, 7p5, 5/7"
        hint += f"; {_NO_SLAP}" if text[column] in _SLAP_MARKS else ""
        return _Fault(f"found {text[column]!r} that leads to nothing", hint, column)
    if text[column] == HELD_COLUMN:
        hint = "expected a fret before it, e.g. 5==, or - for silence"
        return _Fault("found = that holds nothing", hint, column)
    hint = f"expected {_SIGNS_EXPECTED}"
    hint += f"; {_NO_SLAP}" if text[column] in _SLAP_MARKS else ""
    return _Fault(f"found {text[column]!r} on a string", hint, column)
