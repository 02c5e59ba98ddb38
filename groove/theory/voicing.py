"""How far voices move from one chord to the next, and the placing of a chord in a range.

Distances are in semitones (L1).  On pitch classes they run round a circle of twelve
(D. Tymoczko, *The Geometry of Musical Chords*, Science 313, 2006, and its supplement).
"""

from collections.abc import Callable, Iterator, Sequence
from functools import lru_cache
from itertools import product

Distance = Callable[[int, int], int]


def line_distance(first: int, second: int) -> int:
    """Return the semitones between two pitches."""
    return abs(first - second)


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
