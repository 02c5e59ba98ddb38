"""What a record makes of a form inside its sections: bars left out, played again, or foreign.

Whole sections more or less a form line says; what is told here it cannot say.
"""

from collections.abc import Iterator, Sequence
from enum import StrEnum
from itertools import groupby

from msgspec import Struct

from groove.events import Bar
from groove.record.aligned import HeardSong
from groove.record.heard_bar import HeardBar


class EditKind(StrEnum):
    """What a record does with some bars."""

    LEFT_OUT = "left out"
    AGAIN = "again"
    FOREIGN = "foreign"


class FormEdit(Struct, frozen=True, kw_only=True):
    """Bars that the record leaves out or plays again, or has and the chart has not.

    ``bars`` are the first and the last played bar, by index: None where they are foreign.  ``sec``
    and ``end_sec`` are where it is in the record; what is left out has no length.  ``count`` is how
    many bars it is, of foreign ones about.
    """

    kind: EditKind
    bars: tuple[int, int] | None
    count: int
    sec: float
    end_sec: float


def visit(index: int, bars: Sequence[Bar]) -> tuple[str, int]:
    """Return which time of which section a bar is in; a pickup belongs to what follows it."""
    ref = bars[index].ref
    if ref.is_pickup and index + 1 < len(bars):
        ref = bars[index + 1].ref
    return ref.section, ref.occurrence


def ends_visit(index: int, bars: Sequence[Bar]) -> bool:
    """Return whether a section ends with a bar."""
    return index + 1 == len(bars) or visit(index + 1, bars) != visit(index, bars)


def begins_visit(index: int, bars: Sequence[Bar]) -> bool:
    """Return whether a section begins with a bar."""
    return index == 0 or visit(index - 1, bars) != visit(index, bars)


def form_edits(heard: HeardSong, bars: Sequence[Bar]) -> tuple[FormEdit, ...]:
    """Return what a record has of the form inside its sections, in the record's order.

    ``bars`` are those of the performance that it was held against.
    """
    return tuple(
        edit
        for place in range(1, len(heard.bars))
        for edit in _edits(heard.bars[place - 1], heard.bars[place:], bars)
    )


def _edits(before: HeardBar, rest: Sequence[HeardBar], bars: Sequence[Bar]) -> Iterator[FormEdit]:
    """Yield what lies between a bar and those that a record has after it."""
    after = rest[0]
    if not after.follows:
        length_sec = (before.end_sec - before.sec + after.end_sec - after.sec) / 2
        yield FormEdit(
            kind=EditKind.FOREIGN,
            bars=None,
            count=max(1, round((after.sec - before.end_sec) / max(length_sec, 0.001))),
            sec=before.end_sec,
            end_sec=after.sec,
        )
    first, last = after.index, before.index
    is_same = visit(first, bars) == visit(last, bars)
    if is_same and first <= last:
        if not (begins_visit(first, bars) and ends_visit(last, bars)):
            again = rest[: last - first + 1]
            yield _edit(EditKind.AGAIN, first, last, after.sec, again[-1].end_sec)
        return
    missing = list(range(last + 1, first))
    if first < last:
        missing = [*_rest(last, bars), *_head(first, bars)]
    for own, group in groupby(missing, lambda index: visit(index, bars)):
        left = list(group)
        if own in (visit(first, bars), visit(last, bars)):  # others are left out as a whole
            yield _edit(EditKind.LEFT_OUT, left[0], left[-1], after.sec, after.sec)


def _rest(index: int, bars: Sequence[Bar]) -> Iterator[int]:
    """Yield the bars of a section after one of them."""
    while not ends_visit(index, bars):
        index += 1
        yield index


def _head(index: int, bars: Sequence[Bar]) -> list[int]:
    """Return the bars of a section before one of them."""
    found = []
    while not begins_visit(index, bars):
        index -= 1
        found.append(index)
    return found[::-1]


def _edit(kind: EditKind, first: int, last: int, sec: float, end_sec: float) -> FormEdit:
    return FormEdit(kind=kind, bars=(first, last), count=last - first + 1, sec=sec, end_sec=end_sec)
