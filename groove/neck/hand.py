"""The fretting hand: which grips there are, and what a grip and a move from grip to grip cost.

A grip is one way to hold one note: string (1 the highest), fret (0 open), finger (0 open, 1-4),
position (the fret under the first finger) and the string on which the cell's root is thought.
Costs are sums of the terms in ``HandWeights``; an impossible grip or move costs infinity.  The
whole line costs the sum over its grips and moves.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import inf
from typing import NamedTuple

from msgspec import Struct

from groove.events import Touch
from groove.neck.instrument import Tuning, fret_ruler
from groove.neck.options import (
    HAND_SPAN_MM,
    HAND_WEIGHTS,
    HASTE,
    HIGH_POSITION,
    LOW_ROOT,
    NEAR_NUT,
    TWELFTH_FRET,
    HandWeights,
    NeckOptions,
)
from groove.neck.shapes import OCTAVES, STRINGS_UP, HandTask, Shape
from groove.theory.pitch import OCTAVE

_WHOLE_STEP = 2
FRAMES = {3: {1: 0, 2: 1, 4: 2}, 4: {1: 0, 2: 1, 3: 2, 4: 3}}
"""Frets above the position at which each finger of a frame stands."""
REACHES = {
    frame: tuple(
        (finger, offset)
        for finger, home in fingers.items()
        for offset in ((home,) if finger < 4 else tuple(range(2, home + 2)))
    )
    for frame, fingers in FRAMES.items()
}
"""Finger and frets above the position: the little finger also squeezes in, or stretches one."""
OPENED = (3, 2)
"""Below the fifth fret, the third finger in the little finger's place, which has gone a fret up."""
FARTHEST = 4
"""The farthest that a finger reaches above the position, in frets."""
_NOWHERE = range(0)
"""The homes of a shape that runs off the neck."""


class Grip(Struct, frozen=True, order=True, gc=False):
    """One way to hold one note; ``root_string`` is 0 for a note that is in no cell's shape."""

    string: int
    fret: int
    finger: int
    position: int
    root_string: int = 0


class Transition(NamedTuple):
    """What lies between a note and the one before.

    ``haste`` is the row of ``HASTE`` for the time from the note before, ``open_haste`` the row
    for a hand that may still move while this note, on an open string, rings.
    """

    same_run: bool
    haste: int
    open_haste: int

    def haste_to(self, grip: Grip) -> int:
        """Return the row of ``HASTE`` for the hand's way to a grip."""
        return self.haste if grip.fret else self.open_haste


class MoveFacts(NamedTuple):
    """All that the cost of a move may ask of its two notes, their grips apart.

    Moves with the same facts between the same grips are priced once.  ``semitones`` is how far the
    second lies above the first, ``is_approach`` whether the first leads to it, ``touch`` that of
    the second, ``is_written`` whether the player wrote where one of them lies.
    """

    semitones: int
    is_approach: bool
    touch: Touch
    is_written: bool


