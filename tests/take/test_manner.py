"""Lengths and loudness of takes whose every note is drawn; the truth is what was drawn."""

from collections.abc import Callable
from math import log10

import numpy
import pytest
from msgspec.structs import replace

from groove.take.alignment import Alignment
from groove.take.heard import HeardNote
from groove.take.manner import length_figures, loudness_figures
from groove.take.pair_rows import PairRows
from groove.take.reference import ExpectedNote, TakeReference
from tests.take.played import even_reference, known_alignment

Struck = Callable[[int, ExpectedNote], HeardNote]


def taken(
    make: Struck, reference: TakeReference | None = None
) -> tuple[PairRows, list[HeardNote], Alignment]:
    """Return a take of an even line of which each note is made by its number."""
    reference = reference or even_reference(8)
    heard = [make(number, note) for number, note in enumerate(reference.notes)]
    alignment = known_alignment(reference, [note.sec for note in heard])
    return PairRows(reference, heard, alignment), heard, alignment


def test_a_length_is_a_share_of_the_parts() -> None:
    """Six tenths of every note, some more and some less; one that rings on moves it little."""
    rng = numpy.random.default_rng(1)
    shares = 0.6 * numpy.exp(rng.normal(0, 0.1, 64))

    def make(number: int, note: ExpectedNote) -> HeardNote:
        share = 50 if number == 9 else float(shares[number])
        return HeardNote(sec=note.sec, end_sec=note.sec + share * note.length_sec)

    found = length_figures(*taken(make))
    assert found is not None
    assert found.share == pytest.approx(0.6, rel=0.06)
    assert found.interval[0] < 0.6 < found.interval[1]
    assert found.interval[1] / found.interval[0] < 1.3
    assert found.notes == 64
    assert found.part_ms == pytest.approx(150)


def test_lengths_are_counted_at_the_players_own_tempo() -> None:
    """Twice as fast, each note half as long: as long as the part's."""
    rows, heard, alignment = taken(
        lambda number, note: HeardNote(sec=note.sec / 2, end_sec=(note.sec + note.length_sec) / 2)
    )
    found = length_figures(rows, heard, replace(alignment, ratio=2.0))
    assert found is not None
    assert (found.share, found.part_ms) == pytest.approx((1, 75))


def test_ghosts_slurs_and_unknown_ends_have_no_length() -> None:
    reference = even_reference(8)
    notes = tuple(
        replace(note, is_ghost=at % 4 == 1, is_slurred=at % 4 == 2)
        for at, note in enumerate(reference.notes)
    )
    reference = replace(reference, notes=notes)

    def make(number: int, note: ExpectedNote) -> HeardNote:
        plain = not note.is_ghost and not note.is_slurred
        end = note.sec + note.length_sec * (1 if plain else 0.1)
        return HeardNote(sec=note.sec, end_sec=None if number % 8 == 0 else end)

    found = length_figures(*taken(make, reference))
    assert found is not None
    assert found.notes == 64 // 2 - 64 // 8
    assert found.share == pytest.approx(1)
    assert length_figures(*taken(lambda number, note: HeardNote(sec=note.sec))) is None


def test_loudness_has_a_spread_around_accents_and_a_slow_rise() -> None:
    """SD 2 dB around a rise of 8 dB, and the and of two 6 dB softer than in the part."""
    rng = numpy.random.default_rng(2)
    strays = rng.normal(0, 2, 128)
    beside = strays[3::8].mean() - numpy.delete(strays.reshape(16, 8), 3, axis=1).mean()
    reference = even_reference(16)
    accented = tuple(
        replace(note, velocity=120 if note.slot == 0 else 80) for note in reference.notes
    )
    reference = replace(reference, notes=accented)
    accent_db = 40 * log10(120 / 80)

    def make(number: int, note: ExpectedNote) -> HeardNote:
        level = 8 * number / 127 + strays[number] - (6 if note.slot == 6 else 0)
        return HeardNote(sec=note.sec, level_db=level + (accent_db if note.slot == 0 else 0) - 30)

    found = loudness_figures(*taken(make, reference))
    assert found is not None
    assert found.sd_db == pytest.approx(2, rel=0.15)
    assert found.change_db == pytest.approx(8, abs=1.5)
    assert found.change_interval_db[0] < 8 < found.change_interval_db[1]
    assert found.slots[6.0].mean_db == pytest.approx(-6 + beside, abs=0.2)
    assert abs(found.slots[0.0].mean_db) < 3  # as loud beside the rest as in the part
    assert found.slots[6.0].interval_db[1] < -4
    assert (found.notes, found.slots[6.0].notes) == (128, 16)


def test_a_keyboard_of_one_loudness_and_a_few_notes_say_nothing() -> None:
    assert loudness_figures(*taken(lambda number, note: HeardNote(sec=note.sec))) is None
    few = replace(even_reference(1), notes=even_reference(1).notes[:5])
    loud = taken(lambda number, note: HeardNote(sec=note.sec, level_db=float(number)), few)
    assert loudness_figures(*loud) is None
