"""What a fingered line asks: places of roots, shifts with bar and beat, fingerings compared.

The functions return values; what is said of them is made in ``text``.
"""

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from groove.events import ROOTS, Bar, Note, Place, placed
from groove.neck.fingering import FingeredLine, Shift, note_spelling
from groove.neck.options import HIGH_POSITION
from groove.theory.pitch import pitch_name
from groove.timing import TICKS_PER_QUARTER

CLEARLY_LESS = 0.95
"""A share of a figure under which a fingering is said to be easier in it."""
UNHURRIED_MS = 1000.0
"""With more time than this a shift is no matter; lists for a player leave it out."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RootPlace:
    """Where a root (or slash note) is played: name, string (1 the highest), fret, and how often.

    ``number`` counts the different places from 1 in the order in which the song comes to them.
    """

    number: int
    name: str
    pitch: int
    string: int
    fret: int
    count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ReturningShift:
    """A shift of a written bar, how often it is made, and that of them with the least time."""

    written_bar: int
    beat: float
    shift: Shift
    count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class FingeringFigures:
    """What one way of playing a line asks for; every figure is better when it is smaller."""

    shifts: int
    hard_shifts: int
    travel_mm: float
    stretches: int
    rolled: int
    string_crossings: int
    open_strings: int
    above_seventh: int


def root_name(note: Note) -> str:
    """Return the name of a root or slash note as the chart spells it: ``Bb`` in Bb7 and Cm7/Bb."""
    spelling = note_spelling(note)
    return spelling.name if spelling else pitch_name(note.pitch).rstrip("0123456789")


def _played_roots(line: FingeredLine) -> list[Note]:
    """Return the roots (and slash notes) of a line, without those that are octaves of others."""
    roots = [note for note in line.notes if note.origin.role in ROOTS]
    lowest: dict[str, int] = {}
    for note in roots:
        name = root_name(note)
        lowest[name] = min(note.pitch, lowest.get(name, note.pitch))
    return [note for note in roots if note.pitch == lowest[root_name(note)]]


def root_places(line: FingeredLine) -> tuple[RootPlace, ...]:
    """Return the different places at which roots are played, in order of first appearance."""
    counts: dict[tuple[str, int, int, int], int] = {}
    for note in _played_roots(line):
        place = placed(note)
        key = (root_name(note), note.pitch, place.string, place.fret)
        counts[key] = counts.get(key, 0) + 1
    return tuple(
        RootPlace(number=number, name=name, pitch=pitch, string=string, fret=fret, count=count)
        for number, ((name, pitch, string, fret), count) in enumerate(counts.items(), start=1)
    )


def root_moves(line: FingeredLine) -> tuple[tuple[Note, Note], ...]:
    """Return each different move from one root to another, in order: the two notes it joins."""
    moves: dict[tuple[int, int, int, int], tuple[Note, Note]] = {}
    for old, new in itertools.pairwise(_played_roots(line)):
        a, b = placed(old), placed(new)
        if old.pitch != new.pitch:
            moves.setdefault((a.string, a.fret, b.string, b.fret), (old, new))
    return tuple(moves.values())


def beat_of(note: Note, bars: Mapping[int, Bar]) -> float:
    """Return the beat of its bar on which a note stands, from 1, in the meter's beats.

    ``bars`` are the played bars by number (see ``bars_by_number``).
    """
    bar = bars[note.origin.bar.played_bar]
    quarters = (note.grid_tick - bar.start_tick) / TICKS_PER_QUARTER
    return round(1 + quarters / float(bar.meter.beat_quarters), 4)


def bars_by_number(bars: Sequence[Bar]) -> dict[int, Bar]:
    """Return bars by their number in the song as played."""
    return {bar.ref.played_bar: bar for bar in bars}


def fingering_figures(line: FingeredLine) -> FingeringFigures:
    """Return what a fingered line asks of the hand."""
    places = [placed(note) for note in line.notes]
    pairs = list(itertools.pairwise(places))
    return FingeringFigures(
        shifts=len(line.shifts),
        hard_shifts=sum(shift.is_hard for shift in line.shifts),
        travel_mm=line.travel_mm,
        stretches=sum(_is_stretched(place, line) for place in places),
        rolled=sum(
            old.finger == new.finger > 0 and old.string != new.string and old.fret == new.fret
            for old, new in pairs
        ),
        string_crossings=sum(abs(old.string - new.string) for old, new in pairs),
        open_strings=sum(place.fret == 0 for place in places),
        above_seventh=sum(place.fret > HIGH_POSITION for place in places),
    )


def _is_stretched(place: Place, line: FingeredLine) -> bool:
    covers = line.options.span_at(place.position_fret)
    return place.fret >= place.position_fret + covers


def easier_points(
    mine: FingeringFigures, other: FingeringFigures
) -> tuple[tuple[str, float, float], ...]:
    """Return the figures in which one way asks clearly less: name, its own, the other's."""
    return tuple(
        (name, getattr(mine, name), getattr(other, name))
        for name in FingeringFigures.__dataclass_fields__
        if getattr(mine, name) < CLEARLY_LESS * getattr(other, name)
    )


def returning_shifts(line: FingeredLine, bars: Mapping[int, Bar]) -> list[ReturningShift]:
    """Return the shifts that leave little time by bar, each once however often it is played.

    ``bars`` are the played bars by number.
    """
    found: dict[tuple[int, float, int, int], list[Shift]] = {}
    for shift in line.shifts:
        if shift.time_ms <= UNHURRIED_MS:
            note = line.notes[shift.note_index]
            key = (
                note.origin.bar.written_bar,
                beat_of(note, bars),
                shift.from_fret,
                shift.to_fret,
            )
            found.setdefault(key, []).append(shift)
    return [
        ReturningShift(
            written_bar=key[0],
            beat=key[1],
            shift=min(shifts, key=lambda shift: shift.time_ms),
            count=len(shifts),
        )
        for key, shifts in sorted(found.items())
    ]
