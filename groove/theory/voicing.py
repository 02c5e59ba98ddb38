"""How far voices move from one chord to the next, and the placing of a chord in a range.

Distances are in semitones (L1).  On pitch classes they run round a circle of twelve
(D. Tymoczko, *The Geometry of Musical Chords*, Science 313, 2006, and its supplement).
"""

from collections.abc import Callable, Iterator, Sequence
from functools import lru_cache
from itertools import permutations, product

Distance = Callable[[int, int], int]


def circle_distance(first: int, second: int) -> int:
    """Return the shorter way between two pitch classes."""
    return min((first - second) % 12, (second - first) % 12)


def line_distance(first: int, second: int) -> int:
    """Return the semitones between two pitches."""
    return abs(first - second)


def one_to_one_size(first: Sequence[int], second: Sequence[int]) -> int:
    """Return the least movement that takes each pitch class of one chord to one of the other.

    Both chords have the same number of pitch classes (at most 6).
    """
    return min(
        sum(circle_distance(a, b) for a, b in zip(first, order, strict=True))
        for order in permutations(second)
    )


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


def coupling_size(first: Sequence[int], second: Sequence[int], distance: Distance) -> int:
    """Return the least sum of distances over pairs that keep order and leave nobody out."""
    row = [0] * len(second)
    for i, a in enumerate(first):
        before = row
        row = [0] * len(second)
        for j, b in enumerate(second):
            if i and j:
                least = min(before[j], before[j - 1], row[j - 1])
            elif i:
                least = before[j]
            else:
                least = row[j - 1] if j else 0
            row[j] = least + distance(a, b)
    return row[-1]


@lru_cache(maxsize=65536)
def movement(first: tuple[int, ...], second: tuple[int, ...]) -> int:
    """Return the semitones that voices move between two voicings, each sorted from the lowest.

    Voicings of one size move voice by voice, which is the least; others share notes.
    """
    if len(first) == len(second):
        return sum(map(line_distance, first, second))
    return coupling_size(first, second, line_distance)


def placements(classes: Sequence[int], lowest: int, highest: int) -> Iterator[tuple[int, ...]]:
    """Yield every way to place pitch classes in a range (MIDI numbers), one pitch each, sorted."""
    choices = [[p for p in range(lowest, highest + 1) if p % 12 == pc] for pc in classes]
    for pitches in product(*choices):
        if len(set(pitches)) == len(pitches):
            yield tuple(sorted(pitches))
