"""A cell's strokes laid on the ticks of a bar, whatever meter of its family the bar is in."""

from collections.abc import Sequence
from typing import Any, TypeVar

from groove.cells.model import BassStroke, DrumStroke, KeysStroke
from groove.timing import TICKS_PER_QUARTER, Meter, quarters_to_ticks

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
    cell_pulses, bar_pulses = cell_meter.pulse_count, meter.pulse_count
    pulse = meter.pulse_quarters
    bar_end = quarters_to_ticks(bar_pulses * pulse)
    laid = []
    for turn_start in range(0, bar_pulses, cell_pulses):
        for stroke in strokes:
            start = quarters_to_ticks((turn_start + stroke.start_beats) * pulse)
            length = getattr(stroke, "length_beats", 0)
            end = quarters_to_ticks((turn_start + stroke.start_beats + length) * pulse)
            if start < bar_end:
                laid.append((start, min(end, bar_end), stroke))
    return tuple(sorted(laid, key=lambda item: item[0]))
