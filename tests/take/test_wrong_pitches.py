"""What was heard where something else is written: a line whose wrong notes are known."""

import numpy
import pytest
from msgspec.structs import replace

from groove.take.heard import HeardTake
from groove.take.judgement import TakeReport, judged_take
from groove.take.plot import _figure
from groove.take.report import report_text
from groove.take.report_data import report_data
from groove.take.wrong_pitches import wrong_data, wrong_words
from groove.theory.keys import parse_key
from tests.take.played import SLOTS, even_reference, heard_at

A1, AS1, C2, E2, F2 = 33, 34, 36, 40, 41
IN_A_BAR = len(SLOTS)
ROOT_AND_THIRD = (A1, C2) * (IN_A_BAR // 2)


def judged(heard: dict[int, int], key: str = "F", passes: int = 1) -> TakeReport:
    """Return four bars of A and C by turns, of A minor's chord, some of them heard otherwise.

    ``heard`` has pitches by the index of the note.
    """
    plain = even_reference(4)
    chord = ((0.0, (9, 0, 4)),)
    bars = [
        replace(bar, key=parse_key(key), chord_pitch_classes=chord, time=1 + at // (4 // passes))
        for at, bar in enumerate(plain.bars)
    ]
    bars = [replace(bar, number=1 + at % (4 // passes)) for at, bar in enumerate(bars)]
    pitches = ROOT_AND_THIRD * 4
    notes = [replace(n, pitches=(p,)) for n, p in zip(plain.notes, pitches, strict=True)]
    reference = replace(plain, bars=tuple(bars), notes=tuple(notes))
    sounded = tuple(
        replace(note, pitch=float(heard.get(at, pitches[at])), pitch_confidence=1.0)
        for at, note in enumerate(heard_at([1 + note.sec for note in plain.notes]))
    )
    return judged_take(reference, HeardTake(notes=sounded, length_sec=12))


@pytest.mark.parametrize(
    ("heard", "words"),
    [
        ({}, []),
        ({8: AS1}, ["bar 2, beat 1: B♭ where A stands"]),
        ({8: AS1, 10: AS1, 11: F2}, ["bar 2: B♭ where A stands, 2 notes", "bar 2, beat 2.5: F"]),
        ({8: A1 + 12, 10: A1 + 12}, ["bar 2: A in another octave where A stands, 2 notes"]),
    ],
)
def test_what_was_heard_is_told_by_bars(heard: dict[int, int], words: list[str]) -> None:
    found = wrong_words(judged(heard))
    assert len(found) == len(words)
    assert [a[: len(b)] for a, b in zip(found, words, strict=True)] == words


def test_notes_have_the_names_of_their_key() -> None:
    """B flat in F major, A sharp in B minor (its leading note)."""
    assert wrong_words(judged({8: AS1}, "B minor")) == ["bar 2, beat 1: A♯ where A stands"]


def test_each_time_is_told_from_one_time() -> None:
    each = {0: AS1, 2: AS1, 16: AS1}
    assert wrong_words(judged(each, passes=2)) == ["bar 1, each time: B♭ where A stands, 3 notes"]
    second = {16: AS1, 18: AS1}
    assert wrong_words(judged(second, passes=2)) == [
        "bar 1, second time: B♭ where A stands, 2 notes"
    ]


def test_a_bar_on_another_root_is_told_where_all_of_it_is() -> None:
    """A and C a half tone up are B flat and D flat; with one note of the part's own it is not."""
    moved = {8 + at: pitch + 1 for at, pitch in enumerate(ROOT_AND_THIRD)}
    words = "bar 2: every note 1 half tone higher, as on B♭ in place of A"
    assert wrong_words(judged(moved)) == [words]
    del moved[8]
    assert wrong_words(judged(moved)) == [
        "bar 2: D♭ where C stands, 4 notes",
        "bar 2: B♭ where A stands, 3 notes",
    ]


def test_headline_data_and_picture_have_them() -> None:
    report = judged({8: AS1, 11: F2})
    text = report_text(report)
    assert "32 of 32 notes heard, 2 of them at another pitch." in " ".join(text.split())
    assert "  2 notes heard at another pitch\n  bar 2, beat 1: B♭ where A stands\n" in text
    first, second = wrong_data(report)
    assert report_data(report)["wrong_pitches"] == [first, second]
    assert first == {
        "expected": 8,
        "bar": 2,
        "time": 1,
        "beat": 1.0,
        "written_pitch": A1,
        "heard_pitch": AS1,
        "pitch_confidence": 1.0,
    }
    assert (second["written_pitch"], second["heard_pitch"]) == (C2, F2)
    crosses = [line for line in _figure(report).axes[0].lines if line.get_marker() == "x"]
    assert [numpy.asarray(line.get_xdata()).tolist() for line in crosses] == [[1.0, 1.375]]
    assert all(line.get_marker() != "x" for line in _figure(judged({})).axes[0].lines)
