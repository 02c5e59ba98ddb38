"""The short bar before bar 1: how long it is, in words and as a meter."""

from enum import StrEnum
from fractions import Fraction

from msgspec import Struct

from groove.timing import Meter


class PickupUnit(StrEnum):
    """What the length of a pickup is counted in."""

    BEATS = "beats"
    EIGHTHS = "eighths"
    SIXTEENTHS = "sixteenths"


SHORTEST_UNITS = {PickupUnit.BEATS: 1, PickupUnit.EIGHTHS: 8, PickupUnit.SIXTEENTHS: 16}
"""The shortest note value that a pickup can need, as the lower number of its meter."""


class Pickup(Struct, frozen=True):
    """The short bar before bar 1: ``count`` (at least 1) beats, eighths or sixteenths."""

    count: int
    unit: PickupUnit = PickupUnit.BEATS

    def quarters(self, meter: Meter) -> Fraction:
        """Return its length in quarters before a bar of a meter."""
        lengths = {
            PickupUnit.BEATS: meter.beat_quarters,
            PickupUnit.EIGHTHS: Fraction(1, 2),
            PickupUnit.SIXTEENTHS: Fraction(1, 4),
        }
        return self.count * lengths[self.unit]

    @property
    def words(self) -> str:
        """Its length in words: ``1 beat``, ``3 eighths``."""
        return f"{self.count} {self.unit.removesuffix('s') if self.count == 1 else self.unit}"

    def meter(self, full: Meter) -> Meter:
        """Return the meter that is as long as the pickup before a bar of a meter."""
        unit = max(full.unit, SHORTEST_UNITS[self.unit])
        return Meter(int(self.quarters(full) * unit / 4), unit)

    def __str__(self) -> str:
        """Return the pickup as a chart has it: ``2``, ``3 eighths``."""
        return str(self.count) if self.unit is PickupUnit.BEATS else self.words


def pickup_of(quarters: Fraction, meter: Meter) -> Pickup | None:
    """Return the pickup of a length in quarters before a bar of a meter.

    In beats where it has whole ones, else in eighths or sixteenths; None where none of them fits.
    """
    for unit in PickupUnit:
        count = quarters / Pickup(1, unit).quarters(meter)
        if count.denominator == 1:
            return Pickup(int(count), unit)
    return None
