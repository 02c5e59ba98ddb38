"""Where a gigging player would put a twelve-bar chart, read off the fingered band part.

Common practice, no source: an approach lies on the string of the note it leads to, a chain of
roots that one position holds stays there, a bar that comes again is played where it was.
"""

from collections import defaultdict
from functools import cache
from itertools import pairwise
from typing import Any

import pytest

from groove.errors import NeckError
from groove.events import Note, Role, Touch
from groove.neck.fingering import FingeredLine, finger_performance
from groove.neck.options import NeckOptions
from tests.arrange.songs import play_bass
from tests.neck.neck_lines import spot

BLUES = """title: Back Step
tempo: 112
key: A
feel: {feel}
vary: none
form: all x2

all:
| A7 | D7 | A7 | A7 | D7 | D7 | A7 | F#7 | Bm7 | E7 | A7 F#7 | Bm7 E7 |
"""
FEELS = (
    "ballad", "octaves", "sixteenths", "shuffle", "half-time", "soul", "one drop", "two-beat",
    "straight eighths", "broken sixteenths", "five-four", "tumbao", "walking", "bossa",
    "ska", "second line", "samba", "cha-cha", "half-time shuffle", "laid-back sixteenths",
)  # fmt: skip


@cache
def blues(feel: str) -> FingeredLine:
    return finger_performance(play_bass(BLUES.format(feel=feel)))[1]


def bar_notes(line: FingeredLine, bar: int) -> list[Note]:
    return [note for note in line.notes if note.origin.bar.played_bar == bar]


def test_a_half_step_approach_lies_a_fret_from_its_note() -> None:
    compared = 0
    for feel in FEELS:
        for old, new in pairwise(blues(feel).notes):
            if old.origin.role is Role.APPROACH and abs(old.pitch - new.pitch) == 1:
                (string, fret), (new_string, new_fret) = spot(old), spot(new)
                compared += 1
                # An open string is reached from the fret that the hand has on the string below.
                if new_fret and fret:
                    assert (new_string, abs(new_fret - fret)) == (string, 1), (feel, old)
    assert compared >= 50


@pytest.mark.parametrize("feel", ["ballad", "octaves", "sixteenths"])
def test_the_way_up_to_the_fourth_chord_is_on_its_string(feel: str) -> None:
    line = blues(feel)
    *_, last = bar_notes(line, 4)
    assert last.pitch == 37  # C#2, a half step below D2
    assert spot(last) == (3, 4)


@pytest.mark.parametrize(
    "feel", ["ballad", "octaves", "broken sixteenths", "five-four", "half-time"]
)
def test_roots_that_lie_in_one_position_are_played_there(feel: str) -> None:
    # A1, F#1, B1: open A string, second fret of E and A string; E1 can only be open.
    line = blues(feel)
    roots = [
        note
        for bar in (11, 12)
        for note in bar_notes(line, bar)
        if note.origin.role is Role.ROOT and note.pitch > 28
    ]
    assert len(roots) >= 3
    where = {33: (3, 0), 30: (4, 2), 35: (3, 2)}
    assert [spot(note) for note in roots] == [where[note.pitch] for note in roots]
    # First or second finger, as the bar's other notes have it.
    assert {note.place.position_fret for note in roots if note.place} <= {1, 2}


def test_a_minor_shuffle_keeps_the_hand_and_the_octave() -> None:
    # Root, third, fifth of B minor from the second fret of the A string, and its root before E1.
    bar = bar_notes(blues("shuffle"), 9)
    assert [spot(note) for note in bar] == [
        (3, 2), (3, 2), (3, 5), (3, 5), (2, 4), (2, 4), (3, 2), (3, 2),
    ]  # fmt: skip
    assert {note.place.position_fret for note in bar if note.place} == {2}


@pytest.mark.parametrize("feel", FEELS)
def test_a_bar_that_comes_again_is_played_where_it_was(feel: str) -> None:
    line = blues(feel)
    seen: dict[tuple[object, ...], set[tuple[object, ...]]] = defaultdict(set)
    for bar in range(1, 25):
        notes = bar_notes(line, bar)
        key = (notes[0].origin.bar.written_bar, *(note.pitch for note in notes))
        seen[key].add(tuple(spot(note) for note in notes))
    assert len(seen) < 24
    assert all(len(places) == 1 for places in seen.values())


