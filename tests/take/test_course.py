"""What spreads and means are taken from, by arithmetic with few values."""

import numpy
import pytest
from msgspec.structs import replace

from groove.take.course import local_sd_sec
from groove.take.pair_rows import PairRows
from groove.take.reference import TakeReference
from tests.take.played import even_reference, heard_at, known_alignment


def one_slot(notes: int) -> TakeReference:
    """Return as many notes that all stand at one place of their bars."""
    even = even_reference(8)
    return replace(even, notes=tuple(replace(note, slot=0.0) for note in even.notes[:notes]))


def columns(reference: TakeReference) -> PairRows:
    onsets = [1 + note.sec for note in reference.notes]
    return PairRows(reference, heard_at(onsets), known_alignment(reference, onsets))


def test_local_lines_and_the_mean_take_their_freedom() -> None:
    """64 notes, each 10 ms early or late in turn: two lines of 32 take four degrees, the mean one.

    64 times 100 over 59, and its root.
    """
    rows = columns(one_slot(64))
    away = numpy.array([0.010, -0.010] * 32)
    assert set(away.tolist()) == {0.010, -0.010}
    found = local_sd_sec(rows, away)
    assert found == pytest.approx(0.010 * (64 / 59) ** 0.5, rel=1e-9)


def test_a_few_notes_have_no_local_spread() -> None:
    """Seven notes have 7 x 15 / 16 - 1 = 5.6 degrees, eight 6.5: it takes six."""
    for notes, has_spread in ((7, False), (8, True)):
        rows = columns(one_slot(notes))
        away = numpy.array([0.010, -0.010] * 4)[:notes]
        assert (local_sd_sec(rows, away) is not None) is has_spread


def test_a_slot_of_three_notes_has_a_mean_of_its_own() -> None:
    """Of five notes on the beat, three on the second and two on the third one: the second has."""
    slots = (0.0, 4.0, 0.0, 4.0, 8.0, 0.0, 0.0, 4.0, 8.0, 0.0)
    even = one_slot(10)
    notes = tuple(replace(n, slot=slot) for n, slot in zip(even.notes, slots, strict=True))
    found = columns(replace(even, notes=notes)).slot_columns()
    assert found.T.tolist() == [[float(slot == 4) for slot in slots]]
