"""Voice leading against published sizes and against every other way."""

from itertools import permutations, product

import pytest

from groove.theory.voicing import (
    circle_distance,
    coupling_size,
    free_size,
    line_distance,
    movement,
    one_to_one_size,
)

# D. Tymoczko, The Geometry of Musical Chords (Science 313, 2006), supplement, Fig. S12.
C_MAJOR_SEVENTH, E_MAJOR_SEVENTH = (0, 4, 7, 11), (3, 4, 8, 11)

# Minimal one-to-one sizes as listed beside that example, worked out by hand in semitones.
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
SIZES = {
    ("C", "Em"): 1,
    ("C", "Cm"): 1,
    ("C", "C+"): 1,
    ("C", "Am"): 2,
    ("C", "E"): 2,
    ("C", "Ab"): 2,
    ("C", "F"): 3,
    ("C", "G"): 3,
    ("C", "Eb"): 3,
    ("C", "F#"): 6,
    ("Dm7", "G7"): 3,
    ("G7", "Cmaj7"): 3,
    ("G7", "C7"): 4,
    ("C7", "F#7"): 2,
}


def test_the_published_example() -> None:
    assert free_size(C_MAJOR_SEVENTH, E_MAJOR_SEVENTH) == 3
    assert one_to_one_size(C_MAJOR_SEVENTH, E_MAJOR_SEVENTH) == 4


@pytest.mark.parametrize(("pair", "size"), SIZES.items(), ids=str)
def test_minimal_sizes(pair: tuple[str, str], size: int) -> None:
    assert one_to_one_size(CHORDS[pair[0]], CHORDS[pair[1]]) == size


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
