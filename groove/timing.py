"""Meters, tempo and every conversion between beats, quarters, ticks and seconds.

Chart positions are exact fractions of a quarter note; they become ticks once, in
``quarters_to_ticks``.  A tick is 1/960 of a quarter.  A tempo is kept as whole microseconds per
quarter, as a MIDI file holds it (Standard MIDI Files 1.0, meta event 51), so that what is heard
in audio and what a file says never differ.
"""

import re
from bisect import bisect_right
from collections.abc import Iterable
from enum import StrEnum
from fractions import Fraction
from functools import cached_property, lru_cache
from itertools import accumulate, pairwise, repeat

from msgspec import Struct

TICKS_PER_QUARTER = 960
EIGHTH_TICKS = TICKS_PER_QUARTER // 2
MICROSECONDS_PER_MINUTE = 60_000_000
SLOWEST_QPM = 20
FASTEST_QPM = 400
SWING_PERCENT = (50, 78)
TRIPLET_PERCENT = 200 / 3
"""The long share of a pair in triplets."""
METER_COUNTS = range(1, 25)
METER_UNITS = (2, 4, 8, 16)
"""What a chart's meter may count, and in which notes."""


class Meter(Struct, frozen=True):
    """A time signature, as 4/4 or 12/8.

    The beat of x/4 is the quarter, of x/2 the half, of 6/8, 9/8 and 12/8 the dotted quarter; in
    3/8, 5/8, 7/8 and x/16 a ``/`` in a chart counts the written unit, and tempo counts quarters.
    """

    count: int
    unit: int

    @property
    def is_compound(self) -> bool:
        """Whether the beat is a dotted quarter."""
        return self.unit == 8 and self.count in (6, 9, 12)

    @property
    def bar_quarters(self) -> Fraction:
        """Length of one bar in quarters."""
        return _bar_quarters(self.count, self.unit)

    @property
    def beat_quarters(self) -> Fraction:
        """Length in quarters of the beat that a ``/`` in a chart stands for."""
        return _beat_quarters(self)

    @property
    def tempo_unit_quarters(self) -> Fraction:
        """Length in quarters of the unit that ``tempo`` counts."""
        if self.is_compound:
            return Fraction(3, 2)
        return Fraction(2) if self.unit == 2 else Fraction(1)

    @property
    def beats_per_bar(self) -> int:
        """How many beats (see ``beat_quarters``) one bar has."""
        return _beats_per_bar(self)

    @property
    def pulse_quarters(self) -> Fraction:
        """Length in quarters of the pulse that is felt: of 2/2 the quarter, of 6/8 the dotted one.

        Cells count in it (see ``groove.cells.fit``).
        """
        return Fraction(1) if self.unit <= 2 else self.beat_quarters

    @property
    def pulse_ticks(self) -> int:
        """Length of the pulse in ticks."""
        return _pulse_ticks(self)

    @property
    def pulse_count(self) -> int:
        """How many pulses a bar has."""
        return _pulse_count(self)

    @property
    def pulse_words(self) -> str:
        """How many pulses a bar has, in words: of 2/2 ``4 quarters``."""
        return f"{self.pulse_count} {'quarters' if self.unit <= 2 else 'beats'}"

    @property
    def tempo_symbol(self) -> str:
        """The note that ``tempo`` counts, as printed before the equals sign."""
        return {Fraction(3, 2): "♩.", Fraction(2): "𝅗𝅥"}.get(self.tempo_unit_quarters, "♩")

    def __str__(self) -> str:
        """Return the meter as written in a chart: ``4/4``."""
        return f"{self.count}/{self.unit}"


class SwingUnit(StrEnum):
    """Which pair of notes is played long–short."""

    EIGHTHS = "eighths"
    SIXTEENTHS = "sixteenths"

    @property
    def quarters(self) -> Fraction:
        """Length of one straight note of the pair in quarters."""
        return Fraction(1, 2) if self is SwingUnit.EIGHTHS else Fraction(1, 4)


class Swing(Struct, frozen=True):
    """The long share of a pair in percent (50 straight, 66.7 triplets), and the pair's unit.

    ``percent`` is None where the share follows the tempo (see ``groove.perform``).
    """

    percent: float | None
    unit: SwingUnit

    def __str__(self) -> str:
        """Return the swing as a chart has it: ``58% eighths``."""
        share = BY_TEMPO if self.percent is None else f"{self.percent:g}%"
        return f"{share} {self.unit}"


TRIPLET_SWING = Swing(TRIPLET_PERCENT, SwingUnit.EIGHTHS)
"""Halves of a beat on the outer two of its triplets."""
STRAIGHT = Swing(50.0, SwingUnit.EIGHTHS)
STRAIGHT_WORD, BY_TEMPO = "straight", "by tempo"
"""What a chart says of notes that are even, and of a share that follows the tempo."""


