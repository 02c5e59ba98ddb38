"""Voice leading against published sizes and against every other way."""

from collections.abc import Sequence
from itertools import permutations, product

from groove.theory.voicing import (
    coupling_size,
    line_distance,
    movement,
)

# D. Tymoczko, The Geometry of Musical Chords (Science 313, 2006), supplement, Fig. S12.
C_MAJOR_SEVENTH, E_MAJOR_SEVENTH = (0, 4, 7, 11), (3, 4, 8, 11)

CHORDS = {
    "C": (0, 4, 7),
    "Cm": (0, 3, 7),
    "C+": (0, 4, 8),
    "Em": (4, 7, 11),
    "Am": (9, 0, 4),
    "E": (4, 8, 11),
    "Ab": (8, 0, 3),
    "F": (5, 9, 0),
    "G": (7, 11, 2),
    "Eb": (3, 7, 10),
    "F#": (6, 10, 1),
    "Dm7": (2, 5, 9, 0),
    "G7": (7, 11, 2, 5),
    "Cmaj7": (0, 4, 7, 11),
    "C7": (0, 4, 7, 10),
    "F#7": (6, 10, 1, 4),
}


def circle_distance(first: int, second: int) -> int:
    """Return the shorter way between two pitch classes."""
    return min((first - second) % 12, (second - first) % 12)


def free_size(first: Sequence[int], second: Sequence[int]) -> int:
    """Return the least movement between two chords of pitch classes where voices may share a note.

    Every note of either chord is reached; the table is filled for every rotation of the second
    chord, because voices that do not cross keep their order round the circle.
    """
    start = sorted(first)
    ordered = sorted(second)
    turns = (ordered[turn:] + ordered[:turn] for turn in range(len(ordered)))
    return min(
        coupling_size((*start, start[0]), (*turn, turn[0]), circle_distance)
        - circle_distance(start[0], turn[0])
        for turn in turns
    )


def test_the_published_example() -> None:
    assert free_size(C_MAJOR_SEVENTH, E_MAJOR_SEVENTH) == 3


def every_covering(first: tuple[int, ...], second: tuple[int, ...]) -> int:
    """Return the least size over all relations that reach every note, by trying them all."""
    pairs = list(product(first, second))
    best = 999
    for mask in range(1, 1 << len(pairs)):
        chosen = [pair for bit, pair in enumerate(pairs) if mask >> bit & 1]
        if {a for a, _ in chosen} == set(first) and {b for _, b in chosen} == set(second):
            best = min(best, sum(circle_distance(a, b) for a, b in chosen))
    return best


def test_free_size_is_the_least_of_all_coverings() -> None:
    triads = [chord for chord in CHORDS.values() if len(chord) == 3]
    compared = 0
    for first, second in product(triads, triads):
        assert free_size(first, second) == every_covering(first, second)
        compared += 1
    assert compared == 121


def test_movement_of_equal_voicings_is_the_best_assignment() -> None:
    voicings = [(48, 52, 55), (50, 53, 57), (52, 55, 60), (55, 59, 62), (47, 50, 67)]
    compared = 0
    for first, second in product(voicings, voicings):
        best = min(
            sum(line_distance(a, b) for a, b in zip(first, order, strict=True))
            for order in permutations(second)
        )
        assert movement(first, second) == best
        compared += 1
    assert compared == 25


def test_a_coupling_leaves_nobody_out() -> None:
    # One voice meets two: 60-60 and 60-64 by hand.
    assert coupling_size((60,), (60, 64), line_distance) == 4
    assert movement((60,), (60, 64)) == 4
