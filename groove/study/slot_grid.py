"""On which slots the notes of a bar stand: its grid, and the swing that it is played with."""

from collections.abc import Iterator, Sequence
from fractions import Fraction

from msgspec import Struct

from groove.timing import Meter

GRIDS = (Fraction(1), Fraction(3, 2), Fraction(2), Fraction(3), Fraction(4), Fraction(6))
"""Slots a beat: in 4/4 bars of 4, 6, 8, 12, 16 and 24 slots."""
EXACT_QUARTERS = Fraction(1, 320)
"""How near a note lies that is on a slot: three ticks of 960."""
FINENESS_COST = Fraction(1, 250)
"""What a slot a beat more costs, in quarters by which notes are moved on average.

So a player's few milliseconds beside the beat are no sixteenths (common practice, no source).
"""


class BarSwing(Struct, frozen=True):
    """How a bar is swung: the straight length of a pair's first note in quarters, its share."""

    unit: Fraction
    share: Fraction

    def straight(self, at: Fraction) -> Fraction:
        """Return where in the bar a note would stand without the swing."""
        pair = 2 * self.unit
        whole, rest = divmod(at, pair)
        first = pair * self.share
        if rest < first:
            return whole * pair + rest / first * self.unit
        return whole * pair + self.unit + (rest - first) / (pair - first) * self.unit


class BarGrid(Struct, frozen=True):
    """The slots of a bar, by their length in quarters, and the swing that was taken out."""

    slot: Fraction
    swung: BarSwing | None

    def position(self, at: Fraction) -> Fraction:
        """Return a place in the bar without the swing."""
        return self.swung.straight(at) if self.swung else at

    def snapped(self, at: Fraction) -> Fraction:
        """Return the slot that is nearest to a place in the bar, in quarters."""
        return round(self.position(at) / self.slot) * self.slot

    def error(self, at: Fraction) -> Fraction:
        """Return how far a note is moved."""
        return abs(self.position(at) - self.snapped(at))


def best_grid(places: Sequence[Fraction], meter: Meter, swung: BarSwing | None) -> BarGrid:
    """Return the coarsest grid that has all notes of a bar, else the one that moves them least.

    A finer grid has to be worth its slots.  In a swung bar the straight notes behind the swing
    are tried first.
    """
    grids = list(_grids_of(meter, swung))
    if not places:
        return grids[0]
    plain = [float(at) for at in places]
    behind = [float(swung.straight(at)) for at in places] if swung else plain
    costs: list[float] = []
    for grid in grids:
        errors = _errors(behind if grid.swung else plain, float(grid.slot))
        if max(errors) <= EXACT_QUARTERS:
            return grid
        fineness = FINENESS_COST * meter.pulse_quarters / grid.slot
        costs.append(sum(errors) / len(errors) + float(fineness))
    return grids[costs.index(min(costs))]


def _errors(places: Sequence[float], slot: float) -> list[float]:
    """Return how far notes are moved to the nearest slot."""
    return [abs(at - round(at / slot) * slot) for at in places]


def _grids_of(meter: Meter, swung: BarSwing | None) -> Iterator[BarGrid]:
    """Yield the grids of a bar, the coarsest first; those behind a swing are in halves."""
    pulse = meter.pulse_quarters
    counts = (*GRIDS, Fraction(12)) if meter.is_compound else GRIDS
    if swung:
        yield from (BarGrid(pulse / count, swung) for count in counts if count in (1, 2, 4))
    for count in counts:
        if (meter.bar_quarters / pulse * count).denominator == 1:
            yield BarGrid(pulse / count, None)
