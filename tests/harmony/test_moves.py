"""The shortest description of root moves against brute force, by the definition of its length.

The definition (contributors' guide): the first root 1, a move 1, a repeat 2 and what its unit
costs; a repeat of a unit k times with a shift between covers k units and k - 1 shifts.
"""

from collections.abc import Sequence
from functools import cache
from itertools import pairwise, product
from random import Random

from groove.harmony.moves import Description, Repeat, Term, describe, root_changes


@cache
def brute(moves: tuple[int, ...]) -> int:
    """Try every first part: one move, or every repeat that the moves begin with."""
    if not moves:
        return 0
    best = 1 + brute(moves[1:])
    for unit_size in range(len(moves)):
        unit = moves[:unit_size]
        for times in range(2, len(moves) + 2):
            covered = times * unit_size + times - 1
            if covered > len(moves):
                break
            shift = moves[unit_size]
            told = unit + (shift, *unit) * (times - 1)
            if moves[:covered] == told:
                best = min(best, 2 + brute(unit) + brute(moves[covered:]))
    return best


def told_moves(parts: Sequence[Term]) -> tuple[int, ...]:
    """Return the single moves that parts stand for, in order."""
    moves: list[int] = []
    for part in parts:
        if isinstance(part, int):
            moves.append(part)
        else:
            unit = told_moves(part.unit)
            moves += unit
            for _ in range(part.times - 1):
                moves += (part.shift, *unit)
    return tuple(moves)


def told_roots(description: Description) -> tuple[int, ...]:
    """Return the roots that a description leads to, followed from the first."""
    roots = [description.first]
    for move in told_moves(description.parts):
        roots.append((roots[-1] + move) % 12)
    return tuple(roots)


def moves_of(roots: tuple[int, ...]) -> tuple[int, ...]:
    return tuple((b - a) % 12 for a, b in pairwise(roots))


def check(roots: tuple[int, ...]) -> None:
    description = describe(roots)
    assert description.length == 1 + brute(moves_of(roots))
    assert told_roots(description) == roots
    assert description.listed_length == len(roots)
    assert description.saved >= 0


def test_all_sequences_of_up_to_five_roots() -> None:
    compared = 0
    for size in range(5):
        for rest in product(range(12), repeat=size):
            check((0, *rest))
            compared += 1
    assert compared == 1 + 12 + 12**2 + 12**3 + 12**4


def test_seeded_sequences_of_six_to_eight() -> None:
    rng = Random("moves")
    compared = 0
    for _ in range(500):
        # Few different moves, so that repeats are met.
        steps = [rng.randrange(12) for _ in range(rng.choice((2, 3, 12)))]
        roots = [rng.randrange(12)]
        for _ in range(rng.choice((5, 6, 7))):
            roots.append((roots[-1] + steps[int(rng.random() * len(steps))]) % 12)
        check(tuple(roots))
        compared += 1
    assert compared == 500


def test_a_hidden_unit_is_always_found() -> None:
    rng = Random("hidden")
    compared = 0
    for _ in range(300):
        unit = tuple(rng.randrange(1, 12) for _ in range(rng.randrange(1, 5)))
        shift, times = rng.randrange(12), rng.randrange(3, 6)
        roots = [rng.randrange(12)]
        for move in unit + (shift, *unit) * (times - 1):
            roots.append((roots[-1] + move) % 12)
        description = describe(roots)
        # Found: as short as naming the unit, or shorter where the unit holds a repeat itself.
        assert description.length <= 1 + 2 + len(unit)
        assert any(isinstance(part, Repeat) for part in description.parts)
        assert told_roots(description) == tuple(roots)
        compared += 1
    assert compared == 300


def test_a_unit_and_the_turnaround_that_breaks_it() -> None:
    description = describe([0, 7, 2, 9, 4, 11, 7])
    assert description.parts == (Repeat((), 7, 6), 8)
    assert description.turnaround == (8,)
    assert (description.length, description.listed_length, description.saved) == (4, 7, 3)


def test_what_saves_nothing_is_no_repeat() -> None:
    assert describe([0, 7, 2]).parts == (7, 7)


def test_held_roots_are_no_moves() -> None:
    assert root_changes([0, 0, 5, 5, 5, 0]) == (0, 5, 0)
