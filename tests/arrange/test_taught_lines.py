"""What a teacher would mark in a line: a lift that is lost, a root too early, a slash chord.

Every line is counted by hand; the rules are common practice, no source.  MIDI numbers: D2 is 38.
"""

import pytest

from groove.events import Note
from tests.arrange.songs import chart, play_bass, struck

D, DS, E = 2, 3, 4
"""Pitch classes."""


def line_of(
    sections: dict[str, list[str]], feel: str, key: str = "D", head: str = ""
) -> list[Note]:
    """Return the strokes of a song in a key."""
    text = chart(sections, feel=feel, head=head)
    return struck(play_bass(text.replace("key: D", f"key: {key}")))


def bar(line: list[Note], number: int) -> list[int]:
    """Return the pitches of a played bar."""
    return [note.pitch for note in line if note.origin.bar.played_bar == number]


@pytest.mark.parametrize("feel", ["bolero", "cha-cha"])
def test_a_chorus_keeps_its_octave_where_a_sixth_leads_on(feel: str) -> None:
    """D, A, the upper D, A, and C# a sixth below it: on the neighbouring string."""
    line = line_of({"chorus": ["D", "A/C#", "Bm7", "A"], "end": ["D", "D"]}, feel)
    assert 50 in bar(line, 1)
    assert bar(line, 1)[-1] == 45
    assert bar(line, 2)[0] == 37


def test_the_octave_comes_down_where_a_seventh_would_lead_on() -> None:
    """From the A over D to B1 it is ten half steps."""
    line = line_of({"chorus": ["D", "Bm7", "G", "A"], "end": ["D", "D"]}, "bolero")
    assert 50 not in bar(line, 1)


@pytest.mark.parametrize("feel", ["sixteenths", "one-chord funk"])
def test_a_short_degree_is_not_the_next_root_before_its_time(feel: str) -> None:
    """The seventh of Em7 is D: before D minor the second bar ends on a step to it."""
    line = line_of({"verse": ["Em7", "Em7", "Dm7", "Dm7"], "end": ["C", "C"]}, feel, key="C")
    last = bar(line, 2)[-1]
    assert last % 12 != D
    assert 1 <= abs(last - bar(line, 3)[0]) <= 2


def test_over_its_third_a_chord_is_no_row_of_roots() -> None:
    """C# E C# E in the two-beat's last chorus: of its own tones only E is no slash note."""
    section = ["A/C#", "A/C#", "D", "D"]
    line = line_of({"chorus": section}, "two-beat", key="A", head="form: chorus x2")
    assert [pitch % 12 for pitch in bar(line, 5)] == [1, E, 1, E]


def test_over_a_seventh_in_the_bass_the_fifth_lies_below() -> None:
    """Em7/D: B1 a third below D2, not B2 a sixth above it."""
    line = line_of({"verse": ["Em7/D", "C", "G", "D"], "end": ["D", "D"]}, "ballad", key="G")
    assert bar(line, 1) == [38, 35, 38]


def test_a_fifth_below_is_no_sixth_below() -> None:
    """A/C# in two: C#2 and the E above it, for low E lies nine half steps below."""
    line = line_of({"verse": ["D", "A/C#", "Bm7", "A"], "end": ["D", "D"]}, "two-beat")
    assert bar(line, 2)[:2] == [37, 40]


def test_a_seventh_does_not_fall_to_its_root() -> None:
    """Bm7 held: F#1 and A1 lead up to B1, where A2 would fall ten half steps to it."""
    line = line_of({"verse": ["Bm7", "Bm7", "Bm7", "Bm7"], "end": ["D", "D"]}, "sixteenths")
    assert bar(line, 2)[-2:] == [30, 33]


@pytest.mark.parametrize("feel", ["straight eighths", "driving eighths"])
def test_no_half_step_outside_follows_the_one_on_the_other_side(feel: str) -> None:
    """F#m7 to D: not C#, D#, D."""
    line = line_of({"chorus": ["A", "F#m7", "D", "F#m7"], "end": ["D", "D"]}, feel)
    for number in (2, 4):
        assert bar(line, number)[-1] % 12 != DS


def test_a_fourth_chorus_of_a_jazz_waltz_is_no_third() -> None:
    """Two strokes a bar beside the root have few ways; still most bars go another one."""
    bars = ["Fmaj7", "Dm7", "Gm7", "C7", "Am7", "D7b9", "Gm7", "C7sus4"]
    bars += ["F7", "Bbmaj7", "Bdim7", "F/C", "Gm7b5", "C7b9", "F6", "C7"]
    head = "meter: 3/4\nform: head x4, end"
    line = line_of({"head": bars, "end": ["F", "F"]}, "jazz waltz", key="F", head=head)
    choruses = [[bar(line, 16 * chorus + i) for i in range(1, 16)] for chorus in (2, 3)]
    alike = sum(third == fourth for third, fourth in zip(*choruses, strict=True))
    assert alike <= 4
