"""The bass line in the other keys that the page can be moved to: its octave, its places.

The line keeps its rhythm and its shape; where it would leave the neck it is put an octave back:
the whole section where many of its bars would, else the bar (common practice, no source).  A bar
that comes again is fingered once, and played as it was the first time.
"""

from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby

from msgspec import structs

from groove.errors import NeckError
from groove.events import FretPlace, Note, Touch
from groove.neck.fingering import finger_line, line_tables
from groove.neck.instrument import Tuning
from groove.neck.options import NeckOptions
from groove.neck.path import GripTables
from groove.page.moved import MOVES
from groove.theory.pitch import OCTAVE
from groove.timing import TempoMap

TOP_FRET = 24
LOW_ENOUGH = 9
"""Up to here most pitches lie on two strings (common practice, no source)."""
_MANY = 3
"""One bar in so many that leave the neck takes the section with it."""

_Tables = dict[NeckOptions, GripTables]
MovedNote = list[int]
"""Semitones by which a note is moved, string, fret, finger."""


def moved_lines(
    notes: Sequence[Note], tempo_map: TempoMap, tuning: Tuning, moves: Iterable[int] = MOVES
) -> dict[int, list[MovedNote]]:
    """Return the rows of the notes, which come as on the page, moved to other keys."""
    tables: _Tables = {}
    return {
        semitones: _moved_rows(notes, semitones, tempo_map, tuning, tables)
        for semitones in moves
        if semitones and notes
    }


def _moved_rows(
    notes: Sequence[Note], semitones: int, tempo_map: TempoMap, tuning: Tuning, tables: _Tables
) -> list[MovedNote]:
    by = _octaves(notes, semitones, tuning)
    moved = [_moved(note, each) for note, each in zip(notes, by, strict=True)]
    first_like = _first_alike(moved)
    own = [index for index, like in enumerate(first_like) if index == like]
    placed = _placed([moved[index] for index in own], tempo_map, tuning, tables)
    places = dict(zip(own, placed, strict=True))
    return [[each, *places[like]] for each, like in zip(by, first_like, strict=True)]


def _octaves(notes: Sequence[Note], semitones: int, tuning: Tuning) -> list[int]:
    """Return by how much every note is moved so that it stays on the neck."""
    lowest = tuning.lowest_pitch
    highest = max(tuning.open_pitches) + TOP_FRET
    found: list[int] = []
    for _, section in groupby(notes, key=_pass_of):
        bars = [list(bar) for _, bar in groupby(section, key=lambda note: note.origin.bar)]
        pitches = [[note.pitch + semitones for note in bar] for bar in bars]
        below = [min(bar) < lowest for bar in pitches]
        above = [max(bar) > highest for bar in pitches]
        for bar, is_below, is_above in zip(pitches, below, above, strict=True):
            wanted = OCTAVE * (is_below or _MANY * sum(below) > len(bars))
            wanted -= OCTAVE * (is_above or _MANY * sum(above) > len(bars))
            for pitch in bar:
                by = wanted if lowest <= pitch + wanted <= highest else 0
                by += OCTAVE * (pitch + by < lowest) - OCTAVE * (pitch + by > highest)
                found.append(semitones + by)
    return found


def _pass_of(note: Note) -> tuple[str, int, int]:
    """Return which pass of which section a note stands in."""
    bar = note.origin.bar
    return bar.section, bar.occurrence, bar.pass_number


def _moved(note: Note, by: int) -> Note:
    """Return a note moved; one that was written for a string stays on it where it reaches."""
    place = note.stated_place
    if place is not None and note.touch is not Touch.HARMONIC:
        fret = place.fret + by
        place = FretPlace(place.string, fret) if 0 <= fret <= TOP_FRET else None
    return structs.replace(note, pitch=note.pitch + by, stated_place=place, place=None)


def _first_alike(notes: Sequence[Note]) -> list[int]:
    """Return for each note the first one that stands in a bar of the same notes at its place."""
    found: list[int] = []
    first: dict[object, int] = {}
    for _, bar in groupby(notes, key=lambda note: note.origin.bar):
        own = list(bar)
        start = own[0].grid_tick
        key = tuple(
            (note.grid_tick - start, note.pitch, note.touch, note.stated_ticks) for note in own
        )
        begins = first.setdefault(key, len(found))
        found += range(begins, begins + len(own))
    return found


def _placed(
    notes: Sequence[Note], tempo_map: TempoMap, tuning: Tuning, tables: _Tables
) -> list[MovedNote]:
    """Return string, fret and finger of every note, in order."""
    options = _options(notes, tuning)
    own = tables.setdefault(options, line_tables(tuning, options))
    try:
        line = finger_line(notes, tempo_map=tempo_map, tuning=tuning, options=options, tables=own)
    except NeckError:
        # What was written for two strings at once may not be had in every key.
        return list(_lowest_places(notes, tuning))
    order = sorted(
        range(len(notes)), key=lambda index: (notes[index].grid_tick, notes[index].pitch)
    )
    rows: list[MovedNote] = [[] for _ in notes]
    for index, place in zip(order, line.places, strict=True):
        rows[index] = [place.string, place.fret, place.finger]
    return rows


def _options(notes: Sequence[Note], tuning: Tuning) -> NeckOptions:
    """Return the choices of a hand that goes no higher than it must: there is less to weigh."""
    needed = max(note.pitch for note in notes) - max(tuning.open_pitches)
    written = [note.stated_place.fret for note in notes if note.stated_place]
    return NeckOptions(max_fret=max(LOW_ENOUGH, needed, *written))


def _lowest_places(notes: Sequence[Note], tuning: Tuning) -> Iterator[MovedNote]:
    """Yield the place nearest to the nut of each, which no finger is told for."""
    for note in notes:
        string, fret = min(tuning.places(note.pitch, TOP_FRET), key=lambda place: place[1])
        yield [string, fret, 0 if fret == 0 else -1]
