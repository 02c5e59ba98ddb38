"""How a line departs from its chords' notes and aims at the next root: by step, or by a run."""

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import pairwise

from msgspec import Struct

from groove.study.note_kinds import PlacedNote

LEAST_RUN = 3
"""So many notes that go by step, before the root that they lead to, are a run."""
WIDEST_STEP = 2
"""The widest step of a run in semitones; both are common practice, no source."""


class Approach(Struct, frozen=True, kw_only=True):
    """A note that leads by step to the next chord's root.

    Its bar and beat (from 1), how many semitones above that root it lies (negative: below), and
    the symbol of that chord.
    """

    bar: int
    beat: Fraction
    semitones: int
    to: str


class Run(Struct, frozen=True, kw_only=True):
    """Notes that go by step in one direction into the root of a new chord.

    Where the first one stands (bar, beat from 1), how many they are, whether they rise, and the
    symbol of that chord.
    """

    bar: int
    beat: Fraction
    notes: int
    rises: bool
    to: str


def line_approaches(notes: Sequence[PlacedNote]) -> Iterator[Approach]:
    """Yield each note that leads by step to the root of the next chord."""
    for note, goal in pairwise(notes):
        if note.leads is not None and goal.chord:
            yield Approach(
                bar=note.bar.frame.number,
                beat=note.beat,
                semitones=note.leads,
                to=goal.chord.symbol,
            )


def line_runs(notes: Sequence[PlacedNote]) -> Iterator[Run]:
    """Yield each run into the root of a new chord."""
    plain = [note for note in notes if note.kind]
    for index, goal in enumerate(plain):
        before = plain[index - 1] if index else None
        if before is None or before.leads is None or goal.chord is None:
            continue
        first = index - 1
        while first and _goes_on(plain[first - 1], plain[first], before.leads):
            first -= 1
        if index - first >= LEAST_RUN:
            start = plain[first]
            yield Run(
                bar=start.bar.frame.number,
                beat=start.beat,
                notes=index - first,
                rises=before.leads < 0,
                to=goal.chord.symbol,
            )


def _goes_on(note: PlacedNote, after: PlacedNote, leads: int) -> bool:
    """Return whether two notes go by step as a run that leads so does, within a beat."""
    step = note.note.pitch - after.note.pitch
    time = after.start_quarters - note.start_quarters
    same_way = step * leads > 0
    return same_way and abs(step) <= WIDEST_STEP and time <= note.bar.frame.meter.beat_quarters
