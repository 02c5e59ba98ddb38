"""Where a gigging player would put a twelve-bar chart, read off the fingered band part.

Common practice, no source: an approach lies on the string of the note it leads to, a chain of
roots that one position holds stays there, a bar that comes again is played where it was.
"""

from collections import defaultdict
from itertools import pairwise
from typing import Any

import pytest
from msgspec.structs import replace

from groove.errors import NeckError
from groove.events import Note, Role
from groove.neck.fingering import FingeredLine, finger_performance
from groove.neck.options import NeckOptions
from tests.arrange.songs import play
from tests.neck.neck_lines import cell_line
from tests.neck.test_fingering import fingered

BLUES = """title: Back Step
tempo: 112
key: A
feel: {feel}
form: all x2

all:
| A7 | D7 | A7 | A7 | D7 | D7 | A7 | F#7 | Bm7 | E7 | A7 F#7 | Bm7 E7 |
"""
FEELS = (
    "ballad", "octaves", "sixteenths", "shuffle", "half-time", "soul", "one drop", "two-beat",
    "straight eighths", "broken sixteenths", "five-four", "tumbao", "walking", "bossa",
)  # fmt: skip


def blues(feel: str) -> FingeredLine:
    return finger_performance(play(BLUES.format(feel=feel)))[1]


def spot(note: Note) -> tuple[int, int]:
    assert note.place
    return note.place.string, note.place.fret


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
    assert compared >= 60


@pytest.mark.parametrize("feel", ["ballad", "octaves", "sixteenths"])
def test_the_way_up_to_the_fourth_chord_is_on_its_string(feel: str) -> None:
    line = blues(feel)
    *_, last = bar_notes(line, 4)
    assert last.pitch == 37  # C#2, a half step below D2
    assert spot(last) == (3, 4)


@pytest.mark.parametrize("feel", ["ballad", "octaves", "sixteenths", "five-four", "half-time"])
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
    assert {n.place.position_fret for n in roots if n.place and n.place.fret} == {2}


def test_a_minor_shuffle_keeps_the_hand_and_the_octave() -> None:
    # Root, third, fifth of B minor from the second fret of the A string, then A1 down to E1.
    bar = bar_notes(blues("shuffle"), 9)
    assert [spot(note) for note in bar] == [
        (3, 2), (3, 2), (3, 5), (3, 5), (2, 4), (2, 4), (3, 0), (3, 0),
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


def test_the_third_of_an_open_string_lies_on_it() -> None:
    # Forced to the open A string: C#2 on its fourth fret, under the same hand as the fifth.
    line = fingered(cell_line(["A"], "R - - - 3 - - - 5 - - - R - - -"), 112, start_fret=0)
    assert [(p.string, p.fret) for p in line.places[:3]] == [(3, 0), (3, 4), (2, 2)]


def test_a_shape_wider_than_the_hand_stays_with_its_root() -> None:
    # B minor with its sixth from the second fret: frets 2, 5, 4, 1 are five frets apart.
    line = fingered(cell_line(["Bm"], "R - R - b3 - b3 - 5 - 5 - 6 - 6 -"), 112, start_fret=2)
    assert [place.position_fret for place in line.places[:6]] == [2] * 6


def test_an_open_root_does_not_move_the_hand() -> None:
    line = fingered(cell_line(["D", "E", "D"], "R - - - - - - -"), 84, start_fret=5)
    assert [place.position_fret for place in line.places] == [5, 5, 5]
    assert line.shifts == ()


def test_a_note_lowered_to_lead_leaves_the_shape() -> None:
    # D in the fifth position; A1, below its root, then F1 and F#1 lead to G1: the open string
    # takes the hand down, which has to leap from the fifth fret.
    notes = cell_line(["D"], "R - R - 5 - 8 - R - R - R - . .")
    low = replace(
        notes[-1],
        pitch=33,
        origin=replace(notes[-1].origin, role=Role.FIFTH, target_pitch=29),
    )
    lead = replace(
        notes[-1],
        grid_tick=notes[-1].grid_tick + 480,
        pitch=29,
        length_ticks=240,
        origin=replace(notes[-1].origin, role=Role.APPROACH, target_pitch=31),
    )
    line = fingered([*notes[:-1], low, lead], 84)
    assert [(p.string, p.fret) for p in line.places[-2:]] == [(3, 0), (4, 1)]
    assert not any(shift.is_hard for shift in line.shifts)


@pytest.mark.parametrize(("start", "string"), [(0, 3), (5, 4)])
def test_who_starts_on_a_fret_means_the_position(start: int, string: int) -> None:
    performance = play(BLUES.format(feel="ballad"))
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
    return finger_performance(play(BLUES.format(feel=feel)), options=NeckOptions(**choices))[1]


def open_pitches(line: FingeredLine) -> set[int]:
    return {note.pitch for note in line.notes if note.place and note.place.fret == 0}


def test_choices_of_a_player_on_the_blues() -> None:
    # E1 has no other place; nothing else is open where open strings are unwanted.
    assert open_pitches(played("half-time", open_strings="no")) == {28}
    assert open_pitches(played("half-time", open_strings="yes")) >= {28, 33, 38}
    assert max(place.fret for place in played("ballad", max_fret=5).places) <= 5
    # Three frets without the third finger, or one finger a fret everywhere.
    assert 3 not in {place.finger for place in played("sixteenths", frame=3).places}
    assert 3 in {place.finger for place in played("sixteenths", frame=4).places}


def test_a_highest_fret_that_leaves_a_note_out() -> None:
    # C#2 lies on fret 4 of the A string and 9 of the E string.
    with pytest.raises(NeckError) as caught:
        finger_performance(play(BLUES.format(feel="ballad")), options=NeckOptions(max_fret=2))
    assert caught.value.message == (
        "bar 1 (all): C#2 is not below fret 4, and no fret over 2 was allowed"
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


def test_an_open_string_pumped_in_eighths_is_one_open_string() -> None:
    # Four bars of A between F#s on the second fret: open, however long, and the hand stays.
    notes = cell_line(["F#m", *["A"] * 4, "F#m"], "R R R R R R R R", 2)
    line = fingered(notes, 124)
    assert {(p.string, p.fret) for p in line.places} == {(4, 2), (3, 0)}
    assert line.shifts == ()
