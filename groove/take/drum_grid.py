"""Where a song begins by the drums or the click that a recording heard beside the bass.

What is struck above 7 kHz lies on eighths, or on sixteenths: folded on an eighth it heaps up once
or twice, and the bass belongs to the heap that is nearer.
"""

from typing import TYPE_CHECKING

from groove.take.alignment import Alignment
from groove.take.heard import HeardTake
from groove.take.reference import TakeReference

if TYPE_CHECKING:
    from groove.arrays import Doubles

FEWEST_STROKES = 10
SPREAD_SEC = 0.01
BESIDE_SEC = 0.02
"""What is struck as near to a note of the bass may be the bass itself."""
SECOND_SHARE = 0.4
"""How large a heap must be beside the largest one to be one of the drums' too."""
HEAPED_SHARE = 0.3
"""Of what is struck apart from the bass, and of all eighths, this share must lie on sixteenths.

By chance an eighth would.
"""


def clicked_start(reference: TakeReference, take: HeardTake, alignment: Alignment) -> float | None:
    """Return where the reference begins by strokes on its grid, None where they are not on it.

    It is known but for whole eighths (sixteenths, where they are struck), and taken near to where
    the notes lie.
    """
    import numpy

    if len(take.click_secs) < FEWEST_STROKES or abs(alignment.ratio - 1) > 0.01:
        return None
    apart = [
        alignment.predicted_secs[pair.expected] - reference.notes[pair.expected].sec
        for pair in alignment.pairs
    ]
    start, eighth = float(numpy.median(apart)), reference.beat_sec / 2
    clicks = numpy.array(take.click_secs)
    bass = numpy.array([take.notes[pair.heard].sec for pair in alignment.pairs])
    is_apart = numpy.abs(clicks[:, None] - bass[None, :]).min(axis=1) > BESIDE_SEC
    places = _folded(clicks - start, eighth)
    alone = places[is_apart]
    if len(alone) < FEWEST_STROKES:
        return None
    middle = _nearest_heap(places, alone, eighth)
    on_grid = numpy.abs(_folded(alone - middle, eighth / 2)) < SPREAD_SEC
    eighths = (float(bass.max()) - float(bass.min())) / eighth
    if on_grid.sum() < max(FEWEST_STROKES, HEAPED_SHARE * len(alone), HEAPED_SHARE * eighths):
        return None
    of_heap = _folded(alone - middle, eighth / 2)[on_grid]
    place = middle + float(numpy.median(of_heap))
    return start + (place + eighth / 2) % eighth - eighth / 2


def _folded(secs: "Doubles", length_sec: float) -> "Doubles":
    """Return places on a circle of some length, as the distance from 0 to either side."""
    found: Doubles = (secs + length_sec / 2) % length_sec - length_sec / 2
    return found


def _nearest_heap(places: "Doubles", alone: "Doubles", eighth: float) -> float:
    """Return the middle of the heap that is nearest to the bass.

    Heaps are found in what is struck apart from the bass.  Half an eighth from one there may be
    another whose strokes all fall on notes of the bass: of that it is enough that they are there.
    """
    import numpy

    def size(centres: "Doubles", among: "Doubles") -> "Doubles":
        away = _folded(among[None, :] - centres[:, None], eighth)
        found: Doubles = (numpy.abs(away) < SPREAD_SEC).sum(axis=1)
        return found

    sizes = size(alone, alone)
    heaps = alone[sizes >= SECOND_SHARE * sizes.max()]
    across = _folded(heaps + eighth / 2, eighth)
    heaps = numpy.concatenate([heaps, across[size(across, places) >= SECOND_SHARE * sizes.max()]])
    return float(heaps[numpy.abs(heaps).argmin()])
