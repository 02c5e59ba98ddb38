"""Notes that lead to the next chord's root: one step, or a run of two or more.

A run moves to the root from one side by half and whole steps and ends beside it.  What the cell
writes, as the chromatic pair ``>-2 >-1``, is played where it fits; where it would pass through the
third that the chord has not, leap to get there or leave the instrument, the run that fits best
takes its place (common practice, no source).
"""

from functools import lru_cache
from itertools import product

from msgspec import Struct
from msgspec.structs import replace

from groove.arrange.tones import contradicts, rubs, scale_classes
from groove.theory.chords import Chord
from groove.theory.keys import Key
from groove.theory.pitch import pitch_name

TRITONE, OCTAVE = 6, 12
LONGEST_RUN = 4
WRONG_THIRD_COST = 4.0
NOT_WRITTEN_COST = 1.0
OTHER_SIDE_COST = 1.0
OUTSIDE_COST = 1.0
LAST_OUTSIDE_COST = 0.5
RUB_COST = 1.0
ROOT_AGAIN_COST = 0.5
REPEAT_COST = 2.0
LOWERED_COST = 0.25
LEAP_COSTS = ((0, REPEAT_COST), (4, 0.0), (5, 0.5), (6, 3.0), (7, 1.0), (9, 2.0), (128, 4.0))
"""Cost of the move to a run's first note, up to so many semitones."""


class Way(Struct, frozen=True, kw_only=True):
    """Where a line leads from and to: the chord and the key it is in, and its two roots.

    ``before`` is the pitch of the stroke before, ``may_drop`` whether that one can be played an
    octave lower instead; ``lowest`` is the instrument's lowest pitch.
    """

    chord: Chord
    key: Key
    root: int
    goal: int
    before: int
    may_drop: bool
    lowest: int

    @property
    def side(self) -> int:
        """From where the line comes: -1 from below, 1 from above; an octave falls to its goal."""
        start = self.before if self.before - self.root >= OCTAVE else self.root
        return -1 if self.goal > start else 1


def way_to(way: Way, written: tuple[int | None, ...]) -> tuple[int, ...]:
    """Return the notes that lead to the goal, in semitones from it, for the offsets written.

    Of more than four the last four are a run; those before go round the goal as written.
    """
    if len(written) == 1:
        return (step_to(way, written[0]),)
    head = tuple(step_to(way, offset) for offset in written[:-LONGEST_RUN])
    before = way.goal + head[-1] if head else way.before
    return head + run_to(replace(way, before=before), written[-LONGEST_RUN:])


def step_to(way: Way, written: int | None) -> int:
    """Return one note that leads to the goal, in semitones from it.

    As written, or a step chosen by the line; where that is the third that the chord has not, is
    reached by a tritone, or stands where another note than the root just stood, the next best.
    """
    first = approach_offset(way) if written is None else written
    side = -1 if first < 0 else 1
    others = (*in_scale(way, -side), -side, -2 * side)
    offsets = (first, approach_offset(way), side, 2 * side, *others)
    playable = [offset for offset in offsets if way.goal + offset >= way.lowest]
    return next((offset for offset in playable if is_fit(way, way.goal + offset)), playable[0])


def is_fit(way: Way, pitch: int) -> bool:
    """Return whether one note leads well from the stroke before it."""
    if contradicts(pitch, way.chord) or pitch == way.before != way.root:
        return False
    tones = way.chord.pitch_classes
    in_chord = {pitch % OCTAVE, way.before % OCTAVE} <= tones
    return abs(pitch - way.before) % OCTAVE != TRITONE or in_chord


def in_scale(way: Way, side: int) -> list[int]:
    """Return the steps into the goal from one side that the chord's scale has, the half first."""
    scale = scale_classes(way.chord, way.key)
    return [side * size for size in (1, 2) if (way.goal + side * size) % OCTAVE in scale]


def approach_offset(way: Way) -> int:
    """Return the approach to a goal from the side the line is moving, in semitones.

    A step of the key as the chord colours it, else a half step; never the third that the chord
    has not.
    """
    side = way.side
    steps = (*in_scale(way, side), side)
    fitting = [step for step in steps if not contradicts(way.goal + step, way.chord)]
    return fitting[0] if fitting else -side


@lru_cache(maxsize=4096)
def run_to(way: Way, written: tuple[int | None, ...]) -> tuple[int, ...]:
    """Return the run to the goal that fits best, in semitones from it, for the offsets written."""
    runs = [run for run in runs_of(len(written)) if way.goal + min(run) >= way.lowest]
    return min(runs, key=lambda run: run_cost(way, run, written))


@lru_cache
def runs_of(count: int) -> tuple[tuple[int, ...], ...]:
    """Return every run of ``count`` notes by half and whole steps, from below and from above."""
    above = [
        tuple(sum(steps[index:]) for index in range(count))
        for steps in product((1, 2), repeat=count)
    ]
    below = [tuple(-distance for distance in run) for run in above]
    return tuple(run for both in zip(below, above, strict=True) for run in both)


def run_cost(way: Way, run: tuple[int, ...], written: tuple[int | None, ...]) -> float:
    """Return what speaks against a run: notes, leaps, another side or other steps than written."""
    cost = NOT_WRITTEN_COST * (run != written)
    cost += OTHER_SIDE_COST * (run[0] * way.side < 0)
    cost += sum(note_cost(way, way.goal + offset) for offset in run[:-1])
    cost += last_cost(way, way.goal + run[-1])
    return cost + leap_cost(way, way.goal + run[0])


def note_cost(way: Way, pitch: int) -> float:
    """Return what speaks against a note on the way."""
    if contradicts(pitch, way.chord):
        return WRONG_THIRD_COST
    if pitch % OCTAVE in scale_classes(way.chord, way.key):
        return 0.0
    return OUTSIDE_COST + RUB_COST * rubs(pitch - way.chord.root.pitch_class, way.chord)


def last_cost(way: Way, pitch: int) -> float:
    """Return what speaks against the note beside the goal, which may lie outside the key."""
    if contradicts(pitch, way.chord):
        return WRONG_THIRD_COST
    return LAST_OUTSIDE_COST * (pitch % OCTAVE not in scale_classes(way.chord, way.key))


def leap_cost(way: Way, first: int) -> float:
    """Return what speaks against the move to a run's first note."""
    if first == way.before == way.root:
        return ROOT_AGAIN_COST
    cost = move_cost(first - way.before)
    if way.may_drop and way.before - OCTAVE >= way.lowest:
        cost = min(cost, LOWERED_COST + move_cost(first - way.before + OCTAVE))
    return cost


def move_cost(move: int) -> float:
    """Return the cost of one move in semitones."""
    return next(cost for limit, cost in LEAP_COSTS if abs(move) <= limit)


def approach_words(offset: int, goal: int) -> str:
    """Return an approach as a player says it: ``half step below G1``."""
    name, below = pitch_name(goal), offset < 0
    size = {1: "half step", 2: "whole step"}.get(abs(offset))
    if size is None:
        return f"run {'up' if below else 'down'} to {name}"
    return f"{size} {'below' if below else 'above'} {name}"