@dataclass(frozen=True, slots=True)
class FrettingHand:
    """One player's hand on one instrument: everything that the costs depend on.

    ``ruler_mm`` gives the distances of nut and frets from the nut.
    """

    tuning: Tuning
    options: NeckOptions
    ruler_mm: tuple[float, ...]
    weights: HandWeights = HAND_WEIGHTS
    _homes: dict[tuple[Shape, int], range] = field(default_factory=dict, compare=False)
    _root_strings: dict[tuple[int, int, int], frozenset[int]] = field(
        default_factory=dict, compare=False
    )

    @property
    def positions(self) -> range:
        """Where the first finger may stand."""
        return range(1, self.options.last_fret + 1)

    def grips(self, task: HandTask) -> list[Grip]:
        """Return every possible grip of a note, which where it is written has one place."""
        if task.fixed:
            holds = self._holds_of(task.fixed.fret)
            reaching = [hold for hold in holds if self._reaches_all(hold[1], task.beside)]
            return [Grip(*task.fixed, *hold) for hold in reaching or holds]
        found: list[Grip] = []
        for string, fret in self.tuning.places(task.pitch, self.options.last_fret):
            if task.forced_fret not in (None, fret) or not self._is_wanted(task, fret):
                continue
            for root_string in sorted(self.root_strings(task, string)) or (0,):
                found += [
                    Grip(string, fret, finger, position, root_string)
                    for finger, position in self._holds_of(fret)
                ]
        return found

    def _reaches_all(self, position: int, frets: Sequence[int]) -> bool:
        """Return whether a hand in a position reaches frets that it holds at once."""
        last = position + max(FRAMES[self.options.span_at(position)].values())
        return all(position <= fret <= last for fret in frets)

    def _is_wanted(self, task: HandTask, fret: int) -> bool:
        """Return false for an open string that is unwanted and has a fretted stand-in."""
        if fret or self.options.open_strings != "no" or task.forced_fret == 0:
            return True
        return all(f == 0 for _, f in self.tuning.places(task.pitch, self.options.last_fret))

    def _holds_of(self, fret: int) -> list[tuple[int, int]]:
        """Return the fingers and positions that hold a fret, the first finger first.

        An open string asks for neither, and leaves the hand anywhere.
        """
        if fret == 0:
            return [(0, position) for position in self.positions]
        return [
            (finger, position)
            for position in range(fret, max(0, fret - FARTHEST - 1), -1)
            for finger, offset in self._reaches(position)
            if position + offset == fret and self._spans(position, fret)
        ]

    def _reaches(self, position: int) -> tuple[tuple[int, int], ...]:
        frame = self.options.span_at(position)
        may_open = frame == 3 and self.options.span is None
        return (*REACHES[frame], OPENED) if may_open else REACHES[frame]

    def _spans(self, position: int, fret: int) -> bool:
        return self.ruler_mm[fret] - self.ruler_mm[position] <= HAND_SPAN_MM

    def root_strings(self, task: HandTask, string: int) -> frozenset[int]:
        """Return the strings on which the cell's root may lie with this note on ``string``."""
        if task.shape is None or task.above_root is None:
            return frozenset()
        key = (task.shape.root_pitch, task.above_root, string)
        if key not in self._root_strings:
            self._root_strings[key] = self._find_root_strings(*key)
        return self._root_strings[key]

    def _find_root_strings(self, root_pitch: int, interval: int, string: int) -> frozenset[int]:
        return frozenset(
            root_string
            for root_string in self.tuning.strings
            if root_pitch >= self.tuning.open_pitch(root_string)
            and self._degree_string(root_pitch, interval, root_string) == string
        )

    def _degree_string(self, root_pitch: int, interval: int, root_string: int) -> int:
        """Return the string of a degree: as ``STRINGS_UP`` has it, one lower below the nut.

        So the third of an open string lies on it, four frets up.
        """
        string = root_string - STRINGS_UP[interval]
        if string not in self.tuning.strings:
            return string
        return string + (root_pitch + interval < self.tuning.open_pitch(string))

    def homes(self, shape: Shape, root_string: int) -> range:
        """Return the positions that hold a shape with its root on a string.

        None of them if the shape runs off the neck there, all if it asks for no fret.
        """
        key = (shape, root_string)
        if key not in self._homes:
            self._homes[key] = self._find_homes(shape, root_string)
        return self._homes[key]

    def _find_homes(self, shape: Shape, root_string: int) -> range:
        frets = []
        for interval in shape.intervals:
            string = self._degree_string(shape.root_pitch, interval, root_string)
            if string not in self.tuning.strings:
                return _NOWHERE
            frets.append(shape.root_pitch + interval - self.tuning.open_pitch(string))
        if min(frets) < 0 or max(frets) > self.options.last_fret:
            return _NOWHERE
        fretted = [fret for fret in frets if fret]
        if not fretted:
            return self.positions
        root_fret = shape.root_pitch - self.tuning.open_pitch(root_string)
        return self._holding(fretted, root_fret, keeps_fingers=OCTAVE in shape.intervals)

    def _holding(self, frets: Sequence[int], root_fret: int, *, keeps_fingers: bool) -> range:
        """Return the positions that hold all frets, else the one that holds most.

        Of those that hold all the lowest alone, if the shape keeps its fingers on every root, as
        one with an octave does: 1-3-4.  Of those that hold most the one with the root under the
        first finger, else the lowest: a minor shape with its sixth is wider than a hand.
        """
        low, high = min(frets), max(frets)
        held = {
            position: sum(self._holds(position, fret) for fret in frets)
            for position in range(max(1, min(low, high - FARTHEST)), high + 1)
        }
        most = max(held.values())
        best = [position for position, count in held.items() if count == most]
        is_whole = most == len(frets)
        if is_whole and not keeps_fingers:
            return range(best[0], best[-1] + 1)
        wanted = low if is_whole else root_fret
        home = wanted if wanted in best else best[0]
        return range(home, home + 1)

    def _holds(self, position: int, fret: int) -> bool:
        reach = self.options.span_at(position)
        return position <= fret <= position + reach and self._spans(position, fret)

    def grip_cost(self, task: HandTask, grip: Grip) -> float:
        """Return what holding one note this way costs, apart from how the hand came there."""
        weights = self.weights
        cost = self._shape_cost(task, grip)
        place = (grip.string, grip.fret)
        if task.known and task.known[:2] != place:
            cost += weights.elsewhere
        elif task.known and task.known[2] != grip.finger:
            cost += weights.other_finger
        if task.in_position not in (None, place):
            cost += weights.out_of_position
        if grip.fret == 0:
            return cost + self._open_cost(task)
        if task.time_keeping:
            cost += weights.twelfth_fret * max(0, grip.fret - TWELFTH_FRET + 1)
        cost += weights.high_position * max(0, grip.fret - HIGH_POSITION)
        if task.above_root == 0:
            cost += self._root_cost(grip)
        if self.options.open_strings == "yes" and task.pitch in self.tuning.open_pitches:
            cost += weights.open_missed
        return cost + self._spread_cost(task, grip)

    def _root_cost(self, grip: Grip) -> float:
        """Return what speaks against a fretted root: a weak finger, and a place high up."""
        is_weak = grip.finger == 4 or self._is_opened(grip)
        above = max(0, grip.fret - LOW_ROOT)
        return self.weights.weak_root * is_weak + self.weights.high_root * above

    def _open_cost(self, task: HandTask) -> float:
        weights = self.weights
        cost = weights.open_ghost if task.touch is Touch.GHOST else 0.0
        if self.options.open_strings == "yes":
            return cost
        cost += weights.open_string
        if task.shape is None or not task.shape.is_muted:
            return cost
        is_octaves = task.shape.intervals == OCTAVES
        return cost + weights.open_muted + (weights.open_under_octave if is_octaves else 0.0)

    def _spread_cost(self, task: HandTask, grip: Grip) -> float:
        """Return the cost of a stretched or squeezed little finger.

        The octave of a shape, two strings above its root, is the little finger's: turned to the
        higher strings it falls there by itself, and 1-3-4 stays one hand.
        """
        offset = grip.fret - grip.position
        if self._is_opened(grip):
            return 0.0
        home = FRAMES[self.options.span_at(grip.position)][grip.finger]
        if offset > home:
            beyond_mm = self.ruler_mm[grip.fret] - self.ruler_mm[grip.position + home]
            return self.weights.stretch_per_mm * beyond_mm
        is_octave = task.above_root == OCTAVE
        squeezed = offset < home
        third = grip.finger == 3
        return self.weights.squeeze if (third if is_octave else squeezed) else 0.0

    def _shape_cost(self, task: HandTask, grip: Grip) -> float:
        if task.shape is None or task.above_root is None:
            return 0.0
        homes = self.homes(task.shape, grip.root_string) if grip.root_string else _NOWHERE
        return 0.0 if grip.position in homes else self.weights.off_home

    def travel_cost(self, old: int, new: int, haste: int, *, is_written: bool) -> float:
        """Return what the hand's way costs between two positions, with a row of ``HASTE``.

        Too far for the time is only what a player wrote.
        """
        if old == new:
            return 0.0
        row = HASTE[haste]
        travel_mm = abs(self.ruler_mm[new] - self.ruler_mm[old])
        if travel_mm > row.reach_mm and not is_written:
            return inf
        return self.weights.shift + self.weights.travel_per_mm * row.factor * travel_mm

    def across_cost(self, facts: MoveFacts, old: Grip, new: Grip) -> float:
        """Return what a move costs for the two places alone, however they are held."""
        weights = self.weights
        cost = 0.0
        strings = abs(new.string - old.string)
        if strings:
            cost += weights.cross * strings + weights.skip * (strings - 1)
            cost += weights.leap * max(0, strings - 2)
            if new.fret and self._is_apart(old, new, facts.semitones):
                cost += self._apart_cost(is_approach=facts.is_approach)
            if facts.touch is Touch.SLIDE:
                cost += weights.slide_across
        if not (old.fret and new.fret):
            cost += weights.far_from_nut * max(0, old.fret + new.fret - NEAR_NUT)
        return cost if facts.semitones else cost + self._restrike_cost(old, new)

    def _restrike_cost(self, old: Grip, new: Grip) -> float:
        """Return what striking a pitch again costs, less what an open string needs no more."""
        if (old.string, old.fret) != (new.string, new.fret):
            return self.weights.restrike
        if new.fret or self.options.open_strings == "yes":
            return 0.0
        return -self.weights.open_string

    def _is_apart(self, old: Grip, new: Grip, semitones: int) -> bool:
        """Return whether a step to another string tears apart what lies side by side.

        A half step down from an open string lies within a hand, and a whole step across two strings
        one way round.
        """
        if abs(semitones) == _WHOLE_STEP:
            return old.fret > 0 and abs(new.fret - old.fret) > FARTHEST
        return semitones == 1 or (semitones == -1 and old.fret > 0)

    def _apart_cost(self, *, is_approach: bool) -> float:
        return self.weights.approach_across if is_approach else self.weights.half_step_across

    def fingers_cost(self, touch: Touch, old: Grip, new: Grip, step: Transition) -> float:
        """Return what a move between two places costs for how they are held.

        Of the positions it asks whether they are one, and how the new one holds its own fret.
        """
        weights = self.weights
        is_struck_again = old.fret == new.fret and old.string == new.string
        is_held = is_struck_again and old.finger == new.finger and old.position == new.position
        cost = 0.0
        if new.finger and not is_held:
            cost += weights.opened if self._is_opened(new) else 0.0
            cost += self._finger_cost(old, new, step) if old.finger else 0.0
        if is_struck_again and old.finger == new.finger == 4:
            cost += weights.pump
        if touch is Touch.GHOST:
            is_there = is_struck_again and old.position == new.position
            cost += 0.0 if is_there else weights.ghost_moves
        elif touch is Touch.SLIDE and not 0 < old.finger == new.finger:
            cost += weights.slide_finger
        if step.same_run and old.root_string != new.root_string:
            cost += weights.shape_break
        return cost

    def _is_opened(self, grip: Grip) -> bool:
        return grip.finger == 3 and self.options.span_at(grip.position) == 3

    def _finger_cost(self, old: Grip, new: Grip, step: Transition) -> float:
        """Return what it costs to put the next finger down, apart from the hand's way there."""
        if old.finger != new.finger:
            swaps = old.fret == new.fret and not _side_by_side(old, new)
            return self.weights.refinger if swaps else 0.0
        strings = abs(new.string - old.string)
        if old.fret == new.fret:
            return self.weights.roll * strings
        if not strings:
            return self.weights.lift if old.position == new.position else 0.0
        each = self.weights.hop * HASTE[step.haste].factor
        return each if old.position != new.position else each * strings


def _side_by_side(old: Grip, new: Grip) -> bool:
    """Return whether two fingers share a fret: neighbours, the lower one on the lower string."""
    return (new.finger - old.finger) * (old.string - new.string) == 1


def move_facts(before: HandTask, task: HandTask) -> MoveFacts:
    """Return what the cost of a move is told of its two notes."""
    is_written = before.fixed is not None or task.fixed is not None
    return MoveFacts(task.pitch - before.pitch, before.approaches, task.touch, is_written)


def make_hand(
    tuning: Tuning, options: NeckOptions, weights: HandWeights = HAND_WEIGHTS
) -> FrettingHand:
    """Return the hand for an instrument and a player's choices."""
    ruler_mm = fret_ruler(options.fret_count, options.scale_length_mm)
    return FrettingHand(tuning, options, ruler_mm, weights)
