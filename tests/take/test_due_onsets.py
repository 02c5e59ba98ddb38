"""Weak onsets where notes are due: believed where they are rare, of their pitch, and never made."""

from collections.abc import Sequence

from msgspec.structs import replace

from groove.take.due_onsets import with_due
from groove.take.heard import HeardNote
from groove.take.pairing import Pair
from groove.take.reference import TakeReference
from tests.take.played import even_reference, heard_at, known_alignment

REFERENCE = even_reference(8)
GONE = {9, 20, 33, 50}
SECS = [1 + note.sec for note in REFERENCE.notes]


def found_with(weak: Sequence[HeardNote], reference: TakeReference = REFERENCE) -> list[float]:
    """Return which weak onsets are believed in a take of which four notes were not heard."""
    heard = heard_at([sec for at, sec in enumerate(SECS) if at not in GONE])
    kept = [at for at in range(len(SECS)) if at not in GONE]
    alignment = replace(
        known_alignment(reference, SECS),
        pairs=tuple(Pair(at, number) for number, at in enumerate(kept)),
    )
    after = with_due(heard, sorted(weak, key=lambda note: note.sec), reference, alignment)
    assert [note for note in after if note in heard] == list(heard)
    return [note.sec for note in after if note not in heard]


def weak(sec: float, strength: float = 0.1, pitch: float | None = None) -> HeardNote:
    sure = 0.0 if pitch is None else 0.9
    return HeardNote(sec=sec, strength=strength, pitch=pitch, pitch_confidence=sure)


def test_a_weak_onset_stands_for_a_note_that_is_due() -> None:
    assert found_with([weak(SECS[9] + 0.02)]) == [SECS[9] + 0.02]
    assert found_with([]) == []


def test_the_strongest_near_is_taken_and_one_alone() -> None:
    near = [weak(SECS[20] - 0.03, 0.1), weak(SECS[20] + 0.01, 0.2), weak(SECS[20] + 0.04, 0.15)]
    assert found_with(near) == [SECS[20] + 0.01]


def test_what_lies_far_from_its_place_or_by_a_note_is_none() -> None:
    assert found_with([weak(SECS[9] + 0.06), weak(SECS[8] + 0.01)]) == []


def test_what_was_heard_already_is_not_heard_twice() -> None:
    """An onset 4 ms from one that is believed is the same stroke, though no note's."""
    heard = heard_at(sorted([*(sec for at, sec in enumerate(SECS) if at != 9), SECS[9] + 0.044]))
    places = [note.sec for note in heard]
    alignment = replace(
        known_alignment(REFERENCE, SECS),
        pairs=tuple(Pair(at, places.index(sec)) for at, sec in enumerate(SECS) if at != 9),
    )
    assert with_due(heard, [weak(SECS[9] + 0.04)], REFERENCE, alignment) == heard
    assert len(with_due(heard, [weak(SECS[9])], REFERENCE, alignment)) == len(heard) + 1


def test_the_last_note_is_listened_for_too() -> None:
    """A beat and less after the last note that was heard, one more is due."""
    heard, last = heard_at(SECS[:-1]), len(SECS) - 1
    alignment = replace(
        known_alignment(REFERENCE, SECS),
        pairs=tuple(Pair(at, at) for at in range(last)),
        last=last - 1,
    )
    after = with_due(heard, [weak(SECS[last])], REFERENCE, alignment)
    assert [note.sec for note in after] == SECS


def test_another_pitch_rings_on_and_is_no_note() -> None:
    """The line is all of pitch 40."""
    assert found_with([weak(SECS[9], pitch=43.0)]) == []
    assert found_with([weak(SECS[9], pitch=40.2)]) == [SECS[9]]


def test_what_is_far_softer_is_no_plain_note() -> None:
    soft = replace(weak(SECS[9]), is_ghost=True)
    assert found_with([soft]) == []


def test_where_something_stirs_everywhere_only_the_stronger_count() -> None:
    """In all that lies between notes something as weak is heard: by chance it is at these too."""
    idle = [weak(sec + 0.075, 0.12) for sec in SECS]
    assert found_with([*idle, weak(SECS[9], 0.1), weak(SECS[33], 0.2)]) == [SECS[33]]


def test_no_note_sounds_into_one_that_was_found_later() -> None:
    heard = tuple(
        replace(note, end_sec=note.sec + 0.6) if at == 0 else note
        for at, note in enumerate(heard_at([sec for at, sec in enumerate(SECS) if at != 1]))
    )
    alignment = replace(
        known_alignment(REFERENCE, SECS),
        pairs=tuple(Pair(at if at == 0 else at + 1, at) for at in range(len(heard))),
    )
    after = with_due(heard, [weak(SECS[1])], REFERENCE, alignment)
    assert after[0].end_sec == after[1].sec == SECS[1]


def test_a_ghost_may_have_any_pitch() -> None:
    """Beside a muted string the hum of the mains is heard: 50 Hz lies between 31 and 32."""
    reference = replace(
        REFERENCE,
        notes=tuple(replace(note, is_ghost=at in GONE) for at, note in enumerate(REFERENCE.notes)),
    )
    soft = replace(weak(SECS[9], pitch=31.35), is_ghost=True)
    assert found_with([soft], reference) == [SECS[9]]


def test_the_end_of_a_note_is_no_stroke_of_a_plain_one() -> None:
    """Far softer than its neighbours and not clear; a ghost or a slur may be so."""

    def kept(strength: float, *, is_ghost: bool = False, is_slurred: bool = False) -> bool:
        notes = list(REFERENCE.notes)
        notes[9] = replace(notes[9], is_ghost=is_ghost, is_slurred=is_slurred)
        heard = list(heard_at(SECS))
        heard[9] = replace(heard[9], strength=strength, is_ghost=True)
        reference = replace(REFERENCE, notes=tuple(notes))
        after = with_due(heard, [], reference, known_alignment(reference, SECS))
        assert len(after) >= len(SECS) - 1
        return heard[9] in after

    assert not kept(0.6)
    assert kept(0.95)
    assert kept(0.6, is_ghost=True) and kept(0.6, is_slurred=True)
