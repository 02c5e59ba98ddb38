"""Where a line begins over a chart with a pickup: not every file has it, or has it as one."""

from collections.abc import Sequence
from enum import Enum
from fractions import Fraction

from groove.study.chart_place import chart_fits
from groove.study.studied_line import BarFrame, SoundedNote

_CLEARLY = 0.1
"""How much better in the mean a note must fit its chord for another start than the chart's own
(common practice, no source)."""
_EARLY_QUARTERS = Fraction(1, 4)
"""How far before its beat a first note may be played, and still be the chart's."""


class LineStart(Enum):
    """What a file begins with, where the chart has a pickup; the value is what is said of it."""

    PICKUP = ""
    BAR_1 = "the line begins at bar 1, the pickup is not played"
    WHOLE_BAR = "the line has a whole bar before bar 1, the pickup at its end"


def line_start(
    notes: Sequence[SoundedNote], frames: Sequence[BarFrame]
) -> tuple[Fraction, LineStart]:
    """Return by how many quarters a line is shifted to lie under its chart, and why.

    It begins as the chart does, with the pickup, unless its pitches fit the chords clearly better
    from bar 1 on, or with the pickup at the end of a whole bar.
    """
    if len(frames) < 2 or frames[0].number != 0 or not notes:
        return Fraction(0), LineStart.PICKUP
    pickup = frames[0].meter.bar_quarters
    rest = frames[1].meter.bar_quarters - pickup
    shifts = {LineStart.PICKUP: Fraction(0), LineStart.BAR_1: pickup}
    if min(note.start_quarters for note in notes) > rest - _EARLY_QUARTERS:
        shifts[LineStart.WHOLE_BAR] = -rest
    fits = dict(zip(shifts, chart_fits(notes, frames, list(shifts.values())), strict=True))
    best = max(fits, key=fits.__getitem__)
    if fits[best] < fits[LineStart.PICKUP] + _CLEARLY:
        best = LineStart.PICKUP
    return shifts[best], best
