"""Which cells serve which meters, and by what rule.

A cell's positions count its meter's pulse (``Meter.pulse_quarters``): the dotted quarter in 6/8,
9/8 and 12/8, the quarter in x/4 and x/2, else the written unit.  Meters fall into
families by that pulse:

* quarters: 2/4, 3/4, 4/4, 5/4, 2/2 …
* dotted: 6/8, 9/8, 12/8
* units: 3/8, 5/8, 7/8, and everything over 16

A cell serves every meter of its family, and a cell of three slots a beat serves quarters and dotted
alike (4/4 in triplets is 12/8).  A bar with fewer pulses than the cell plays the cell's first
ones; a bar with more starts the cell again.  (Common practice, no source.)
"""

from enum import StrEnum

from groove.timing import Meter


class Family(StrEnum):
    """Meters that share a pulse."""

    QUARTERS = "quarters"
    DOTTED = "dotted"
    UNITS = "units"


def meter_family(meter: Meter) -> Family:
    """Return the family of a meter."""
    if meter.is_compound:
        return Family.DOTTED
    return Family.QUARTERS if meter.unit in (1, 2, 4) else Family.UNITS


def serves(cell_meter: Meter | None, slots_per_beat: int, meter: Meter) -> bool:
    """Return whether a cell written in one meter can be played in another."""
    if cell_meter is None:
        return True
    families = {meter_family(cell_meter), meter_family(meter)}
    in_triplets = slots_per_beat == 3 and Family.UNITS not in families
    return len(families) == 1 or in_triplets


def is_triplet_grid(cell_meter: Meter | None, slots_per_beat: int) -> bool:
    """Return whether a cell is written in triplets, so that swing on top would be wrong."""
    return cell_meter is not None and slots_per_beat == 3
