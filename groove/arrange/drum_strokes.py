"""One stroke of the drums before it is a note, and what hands and feet can do at once."""

from collections.abc import Iterable
from typing import NamedTuple

from groove.events import Role

STICK = frozenset({"hat", "open_hat", "ride", "ride_bell", "ride_2"})
"""What the stick that keeps time is on, one of them at a time."""
CRASHES = frozenset({"crash", "crash_2", "splash", "china"})
ON_FEET = frozenset({"kick", "low_kick", "pedal_hat"})
KICKS = frozenset({"kick", "low_kick"})
HAND_COUNT = 2
STRONG_LEVEL = 8
"""From this level on a snare or side stick is the backbeat, which nothing takes away."""


class Stroke(NamedTuple):
    """One stroke: tick in the song, index of its bar, drum, level and step of its cell.

    ``pushed_ticks`` is how early it strikes a pushed chord, 0 for all others.
    """

    tick: int
    bar: int
    key: str
    level: int
    step: int | None = None
    role: Role = Role.STROKE
    pushed_ticks: int = 0


def hands_at(strokes: Iterable[Stroke]) -> int:
    """Return how many hands strokes of one moment take."""
    return sum(stroke.key not in ON_FEET for stroke in strokes)
