"""A cell's strokes laid on the ticks of a bar, whatever meter of its family the bar is in."""

from collections.abc import Sequence
from fractions import Fraction
from operator import itemgetter
from typing import Any, TypeVar

from groove.cells.model import BassStroke, DrumStroke, KeysStroke
from groove.timing import TICKS_PER_QUARTER, Meter

_Stroke = TypeVar("_Stroke", BassStroke, DrumStroke, KeysStroke)


STOP_TICKS = TICKS_PER_QUARTER // 2
"""How long the band's one stroke of a stop sounds: an eighth (common practice, no source)."""


class Grid:
    """Lays cells on bars, and remembers what it laid: a song plays few cells many times."""

    def __init__(self) -> None:
        """Begin with nothing laid."""
        self.laid: dict[tuple[int, Meter], Any] = {}

    def lay(
        self, strokes: tuple[_Stroke, ...], cell_meter: Meter, meter: Meter
    ) -> Sequence[tuple[int, int, _Stroke]]:
        """Return strokes as (start tick, end tick, stroke) in a bar of ``meter``.

        A bar with fewer pulses than the cell has its first ones; a bar with more starts the cell
        again.
        """
        # By identity: hashing a cell's fractions anew for every bar costs more than laying it.
        key = (id(strokes), meter)
        if key not in self.laid:
            self.laid[key] = (strokes, _lay_strokes(strokes, cell_meter, meter))
        laid: Sequence[tuple[int, int, _Stroke]] = self.laid[key][1]
        return laid


def _lay_strokes(
    strokes: tuple[_Stroke, ...], cell_meter: Meter, meter: Meter
) -> tuple[tuple[int, int, _Stroke], ...]:
    """Return strokes laid on a bar, sorted by their start."""
    # A pulse is a whole number of ticks in every meter, so whole turns are added after rounding.
    pulse = meter.pulse_ticks
    turn, bar_end = cell_meter.pulse_count * pulse, meter.pulse_count * pulse
    laid = []
    for stroke in strokes:
        length = getattr(stroke, "length_beats", 0)
        start = _beats_to_ticks(stroke.start_beats, pulse)
        end = _beats_to_ticks(stroke.start_beats + length, pulse)
        laid += [(start + at, min(end + at, bar_end), stroke) for at in range(0, bar_end, turn)]
    return tuple(sorted((each for each in laid if each[0] < bar_end), key=itemgetter(0)))


def _beats_to_ticks(beats: Fraction, beat_ticks: int) -> int:
    """Return beats in ticks, rounded to the nearest (halves up) without a fraction in between."""
    return (2 * beats.numerator * beat_ticks + beats.denominator) // (2 * beats.denominator)
