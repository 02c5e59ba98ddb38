"""How a bar's strokes are written: note values, ties, dots, tuplets, rests and beams.

A stroke is a span of ticks in the bar; what nobody plays is a rest.  A span is cut into values
that show the beat, as a copyist does (E. Gould, *Behind Bars*, 2011, chapters "Grouping" and
"Rests"): the middle of a bar of four is never hidden by a note that begins off the beat, a rest
never reaches over a beat that it does not begin on, beams follow the beat.  A beat whose strokes
lie on no binary grid becomes a tuplet, half a beat where that is enough.

All positions and lengths are ticks from the bar line.  The same bar is written once: results are
cached.
"""

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

from msgspec import Struct
from msgspec.structs import replace

from groove.timing import EIGHTH_TICKS, TICKS_PER_QUARTER, Meter, quarters_to_ticks

WHOLE_TICKS = 4 * TICKS_PER_QUARTER
FINEST_TICKS = TICKS_PER_QUARTER // 16
TUPLET_COUNTS = (3, 5, 6, 7, 9, 10, 12)
MOST_DOTS_BASE = 64
_REST = -1
"""The number of a stroke that is none."""


@dataclass(frozen=True, slots=True)
class Tuplet:
    """``actual`` notes of a value in the time of ``normal``; ``base`` is that value."""

    actual: int
    normal: int
    base: int


class Value(Struct, frozen=True, kw_only=True):
    """One written note or rest.

    ``stroke`` is the number of the span it belongs to, ``_REST`` for a rest; ``base`` the value as
    a part of a whole note (4 a quarter, 0 a rest of the whole bar); ``ties_on`` says that the next
    value holds the same stroke.  ``opens_tuplet`` and ``closes_tuplet`` mark a tuplet's edges.
    ``beams`` has one word a beam, the eighth's first: ``begin``, ``continue``, ``end``,
    ``forward hook`` or ``backward hook`` (the words of MusicXML 4.0, type ``beam-value``);
    ``beam_group`` is the number of the beam in the bar, None outside beams: a rest under a beam
    has the number and no words.
    """

    stroke: int
    start: int
    ticks: int
    base: int
    dots: int = 0
    ties_on: bool = False
    tuplet: Tuplet | None = None
    opens_tuplet: bool = False
    closes_tuplet: bool = False
    beams: tuple[str, ...] = ()
    beam_group: int | None = None

    @property
    def end(self) -> int:
        """Where the value ends."""
        return self.start + self.ticks

    @property
    def is_rest(self) -> bool:
        """Whether nothing is struck or held."""
        return self.stroke == _REST


@lru_cache(maxsize=4096)
def written_values(meter: Meter, spans: tuple[tuple[int, int], ...]) -> tuple[Value, ...]:
    """Return the notes and rests of one voice in one bar.

    ``spans`` are (start, end) of its strokes, rising, not overlapping, within the bar.
    """
    length = quarters_to_ticks(meter.bar_quarters)
    if not spans:
        return (Value(stroke=_REST, start=0, ticks=length, base=0),)
    groups = _beat_groups(meter)
    edges = {edge for span in spans for edge in span}
    zones = [zone for group in pairwise(groups) for zone in _tuplet_zones(*group, edges, meter)]
    values: list[Value] = []
    for number, start, end in _filled(_snapped(spans, zones), length):
        values += _stroke_values(number, start, end, zones, meter)
    return _beamed(_close_tuplets(values, zones), groups)


@lru_cache(maxsize=64)
def short_rest(meter: Meter) -> tuple[Value, ...]:
    """Return the rests of a silent bar that is no whole one, as a pickup."""
    length = quarters_to_ticks(meter.bar_quarters)
    return tuple(_stroke_values(_REST, 0, length, (_Zone(0, length),), meter))


