"""Blocks of a chart: ``riff NAME:``, ``drums NAME:`` and ``keys NAME:`` with rows under them."""

import re
from collections.abc import Iterator

from groove.cells.conditions import CONDITIONS
from groove.cells.tokens import EXPECTED, HOLD, is_struck, parse_token, read_tokens
from groove.chart.lines import Line, TextLineKind
from groove.chart.model import Riff, RiffRow, Slot
from groove.chart.rows import refuse_lost_hold
from groove.errors import ChartError, SourcePlace, joined_hints, nearest_hint
from groove.events import Part
from groove.naming import OUT_WORDS
from groove.notices import Notice, NoticeKind, make_notice
from groove.theory.general_midi import DRUM_KEYS, OLD_STROKES, find_stroke

BLOCK_PARTS = {"riff": Part.BASS, "drums": Part.DRUMS, "keys": Part.KEYS}
"""The part that plays a block, by the first word of its heading."""

_LEVELS = "levels"
_LEVEL_OR_REST = "a level from 1 to 9, or . for a rest"
MOST_BLOCK_BARS = 64
MOST_SLOTS = 96
MOST_BLOCKS = 200
LONGEST_SHOWN_ROW = 60
BLOCK_ROWS = {
    Part.BASS: "R - . 5 . 8 - . | R - . 5 >-2 - >-1 -",
    Part.DRUMS: "kick: 9 . . . 9 . . .",
    Part.KEYS: "7 - . . 6 - . .",
}
"""What a row of each part's blocks looks like."""

Bars = list[list[Slot]]


def block_heading(line: Line) -> tuple[Part, str] | None:
    """Return the part and the name of a heading that may open a block, None for any other."""
    word, _, name = line.name.partition(" ")
    part = BLOCK_PARTS.get(word.casefold())
    return (part, name) if part and name else None


def row_beside_heading(line: Line) -> ChartError | None:
    """Return the error for a block's row on the line of its name, None for any other line."""
    found = block_heading(line)
    if not found:
        return None
    part, _ = found
    is_row = part is not Part.DRUMS or ":" in line.value
    row = line.value if is_row and len(line.value) <= LONGEST_SHOWN_ROW else BLOCK_ROWS[part]
    return ChartError(
        f"found a row on the line of its name: {line.name[:LONGEST_SHOWN_ROW]}",
        place=line.value_place(),
        hint=f"expected two lines:  {line.name[:LONGEST_SHOWN_ROW]}:  and under it  {row}",
    )


