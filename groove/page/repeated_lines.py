"""Lines of the part that look alike, each drawn once: a long song repeats most of what it has.

A line is like an earlier one where its music, its key and meter and what reaches over its ends are
the same, numbers of bars aside.  What is left to be drawn keeps the neighbours that it is bound to
(by a tie, a slide, a slur, a courtesy sign), every change of key or meter, and all lines that a
hairpin goes through.
"""

import re
from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from groove.sheet.mei import LINE_BREAK, PAGE_BREAK
from groove.sheet.score import Score

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


def part_lines(mei: str, score: Score) -> PartLines:
    """Return the lines of a part whose MEI has a break between two of them."""
    measures = score.measures
    texts = tuple(mei.split(LINE_BREAK))
    counts = [text.count(MEASURE) for text in texts]
    starts = [0]
    for count in counts:
        starts.append(starts[-1] + count)
    crossed = set(_crossed(score))
    bound = [start in crossed for start in starts]
    under_hairpin = set(_under_hairpins(score, starts))
    first: dict[object, int] = {}
    like = []
    for line, text in enumerate(texts):
        measure = measures[starts[line]]
        before = texts[line - 1].rpartition(MEASURE)[2] if bound[line] else ""
        after = texts[line + 1].partition("</measure>")[0] if bound[line + 1] else ""
        # A heading touches no line but its own.
        around = "\0".join((_HEADING.sub("", before), text, _HEADING.sub("", after)))
        key = (plain(around, measure.number), measure.key.signature_fifths, measure.meter)
        is_own = CHANGE in text or line in under_hairpin
        like.append(line if is_own else first.setdefault(key, line))
    return PartLines(
        texts=texts,
        printed=tuple(str(measures[start].written_bar) for start in starts[:-1]),
        starts=tuple(starts),
        like=tuple(like),
        kept=tuple(sorted(_kept(set(like), bound))),
    )


def _kept(drawn: set[int], bound: Sequence[bool]) -> set[int]:
    """Return the lines that have to be laid out, so that those that are drawn look as they do.

    ``bound`` says of every line whether it is bound to the one before it, and of the end that it
    is not.  The last line, which is like no other, closes the document.
    """
    before = {line - 1 for line in drawn if bound[line]}
    after = {line + 1 for line in drawn if bound[line + 1]}
    return drawn | before | after


def _crossed(score: Score) -> Iterator[int]:
    """Yield the indices of the measures before which something goes on or is announced.

    A tie, a slide, a slur; a key or a meter, whose courtesy sign ends the line before.
    """
    where: dict[str, int] = {}
    for index, measure in enumerate(score.measures):
        if index and (measure.shows_key or measure.shows_meter):
            yield index
        for voice in measure.voices:
            for event in voice.events[:1]:
                if any(head.tied_in for head in event.heads):
                    yield index
            where |= {head.id: index for event in voice.events for head in event.heads}
    for joint in score.joints():
        yield from range(where[joint.start] + 1, where[joint.end] + 1)


def _under_hairpins(score: Score, starts: Sequence[int]) -> Iterator[int]:
    """Yield the lines through whose ends a hairpin goes: its length is counted in measures."""
    number = {measure.number: index for index, measure in enumerate(score.measures)}
    for hairpin in score.hairpins():
        begins, ends = (
            bisect_right(starts, number[measure.number]) - 1
            for measure in (hairpin.first, hairpin.last)
        )
        if begins < ends:
            yield from range(begins, ends + 1)


def plain(text: str, first_number: int) -> str:
    """Return MEI with its bars counted from the first one of the line, and no printed numbers."""

    def counted(found: re.Match[str]) -> str:
        if found["name"]:
            return f"{found['name']}-{int(found['number']) - first_number}"
        return f"bar {int(found['bar']) - first_number}" if found["bar"] else "number"

    return _OWN_NUMBER.sub(counted, text)
