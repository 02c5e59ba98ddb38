"""One stroke of the drums before it is a note, and what hands and feet can do at once."""

from collections.abc import Iterable

from msgspec import Struct

from groove.arrange.arrangement import is_soft_level
from groove.arrange.plan import BarPlan
from groove.cells.model import DrumCell
from groove.events import Role

STICK = frozenset({"hat", "open_hat", "ride", "ride_bell", "ride_2"})
"""What the stick that keeps time is on, one of them at a time."""
ON_HAT = frozenset({"hat", "open_hat", "pedal_hat"})
CRASHES = frozenset({"crash", "crash_2", "splash", "china"})
KICKS = frozenset({"kick", "low_kick"})
ON_FEET = KICKS | {"pedal_hat"}
HAND_COUNT = 2
STRONG_LEVEL = 8
"""From this level on a snare or side stick is the backbeat, which nothing takes away."""
FOOT_LEVEL = 4


class Stroke(Struct, frozen=True, gc=False):
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


def without_doubles(strokes: Iterable[Stroke]) -> list[Stroke]:
    """Return strokes, the loudest of those that strike one drum at once."""
    found: dict[tuple[int, str], Stroke] = {}
    for stroke in strokes:
        place = (stroke.tick, stroke.key)
        if place not in found or found[place].level < stroke.level:
            found[place] = stroke
    return list(found.values())


def is_soft(bar: BarPlan) -> bool:
    """Return whether the drummer keeps down: a feel without a crash, or p and softer."""
    return not bar.feel.crash or is_soft_level(bar.bar.level)


def plays_time(bar: BarPlan) -> bool:
    """Return whether a drummer keeps time in a bar."""
    return bar.has_drummer and not (bar.is_counted or bar.bar.is_pickup)


def plays_key(cell: DrumCell, *keys: str) -> bool:
    """Return whether a cell's plain bars have one of some drums."""
    return any(stroke.key in keys for strokes in cell.bars for stroke in strokes)