@pytest.mark.parametrize(("start", "string"), [(0, 3), (5, 4)])
def test_who_starts_on_a_fret_means_the_position(start: int, string: int) -> None:
    performance = play_bass(BLUES.format(feel="ballad"))
    line = finger_performance(performance, options=NeckOptions(start_fret=start))[1]
    where = {
        (bar, note.pitch): spot(note)
        for bar in range(1, 7)
        for note in bar_notes(line, bar)
        if note.origin.role is Role.ROOT
    }
    # A1 where it was begun, and D2 beside it: the same fret of the next string up.
    for bar, pitch, expected in (
        (1, 33, (string, start)), (2, 38, (string - 1, start)), (3, 33, (string, start)),
        (4, 33, (string, start)), (5, 38, (string - 1, start)), (6, 38, (string - 1, start)),
    ):  # fmt: skip
        assert where[bar, pitch] == expected


def played(feel: str, **choices: Any) -> FingeredLine:
    return finger_performance(play_bass(BLUES.format(feel=feel)), options=NeckOptions(**choices))[1]


def open_pitches(line: FingeredLine) -> set[int]:
    return {note.pitch for note in line.notes if note.place and note.place.fret == 0}


def test_choices_of_a_player_on_the_blues() -> None:
    # E1 has no other place; nothing else is open where open strings are unwanted.
    assert open_pitches(played("half-time", open_strings="no")) == {28}
    assert open_pitches(played("half-time", open_strings="yes")) >= {28, 33, 38}
    assert max(place.fret for place in played("ballad", max_fret=5).places) <= 5
    # Three frets without the third finger, or one finger a fret everywhere.
    assert 3 not in {place.finger for place in played("sixteenths", span=3).places}
    assert 3 in {place.finger for place in played("sixteenths", span=4).places}


def test_a_highest_fret_that_leaves_a_note_out() -> None:
    # C#2 lies on fret 4 of the A string and 9 of the E string.
    with pytest.raises(NeckError) as caught:
        finger_performance(play_bass(BLUES.format(feel="ballad")), options=NeckOptions(max_fret=2))
    assert caught.value.message == (
        "bar 4 (all): C#2 is not below fret 4, and no fret over 2 was allowed"
    )
    assert caught.value.hint == "would do: a highest fret of 4"


def test_a_note_struck_again_stays_where_it_is() -> None:
    # Bars of A1, D2 before and after: fifth fret or open, but not one after the other.
    feels = ("long notes", "straight eighths", "two-beat", "bossa", "tumbao", "walking")
    again = 0
    for feel in feels:
        for old, new in pairwise(blues(feel).notes):
            if old.pitch == new.pitch:
                again += 1
                assert spot(old) == spot(new), (feel, old)
    assert again >= 100


PORCH = """title: Gate Song
tempo: 96
key: A
feel: soul
bass: root fifth ninth octave

verse:
| A | Bm7 | D | A | D | Bm7 | F#m7 | D |
"""


def test_the_whole_song_keeps_to_the_hand_it_was_begun_with() -> None:
    # Fifth position: A1 and B1 on the E string, D2 on the A string; F#1 lies nowhere near.
    line = finger_performance(play_bass(PORCH), options=NeckOptions(start_fret=5))[1]
    roots = [note for note in line.notes if note.origin.role is Role.ROOT and note.pitch < 40]
    where = {33: (4, 5), 35: (4, 7), 38: (3, 5), 30: (4, 2)}
    assert [spot(note) for note in roots] == [where[note.pitch] for note in roots]
    assert {note.pitch for note in roots} == set(where)


HOP = """title: Hop Gate
tempo: 126
key: G
feel: {feel}

verse:
| G | C | G | D7 | G | C | Am7 / D7 / | G | C | G | D7 | D7 |
form: verse x2
"""


def test_no_string_is_left_out_for_a_near_note() -> None:
    # D2 open, A1, G1: the A is open too, beside the D string, not the fifth fret of the E string.
    near = 0
    for feel in ("straight eighths", "ballad", "half-time", "walking"):
        for old, new in pairwise(finger_performance(play_bass(HOP.format(feel=feel)))[1].notes):
            if abs(new.pitch - old.pitch) <= 5:
                near += 1
                assert abs(spot(new)[0] - spot(old)[0]) <= 1, (feel, old, new)
    assert near >= 200


