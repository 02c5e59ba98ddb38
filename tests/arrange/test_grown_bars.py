"""Bars of the feels' answers, choruses, last choruses and figures, worked out by hand.

Four bars of one chord, so that nothing leads away: a step into the next root is the root or the
fifth.  E1 is 28, C2 36; common practice, no source.
"""

from collections.abc import Sequence

import pytest

from groove.events import Note, Part, Touch
from tests.arrange.songs import METERS, chart, play_bass

FORM = "form: verse, chorus, chorus, end"
FIGURES = "form: head, head, head, end"


def struck_in(notes: Sequence[Note], section: str, occurrence: int, bar: int) -> list[int]:
    """Return the pitches that are struck in a bar, ghosts left out."""
    return [
        note.pitch
        for note in notes
        if note.touch is not Touch.GHOST
        and (note.origin.bar.section, note.origin.bar.occurrence) == (section, occurrence)
        and note.origin.bar.bar_in_section == bar
    ]


@pytest.mark.parametrize(
    ("feel", "key", "chord", "place", "pitches"),
    [
        # Answers: the second bar of a verse.
        ("soul", "C", "Am7", ("verse", 1, 2), [33, 33, 40, 45, 40, 36, 33, 36, 40]),
        ("soul", "C", "Gsus4", ("verse", 1, 2), [31, 31, 38, 43, 38, 36, 31, 36, 38]),
        # G G G F G, G G and then fifth and seventh into G1 again.  As the cell has them the F falls
        # a seventh (5.0); D and the F below fall a sixth (0.65 + 4.3); with the root for the fifth,
        # struck a third time, the F below rises by step: 1.9 + 1.2 + 0.65.
        ("sixteenths", "C", "G7", ("verse", 1, 2), [31, 31, 31, 41, 43, 31, 31, 31, 29]),
        # The same into C2: G1 is on the neck, so both lie an octave lower, a fourth down and up by
        # the cell's own third: 0.65 + 0.4 + 0.65, where the B falls a seventh (5.0).
        ("sixteenths", "C", "Cmaj7", ("verse", 1, 2), [36, 36, 36, 47, 48, 36, 36, 31, 35]),
        ("sixteenths", "C", "Bdim7", ("verse", 1, 2), [35, 35, 35, 44, 47, 35, 35, 41, 44]),
        ("octaves", "C", "Dm7", ("verse", 1, 2), [38, 50, 38, 50, 50, 38, 50, 38, 48, 45]),
        ("straight eighths", "E minor", "E5", ("verse", 1, 2), [28] * 5 + [35, 31, 35]),
        ("straight eighths", "A", "E5", ("verse", 1, 2), [28] * 5 + [35, 32, 35]),
        ("half-time", "F", "Csus4", ("verse", 1, 2), [36, 36, 43, 41, 43]),
        ("one drop", "G minor", "Gm", ("verse", 1, 1), [31, 31, 31, 38, 34]),
        ("one drop", "G minor", "Gm", ("verse", 1, 2), [31, 31, 29, 31]),
        # A half step into the next root, which is the same, is that root: C, G below, C.
        ("two-beat", "F", "C7", ("verse", 1, 2), [36, 31, 36]),
        ("bossa", "Bb", "Cm7", ("verse", 1, 2), [36, 43, 43, 36]),
        ("tumbao", "C", "Am7", ("verse", 1, 2), [36, 33]),
        # The step that fits best leads nowhere and is the fifth, as the stroke before it.
        ("five-four", "C", "Dm7", ("verse", 1, 2), [38, 38, 45, 50, 45, 45]),
        ("broken sixteenths", "C", "Am7", ("verse", 1, 2), [33, 33, 40, 33, 40, 45, 40, 36]),
        ("ska", "C", "C", ("verse", 1, 1), [36, 40, 43, 43, 40]),
        ("ska", "C", "Gsus4", ("verse", 1, 1), [31, 36, 38, 38, 36]),
        ("ska", "D", "A/C#", ("verse", 1, 1), [37, 37, 40, 40, 37]),
        ("ska", "F", "C7", ("verse", 1, 2), [36, 40, 43, 45, 43]),
        ("samba", "C", "Am7", ("verse", 1, 1), [33, 33, 28, 33]),
        # Its fifth below would be under the lowest string.
        ("samba", "D", "Em7b5", ("verse", 1, 1), [28, 28, 34, 28]),
        ("bolero", "C", "Dm7", ("verse", 1, 1), [38, 45, 50]),
        ("cha-cha", "C", "Cmaj7", ("verse", 1, 2), [36, 43, 40, 43]),
        ("gospel twelve-eight", "C", "F", ("verse", 1, 1), [29, 29, 33, 36, 38, 36]),
        ("gospel twelve-eight", "C", "Am", ("verse", 1, 1), [33, 33, 36, 40, 43, 40]),
        ("one-chord funk", "E minor", "Em7", ("verse", 1, 1), [28, 40, 38, 40, 28]),
        ("one-chord funk", "C", "Cmaj7", ("verse", 1, 1), [36, 48, 47, 48, 36]),
        ("one-chord funk", "C", "C", ("verse", 1, 1), [36, 48, 45, 48, 36]),
        ("half-time shuffle", "A minor", "Am7", ("verse", 1, 1), [33, 33, 40, 43, 45]),
        ("second line", "F", "C7", ("verse", 1, 1), [36, 36, 43, 45, 43]),
        ("second line", "C", "Bdim7", ("verse", 1, 1), [35, 35, 41, 44, 41]),
        ("laid-back sixteenths", "C", "Fmaj7", ("verse", 1, 1), [29, 29, 36, 40, 41]),
        ("swing in two", "Bb", "Gm7", ("verse", 1, 2), [31, 34, 38]),
        # Choruses.
        ("driving eighths", "E minor", "E5", ("chorus", 1, 1), [*[28] * 4, 40, 40, 28, 28]),
        ("second line", "C", "G7", ("chorus", 1, 1), [31, 31, 43, 40, 38, 35]),
        ("cha-cha", "C", "Am7", ("chorus", 1, 1), [33, 36, 40, 45, 40]),
        ("soul", "A", "A/C#", ("chorus", 1, 1), [37, 49, 40, 49, 37, 40, 49]),
        ("sixteenths", "D", "A7", ("chorus", 1, 1), [33, 33, 33, 40, 45, 33, 33, 40, 43, 45]),
        ("octaves", "C", "F", ("chorus", 1, 2), [29, 41, 41, 29, 41, 29, 41, 38, 36, 41]),
        ("waltz", "C", "C", ("chorus", 1, 2), [48, 43]),
        ("ballad", "C", "Fmaj7", ("chorus", 1, 2), [29, 36, 33, 29, 36]),
        ("six-eight", "G", "G", ("chorus", 1, 1), [31, 35, 38, 35]),
        ("seven-eight", "G", "Em", ("chorus", 1, 1), [28, 28, 35, 40]),
        ("one drop", "C", "F", ("chorus", 1, 2), [29, 41, 38, 36, 33]),
        ("tumbao", "C", "G7", ("chorus", 1, 1), [43, 38, 31]),
        # Last choruses.
        ("gospel twelve-eight", "C", "C", ("chorus", 2, 1), [36, 36, 40, 43, 48, 45, 43, 40]),
        ("swing in two", "Bb", "Gm7", ("chorus", 2, 1), [31, 34, 38, 41, 38]),
        ("straight eighths", "D", "D", ("chorus", 2, 1), [38, 38, 50, 38, 38, 50, 38, 38]),
        ("two-beat", "F", "C7", ("chorus", 2, 1), [36, 43, 40, 43]),
        ("half-time", "B", "Bm", ("chorus", 2, 1), [35, 47, 35, 42, 47, 42]),
        ("waltz", "C", "Am7", ("chorus", 2, 1), [33, 40, 45]),
        # Figures of the blues: a new one each time.
        ("shuffle", "A", "A7", ("head", 1, 1), [33, 33, 37, 37, 40, 40, 42, 42]),
        ("shuffle", "A", "A7", ("head", 2, 1), [33, 33, 40, 40, 42, 42, 40, 33]),
        ("shuffle", "A", "A7", ("head", 2, 2), [33, 33, 40, 40, 43, 42, 40, 33]),
        ("shuffle", "A", "A7", ("head", 3, 1), [33, 37, 40, 42, 45, 42, 40, 37]),
        ("shuffle", "A minor", "Am7", ("head", 3, 1), [33, 36, 40, 43, 45, 43, 40, 36]),
        ("slow twelve-eight", "F", "F7", ("head", 1, 2), [29, 33, 36, 38, 36, 33]),
        ("slow twelve-eight", "F", "F7", ("head", 2, 1), [29, 33, 36, 36, 33, 29, 29]),
        ("slow twelve-eight", "F", "F7", ("head", 3, 1), [29, 29, 36, 36, 38, 38, 36, 33]),
    ],
)
def test_a_bar_worked_out_by_hand(
    feel: str, key: str, chord: str, place: tuple[str, int, int], pitches: list[int]
) -> None:
    form = FIGURES if place[0] == "head" else FORM
    sections = dict.fromkeys(["head"] if place[0] == "head" else ["verse", "chorus"], [chord] * 4)
    head = f"meter: {METERS[feel]}\n{form}"
    text = chart({**sections, "end": [chord]}, feel=feel, head=head)
    song = play_bass(text.replace("key: D", f"key: {key}"))
    assert struck_in(song.part_notes(Part.BASS), *place) == pitches


def test_a_turnaround_stands_in_the_last_two_bars_of_a_blues() -> None:
    """A7 D7 | A7 E7 and round again: each of the four chords has its root, and steps lead on.

    By hand: A A C# C#, D D and down to A; A A E A, E E and up to A again (from C# to E would be a
    leap of more than a fifth: the root stands for it).
    """
    bars = ["A7", "D7", "A7", "A7", "D7", "D7", "A7", "A7", "E7", "D7", "A7 D7", "A7 E7"]
    text = chart({"head": bars, "end": ["A7"]}, feel="shuffle", head="form: head, head, end")
    notes = play_bass(text.replace("key: D", "key: A")).part_notes(Part.BASS)
    eleventh, twelfth = (struck_in(notes, "head", 1, bar) for bar in (11, 12))
    assert eleventh[:6] == [33, 33, 37, 37, 38, 38]
    assert twelfth[:6] == [33, 33, 40, 33, 28, 28]
    for bar, goal in ((eleventh, 33), (twelfth, 33)):
        first, second = bar[6:]
        assert abs(first - goal) > abs(second - goal) and abs(second - goal) <= 2
