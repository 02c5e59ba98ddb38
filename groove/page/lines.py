"""Lines of the part that look alike, each drawn once: a long song repeats most of what it has.

A line is like an earlier one where its music, its key and meter, and what stands on either side of
it are the same, numbers of bars aside.  What is left to be drawn keeps the neighbours of every line
that counts, so that ties over its ends stay, and every change of key or meter.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass

from groove.sheet.mei import LINE_BREAK, PAGE_BREAK
from groove.sheet.score import Measure

CHANGE = "<scoreDef"
MEASURE = "<measure "
_HEADING = re.compile(r"<reh .*?</reh>")
_OWN_NUMBER = re.compile(
    r'xml:id="measure-(?P<bar>\d+)" n="\d+"'
    r"|\b(?P<name>bass|heading)-(?P<number>\d+)(?=[^<>]*>)"
    r"|<mNum>\d+"
)
"""What tells a bar from its like: its own id and number, and the ids of what stands in it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PartLines:
    """A part as MEI, line by line.

    ``printed`` are the numbers of their first bars, ``starts`` the indices of their first measures,
    and one past the last; ``like`` is the
    line that each is drawn like, itself where it is the first of its kind; ``kept`` are the lines
    that have to be laid out.
    """

    texts: tuple[str, ...]
    printed: tuple[str, ...]
    starts: tuple[int, ...]
    like: tuple[int, ...]
    kept: tuple[int, ...]

    @property
    def mei(self) -> str:
        """The MEI of what has to be laid out, a page a line."""
        return PAGE_BREAK.join(self.texts[line] for line in self.kept)

    @property
    def drawn(self) -> dict[int, int]:
        """The lines that have to be drawn, each with the number of its page in ``mei``."""
        pages = {line: page for page, line in enumerate(self.kept, start=1)}
        return {line: pages[line] for line in sorted(set(self.like))}


def part_lines(mei: str, measures: Sequence[Measure]) -> PartLines:
    """Return the lines of a part whose MEI has a break between two of them."""
    texts = tuple(mei.split(LINE_BREAK))
    counts = [text.count(MEASURE) for text in texts]
    starts = [0]
    for count in counts:
        starts.append(starts[-1] + count)
    first: dict[object, int] = {}
    like = []
    for line, text in enumerate(texts):
        measure = measures[starts[line]]
        before = texts[line - 1].rpartition(MEASURE)[2] if line else ""
        after = texts[line + 1].partition("</measure>")[0] if line + 1 < len(texts) else ""
        # A heading touches no line but its own.
        around = "\0".join((_HEADING.sub("", before), text, _HEADING.sub("", after)))
        # The width of a number is part of how a line looks.
        digits = len(str(measure.written_bar))
        key = (plain(around, measure.number), measure.key.signature_fifths, measure.meter, digits)
        like.append(line if CHANGE in text else first.setdefault(key, line))
    drawn = set(like)
    kept = [n for n in range(len(texts)) if drawn & {n - 1, n, n + 1} or n == len(texts) - 1]
    return PartLines(
        texts=texts,
        printed=tuple(str(measures[start].written_bar) for start in starts[:-1]),
        starts=tuple(starts),
        like=tuple(like),
        kept=tuple(kept),
    )


def plain(text: str, first_number: int) -> str:
    """Return MEI with its bars counted from the first one of the line, and no printed numbers."""

    def counted(found: re.Match[str]) -> str:
        if found["name"]:
            return f"{found['name']}-{int(found['number']) - first_number}"
        return f"bar {int(found['bar']) - first_number}" if found["bar"] else "number"

    return _OWN_NUMBER.sub(counted, text)
