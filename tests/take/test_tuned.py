"""A take whose every pitch is moved by as much is a take in another tuning, and no other song."""

from functools import cache

import pytest

from groove.take.heard import HeardNote, HeardTake
from groove.take.judgement import TakeReport, judged_take
from groove.take.tuned import in_tune, tuning_semitones
from tests.take.played import even_reference, played, song_reference


@cache
def heard_in_tune() -> tuple[HeardTake, TakeReport]:
    """Return a take with some wrong notes, and its report."""
    reference = song_reference(3)
    take = played(reference, 6, wrong=0.03).take
    return take, judged_take(reference, take)


@pytest.mark.parametrize("apart", [-4.4, -1.0, 2.0])
def test_another_tuning_is_found_and_taken_off(apart: float) -> None:
    reference = song_reference(3)
    take, plain = heard_in_tune()
    moved = tuple(
        HeardNote(sec=note.sec, pitch=note.pitch + apart, pitch_confidence=1.0)
        for note in take.notes
        if note.pitch is not None
    )
    assert len(moved) == len(take.notes)
    assert tuning_semitones(reference.notes, take.notes) == 0
    assert tuning_semitones(reference.notes, moved) == pytest.approx(apart, abs=0.05)
    found = judged_take(reference, type(take)(notes=moved, length_sec=take.length_sec))
    assert found.take.tuning_semitones == pytest.approx(apart, abs=0.05)
    assert (found.missed, found.wrong) == (plain.missed, plain.wrong)
    assert [note.pitch for note in in_tune(moved, apart)] == pytest.approx(
        [note.pitch for note in take.notes]
    )


def test_a_few_pitches_and_an_octave_are_no_tuning() -> None:
    reference = song_reference(3)
    take = played(reference, 6).take
    few = [HeardNote(sec=n.sec, pitch=(n.pitch or 0) + 2, pitch_confidence=1) for n in take.notes]
    assert tuning_semitones(reference.notes, few[:15]) == 0
    assert tuning_semitones(reference.notes, few) == pytest.approx(2, abs=0.05)
    unsure = [HeardNote(sec=n.sec, pitch=n.pitch, pitch_confidence=0.1) for n in few]
    assert tuning_semitones(reference.notes, unsure) == 0


@pytest.mark.parametrize(("moved", "apart"), [(20, 0.0), (32, 2.0)])
def test_another_tuning_fits_clearly_better_or_is_none(moved: int, apart: float) -> None:
    """A part of one pitch, heard 16 times as written: 20 times two half tones higher are no more
    than 1.5 times as many, 32 are.
    """
    expected = even_reference(8).notes
    heard = [
        HeardNote(sec=float(at), pitch=40.0 if at < 16 else 42.0, pitch_confidence=1.0)
        for at in range(16 + moved)
    ]
    assert tuning_semitones(expected, heard) == pytest.approx(apart)


def test_an_octave_is_another_place_of_the_hand_and_no_tuning() -> None:
    """Nobody tunes strings by an octave; seven half tones are the most (common practice)."""
    reference = song_reference(3)
    take = played(reference, 6).take
    low = [HeardNote(sec=n.sec, pitch=(n.pitch or 0) - 12, pitch_confidence=1) for n in take.notes]
    assert tuning_semitones(reference.notes, low) != -12