@lru_cache(maxsize=256)
def _beat_groups(meter: Meter) -> tuple[int, ...]:
    """Return where the groups begin that a beam may join, and the bar's end.

    A group is a beat; 5/8 goes in 3 and 2, 7/8 in 2, 2 and 3 (common practice, no source).
    """
    length = quarters_to_ticks(meter.bar_quarters)
    if meter.unit >= 8 and not meter.is_compound:
        unit = WHOLE_TICKS // meter.unit
        sizes = {3: (3,), 5: (3, 2), 7: (2, 2, 3)}.get(
            meter.count, (2,) * (meter.count // 2) or (1,)
        )
        starts = [sum(sizes[:index]) * unit for index in range(len(sizes))]
        return (*starts, length)
    beat = quarters_to_ticks(meter.beat_quarters)
    return (*range(0, length, beat), length)


@dataclass(frozen=True, slots=True)
class _Zone:
    """A stretch of a bar with one grid: binary, or ``tuplet`` of notes ``unit`` ticks apart."""

    start: int
    end: int
    unit: int = FINEST_TICKS
    tuplet: Tuplet | None = None


def _tuplet_zones(start: int, end: int, edges: set[int], meter: Meter) -> Iterator[_Zone]:
    """Yield the zones of a group: one if it is binary, else its parts, else a tuplet."""
    inside = [edge - start for edge in edges if start < edge < end]
    if all(edge % FINEST_TICKS == 0 for edge in inside):
        yield _Zone(start, end)
        return
    length = end - start
    parts = 2 if _is_binary(length) else 3
    cuts = [start + length * part // parts for part in range(parts + 1)]
    if length > EIGHTH_TICKS and all(cut - start in inside for cut in cuts[1:-1]):
        for low, high in pairwise(cuts):
            yield from _tuplet_zones(low, high, edges, meter)
        return
    count = next(
        (count for count in TUPLET_COUNTS if all(edge * count % length == 0 for edge in inside)),
        TUPLET_COUNTS[-1],
    )
    normal = 1 if parts == 2 else 3
    while normal * 2 <= count:
        normal *= 2
    yield _Zone(start, end, length // count, Tuplet(count, normal, WHOLE_TICKS * normal // length))


def _is_binary(ticks: int) -> bool:
    """Return whether a length is a plain note value, without a dot."""
    return WHOLE_TICKS % ticks == 0 or ticks % WHOLE_TICKS == 0


def _snapped(spans: Sequence[tuple[int, int]], zones: Sequence[_Zone]) -> list[tuple[int, int]]:
    """Return the spans with every edge on its zone's grid, each at least one step long."""
    starts = [zone.start for zone in zones]

    def on_grid(tick: int) -> int:
        zone = zones[max(0, bisect_right(starts, tick) - 1)]
        steps = round((tick - zone.start) / zone.unit)
        return min(zone.end, zone.start + steps * zone.unit)

    found: list[tuple[int, int]] = []
    for start, end in spans:
        low = max(on_grid(start), found[-1][1] if found else 0)
        zone = zones[max(0, bisect_right(starts, low) - 1)]
        found.append((low, max(on_grid(end), low + zone.unit)))
    return found


def _filled(spans: Sequence[tuple[int, int]], length: int) -> Iterator[tuple[int, int, int]]:
    """Yield (stroke or ``_REST``, start, end) so that the bar is full."""
    at = 0
    for number, (start, end) in enumerate(spans):
        if at < start:
            yield _REST, at, start
        yield number, start, end
        at = end
    if at < length:
        yield _REST, at, length


def _stroke_values(
    number: int, start: int, end: int, zones: Sequence[_Zone], meter: Meter
) -> Iterator[Value]:
    """Yield the values of one stroke or rest, tied where it takes several."""
    pieces: list[Value] = []
    at = start
    while at < end:
        zone = next(zone for zone in zones if zone.start <= at < zone.end)
        if zone.tuplet:
            pieces.append(_tuplet_value(number, at, min(end, zone.end), zone))
        else:
            plain_end = _plain_stretch(at, end, zones)
            pieces.append(_plain_value(number, at, plain_end, meter))
        at = pieces[-1].end
    for piece, after in pairwise([*pieces, None]):
        assert piece is not None
        yield replace(piece, ties_on=after is not None and number != _REST)


def _plain_stretch(at: int, end: int, zones: Sequence[_Zone]) -> int:
    """Return how far a value from ``at`` may reach before a tuplet begins."""
    return min([end, *(zone.start for zone in zones if zone.tuplet and zone.start > at)])


def _tuplet_value(number: int, at: int, end: int, zone: _Zone) -> Value:
    """Return the longest value of a tuplet that fits: 1, 2, 3 (dotted), 4 or 6 of its notes."""
    assert zone.tuplet is not None
    steps = (end - at) // zone.unit
    taken = max(size for size in (1, 2, 3, 4, 6, 8) if size <= steps)
    dots = 1 if taken in (3, 6) else 0
    return Value(
        stroke=number,
        start=at,
        ticks=taken * zone.unit,
        base=zone.tuplet.base // {1: 1, 2: 2, 3: 2, 4: 4, 6: 4, 8: 8}[taken],
        dots=dots,
        tuplet=zone.tuplet,
    )


PLAIN_LENGTHS = sorted(
    (
        (WHOLE_TICKS * (3 if dots else 2) // (2 * base), base, dots)
        for base in (1, 2, 4, 8, 16, 32, 64)
        for dots in (0, 1)
        if base < MOST_DOTS_BASE or not dots
    ),
    reverse=True,
)
"""(ticks, base, dots) of every value with at most one dot, longest first."""


def _plain_value(number: int, at: int, end: int, meter: Meter) -> Value:
    """Return the longest value from ``at`` that shows the beat."""
    allowed = _rest_allowed if number == _REST else _note_allowed
    for ticks, base, dots in PLAIN_LENGTHS:
        if at + ticks <= end and allowed(at, ticks, dots, meter):
            return Value(stroke=number, start=at, ticks=ticks, base=base, dots=dots)
    return Value(stroke=number, start=at, ticks=end - at, base=MOST_DOTS_BASE)


def _group_at(at: int, meter: Meter) -> tuple[int, int]:
    """Return the start and the end of the beat group that a tick lies in."""
    groups = _beat_groups(meter)
    index = bisect_right(groups, at) - 1
    return groups[index], groups[index + 1]


def _note_allowed(at: int, ticks: int, _dots: int, meter: Meter) -> bool:
    """Return whether a note of this length, begun there, leaves the beat readable."""
    start, group_end = _group_at(at, meter)
    end = at + ticks
    if end <= group_end:
        return _inside_allowed(at - start, ticks, group_end - start)
    if at == start:
        if end in _beat_groups(meter):
            return not _hides_middle(at, end, meter, on_beat=True)
        return not _hides_middle(at, end, meter, on_beat=False) and ticks % EIGHTH_TICKS == 0
    if meter.is_compound or (at - start) * 2 != group_end - start:
        return False
    off_beat = ticks in (2 * (at - start), 3 * (at - start))
    return off_beat and not _hides_middle(at, end, meter, on_beat=False)


def _hides_middle(at: int, end: int, meter: Meter, *, on_beat: bool) -> bool:
    """Return whether a note hides the middle of a bar of two or four beats."""
    if meter.beats_per_bar != 4:
        return False
    middle = quarters_to_ticks(meter.bar_quarters) // 2
    return at < middle < end and not on_beat


def _inside_allowed(offset: int, ticks: int, group: int) -> bool:
    """Return whether a note inside a beat shows its halves (or its three eighths)."""
    if ticks == group and offset == 0:
        return True
    half = group // 2 if _is_binary(group) else EIGHTH_TICKS
    if offset // half == (offset + ticks - 1) // half:
        quarter = half // 2
        if offset % half == 0 or quarter < FINEST_TICKS:
            return True
        return (offset % half) // quarter == (offset % half + ticks - 1) // quarter
    step = half // 2 if _is_binary(group) else half
    whole_steps = offset % step == 0 and ticks % step == 0
    return whole_steps or (offset % half == 0 and ticks * 2 == 3 * half)


def _rest_allowed(at: int, ticks: int, dots: int, meter: Meter) -> bool:
    """Return whether a rest of this length may begin there: as its own value's grid asks."""
    start, group_end = _group_at(at, meter)
    group = group_end - start
    if dots:
        whole_beat = not _is_binary(group) and at == start
        return whole_beat and (ticks == group or (ticks == 2 * group and at % ticks == 0))
    if at + ticks <= group_end:
        offset = at - start
        return offset % ticks == 0 or (offset == 0 and ticks * 3 == 2 * group)
    length = quarters_to_ticks(meter.bar_quarters)
    return _is_binary(length) and at % ticks == 0 and ticks < length


def _close_tuplets(values: list[Value], zones: Sequence[_Zone]) -> list[Value]:
    """Return the values with the edges of tuplets marked."""
    opens = {zone.start for zone in zones if zone.tuplet}
    closes = {zone.end for zone in zones if zone.tuplet}
    return [
        replace(value, opens_tuplet=value.start in opens, closes_tuplet=value.end in closes)
        if value.tuplet
        else value
        for value in values
    ]


def _flags(value: Value) -> int:
    """Return how many flags or beams a value has."""
    return max(0, value.base.bit_length() - 3)


def _beamed(values: list[Value], groups: Sequence[int]) -> tuple[Value, ...]:
    """Return the values with beams: neighbours of one group, rests between them under the beam.

    A tuplet has beams of its own, so that the two always nest.
    """
    found = list(values)
    number = 0
    for low, high in pairwise(groups):
        run: list[int] = []
        for index, value in enumerate(values):
            if value.opens_tuplet or (index and values[index - 1].closes_tuplet):
                number += _beam_run(found, run, number)
                run = []
            if low <= value.start < high and _flags(value):
                run.append(index)
            elif low <= value.start < high:
                number += _beam_run(found, run, number)
                run = []
        number += _beam_run(found, run, number)
    return tuple(found)


def _beam_run(values: list[Value], run: list[int], number: int) -> int:
    """Beam a run of neighbours in place; return 1 if there was anything to beam."""
    while run and values[run[0]].is_rest:
        run = run[1:]
    while run and values[run[-1]].is_rest:
        run = run[:-1]
    notes = [index for index in run if not values[index].is_rest]
    if len(notes) < 2:
        return 0
    levels = [_flags(values[index]) for index in notes]
    for place, index in enumerate(notes):
        values[index] = replace(values[index], beams=_beam_words(levels, place), beam_group=number)
    for index in run:
        values[index] = replace(values[index], beam_group=number)
    return 1


def _beam_words(levels: Sequence[int], place: int) -> tuple[str, ...]:
    """Return the beams of one note of a run, by its neighbours' flags."""
    before = levels[place - 1] if place else 0
    after = levels[place + 1] if place + 1 < len(levels) else 0
    words = []
    for level in range(1, levels[place] + 1):
        joins_before, joins_after = before >= level, after >= level
        if joins_before and joins_after:
            words.append("continue")
        elif joins_after:
            words.append("begin")
        elif joins_before:
            words.append("end")
        else:
            words.append("backward hook" if place else "forward hook")
    return tuple(words)