def test_ghosts_are_muted_by_the_hand_where_a_fretted_place_is_near() -> None:
    ghosts = [
        spot(note)
        for text in (BLUES, HOP)
        for note in finger_performance(play_bass(text.format(feel="sixteenths")))[1].notes
        if note.touch is Touch.GHOST and note.pitch > 28
    ]
    assert len(ghosts) >= 100
    # Two beats of A7 between open E and F#: the hand has no time for the fifth fret.
    assert sum(fret == 0 for _, fret in ghosts) <= 2


MEADOW = """title: Hay Gate
tempo: 66
meter: 6/8
key: Bm
feel: six-eight
fills: none

verse:
| Bm | G | Em7 | F#7 | Bm | A | Em | F#7 |

chorus:
| D | A/C# | Bm7 | G | D | A/C# | Em7 | F#7 |
form: verse, chorus, verse, chorus
"""


def test_no_leap_along_a_string_for_what_lies_across() -> None:
    # B1 before F#1: the second fret of both strings, not from the seventh fret to the second.
    line = finger_performance(play_bass(MEADOW))[1]
    leaps = [
        abs(spot(old)[1] - spot(new)[1])
        for old, new in pairwise(line.notes)
        if spot(old)[0] == spot(new)[0] and spot(old)[1] and spot(new)[1]
    ]
    assert len(leaps) >= 20
    assert max(leaps) <= 4


def test_a_section_like_another_lies_where_that_lies() -> None:
    """The verse's bars under another name: the same notes, the same places."""
    head = "tempo: 96\nkey: D\nfeel: sixteenths\nvary: none\nfills: none\n"
    chart = head + "verse:\n| D | G | Em7 | A7 |\n"
    other = "bridge:\n| Bm7 | F#m7 | G | D |\nsecond verse:\nas: verse\n"
    line = finger_performance(
        play_bass(f"{chart}{other}form: verse, bridge, second verse, bridge\n")
    )[1]
    held: dict[tuple[int, ...], set[tuple[tuple[int, int], ...]]] = {}
    for number in range(1, 17):
        notes = [note for note in line.notes if note.origin.bar.played_bar == number]
        times = tuple(note.grid_tick % 3840 * 128 + note.pitch for note in notes)
        held.setdefault(times, set()).add(tuple(spot(note) for note in notes))
    assert sum(len(places) for places in held.values()) == len(held)
    assert 6 <= len(held) <= 12


FLATS = """tempo: 70
key: Db
feel: {feel}
fills: none

verse:
| Db | Ab/C | Bbm7 | Gbmaj7 | Ebm7 | Ab7sus4 | Db Gb | Ab7 |
chorus:
| Gb | Ab | Fm7 | Bbm7 | Ebm7 | Gb/Ab | Db | Ddim7 |
| Ebm7 | Gbm6 | Db/Ab | Ab7 |
form: verse x2, chorus, verse, chorus, chorus
"""


@pytest.mark.parametrize("feel", ["ballad", "half-time"])
def test_a_whole_step_that_leads_lies_under_one_hand_with_its_goal(feel: str) -> None:
    """F before Eb: the D string's third and first fret, not the A string's eighth before that."""
    line = finger_performance(play_bass(FLATS.format(feel=feel)))[1]
    steps = [
        (spot(old)[1], spot(new)[1])
        for old, new in pairwise(line.notes)
        if old.origin.role is Role.APPROACH and abs(new.pitch - old.pitch) == 2
    ]
    assert len(steps) >= 8
    assert all(abs(old - new) <= 4 for old, new in steps if old and new), steps


def test_a_chord_that_comes_before_its_section_is_one_shape_with_it() -> None:
    """G of the chorus, struck in the bar before: its octave is two strings and two frets up."""
    head = "tempo: 180\nkey: G\nfeel: tumbao\nfills: none\n"
    bars = "verse:\n| Am7 | C | D | D |\nchorus:\n| G | D/F# | Em7 | C |\n"
    chart = head + bars + "form: verse, chorus, verse, chorus\n"
    line = finger_performance(play_bass(chart))[1]
    octaves = [spot(note) for note in line.notes if note.pitch == 43]
    assert octaves
    assert set(octaves) == {(2, 5)}
