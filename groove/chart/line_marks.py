"""Bar lines and words of a section's lines, each with its place."""

import re
from collections.abc import Iterable, Iterator

from msgspec import Struct
from msgspec.structs import replace

from groove.chart.lines import Line
from groove.errors import ChartError, SourcePlace

MOST_PASSES = 64
BAR_LINE = r"(?P<close>:)?(?P<bar>\|{1,2})(?P<open>:)?"
_ENDINGS = r"(?:(?P<endings>[0-9]{1,2}(?:[,.][0-9]{1,2})*)\.(?!<))?"
WORD = r"(?P<word>(?:\([^()|]{0,60}\)|(?!:\|)[^\s|])++)"
"""White space inside a pair of brackets belongs to the word: ``C7(b9, #11)``."""

MARK = re.compile(rf"\s*+(?:{BAR_LINE}{_ENDINGS}|{WORD})")
PASSES = re.compile(r"\s*+[x×]([0-9]{1,4})(?=\s|$|\|)", re.IGNORECASE)
_SHOWN = 30


class Token(Struct, frozen=True):
    """A word between bar lines: where it begins in its line (column from 1)."""

    text: str
    line: Line
    column: int

    @property
    def place(self) -> SourcePlace:
        """The place of the word."""
        return self.line.place(self.column, max(1, len(self.text)))

    @property
    def shown(self) -> str:
        """The word as a message quotes it."""
        return self.text if len(self.text) <= _SHOWN else self.text[: _SHOWN - 1] + "…"


class BarLine(Struct, frozen=True, kw_only=True):
    """One bar line, everything that stands at it taken together."""

    line: Line
    column: int
    length: int
    closes: bool = False
    opens: bool = False
    is_double: bool = False
    endings: tuple[int, ...] = ()
    passes: int | None = None

    @property
    def place(self) -> SourcePlace:
        """The place of the bar line."""
        return self.line.place(self.column, self.length)

    @property
    def is_plain(self) -> bool:
        """Whether it is a bar line and nothing else."""
        return not (self.closes or self.opens or self.endings)

    def merged(self, other: "BarLine") -> "BarLine":
        """Return this bar line and one right after it as one."""
        if other.is_plain and not other.is_double:
            return self
        return replace(
            self,
            closes=self.closes or other.closes,
            opens=self.opens or other.opens,
            is_double=self.is_double or other.is_double,
            endings=self.endings or other.endings,
            passes=self.passes or other.passes,
        )


Mark = BarLine | Token


def read_marks(line: Line) -> Iterator[Mark]:
    """Yield the bar lines and words of one line."""
    text = line.value
    position = 0
    while match := MARK.match(text, position):
        position = match.end()
        if match["bar"] is None:
            yield Token(match["word"], line, line.column + match.start("word"))
            continue
        start = match.start("bar") if match["close"] is None else match.start("close")
        passes = PASSES.match(text, position) if match["close"] else None
        yield BarLine(
            line=line,
            column=line.column + start,
            length=match.end() - start,
            closes=match["close"] is not None,
            opens=match["open"] is not None,
            is_double=len(match["bar"]) == 2,
            endings=_read_endings(match, line) if match["endings"] else (),
            passes=_read_passes(passes, line) if passes else None,
        )
        position = passes.end() if passes else position


def _read_endings(match: re.Match[str], line: Line) -> tuple[int, ...]:
    """Return the passes of an ending: ``|1,2.``."""
    passes = tuple(int(text) for text in re.split("[,.]", match["endings"]))
    if len(set(passes)) != len(passes) or not all(1 <= n <= MOST_PASSES for n in passes):
        start = match.start("bar")
        raise ChartError(
            f"cannot read the ending {match['endings'][:_SHOWN]}.",
            place=line.place(line.column + start, match.end() - start),
            hint=f"expected different passes from 1 to {MOST_PASSES}, e.g. |1. or |1,2.",
        )
    return passes


def _read_passes(match: re.Match[str], line: Line) -> int:
    """Return how often a repeat is played in all: ``:| x3``."""
    passes = int(match[1])
    if not 2 <= passes <= MOST_PASSES:
        raise ChartError(
            f"cannot play a repeat {passes} times",
            place=line.place(line.column + match.start(1) - 1, len(match[1]) + 1),
            hint=f"expected x2 to x{MOST_PASSES}: how often it is played in all",
        )
    return passes


def merged_marks(lines: Iterable[Line]) -> Iterator[Mark]:
    """Yield the marks of all lines, bar lines with nothing between them taken as one."""
    merged: BarLine | None = None
    last: BarLine | None = None
    for line in lines:
        for mark in read_marks(line):
            if isinstance(mark, Token):
                if merged:
                    yield merged
                merged = last = None
                yield mark
                continue
            if merged and last:
                _refuse_empty_bar(last, mark)
                _refuse_nothing_between(merged, mark)
            merged = merged.merged(mark) if merged else mark
            last = mark
    if merged:
        yield merged


def _refuse_empty_bar(before: BarLine, after: BarLine) -> None:
    """Refuse a bar on one line with nothing in it."""
    begins_bar = before.is_plain or before.endings
    if before.line is after.line and begins_bar and after.is_plain:
        length = after.column + after.length - before.column
        raise ChartError(
            "found a bar with nothing in it",
            place=before.line.place(before.column, length),
            hint="expected a chord, % for the bar before again, or N.C. for no chord",
        )


def _refuse_nothing_between(before: BarLine, after: BarLine) -> None:
    """Refuse a repeat or an ending with nothing in it, and a repeat that ends twice."""
    if before.opens and (after.opens or after.closes):
        found, hint = "a repeat with nothing in it", "expected bars in it, e.g. |: D | A :|"
    elif before.closes and after.closes:
        found, hint = "a repeat that ends twice", "expected one :| (:| x3 plays it three times)"
    elif before.endings and not after.is_plain:
        found, hint = "an ending with nothing in it", "expected bars after it, e.g. |1. A :|2. D |"
    else:
        return
    raise ChartError(f"found {found}", place=after.place, hint=hint)
