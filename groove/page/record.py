"""The record beside a chart, as a practice page has it: its bar lines, and its sound or none."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from groove.events import Bar


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordLine:
    """Where the record has a played bar: ``sec`` seconds into it, and whether that is sure."""

    sec: float
    is_sure: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class PageRecord:
    """A record for a page: ``name`` is what the player calls the file.

    ``lines`` are the bar lines, one for each played bar, and ``end_sec`` where the last bar ends;
    ``tuning_cents`` is how far the record is above A = 440 Hz.  ``sound`` is the whole file as it
    is, None where the page is to open it from disk.
    """

    name: str
    length_sec: float
    tuning_cents: float
    lines: tuple[RecordLine, ...]
    end_sec: float
    sound: bytes | None = None

    def __repr__(self) -> str:
        """Return what it is of, without the sound."""
        return f"<PageRecord {self.name:.40}: {len(self.lines)} bars>"

    def data(self) -> dict[str, object]:
        """Return what the page is told of it as plain values."""
        return {
            "name": self.name,
            "length_sec": round(self.length_sec, 3),
            "tuning_cents": round(self.tuning_cents, 1),
            "lines": [round(line.sec, 3) for line in self.lines] + [round(self.end_sec, 3)],
            "sure": [int(line.is_sure) for line in self.lines],
        }


def every_line(
    found: Mapping[int, RecordLine], end_sec: float, bars: Sequence[Bar]
) -> tuple[tuple[RecordLine, ...], float]:
    """Return the line of every bar, by the lines that were found, and where the last bar ends.

    ``found`` is by the bar's index, ``end_sec`` where the last of them ends.  Bars that the record
    was not found to have are laid between their neighbours, or beyond them, as the chart has them,
    and are not sure.
    """
    known = [(bars[index].start_tick, line.sec) for index, line in sorted(found.items())]
    last = bars[max(found)]
    known.append((last.start_tick + last.length_ticks, end_sec))
    lines = tuple(
        found.get(index) or RecordLine(sec=_carried(known, bar.start_tick), is_sure=False)
        for index, bar in enumerate(bars)
    )
    return lines, _carried(known, bars[-1].start_tick + bars[-1].length_ticks)


def _carried(known: Sequence[tuple[int, float]], tick: int) -> float:
    """Return the second of a tick by the two known ones about it, or the nearest two."""
    (from_tick, from_sec), (to_tick, to_sec) = next(
        (pair for pair in pairwise(known) if pair[1][0] > tick), (known[-2], known[-1])
    )
    return from_sec + (tick - from_tick) * (to_sec - from_sec) / (to_tick - from_tick)
