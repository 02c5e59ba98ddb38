"""The pairs of a take as columns: when each note was due, when it came, and where it stands."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from groove.take.alignment import Alignment
from groove.take.heard import HeardNote
from groove.take.reference import TakeReference

if TYPE_CHECKING:
    from groove.arrays import Doubles, Flags

SLOT_NOTES = 3
"""A slot with fewer notes has no mean of its own."""


class PairRows:
    """The pairs of a take as columns."""

    def __init__(
        self, reference: TakeReference, heard: Sequence[HeardNote], alignment: Alignment
    ) -> None:
        """Take the pairs of an alignment; at least one."""
        import numpy

        self.notes = [reference.notes[pair.expected] for pair in alignment.pairs]
        self.due = numpy.array([note.sec for note in self.notes])
        self.onset = numpy.array([heard[pair.heard].sec for pair in alignment.pairs])
        self.error = numpy.array([heard[pair.heard].error_sec for pair in alignment.pairs])
        self.piece = numpy.array([alignment.pieces[pair.expected] for pair in alignment.pairs])
        self.slot = numpy.array([note.slot for note in self.notes])
        self.bar = numpy.array([note.bar for note in self.notes])
        self.bar_numbers = [reference.bars[note.bar].number for note in self.notes]
        self.is_timed = numpy.array([note.is_timed for note in self.notes])
        if self.is_timed.sum() < 8:
            self.is_timed[:] = True
        self.moving = numpy.array([alignment.predicted_secs[p.expected] for p in alignment.pairs])

    def slot_columns(self, used: "Flags | None" = None) -> "Doubles":
        """Return a column for each slot but the commonest that has notes enough, around 0.

        ``used`` are the notes that are counted, those in time where None.
        """
        import numpy

        counted = self.slot[self.is_timed if used is None else used]
        names, counts = numpy.unique(counted, return_counts=True)
        common = names[counts.argmax()] if len(names) else 0.0
        own = [
            name
            for name, count in zip(names, counts, strict=True)
            if count >= SLOT_NOTES and name != common
        ]
        return (
            numpy.array([(self.slot == name).astype(float) for name in own])
            .reshape(len(own), len(self.slot))
            .T
        )

    def piece_columns(self) -> "Doubles":
        """Return a column for each piece after the first."""
        import numpy

        names = sorted(set(self.piece.tolist()))[1:]
        return (
            numpy.array([(self.piece == name).astype(float) for name in names])
            .reshape(len(names), len(self.piece))
            .T
        )
