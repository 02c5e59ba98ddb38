"""Bars over their rows: chords and tab set so that their bar lines stand under each other."""

from collections.abc import Container, Iterator, Sequence

from msgspec import Struct

from groove.chart.line_marks import BarLine, Token, read_marks
from groove.chart.lines import Line
from groove.chart.model import TabLine, TokenLine, WrittenBar
from groove.chart.words import find_word
from groove.chart.write import bar_text
from groove.chart.write_rows import tab_rows, token_row_text
from groove.neck.instrument import Tuning

_LABEL_WIDTH = 3
_NARROWEST = 2
_BAR = "|"


class BarText(Struct, frozen=True, kw_only=True):
    """One bar as text: what closes the bar before it, what opens it, what stands in it.

    ``cells`` are its tab from the highest string, or one row of tokens; empty where nothing is
    written under it.
    """

    closing: str
    opening: str
    body: str
    cells: tuple[str, ...] = ()
    cues: tuple[str, ...] = ()

    @property
    def lead(self) -> str:
        """What stands between it and the bar before on one line."""
        parts = [part for part in (self.closing, self.opening) if part != _BAR]
        return " ".join(parts) or _BAR

    @property
    def width(self) -> int:
        """How many columns it takes after its bar line."""
        return max(_NARROWEST, len(self.lead) + len(self.body) + 1, *map(len, self.cells[:1]))


def line_pieces(
    line: Line, bars: Sequence[WrittenBar], dropped: Container[str]
) -> tuple[list[BarText], str]:
    """Return the bars of a line of the chart as it spells them, and the bar line at its end.

    Their cues stand on lines of their own and are left out.
    ``dropped`` are kinds of words to the band that are left out.
    """
    pieces: list[BarText] = []
    words: list[str] = []
    before: list[BarLine] = []
    waiting = iter(bars)
    for mark in read_marks(line):
        if isinstance(mark, Token):
            words += [] if _kind(mark) in dropped else [mark.text]
            continue
        if words:
            pieces.append(_piece(line, before, words, next(waiting)))
            before, words = [], []
        before.append(mark)
    if words:
        pieces.append(_piece(line, before, words, next(waiting)))
        before = []
    tail = " ".join(_text(line, mark) for mark in before)
    return pieces, tail


def _piece(line: Line, marks: Sequence[BarLine], words: Sequence[str], bar: WrittenBar) -> BarText:
    """Return a bar of a line between the bar lines before it and the next."""
    closing = [_text(line, mark) for mark in marks if _only_closes(mark)]
    opening = [_text(line, mark) for mark in marks if not _only_closes(mark)]
    plain = [text for text in opening if text != _BAR]
    return BarText(
        closing=" ".join(closing) or _BAR,
        opening=" ".join(plain) or _BAR,
        body=" ".join(words),
        cells=_cells_of(bar),
    )


def _only_closes(mark: BarLine) -> bool:
    """Whether a bar line belongs to the bar before it alone."""
    return (mark.closes or mark.is_double) and not (mark.opens or mark.endings)


def _text(line: Line, mark: BarLine) -> str:
    """Return a bar line as the chart spells it."""
    text = line.text[mark.column - 1 : mark.column - 1 + mark.length]
    return text + (f" x{mark.passes}" if mark.passes else "")


def _kind(token: Token) -> str:
    """Return what kind of word to the band a word of a bar is, empty for none."""
    found = find_word(token.text[1:-1].strip()) if token.text.startswith("(") else None
    return found[0].kind if found else ""


def plain_pieces(bars: Sequence[WrittenBar]) -> list[BarText]:
    """Return bars written out one after the other, between plain bar lines and double ones."""
    pieces = []
    before: WrittenBar | None = None
    for bar in bars:
        is_double = before is not None and before.double_bar
        pieces.append(
            BarText(
                closing="||" if is_double else _BAR,
                opening=_BAR,
                body=bar_text(bar),
                cells=_cells_of(bar),
                cues=bar.cues,
            )
        )
        before = bar
    return pieces


def _cells_of(bar: WrittenBar) -> tuple[str, ...]:
    """Return what is written under a bar, a text a row."""
    if isinstance(bar.line, TabLine):
        return tuple(tab_rows(bar.line, bar, Tuning("", bar.line.open_pitches)))
    return (f" {token_row_text(bar)} ",) if isinstance(bar.line, TokenLine) else ()


def lines_of_bars(
    pieces: Sequence[BarText], tail: str, tuning: Tuning, indent: str, width: int
) -> Iterator[str]:
    """Yield lines of bars with the rows under them, as many bars to a line as its width takes.

    A bar is never split, so a line of one bar may be wider.  ``tail`` is the bar line at the end.
    """
    rows: list[list[BarText]] = []
    room = 0
    for piece in pieces:
        if not rows or piece.width >= room or piece.cues or not _share_rows(rows[-1], piece):
            rows.append([])
            room = width - len(indent) - _LABEL_WIDTH
        rows[-1].append(piece)
        room -= piece.width + 1
    ends = [*(row[0].closing for row in rows[1:]), tail]
    for row, end in zip(rows, ends, strict=True):
        yield from (f"{indent}cue: {cue}" for cue in row[0].cues)
        yield from _line(row, end, tuning, indent)


def numbered_bar(bar: WrittenBar, number: int, tuning: Tuning, indent: str) -> Iterator[str]:
    """Yield the lines of a bar that differs, ``bar 4: | D / / A |``, with the rows under it."""
    yield from (f"{indent}cue: {cue}" for cue in bar.cues)
    yield f"{indent}bar {number}: | {bar_text(bar)} |"
    cells = _cells_of(bar)
    for label, cell in zip(_labels(len(cells), tuning), cells, strict=True):
        yield f"{indent}{label}{_BAR}{cell}{_BAR}"


def _labels(count: int, tuning: Tuning) -> list[str]:
    """Return what so many rows begin with: the strings, or ``bass`` for one of tokens."""
    if count < 2:
        return ["bass "][:count]
    return [f"{tuning.string_name(string):<2}" for string in tuning.strings]


def _share_rows(row: Sequence[BarText], piece: BarText) -> bool:
    """Whether one line can have the rows of these bars: tab, or tokens, not both."""
    counts = {len(each.cells) for each in (*row, piece) if each.cells}
    return len(counts) < 2


def _line(row: Sequence[BarText], tail: str, tuning: Tuning, indent: str) -> Iterator[str]:
    """Yield one line of bars and the rows under it."""
    labels = _labels(max(len(piece.cells) for piece in row), tuning)
    text = " " * len(labels[0]) if labels else ""
    edge = len(text)
    for number, piece in enumerate(row):
        lead = piece.lead if number else piece.opening
        # A row's bar lines are under those of the bars, where what stands in a bar is no wider.
        text = text.ljust(edge) if labels else text
        text += f"{' ' if text.strip() and text[-1] != ' ' else ''}{lead} {piece.body}"
        edge += piece.width + 1
    text = f"{text} ".ljust(edge if labels else 0)
    yield (indent + text + tail).rstrip()
    for index, label in enumerate(labels):
        cells = (piece.cells[index] if piece.cells else " " * piece.width for piece in row)
        yield f"{indent}{label}{_BAR}{_BAR.join(cells)}{_BAR}"
