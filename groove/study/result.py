"""A line, taken apart: all that is told of it, as one value."""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from fractions import Fraction

from msgspec import Struct

from groove.cells.model import BassCell, Feel
from groove.study.aims import Approach, Run, line_approaches, line_runs
from groove.study.heard_line import Hearing
from groove.study.line_cells import BarPattern, StudyCell, bar_patterns, bass_cell, distinct_cells
from groove.study.line_hand import HandWork, hand_work
from groove.study.line_manner import Lengths, level_shares, note_lengths, quarters_a_minute
from groove.study.nearest import MOST_NEAREST, OTHER_TEMPO, KnownCells, Near, NearFeel
from groove.study.note_kinds import NoteKind, PlacedNote, kind_shares, placed_notes
from groove.study.slot_grid import BarSwing
from groove.study.studied_line import (
    BarFrame,
    SoundedNote,
    StudyBar,
    find_swing,
    ghosts_of,
    lay_out,
)
from groove.timing import TRIPLET_PERCENT, Meter, Swing, SwingUnit

NEAR_TRIPLETS = 1.5
"""How near to the share of triplets, in percent, a line is written in them.

A cell in triplets is played right by every feel, one in eighths by those alone that swing.
"""


class Study(Struct, frozen=True, kw_only=True):
    """What a line is made of.

    ``part`` says which of the file's parts it is and why, ``swing`` is what was found (None where
    it is straight), ``pairs`` of how many pairs.  ``shares`` of the plain notes lie between 0 and
    1 and sum to 1, ``beat_shares`` the same for the notes on each beat (from 1).  ``near`` has for
    each of ``cells`` the known ones that come nearest, ``feels`` the feels that are nearest to all
    of it.  ``levels`` are shares too, by level (1 to 9); ``hand`` is None where no bass has the
    notes; ``has_stated_ghosts`` says that the file tells which notes are ghosts, ``hearing`` how
    sure a recording was heard (None for a file).
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
    runs: tuple[Run, ...]
    feels: tuple[NearFeel, ...]
    lengths: Lengths | None
    levels: Mapping[int, float]
    hand: HandWork | None
    swing: Swing | None
    pairs: int
    has_stated_ghosts: bool
    hearing: Hearing | None = None

    @property
    def ghosts(self) -> tuple[PlacedNote, ...]:
        """The ghosts."""
        return tuple(each for each in self.notes if each.note.is_ghost)

    @property
    def pitches(self) -> tuple[int, ...]:
        """The pitches of the plain notes, the lowest first."""
        return tuple(sorted(each.note.pitch for each in self.notes if not each.note.is_ghost))


class LaidLine(Struct, frozen=True, kw_only=True):
    """A line on the slots of its bars: what all else that is told of it begins with.

    The fields are those of ``Study``.
    """

    swing: Swing | None
    pairs: int
    bars: tuple[StudyBar, ...]
    notes: tuple[PlacedNote, ...]
    patterns: tuple[BarPattern, ...]


def laid_line(sounded: Sequence[SoundedNote], frames: Sequence[BarFrame]) -> LaidLine:
    """Return a line on the slots of its bars, its swing taken out."""
    swing, pairs = _swing(sounded)
    bars = lay_out(sounded, frames, _bar_swing(swing))
    notes = placed_notes(bars)
    patterns = tuple(bar_patterns(notes, bars))
    return LaidLine(swing=swing, pairs=pairs, bars=bars, notes=notes, patterns=patterns)


def study_line(
    sounded: Sequence[SoundedNote],
    frames: Sequence[BarFrame],
    known: Mapping[str, BassCell],
    *,
    title: str,
    part: str,
    feels: Iterable[Feel] = (),
    hearing: Hearing | None = None,
) -> Study:
    """Return what a line is made of; it is held against the cells ``known``, and ``feels``."""
    laid = laid_line(sounded, frames)
    bars, notes = laid.bars, laid.notes
    cells = distinct_cells(laid.patterns, notes, bars)
    held_against = KnownCells(known.values())
    qpm = quarters_a_minute(sounded)
    in_order = sorted(sounded, key=lambda each: each.start_quarters)
    return Study(
        title=title,
        part=part,
        bars=bars,
        notes=notes,
        patterns=laid.patterns,
        cells=cells,
        near=tuple(_nearest(cell, held_against) for cell in cells),
        shares=kind_shares(notes),
        beat_shares=dict(_beat_shares(notes)),
        approaches=tuple(line_approaches(notes)),
        runs=tuple(line_runs(notes)),
        feels=_near_feels(cells, held_against, feels, qpm),
        lengths=note_lengths(in_order, ghosts_of(in_order), _beat_of(bars)),
        levels=level_shares(notes),
        hand=hand_work(notes, qpm),
        swing=laid.swing,
        pairs=laid.pairs,
        has_stated_ghosts=any(each.is_ghost is not None for each in sounded),
        hearing=hearing,
    )


def _nearest(cell: StudyCell, known: KnownCells) -> tuple[Near, ...]:
    return known.nearest(bass_cell(cell, "studied").bars, cell.patterns[0].meter)


def _beat_of(bars: Sequence[StudyBar]) -> Fraction:
    """Return the beat of a line's first bar in quarters."""
    return bars[0].frame.meter.beat_quarters if bars else Fraction(1)


def _near_feels(
    cells: Sequence[StudyCell], known: KnownCells, feels: Iterable[Feel], qpm: Fraction
) -> tuple[NearFeel, ...]:
    """Return the feels whose bass cells are nearest to a line's, each cell as often as it comes.

    Bars in another meter than the most played cell's do not count.
    """
    meter = cells[0].patterns[0].meter if cells else Meter(4, 4)
    found = [
        (
            cell.times * len(cell.patterns),
            known.distances(bass_cell(cell, "studied").bars, meter),
        )
        for cell in cells
        if cell.patterns[0].meter == meter
    ]
    total = sum(count for count, _ in found)
    tempo = qpm / meter.tempo_unit_quarters
    rated = [
        NearFeel(
            name=feel.name,
            distance=sum(count * distances[feel.bass] for count, distances in found) / total,
            is_at_tempo=feel.tempo_beats[0] <= tempo <= feel.tempo_beats[1],
        )
        for feel in feels
        if found and all(feel.bass in distances for _, distances in found)
    ]

    def order(each: NearFeel) -> tuple[float, str]:
        return each.distance + (0 if each.is_at_tempo else OTHER_TEMPO), each.name

    return tuple(sorted(rated, key=order)[:MOST_NEAREST])


def is_triplets(percent: float) -> bool:
    """Return whether a line with such a swing is written in triplets."""
    return abs(percent - TRIPLET_PERCENT) <= NEAR_TRIPLETS


def _bar_swing(swing: Swing | None) -> BarSwing | None:
    """Return the swing that is taken out of bars; triplets are written as triplets."""
    if swing is None or swing.percent is None or is_triplets(swing.percent):
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
