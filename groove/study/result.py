"""A line, taken apart: all that is told of it, as one value."""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction

from msgspec import Struct

from groove.cells.model import BassCell
from groove.study.line_cells import BarPattern, StudyCell, bar_patterns, bass_cell, distinct_cells
from groove.study.nearest import KnownCells, Near
from groove.study.note_kinds import NoteKind, PlacedNote, approaches, kind_shares, placed_notes
from groove.study.slot_grid import BarSwing
from groove.study.studied_line import BarFrame, SoundedNote, StudyBar, find_swing, lay_out
from groove.timing import Swing, SwingUnit

TRIPLETS, NEAR_TRIPLETS = 200 / 3, 1.5
"""The long share of a pair in triplets, in percent, and how near to it a line is written in them.

A cell in triplets is played right by every feel, one in eighths by those alone that swing.
"""


class Approach(Struct, frozen=True, kw_only=True):
    """A note that leads by step to the next chord's root: its bar, how far off, in semitones."""

    bar: int
    semitones: int


class Study(Struct, frozen=True, kw_only=True):
    """What a line is made of.

    ``part`` says which of the file's parts it is and why, ``swing`` is what was found (None where
    it is straight), ``pairs`` of how many pairs.  ``shares`` of the plain notes lie between 0 and
    1 and sum to 1, ``beat_shares`` the same for the notes on each beat (from 1).  ``near`` has for
    each of ``cells`` the known ones that come nearest.
    """

    title: str
    part: str
    bars: tuple[StudyBar, ...]
    notes: tuple[PlacedNote, ...]
    patterns: tuple[BarPattern, ...]
    cells: tuple[StudyCell, ...]
    near: tuple[tuple[Near, ...], ...]
    shares: Mapping[NoteKind, float]
    beat_shares: Mapping[int, Mapping[NoteKind, float]]
    approaches: tuple[Approach, ...]
    swing: Swing | None
    pairs: int

    @property
    def ghosts(self) -> tuple[PlacedNote, ...]:
        """The ghosts."""
        return tuple(each for each in self.notes if each.note.is_ghost)

    @property
    def pitches(self) -> tuple[int, ...]:
        """The pitches of the plain notes, the lowest first."""
        return tuple(sorted(each.note.pitch for each in self.notes if not each.note.is_ghost))


def study_line(
    sounded: Sequence[SoundedNote],
    frames: Sequence[BarFrame],
    known: Mapping[str, BassCell],
    *,
    title: str,
    part: str,
) -> Study:
    """Return what a line is made of; ``known`` are the cells that it is held against."""
    swing, pairs = _swing(sounded)
    bars = lay_out(sounded, frames, _bar_swing(swing))
    notes = placed_notes(bars)
    patterns = bar_patterns(notes, bars)
    cells = distinct_cells(patterns, notes, bars)
    held_against = KnownCells(known.values())
    return Study(
        title=title,
        part=part,
        bars=bars,
        notes=notes,
        patterns=tuple(patterns),
        cells=cells,
        near=tuple(
            held_against.nearest(bass_cell(cell, "studied").bars, cell.patterns[0].meter)
            for cell in cells
        ),
        shares=kind_shares(notes),
        beat_shares=dict(_beat_shares(notes)),
        approaches=tuple(
            Approach(bar=note.bar.frame.number, semitones=note.leads or 0)
            for note, _ in approaches(notes)
        ),
        swing=swing,
        pairs=pairs,
    )


def _bar_swing(swing: Swing | None) -> BarSwing | None:
    """Return the swing that is taken out of bars; triplets are written as triplets."""
    if swing is None or swing.percent is None or abs(swing.percent - TRIPLETS) <= NEAR_TRIPLETS:
        return None
    return BarSwing(swing.unit.quarters, Fraction(round(swing.percent * 10), 1000))


def _swing(notes: Sequence[SoundedNote]) -> tuple[Swing | None, int]:
    """Return the swing that is heard and of how many pairs; sixteenths where eighths are even."""
    most = 0
    for unit in SwingUnit:
        share, pairs = find_swing(notes, unit.quarters)
        most = max(most, pairs)
        if share != Fraction(1, 2):
            return Swing(round(float(share * 100), 1), unit), pairs
    return None, most


def _beat_shares(notes: Sequence[PlacedNote]) -> Iterator[tuple[int, Mapping[NoteKind, float]]]:
    """Yield each beat that is struck, from 1, and the shares of what is struck on it."""
    by_beat: dict[int, list[PlacedNote]] = {}
    for each in notes:
        beats = each.note.slot * each.bar.slot_quarters / each.bar.frame.meter.beat_quarters
        if beats.denominator == 1:
            by_beat.setdefault(int(beats) + 1, []).append(each)
    for beat in sorted(by_beat):
        yield beat, kind_shares(by_beat[beat])


def departures(study: Study) -> tuple[StudyBar, ...]:
    """Return the bars that come once, in a line that repeats most of the others."""
    counts = Counter(pattern.strikes for pattern in study.patterns)
    return tuple(
        bar
        for bar, pattern in zip(study.bars, study.patterns, strict=True)
        if pattern.strikes and counts[pattern.strikes] == 1
    )
