"""The grid of a line of one's own, against slots worked out by hand at 60 beats a minute."""

import pytest
from msgspec.structs import replace

from groove.take.reference import ExpectedBar, ExpectedNote, TakeReference, grid_reference
from groove.timing import Meter

C7, F7 = (0, 4, 7, 10), (5, 0, 3, 9)


def part(slots: tuple[float, ...], *, share: float = 0.0) -> TakeReference:
    """Return a bar of 4/4 at 60 with a C chord and an F chord on three, and notes on some slots.

    With a share the second eighth of every beat comes so late in it, as a share of the beat.
    """
    notes = tuple(
        ExpectedNote(
            sec=int(slot / 4) + share if share and slot % 4 == 2 else slot / 4,
            length_sec=0.2,
            pitches=(36,),
            bar=0,
            beat=1 + slot / 4,
            slot=slot,
            is_swung=bool(share) and slot % 4 == 2,
        )
        for slot in slots
    )
    bar = ExpectedBar(
        number=1,
        section="verse",
        time=1,
        start_sec=0.0,
        end_sec=4.0,
        meter=Meter(4, 4),
        swing_pair_sec=1.0 if share else 0.0,
        chord_pitch_classes=((0.0, C7), (2.0, F7)),
    )
    return TakeReference(title="", notes=notes, bars=(bar,), tempo_bpm=60.0, beat_sec=1.0)


def test_an_even_grid_has_sixteen_even_sixteenths() -> None:
    grid = grid_reference(part((0, 2, 4, 6)))
    assert [note.sec for note in grid.notes] == [slot / 4 for slot in range(16)]
    assert not any(note.is_swung for note in grid.notes)
    assert not grid.is_line


def test_a_swung_grid_has_its_offbeats_where_the_part_has_them() -> None:
    """At two to one the second eighth of a beat of a second comes after two thirds of it."""
    grid = grid_reference(part((0, 2, 4, 6, 8, 10), share=2 / 3))
    offbeats = [note for note in grid.notes if note.slot % 4 == 2]
    assert [note.sec for note in offbeats] == pytest.approx([n + 2 / 3 for n in range(4)], abs=1e-3)
    assert [note.is_swung for note in grid.notes] == [slot % 4 == 2 for slot in range(16)]
    beats = [note.sec for note in grid.notes if note.slot % 4 == 0]
    assert beats == pytest.approx([0, 1, 2, 3])
    secs = [note.sec for note in grid.notes]
    assert secs == sorted(secs)


def test_a_part_with_triplets_has_them_in_its_grid() -> None:
    """Twelve triplets and sixteen sixteenths a bar, of which four are the same: 24 slots."""
    grid = grid_reference(part((0, 1.33, 2.67, 4)))
    assert len(grid.notes) == 24
    places = [round(note.sec, 2) for note in grid.notes if note.sec < 1]
    assert places == [0, 0.25, 0.33, 0.5, 0.67, 0.75]
    assert len(grid_reference(part((0, 1, 4))).notes) == 16


def test_a_slot_has_its_chords_pitches_and_a_new_chord_its_bass_note() -> None:
    grid = grid_reference(part((0, 2)))
    tones = [{pitch % 12 for pitch in note.pitches} for note in grid.notes]
    assert tones[0] == {0} and tones[8] == {5}
    assert tones[1] == set(C7) == tones[7]
    assert tones[9] == set(F7) == tones[15]


def test_where_a_chord_comes_in_a_note_is_the_likeliest() -> None:
    """Then on beats, then on eighths, then between (common practice, no source)."""
    grid = grid_reference(part((0, 2)))
    chord, beat, eighth, sixteenth = (grid.notes[slot].weight for slot in (8, 4, 2, 1))
    assert 1 == chord > beat > eighth > sixteenth > 0
    assert grid.notes[0].weight == chord


def test_a_bar_without_a_chord_takes_any_pitch() -> None:
    reference = part((0, 2))
    bare = replace(reference, bars=(replace(reference.bars[0], chord_pitch_classes=()),))
    assert {note.pitches for note in grid_reference(bare).notes} == {()}
