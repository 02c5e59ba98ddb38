"""Every way to play a line, tried one by one: the judge of the cheapest path.

Shares with the package only the stated costs (``grip_cost``, ``travel_cost``, ``across_cost``,
``fingers_cost``) and the type ``Grip``.  Which grips there are is written here again, from the
words of the hand: first finger at the position; one finger a fret from the fifth fret up; below it
1-2-4 over three frets; the little finger may also stand on the third fret of the hand or one fret
beyond it, and the third finger on the third fret unless a hand of three fingers is asked for;
135 mm at most.  A note of a cell's shape has a grip for every string on which the shape lets its
root lie.
"""

from collections.abc import Sequence
from functools import lru_cache
from itertools import product
from math import inf

from groove.neck.hand import FrettingHand, Grip, MoveFacts, Transition, move_facts
from groove.neck.shapes import HandTask

WIDE = {(1, 0), (2, 1), (3, 2), (4, 2), (4, 3), (4, 4)}
NARROW = {(1, 0), (2, 1), (4, 2), (4, 3)}
OPENED = NARROW | {(3, 2)}


def frame_of(hand: FrettingHand, position: int) -> set[tuple[int, int]]:
    """Return the fingers and frets above the position at which they may stand."""
    if hand.options.span == 4 or (hand.options.span is None and position >= 5):
        return WIDE
    return OPENED if hand.options.span is None else NARROW


def move_cost(
    hand: FrettingHand, facts: MoveFacts, old: Grip, new: Grip, step: Transition
) -> float:
    """Return what going from the grip of one note to the grip of the next costs."""
    haste = step.haste_to(new)
    travel = hand.travel_cost(old.position, new.position, haste, is_written=facts.is_written)
    across = hand.across_cost(facts, old, new)
    return travel + across + hand.fingers_cost(facts.touch, old, new, step)


@lru_cache(maxsize=256)
def all_grips(hand: FrettingHand, asked: HandTask) -> list[Grip]:
    grips = []
    strings = len(hand.tuning.open_pitches)
    last = hand.options.last_fret
    for string, fret, finger, position in product(
        range(1, strings + 1), range(last + 1), range(5), range(1, last + 1)
    ):
        if hand.tuning.open_pitches[strings - string] + fret != asked.pitch:
            continue
        in_frame = (finger, fret - position) in frame_of(hand, position)
        near = fret > 0 and hand.ruler_mm[fret] - hand.ruler_mm[position] <= 135.0
        if (fret == 0 and finger == 0) or (fret > 0 and finger > 0 and in_frame and near):
            roots = hand.root_strings(asked, string) or {0}
            grips += [Grip(string, fret, finger, position, root) for root in roots]
    return grips


def brute_cost(hand: FrettingHand, asked: Sequence[HandTask], steps: Sequence[Transition]) -> float:
    """Return the lowest cost among all combinations of grips, each one added up in full."""
    ways = [costs_between(hand, *pair) for pair in zip(asked, asked[1:], steps[1:], strict=False)]

    def least_from(i: int, old: int) -> float:
        """Return the lowest cost of what follows a grip of note i; nothing is remembered."""
        if i + 1 == len(asked):
            return 0.0
        rest = range(len(ways[i][old]))
        return min([ways[i][old][new] + least_from(i + 1, new) for new in rest], default=inf)

    firsts = costs_of(hand, asked[0])
    return min([cost + least_from(0, old) for old, cost in enumerate(firsts)], default=inf)


@lru_cache(maxsize=256)
def costs_of(hand: FrettingHand, asked: HandTask) -> list[float]:
    """Return what each grip of a note costs."""
    return [hand.grip_cost(asked, grip) for grip in all_grips(hand, asked)]


@lru_cache(maxsize=256)
def costs_between(
    hand: FrettingHand, before: HandTask, asked: HandTask, step: Transition
) -> list[list[float]]:
    """Return from each grip of a note what each grip of the next costs, the move with it."""
    facts, own = move_facts(before, asked), costs_of(hand, asked)
    news = all_grips(hand, asked)
    return [
        [move_cost(hand, facts, old, new, step) + cost for new, cost in zip(news, own, strict=True)]
        for old in all_grips(hand, before)
    ]
