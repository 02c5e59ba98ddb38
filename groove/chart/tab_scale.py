"""Where the columns of a bar of tab lie in time.

A bar's columns divide evenly into a whole number of slots a beat; where that fails and the first
column says nothing, it is margin.  Two columns are a slot where every sign starts on such a pair,
else one; where a sign is wider, a slot may be as wide as the widest and a dash, or a number counts
as one column.  Of readings that fit, the one with the fewest slots is meant.  A row of beats under
the strings stands above all this.
"""

from collections.abc import Iterator, Sequence
from enum import StrEnum
from fractions import Fraction
from itertools import pairwise
from math import lcm

from msgspec import Struct
from msgspec.structs import replace

from groove.chart.tab_signs import MARGIN, Cells, TabSign
from groove.errors import ChartError
from groove.timing import Meter

MOST_SLOTS_A_BEAT = 96


class Doubt(StrEnum):
    """What may be meant otherwise in a bar whose columns are counted."""

    TRIPLETS = "triplets"
    WIDE_SIGNS = "wide signs"


class TabScale(Struct, frozen=True):
    """Where the columns of a bar lie in time.

    ``columns`` counts shares of a slot from the first column, ``lead`` of which lie before the
    bar begins; ``size`` is how many of them a slot has, ``slots`` how many slots there are, and
    ``doubt`` what is uncertain of them.
    """

    columns: Sequence[int]
    lead: int
    size: int
    slots: int
    doubt: Doubt | None = None

    def start(self, column: int) -> int:
        """Return the slot at which a column begins that a sign stands in."""
        return (self.columns[column] - self.lead) // self.size

    def end(self, column: int) -> int:
        """Return the slot that has ended by a column (exclusive)."""
        return max(0, -((self.lead - self.columns[column]) // self.size))


def even_scale(strings: Sequence[Cells], signs: Sequence[TabSign], meter: Meter) -> TabScale:
    """Return the scale of a bar whose columns divide evenly.  Raises ChartError for another."""
    beats = meter.beats_per_bar
    width = len(strings[0].text)
    has_margin = all(cells.text[:1] in MARGIN for cells in strings)
    has_wide = any(sign.end > sign.start + 1 for sign in signs)
    readings = _readings(signs, width, beats, has_margin)
    # Without wide signs the first is the one with the fewest slots.
    found = min(readings, key=_slots, default=None) if has_wide else next(readings, None)
    if found is None or found.slots > MOST_SLOTS_A_BEAT * beats:
        raise _uneven(strings, width, meter)
    if found.size == 1 and has_wide:
        return replace(found, doubt=Doubt.WIDE_SIGNS)
    if found.size == 1 and found.slots % (3 * beats) == 0 and not meter.is_compound:
        return replace(found, doubt=Doubt.TRIPLETS)
    return found


def _slots(scale: TabScale) -> int:
    """Return how many slots a bar has."""
    return scale.slots


def _readings(
    signs: Sequence[TabSign], width: int, beats: int, has_margin: bool
) -> Iterator[TabScale]:
    """Yield the even scales that a bar's signs fit, the likeliest first."""
    leads = (1, 0) if has_margin and beats == 1 else (0, 1) if has_margin else (0,)
    for columns, size in _divisions(signs, width):
        for lead in leads:
            count = columns[-1] - lead
            if count <= 0 or count % (beats * size):
                continue
            starts = [columns[sign.start] - lead for sign in signs]
            if all(start >= 0 and start % size == 0 for start in starts):
                yield TabScale(columns, lead, size, count // size)


def _divisions(signs: Sequence[TabSign], width: int) -> Iterator[tuple[Sequence[int], int]]:
    """Yield how a bar's columns may be counted, and how many may be a slot."""
    raw = range(width + 1)
    widest = max((sign.end - sign.start for sign in signs), default=1)
    if widest > 1:
        yield raw, widest + 1
        merged = _merged_columns(signs, width)
        # What starts inside another string's number would start with it.
        if len({merged[sign.start] for sign in signs}) == len({sign.start for sign in signs}):
            yield merged, 2
            yield merged, 1
    yield raw, 2
    yield raw, 1


def _merged_columns(signs: Sequence[TabSign], width: int) -> list[int]:
    """Return the number of each column where those of one number count as one."""
    inside = {
        column for sign in signs for column in range(sign.start + 1, sign.start + sign.number_width)
    }
    found = [0]
    for column in range(1, width + 1):
        found.append(found[-1] + (column not in inside))
    return found


def scale_by_beats(
    strings: Sequence[Cells], signs: Sequence[TabSign], meter: Meter, beats: Sequence[int]
) -> TabScale:
    """Return the scale of a bar whose beats stand at known columns.

    Raises ChartError for signs before the first beat or beats too close together.
    """
    width = len(strings[0].text)
    spans = [end - start for start, end in pairwise([*beats, width])]
    if min(spans) < 1:
        raise _uneven(strings, width, meter)
    at = [Fraction(0)] * (width + 1)
    for beat, (start, span) in enumerate(zip(beats, spans, strict=True)):
        for column in range(start, start + span + 1):
            at[column] = beat + Fraction(column - start, span)
    per_beat = _least_slots([at[sign.start] for sign in signs], spans)
    if per_beat is None or any(sign.start < beats[0] for sign in signs):
        raise _uneven(strings, width, meter)
    size = lcm(*spans)
    return TabScale([int(each * per_beat * size) for each in at], 0, size, per_beat * len(beats))


def _least_slots(starts: Sequence[Fraction], spans: Sequence[int]) -> int | None:
    """Return how many slots a beat has: half its columns where all signs fall on them."""
    columns = max(spans)
    tries = [columns // 2, columns, *range(1, MOST_SLOTS_A_BEAT + 1)]
    return next(
        (slots for slots in tries if slots and all((s * slots).denominator == 1 for s in starts)),
        None,
    )


def _uneven(strings: Sequence[Cells], width: int, meter: Meter) -> ChartError:
    """Return the error for a bar whose columns make no whole slots."""
    beats = meter.beats_per_bar
    first = next((cells for cells in strings if cells.text[:1] not in MARGIN), None)
    if first and (width - 1) % beats == 0:
        return ChartError(
            f"found a sign in the first of {width} columns, which is margin in a bar of {meter}",
            place=first.place(0),
            hint="expected a dash before the first fret on every string, and as many columns",
        )
    usual = [beats * columns for columns in (1, 2, 3, 4)]
    even, with_dash = (
        ", ".join(str(first + columns) for columns in usual) + " …" for first in (0, 1)
    )
    return ChartError(
        f"found {width} columns in a bar of {meter}, which cannot be counted in {beats} beats",
        place=strings[0].place(0, width),
        hint=f"expected as many columns to every beat: {even}, or one more with a "
        f"dash in front: {with_dash}; or a row of beats under the strings",
    )
