"""The gate for what others wrote: numbers within bounds, notices and errors with their places.

Every number of a foreign file passes ``bounded``, which reads a few digits and no exponent, so
that no number can ask for more time or memory than a song needs.
"""

import re
from collections.abc import Mapping
from fractions import Fraction
from functools import lru_cache

from msgspec import Struct

from groove.chart.lines import plain_text
from groove.errors import ChartError, SourcePlace
from groove.notices import Notice, NoticeKind
from groove.timing import FASTEST_QPM, METER_COUNTS, METER_UNITS, SLOWEST_QPM, Meter

PLAIN_NUMBER = re.compile(r"[+-]?[0-9]{1,12}(?:\.[0-9]{1,12})?")
LONGEST_NUMBER = 40
FINEST_PLACE = 1_000_000
_SHOWN = 40
_MOST_LINES = 500_000


class Bounds(Struct, frozen=True):
    """The least and the most that a number may be, and whether it must be a whole one."""

    low: Fraction
    high: Fraction
    whole: bool = True

    def allow(self, value: Fraction) -> bool:
        """Return whether a number is within them."""
        is_kind = value.denominator == 1 or not self.whole
        return is_kind and self.low <= value <= self.high


BOUNDS: Mapping[str, Bounds] = {
    "divisions": Bounds(Fraction(1, 1000), Fraction(1_000_000), whole=False),
    "duration": Bounds(Fraction(0), Fraction(100_000_000), whole=False),
    "offset": Bounds(Fraction(-100_000_000), Fraction(100_000_000), whole=False),
    "tempo": Bounds(Fraction(1), Fraction(10_000), whole=False),
    "fifths": Bounds(Fraction(-7), Fraction(7)),
    "alteration": Bounds(Fraction(-2), Fraction(2)),
    "degree": Bounds(Fraction(1), Fraction(13)),
    "inversion": Bounds(Fraction(0), Fraction(6)),
    "chromatic steps": Bounds(Fraction(-48), Fraction(48)),
    "diatonic steps": Bounds(Fraction(-28), Fraction(28)),
    "beats": Bounds(Fraction(1), Fraction(64)),
    "beat type": Bounds(Fraction(1), Fraction(64)),
    "passes": Bounds(Fraction(1), Fraction(64)),
    "ending": Bounds(Fraction(1), Fraction(64)),
    "length": Bounds(Fraction(0), Fraction(4096)),
    "divisor": Bounds(Fraction(1), Fraction(4096)),
    "share of a swing": Bounds(Fraction(1), Fraction(1000)),
    "repeated measures": Bounds(Fraction(1), Fraction(8)),
    "bars of rest": Bounds(Fraction(1), Fraction(200)),
    "notes of a tuplet": Bounds(Fraction(1), Fraction(64)),
    "octave": Bounds(Fraction(0), Fraction(9)),
    "string": Bounds(Fraction(1), Fraction(12)),
    "fret": Bounds(Fraction(0), Fraction(36)),
    "tune": Bounds(Fraction(0), Fraction(1_000_000_000)),
}
"""What a number of a foreign file may be, by what it counts; common practice, no source."""


class Where(Struct, frozen=True):
    """A place in a foreign file: what a musician calls it (``measure 4``), and its line."""

    name: str
    line: int