def parse_swing(text: str) -> Swing:
    """Return the swing that ``58% eighths``, ``by tempo eighths`` or ``straight`` spells.

    Raises ValueError, whose text is what was expected.
    """
    folded = " ".join(text.casefold().split())
    if folded == STRAIGHT_WORD:
        return STRAIGHT
    match = re.fullmatch(r"(?:(\d{2}(?:\.\d{1,2})?) ?%|(by tempo)) (eighths|sixteenths)", folded)
    low, high = SWING_PERCENT
    if not match or (match[1] and not low <= float(match[1]) <= high):
        raise ValueError(
            f"a share from {low}% to {high}% and its notes, e.g. 58% eighths, or straight"
        )
    return Swing(float(match[1]) if match[1] else None, SwingUnit(match[3]))


def quarters_to_ticks(quarters: Fraction) -> int:
    """Return a position or length in ticks, rounded once to the nearest (halves up)."""
    return _rounded_ticks(*quarters.as_integer_ratio())


def span_ticks(start: Fraction, length: Fraction) -> tuple[int, int]:
    """Return where what begins at ``start`` and lasts ``length`` quarters begins and ends in ticks.

    Each is rounded once, as ``quarters_to_ticks`` does, but without making the sum's fraction.
    """
    begin, parts = start.as_integer_ratio()
    lasts, shares = length.as_integer_ratio()
    end = begin * shares + lasts * parts
    return _rounded_ticks(begin, parts), _rounded_ticks(end, parts * shares)


def _rounded_ticks(count: int, parts: int) -> int:
    """Return ``count / parts`` quarters in ticks, halves rounded up."""
    return (2 * TICKS_PER_QUARTER * count + parts) // (2 * parts)


@lru_cache(maxsize=256)
def _bar_quarters(count: int, unit: int) -> Fraction:
    return Fraction(4 * count, unit)


@lru_cache(maxsize=256)
def _beat_quarters(meter: Meter) -> Fraction:
    return Fraction(3, 2) if meter.is_compound else Fraction(4, meter.unit)


@lru_cache(maxsize=256)
def _beats_per_bar(meter: Meter) -> int:
    return int(meter.bar_quarters / meter.beat_quarters)


@lru_cache(maxsize=256)
def _pulse_ticks(meter: Meter) -> int:
    return quarters_to_ticks(meter.pulse_quarters)


@lru_cache(maxsize=256)
def _pulse_count(meter: Meter) -> int:
    return int(meter.bar_quarters / meter.pulse_quarters)


def qpm_to_microseconds(qpm: Fraction) -> int:
    """Return whole microseconds per quarter for a tempo in quarters per minute."""
    return round(MICROSECONDS_PER_MINUTE / qpm)


def microseconds_to_qpm(microseconds: int) -> float:
    """Return quarters per minute for whole microseconds per quarter."""
    return MICROSECONDS_PER_MINUTE / microseconds


class TempoChange(Struct, frozen=True):
    """From ``tick`` on, one quarter lasts ``microseconds``."""

    tick: int
    microseconds: int


class TempoMap(Struct, frozen=True, dict=True):
    """The tempo of a whole performance; the first change stands at tick 0."""

    changes: tuple[TempoChange, ...]

    def __post_init__(self) -> None:
        """Refuse an empty or unordered map."""
        starts = self._starts
        if not starts or starts[0] != 0 or any(a >= b for a, b in pairwise(starts)):
            raise ValueError(f"tempo changes must start at tick 0 and rise: {starts[:5]}")

    @cached_property
    def _starts(self) -> tuple[int, ...]:
        """The tick of each change."""
        return tuple(change.tick for change in self.changes)

    @cached_property
    def _sums(self) -> tuple[int, ...]:
        """The time before each change, in microseconds times ticks a quarter."""
        spans = (
            (after.tick - before.tick) * before.microseconds
            for before, after in pairwise(self.changes)
        )
        return tuple(accumulate(spans, initial=0))

    def tick_to_sec(self, tick: int) -> float:
        """Return the time of a tick (>= 0) in seconds from tick 0."""
        index = bisect_right(self._starts, tick) - 1
        change = self.changes[index]
        total = self._sums[index] + (tick - change.tick) * change.microseconds
        return total / (TICKS_PER_QUARTER * 1_000_000)

    def microseconds_at(self, tick: int) -> int:
        """Return the microseconds per quarter in force at a tick."""
        if len(self.changes) == 1:
            return self.changes[0].microseconds
        return self.changes[bisect_right(self._starts, tick) - 1].microseconds

    def ms_to_ticks(self, ms: float, *, at_tick: int) -> int:
        """Return a short time in milliseconds as ticks at the tempo in force at ``at_tick``."""
        return self.each_ms_to_ticks((ms,), at_ticks=(at_tick,))[0]

    def each_ms_to_ticks(self, times_ms: Iterable[float], *, at_ticks: Iterable[int]) -> list[int]:
        """Return short times in milliseconds as ticks, each at the tempo at its own tick."""
        if len(self.changes) == 1:
            tempi: Iterable[int] = repeat(self.changes[0].microseconds)
        else:
            tempi = map(self.microseconds_at, at_ticks)
        scale = 1000 * TICKS_PER_QUARTER
        return [
            round(ms * scale / microseconds)
            for ms, microseconds in zip(times_ms, tempi, strict=False)
        ]

    def __repr__(self) -> str:
        """Return the first tempo and how often it changes."""
        first = microseconds_to_qpm(self.changes[0].microseconds)
        return f"<TempoMap {first:.2f} quarters a minute, {len(self.changes) - 1} changes>"
