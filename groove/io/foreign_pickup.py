"""The upbeat before the first bar of a foreign file, as the pickup of a chart."""

from collections.abc import Sequence
from fractions import Fraction

from msgspec import structs

from groove.chart.pickup import pickup_of
from groove.io.beats import BeatBar, JoinedBar, on_beats
from groove.io.chart_text import TextPickup
from groove.io.gate import Gate
from groove.timing import METER_COUNTS, Meter


def pickup_before(joined: Sequence[JoinedBar], gate: Gate) -> TextPickup | None:
    """Return the first bar as a pickup where it is a short one before others, else None.

    A chart counts them in sixteenths at the finest.
    """
    first = joined[0]
    if len(joined) < 2 or not first.is_short:
        return None
    quarters = max(1, round(first.length_quarters * 4)) * Fraction(1, 4)
    if not _is_pickup(quarters, joined[1]):
        return None
    if quarters != first.length_quarters:
        gate.report(f"the pickup is counted as {quarters} of a quarter", first.where)
    return TextPickup(quarters, first.where, _pickup_beats(first, quarters, joined[1].meter, gate))


def _pickup_beats(
    bar: JoinedBar, quarters: Fraction, following: Meter, gate: Gate
) -> BeatBar | None:
    """Return a pickup with its chords on its beats, None where it has none that a chart can say."""
    counted = pickup_of(quarters, following)
    if not bar.chords or not counted:
        return None
    meter = counted.meter(following)
    short = [structs.replace(bar, usual=meter, meter=meter)]
    if on_beats(short, Gate(""))[0].meter == meter:
        return on_beats(short, gate)[0]
    gate.report(
        "chords between the beats of the pickup are left out: there the band waits", bar.where
    )
    return None


def _is_pickup(quarters: Fraction, after: JoinedBar) -> bool:
    """Return whether a chart can have so many quarters before a bar."""
    counted = pickup_of(quarters, after.meter)
    return bool(counted and counted.count in METER_COUNTS and quarters < after.meter.bar_quarters)