class Gate:
    """Keeps the text of one foreign file at hand, and gathers what has to be told of it."""

    def __init__(self, source: str, lines: list[str] | None = None) -> None:
        """``source`` names the file in messages; ``lines`` are its lines."""
        self.source = source
        self.lines = lines or []
        self._places_by_message: dict[str, dict[str, None]] = {}

    def report(self, message: str, where: Where | None = None) -> None:
        """Keep a notice; the places of one message are gathered."""
        places = self._places_by_message.setdefault(message, {})
        if where:
            places[where.name] = None

    def notices(self) -> tuple[Notice, ...]:
        """Return what was told: each message once, with the places that it is true of."""
        return tuple(
            Notice(
                kind=NoticeKind.FILE,
                values=(("message", message), *(("place", place) for place in places)),
            )
            for message, places in self._places_by_message.items()
        )

    def bounded(self, text: str | None, what: str, where: Where | None = None) -> Fraction | None:
        """Return a number of the file, None where there is none or none within its bounds.

        ``what`` is a row of ``BOUNDS``.  A number that is out of bounds is told.
        """
        if text is None or not text.strip():
            return None
        value = _allowed_number(text.strip()[: LONGEST_NUMBER + 1], what)
        if value is not None:
            return value
        self.report(f"{what} {shortened(text.strip())!r} cannot be read and is left out", where)
        return None

    def whole(self, text: str | None, what: str, where: Where | None = None) -> int | None:
        """Return a whole number, as ``bounded``."""
        value = self.bounded(text, what, where)
        return None if value is None else int(value)

    def tempo(self, qpm: Fraction, where: Where) -> Fraction | None:
        """Return a tempo in quarters a minute that a chart can have; another one is told."""
        rounded = Fraction(round(qpm * 1000), 1000)
        if SLOWEST_QPM <= rounded <= FASTEST_QPM:
            return rounded
        self.report(
            f"a tempo of {float(rounded):g} quarters a minute is left out "
            f"({SLOWEST_QPM} to {FASTEST_QPM} can be played)",
            where,
        )
        return None

    def place(self, where: Where, column: int = 1) -> SourcePlace:
        """Return a place in the file."""
        text = self.lines[where.line - 1] if 0 < where.line <= len(self.lines) else ""
        return SourcePlace(source=self.source, line=where.line, column=column, text=text)

    def error(
        self, message: str, where: Where | None = None, *, column: int = 1, hint: str = ""
    ) -> ChartError:
        """Return an error in the file."""
        place = self.place(where or Where("", 1), column)
        return ChartError(message, place=place, hint=hint)


@lru_cache(maxsize=4096)
def _allowed_number(text: str, what: str) -> Fraction | None:
    """Return a plain number within the bounds of what it counts, else None."""
    value = Fraction(text) if PLAIN_NUMBER.fullmatch(text) else None
    return value if value is not None and BOUNDS[what].allow(value) else None


def text_lines(data: bytes) -> list[str]:
    """Return the lines of a file for messages; none where there are too many to be a score's."""
    if data.count(b"\n") > _MOST_LINES:
        return []
    is_wide = data.startswith((b"\xff\xfe", b"\xfe\xff"))
    return data.decode("utf-16" if is_wide else "utf-8", "replace").split("\n")


def shortened(text: str) -> str:
    """Return a text short enough to be quoted."""
    return text if len(text) <= _SHOWN else text[: _SHOWN - 1] + "…"


def one_line(text: str) -> str:
    """Return a text without line breaks and control characters."""
    return " ".join(plain_text(text).split())


def fine_place(quarters: Fraction) -> Fraction:
    """Return a place in a bar with a denominator that does not grow without end."""
    if quarters.denominator <= FINEST_PLACE:
        return quarters
    return quarters.limit_denominator(FINEST_PLACE)


def meter_of(beats: Fraction, unit: int) -> Meter | None:
    """Return the meter of a chart for so many notes of a unit (4 is the quarter), else None.

    A meter that a chart does not have is said in smaller notes: 2/1 is 4/2.
    """
    for finer in (unit, *METER_UNITS):
        count = beats * finer / unit
        if finer >= unit and finer in METER_UNITS and count.denominator == 1:
            return Meter(int(count), finer) if int(count) in METER_COUNTS else None
    return None


def length_meter(quarters: Fraction, usual: Meter) -> Meter | None:
    """Return the meter of a bar that is shorter or longer than its usual one, None for none.

    Its beat is not larger than the usual one, so that each chord keeps its place.
    """
    if not usual.is_compound:
        units = [unit for unit in METER_UNITS if unit >= usual.unit]
    else:
        units = [unit for unit in METER_UNITS if unit >= 8]
    for unit in units:
        count = quarters * unit / 4
        if count.denominator == 1 and int(count) in METER_COUNTS:
            meter = Meter(int(count), unit)
            if usual.is_compound or not meter.is_compound:
                return meter
    return None
