"""Slashes with "sim." for a cell that stays: its first two bars stand there, then the chords alone.

As players write it who know the style: the bars go on in the rhythm, and on the degrees, of the
first two of their section (common practice, no source).  What leads elsewhere is written out.
"""

from collections.abc import Hashable, Iterator, Sequence

from msgspec.structs import replace

from groove.events import Maker, Role
from groove.sheet.score import Event, Head, Measure
from groove.sheet.shorthand import LEAST_STROKES

_ROOTS = {Role.SLASH: Role.ROOT, Role.OCTAVE: Role.ROOT}
"""What is the root in some octave."""
CELL_BARS = 2
"""How many bars of a section say what its cell is."""
_LEADING = {Role.APPROACH, Role.WALK, Role.FILL, Role.FIXED, Role.STROKE, Role.VOICING}
"""What a note may be there for that its chord alone does not tell."""


def slashed_measures(measures: Sequence[Measure]) -> Iterator[Measure]:
    """Yield the measures of a part, those marked whose cell is as in the first two of a section."""
    cell: list[Hashable] = []
    place = 0
    goes_on = False
    for measure in measures:
        if measure.heading or measure.as_before:
            cell, place, goes_on = [], 0, False
        own = None if measure.as_before else _cell_of(measure)
        is_like = place >= CELL_BARS and own is not None and own == cell[place % CELL_BARS]
        if is_like and not measure.ending and not measure.shows_number:
            yield replace(measure, is_slashed=True, begins_sim=not goes_on)
        else:
            yield measure
        goes_on = is_like
        cell.append(own)
        place += 1


def _cell_of(measure: Measure) -> Hashable:
    """Return rhythm and degrees of a bar; None where they are not all of its cell's chord."""
    events, heads = measure.events, measure.heads
    if len(heads) < LEAST_STROKES or any(event.is_marked for event in events):
        return None
    if heads[0].is_led_into or heads[-1].tied_out:
        return None
    origins = [head.note.origin for head in heads]
    if any(origin.maker is Maker.WRITTEN or origin.pushed_ticks for origin in origins):
        return None
    if any(origin.role in _LEADING for origin in origins):
        return None
    roots = (head.note.pitch for head in heads if _degree(head) is Role.ROOT)
    lowest = min(roots, default=0)
    return measure.meter, tuple(_in_cell(event, lowest) for event in events)


def _degree(head: Head) -> Role:
    """Return what a note is of its chord, whatever the octave."""
    role = head.note.origin.role
    return _ROOTS.get(role, role)


def _in_cell(event: Event, lowest: int) -> Hashable:
    """Return what a value says of the cell, whatever the chord; a slash note is its root."""
    degrees = tuple(
        (degree, degree is Role.ROOT and head.note.pitch > lowest)
        for head in event.heads
        for degree in [_degree(head)]
    )
    signs = tuple((head.notehead, head.tied_in, head.slides_out) for head in event.heads)
    return event.value.start, event.value.ticks, degrees, signs
