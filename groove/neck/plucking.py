"""The plucking hand: index and middle finger in turn, at a cost, not by force.

``i`` is the index finger, ``m`` the middle, ``p`` the thumb.  All of it is common practice without
a published source.  Ghosts are strokes like any other.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import inf
from typing import NamedTuple

from groove.search import Moves, cheapest_path
from groove.timing import TICKS_PER_QUARTER

FINGERS = ("i", "m")
THUMB = "p"
FAST_MS = 260.0
"""Strokes closer than this are fast: sixteenths from about 58 bpm."""
SHORTEST_MS = 20.0
"""No time is counted as less than this."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PluckWeights:
    """What each awkwardness of the plucking hand costs; 1 is a finger repeated with time."""

    repeat_slow: float = 1.0
    """The same finger twice on a string, with time."""
    repeat_fast: float = 2.0
    """The same finger twice on a string at speed, the dearer the less time there is."""
    rake: float = 0.3
    """The same finger falling through to the adjacent lower string."""
    easy_cross: float = 0.1
    """Crossing with the index on the lower and the middle on the higher string, per string."""
    hard_cross: float = 0.4
    """Crossing the other way round, per string."""
    restart: float = 4.0
    """Beginning with the middle finger, at the start or after a rest of a beat."""


PLUCK_WEIGHTS = PluckWeights()


class PluckedStroke(NamedTuple):
    """One stroke: its string (1 the highest), the time since the stroke before, and a new start.

    ``restarts`` is true for the first stroke and after a rest of a beat.
    """

    string: int
    window_ms: float
    restarts: bool


class Plucking(NamedTuple):
    """A finger a stroke, and the counts that tell how it falls."""

    fingers: tuple[str, ...]
    cost: float
    rakes: int
    same_finger_repeats: int


def starts_anew(rest_ticks: int) -> bool:
    """Return whether a rest (in ticks) is long enough to begin with the index again: a quarter."""
    return rest_ticks >= TICKS_PER_QUARTER


def stroke_cost(
    old: PluckedStroke | None,
    old_finger: str,
    new: PluckedStroke,
    finger: str,
    weights: PluckWeights = PLUCK_WEIGHTS,
) -> float:
    """Return what plucking a stroke with a finger costs after the stroke before.

    The same finger on another string than the adjacent lower one costs infinity.
    """
    if old is None or new.restarts:
        return weights.restart if finger != FINGERS[0] else 0.0
    if finger == old_finger:
        return _same_finger_cost(old, new, weights)
    low, high = (finger, old_finger) if new.string > old.string else (old_finger, finger)
    strings = abs(new.string - old.string)
    each = weights.easy_cross if (low, high) == FINGERS else weights.hard_cross
    return each * strings


def _same_finger_cost(old: PluckedStroke, new: PluckedStroke, weights: PluckWeights) -> float:
    if new.string == old.string:
        if new.window_ms >= FAST_MS:
            return weights.repeat_slow
        return weights.repeat_fast * FAST_MS / max(new.window_ms, SHORTEST_MS)
    return weights.rake if new.string == old.string + 1 else inf


def pluck_line(strokes: Sequence[PluckedStroke], *, thumb: bool = False) -> Plucking:
    """Return the cheapest plucking of a line (exact), or the thumb throughout."""
    if thumb or not strokes:
        return Plucking((THUMB,) * len(strokes), 0.0, 0, 0)
    first = [stroke_cost(None, "", strokes[0], finger) for finger in FINGERS]
    moves = _all_moves(strokes)
    rest = [[0.0] * len(FINGERS)] * (len(strokes) - 1)
    path = cheapest_path([first, *rest], lambda i: moves[i - 1])
    return _counted(strokes, tuple(FINGERS[choice] for choice in path.choices), path.cost)


def _all_moves(strokes: Sequence[PluckedStroke]) -> list[Moves]:
    """Return what the fingers cost from each stroke to the next; equal moves are priced once."""
    known: dict[tuple[int, bool, float], Moves] = {}
    found = []
    for old, new in pairwise(strokes):
        # Time is asked for where one finger may strike a string twice.
        window_ms = min(new.window_ms, FAST_MS) if new.string == old.string else 0.0
        key = (new.string - old.string, new.restarts, window_ms)
        moves = known.get(key)
        if moves is None:
            moves = known[key] = [
                [stroke_cost(old, old_finger, new, finger) for old_finger in FINGERS]
                for finger in FINGERS
            ]
        found.append(moves)
    return found


def _counted(strokes: Sequence[PluckedStroke], fingers: tuple[str, ...], cost: float) -> Plucking:
    rakes = repeats = 0
    for i in range(1, len(strokes)):
        if fingers[i] != fingers[i - 1] or strokes[i].restarts:
            continue
        raked = strokes[i].string == strokes[i - 1].string + 1
        rakes += raked
        repeats += not raked and strokes[i].window_ms < FAST_MS
    return Plucking(fingers, cost, rakes, repeats)