class RawBlock:
    """A block as it is read, row by row."""

    def __init__(self, head: Line, part: Part, name: str) -> None:
        """Begin with the heading.  Raises ChartError for a name that means silence."""
        self.part = part
        self.name = name
        self.place = head.value_place()
        self.rows: dict[str, Bars] = {}
        self.current = ""
        self.notices: list[Notice] = []
        self.last: tuple[str, int, int] | None = None
        if name.casefold() in OUT_WORDS:
            hint = f"expected another name: {part}: {name} leaves the part out"
            raise ChartError(
                f"a {part} part cannot be called {name!r}", place=self.place, hint=hint
            )

    def takes(self, line: Line) -> bool:
        """Return whether a line is a row of this block; where it is, it has been read."""
        if line.kind is TextLineKind.ROW:
            self.add(self.current, line)
            return True
        if line.kind is not TextLineKind.SETTING:
            return False
        label = line.name.casefold()
        if self.part is Part.BASS and label == _LEVELS:
            self.add_levels(line)
        else:
            self.current = self.row_label(line)
            self.add(self.current, line)
        return True

    def row_label(self, line: Line) -> str:
        """Return what a row is for: a condition, or a drum.  Raises ChartError."""
        label = line.name.casefold()
        known: tuple[str, ...] = ()
        expected = "a row without a name"
        if self.part is Part.BASS:
            if label in CONDITIONS:
                return label
            expected, known = "a condition", tuple(CONDITIONS)
        elif self.part is Part.DRUMS:
            stroke = find_stroke(label)
            if stroke:
                if label in OLD_STROKES:
                    new = stroke.replace("_", " ")
                    self.notices.append(
                        make_notice(NoticeKind.NOW_WRITTEN, line=line.number, old=label, new=new)
                    )
                return stroke
            expected, known = "a drum", tuple(key.replace("_", " ") for key in DRUM_KEYS)
        near = nearest_hint(label[:40], known)
        shown = ", ".join(known[:12]) + (" …" if len(known) > 12 else "")
        raise ChartError(
            f"no such row of a {self.part} part: {line.name[:40]!r}",
            place=line.name_place(),
            hint=joined_hints(near, f"expected {expected}: {shown}".rstrip(": ")),
        )

    def add(self, label: str, line: Line) -> None:
        """Add the bars of a row, which go on where the row above ended."""
        if self.part is Part.DRUMS and not label:
            raise ChartError(
                "found a row of drums without its drum",
                place=line.value_place(),
                hint=f"expected e.g. {BLOCK_ROWS[Part.DRUMS]}",
            )
        pieces = [self.read_slots(piece) for piece in _row_pieces(line)]
        bars = self.rows.setdefault(label, [[]])
        self.last = (label, len(bars) - 1, len(bars[-1]))
        bars[-1] += pieces[0]
        bars += pieces[1:]
        if len(bars) > MOST_BLOCK_BARS + 1 or max(map(len, bars)) > MOST_SLOTS:
            raise ChartError(
                "this part has too many bars or slots",
                place=line.value_place(),
                hint=f"expected at most {MOST_BLOCK_BARS} bars of {MOST_SLOTS} slots",
            )

    def read_slots(self, words: list[tuple[str, SourcePlace]]) -> list[Slot]:
        """Return the slots of a bar or of a part of one."""
        return [self.read_slot(word, place) for word, place in words]

    def read_slot(self, word: str, place: SourcePlace) -> Slot:
        """Return one slot.  Raises ChartError for what is no token of the part."""
        is_known = not is_struck(word) or (
            parse_token(word) is not None
            if self.part is Part.BASS
            else re.fullmatch("[1-9]", word) is not None
        )
        if self.part is Part.DRUMS and word == HOLD:
            is_known = False
        if not is_known:
            expected = EXPECTED if self.part is Part.BASS else _LEVEL_OR_REST
            raise ChartError(f"found {word[:30]!r}", place=place, hint=f"expected {expected}")
        return Slot(token=word, place=place)

    def add_levels(self, line: Line) -> None:
        """Put levels on the slots of the row above.  Raises ChartError where they do not fit."""
        if self.last is None:
            hint = "expected levels under a row of steps"
            raise ChartError("found levels with no row above", place=line.name_place(), hint=hint)
        label, bar, slot = self.last
        self.last = None
        above = [self.rows[label][bar][slot:], *self.rows[label][bar + 1 :]]
        pieces = list(_row_pieces(line))
        if [len(piece) for piece in pieces if piece] != [len(piece) for piece in above if piece]:
            found, wanted = (sum(map(len, rows)) for rows in (pieces, above))
            raise ChartError(
                f"found {found} levels under {wanted} steps",
                place=line.value_place(),
                hint="expected one under each step, a point under a hold or a rest",
            )
        marks = iter([mark for piece in pieces for mark in piece])
        for index, piece in enumerate(above):
            loud = [_with_level(slot, *next(marks)) for slot in piece]
            if index == 0:
                self.rows[label][bar][slot:] = loud
            else:
                self.rows[label][bar + index] = loud

    def riff(self) -> Riff:
        """Return the block, read.  Raises ChartError for bars that are empty or hold nothing."""
        rows = tuple(
            RiffRow(name=label, bars=tuple(tuple(bar) for bar in self.whole_bars(bars)))
            for label, bars in self.rows.items()
        )
        if self.part is Part.BASS and rows[0].name:
            hint = f"expected first a row without a condition, e.g. {BLOCK_ROWS[Part.BASS]}"
            raise ChartError("found only rows with a condition", place=self.place, hint=hint)
        return Riff(part=self.part, name=self.name, rows=rows, place=self.place)

    def whole_bars(self, bars: Bars) -> Iterator[list[Slot]]:
        """Yield the bars of a row; a bar line at its end opens none."""
        for bar in bars if bars[-1] else bars[:-1]:
            if not bar:
                hint = f"expected e.g. {BLOCK_ROWS[self.part]}; a silent bar is written in rests"
                raise ChartError("found a bar with nothing in it", place=self.place, hint=hint)
            refuse_lost_hold(bar)
            yield bar
        if not bars[0]:
            hint = f"expected e.g. {BLOCK_ROWS[self.part]}"
            raise ChartError("found a row with nothing in it", place=self.place, hint=hint)


def _with_level(slot: Slot, mark: str, place: SourcePlace) -> Slot:
    """Return a slot with its level; a point leaves it to the rule.

    Raises ChartError for a level where nothing is struck.
    """
    if re.fullmatch("[1-9.]" if is_struck(slot.token) else "[.-]", mark):
        return Slot(token=slot.token, level=int(mark) if mark.isdigit() else None, place=slot.place)
    expected = "a level from 1 to 9" if is_struck(slot.token) else "a point"
    raise ChartError(
        f"found {mark[:30]!r} under {slot.token!r}", place=place, hint=f"expected {expected}"
    )


def _word_place(line: Line, column: int, word: str) -> SourcePlace:
    """Return the place of a word, which may be longer as it was typed than as it stands."""
    return line.place(column, max(1, min(len(word), len(line.text) - column + 1)))


def _row_pieces(line: Line) -> Iterator[list[tuple[str, SourcePlace]]]:
    """Yield the words of a row between its bar lines, with their places."""
    column = line.column
    for piece in line.value.split("|"):
        yield [
            (token, _word_place(line, column + start, token)) for token, start in read_tokens(piece)
        ]
        column += len(piece) + 1
