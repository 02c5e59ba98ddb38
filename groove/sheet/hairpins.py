"""Dynamics and hairpins of a part: those that the chart states, at the bars where they stand.

What a section's name alone makes louder or softer is the band's own sense and is not printed.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from msgspec.structs import replace

from groove.chart.in_force import LOUDNESSES, next_mark
from groove.chart.model import NO_DIRECTIONS, Directions, Dynamics, Loudness, Song, Swell
from groove.events import Performance
from groove.sheet.folding import Fold
from groove.sheet.score import Measure


@dataclass(slots=True)
class _Loud:
    """What a measure shows: as in ``Measure``."""

    dynamic: Loudness | None = None
    hairpin: Swell | None = None
    ends_hairpin: bool = False


def with_dynamics(
    measures: Sequence[Measure], folds: Sequence[Fold], performance: Performance, song: Song
) -> Iterator[Measure]:
    """Yield the measures of a page with their dynamics and hairpins.

    Dynamics of the whole song are said where they are not in force already.
    """
    directions = {
        (section.name.casefold(), bar.number): bar.directions
        for section in song.sections
        for bar in section.bars
    }
    own = {section.name.casefold(): section.settings.dynamics for section in song.sections}
    in_force: Loudness | None = None
    for run in _sections(measures, folds):
        refs = [performance.bars[measure.played[0]].ref for measure in run]
        names = [(ref.section.casefold(), ref.written_bar) for ref in refs]
        if not refs[0].is_written:
            yield from run
            continue
        stated = own.get(names[0][0])
        everywhere = song.settings.dynamics
        if stated is None and everywhere and (everywhere.end or everywhere.level != in_force):
            stated = everywhere
        shown = _section_marks(stated, [directions.get(name, NO_DIRECTIONS) for name in names])
        for measure, loud in zip(run, shown, strict=True):
            in_force = None if loud.hairpin else loud.dynamic or in_force
            yield replace(
                measure,
                dynamic=loud.dynamic,
                hairpin=loud.hairpin,
                ends_hairpin=loud.ends_hairpin,
            )


def _sections(measures: Sequence[Measure], folds: Sequence[Fold]) -> Iterator[Sequence[Measure]]:
    """Yield the measures of each time through a section."""
    starts = [index for index, fold in enumerate(folds) if fold.opens_section or index == 0]
    for start, stop in zip(starts, [*starts[1:], len(measures)], strict=True):
        yield measures[start:stop]


def _section_marks(dynamics: Dynamics | None, directions: Sequence[Directions]) -> list[_Loud]:
    """Return what each bar of a section shows; a bar's own word stands above the section's."""
    shown = [_Loud() for _ in directions]
    if dynamics:
        _show_setting(dynamics, directions, shown)
    for index, bar in enumerate(directions):
        if bar.dynamic:
            shown[index].dynamic = bar.dynamic
        if bar.swell:
            shown[index].hairpin = bar.swell
            shown[next_mark(directions, index) - 1].ends_hairpin = True
    return shown


def _show_setting(
    dynamics: Dynamics, directions: Sequence[Directions], shown: Sequence[_Loud]
) -> None:
    """Show a section's own dynamics, up to the first bar that says something else.

    ``p to f`` is reached in the last bar, so the hairpin ends before it.
    """
    shown[0].dynamic = dynamics.level
    moves = dynamics.end is not dynamics.level and len(directions) > 1
    if dynamics.end is None or not moves or directions[0].dynamic or directions[0].swell:
        return
    until = next_mark(directions, 0)
    louder = LOUDNESSES.index(dynamics.end) > LOUDNESSES.index(dynamics.level)
    shown[0].hairpin = Swell.CRESCENDO if louder else Swell.DIMINUENDO
    last = min(until, len(directions) - 1)
    shown[last - 1].ends_hairpin = True
    if until == len(directions):
        shown[last].dynamic = dynamics.end
