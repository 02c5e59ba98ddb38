"""How a line's notes are played: how long they are held, how loud they are."""

from collections import Counter
from collections.abc import Mapping, Sequence
from fractions import Fraction
from itertools import pairwise
from statistics import median

from msgspec import Struct

from groove.study.line_cells import nearest_level
from groove.study.note_kinds import PlacedNote
from groove.study.studied_line import SoundedNote

HELD_FROM, SHORT_BELOW = Fraction(7, 10), Fraction(1, 2)
"""From which share of its time on a note is held, and below which it is short.

Its time is that to the next note, of a beat at the most; as notes are held for a slot of which
they fill so much (``HOLD_SHARE``), common practice, no source.
"""


class Lengths(Struct, frozen=True, kw_only=True):
    """Which share of a line's plain notes is held, and which is short: 0 to 1 each."""

    held: float
    short: float


def note_lengths(
    notes: Sequence[SoundedNote], ghosts: Sequence[bool], beat_quarters: Fraction
) -> Lengths | None:
    """Return how long the plain notes of a line are held, None where there is nothing to tell."""
    shares = []
    for (note, is_ghost), (after, _) in pairwise(zip(notes, ghosts, strict=True)):
        time = min(after.start_quarters - note.start_quarters, beat_quarters)
        if not is_ghost and time > 0:
            shares.append((note.end_quarters - note.start_quarters) / time)
    if not shares:
        return None
    return Lengths(
        held=sum(share >= HELD_FROM for share in shares) / len(shares),
        short=sum(share < SHORT_BELOW for share in shares) / len(shares),
    )


def level_shares(notes: Sequence[PlacedNote]) -> Mapping[int, float]:
    """Return which share of the plain notes has each level, 1 to 9, that one has."""
    levels = Counter(nearest_level(each.note.velocity) for each in notes if each.kind)
    total = sum(levels.values())
    return {level: levels[level] / total for level in sorted(levels)}


def quarters_a_minute(notes: Sequence[SoundedNote]) -> Fraction:
    """Return the tempo that notes are played at, in the middle; 100 where there are none."""
    lasting = [n for n in notes if n.length_sec > 0 and n.end_quarters > n.start_quarters]
    if not lasting:
        return Fraction(100)
    found = median(float(n.end_quarters - n.start_quarters) / n.length_sec for n in lasting)
    return Fraction(round(found * 60))
