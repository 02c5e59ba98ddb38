"""Where a gigging player would put a twelve-bar chart, read off the fingered band part.

Common practice, no source: an approach lies on the string of the note it leads to, a chain of
roots that one position holds stays there, a bar that comes again is played where it was.
"""

from collections import defaultdict
from itertools import pairwise
from random import Random
from typing import Any

import pytest
from msgspec.structs import replace

from groove.errors import NeckError
from groove.events import Note, Role, Touch
from groove.neck.fingering import FingeredLine, finger_performance
from groove.neck.hand import Grip
from groove.neck.options import NeckOptions
from groove.neck.returns import as_known
from groove.neck.shapes import hand_tasks
from tests.arrange.songs import play
from tests.neck.neck_lines import cell_line, plain_line
from tests.neck.test_fingering import fingered

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
    assert 3 not in {place.finger for place in played("sixteenths", span=3).places}
    assert 3 in {place.finger for place in played("sixteenths", span=4).places}


def test_a_highest_fret_that_leaves_a_note_out() -> None:
    # C#2 lies on fret 4 of the A string and 9 of the E string.
    with pytest.raises(NeckError) as caught:
        finger_performance(play(BLUES.format(feel="ballad")), options=NeckOptions(max_fret=2))
    assert caught.value.message == (
        "bar 4 (all): C#2 is not below fret 4, and no fret over 2 was allowed"
    )
    assert caught.value.hint == "would do: a highest fret of 4"


def test_a_note_out_of_reach_is_spelled_as_its_chord() -> None:
    # Eb3 lies on fret 8 of the G string; the chord is written with a flat.
    notes = cell_line(["Eb"], "R - R - R - 8 -", 2)
    with pytest.raises(NeckError) as caught:
        fingered(notes, max_fret=7)
    assert caught.value.message == (
        "bar 1 (verse): Eb3 is not below fret 8, and no fret over 7 was allowed"
    )


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
    line = finger_performance(play(PORCH), options=NeckOptions(start_fret=5))[1]
    roots = [note for note in line.notes if note.origin.role is Role.ROOT and note.pitch < 40]
    where = {33: (4, 5), 35: (4, 7), 38: (3, 5), 30: (4, 2)}
    assert [spot(note) for note in roots] == [where[note.pitch] for note in roots]
    assert {note.pitch for note in roots} == set(where)


@pytest.mark.parametrize("chord", ["F#m", "Bm", "C#m"])
def test_a_minor_third_opens_the_hand_below_the_fifth_fret(chord: str) -> None:
    # First, fourth and third finger; a hand that has three fingers takes the fourth again.
    cell = "R - b3 - 5 - R -"
    for frame, fingers in ((None, [1, 4, 3, 1]), (3, [1, 4, 4, 1])):
        line = fingered(cell_line([chord], cell, 2), 112, span=frame, max_fret=7)
        assert [place.finger for place in line.places] == fingers
        assert {place.position_fret for place in line.places} <= {2, 4}


def test_octaves_are_fretted_between_fretted_neighbours() -> None:
    line = fingered(cell_line(["G", "A", "F#m"], "R 8 R 8 R 8 R 8", 2), 120)
    bars = [
        [spot(note) for note in line.notes if note.origin.bar.played_bar == n] for n in (1, 2, 3)
    ]
    assert bars == [[(4, fret), (2, fret + 2)] * 4 for fret in (3, 5, 2)]


def test_the_root_of_a_bar_has_one_place() -> None:
    # D2 on the A string is not taken open after its third, though the third lies alike for both.
    bars = 0
    for chords in (["A", "D", "G"], ["D", "A", "D"], ["G", "D", "A"]):
        line = fingered(cell_line(chords, "R - R - 3 - R - R - R -", 2), 120)
        for bar in (1, 2, 3):
            roots = [n for n in line.notes if n.origin.bar.played_bar == bar and n.pitch % 12 in
                     (2, 7, 9) and n.origin.role is Role.ROOT]  # fmt: skip
            assert len(roots) == 5
            assert len({spot(note) for note in roots}) == 1, (chords, bar)
            bars += 1
    assert bars == 9


def test_a_half_step_lies_on_one_string() -> None:
    rng = Random("neck: half steps")
    side_by_side = apart = 0
    for _ in range(100):
        pitches = [33]
        for _ in range(23):
            step = (-5, -4, -3, -2, -1, 1, 1, 2, 3, 4, 5)[int(rng.random() * 11)]
            pitches.append(min(max(pitches[-1] + step, 28), 50))
        for old, new in pairwise(fingered(plain_line(pitches), 120).notes):
            if abs(old.pitch - new.pitch) == 1 and spot(old)[1] and spot(new)[1]:
                side_by_side += spot(old)[0] == spot(new)[0]
                apart += spot(old)[0] != spot(new)[0]
    # A leap that the hand must make anyway may fall between the two.
    assert side_by_side >= 350
    assert apart <= side_by_side / 100


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
        for old, new in pairwise(finger_performance(play(HOP.format(feel=feel)))[1].notes):
            if abs(new.pitch - old.pitch) <= 5:
                near += 1
                assert abs(spot(new)[0] - spot(old)[0]) <= 1, (feel, old, new)
    assert near >= 200


def test_lone_roots_are_played_by_the_finger_that_is_there() -> None:
    # F#1, G1 and G#1 under first, second and third finger: no little finger pumps for a bar.
    line = fingered(cell_line(["F#m", "G", "Ab", "G", "F#m"], "R R R R R R R R", 2), 120)
    assert line.shifts == ()
    assert [place.finger for place in line.places[::8]] == [1, 2, 3, 2, 1]


def test_a_half_step_down_takes_two_fingers() -> None:
    line = fingered(plain_line([36] * 7 + [35] * 8, 480), 120)
    assert [place.finger for place in line.places[6:8]] == [2, 1]
    assert line.shifts == ()


def test_two_strings_at_one_fret_have_one_finger_or_two_side_by_side() -> None:
    # C2, G1, F1 at 200 bpm: little finger twice and the first, not first, little and first.
    line = fingered(plain_line([36, 31, 29, 36, 31, 29], 960), 200)
    assert line.shifts == ()
    # Two side by side would have the lower finger on the lower string: 3 on G1 and 4 on C2.
    fingers = [place.finger for place in line.places]
    assert all(fingers[at : at + 3] in ([4, 4, 1], [4, 3, 1]) for at in (0, 3))


def test_a_bar_has_one_place_for_a_pitch() -> None:
    notes = cell_line(["D"], "R - R - R - 5 - 8 - R - R - R -", 2)
    asked = [hand_tasks(notes, None)[0][index] for index in range(len(notes))]
    grips = [Grip(3, 5, 1, 5)] * 3 + [Grip(2, 7, 3, 5), Grip(1, 7, 4, 5)] + [Grip(2, 0, 0, 5)] * 3
    grips[-1] = grips[0]
    known = [one.known for one in as_known(notes, asked, grips)]
    assert known == [(3, 5, 1)] * 3 + [(2, 7, 3), (1, 7, 4)] + [(3, 5, 1)] * 3


def test_a_half_step_approach_stays_beside_its_note_where_the_bar_has_the_pitch_elsewhere() -> None:
    # D2 on the A string's fifth fret, but the one before Eb2 a fret below it on the D string.
    notes = cell_line(["D", "Eb"], "R R R R R", 1)
    led = replace(notes[4].origin, role=Role.APPROACH, target_pitch=39)
    notes[4] = replace(notes[4], origin=led)
    grips = [Grip(3, 5, 1, 5)] * 3 + [Grip(2, 0, 0, 1)] * 2 + [Grip(2, 1, 1, 1)] * 5
    known = [one.known for one in as_known(notes, hand_tasks(notes, None)[0], grips)]
    assert known[:5] == [(3, 5, 1)] * 4 + [(2, 0, 0)]


def test_ghosts_are_muted_by_the_hand_where_a_fretted_place_is_near() -> None:
    ghosts = [
        spot(note)
        for text in (BLUES, HOP)
        for note in finger_performance(play(text.format(feel="sixteenths")))[1].notes
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
    line = finger_performance(play(MEADOW))[1]
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
    line = finger_performance(play(f"{chart}{other}form: verse, bridge, second verse, bridge\n"))[1]
    held: dict[tuple[int, ...], set[tuple[tuple[int, int], ...]]] = {}
    for number in range(1, 17):
        notes = [note for note in line.notes if note.origin.bar.played_bar == number]
        times = tuple(note.grid_tick % 3840 * 128 + note.pitch for note in notes)
        held.setdefault(times, set()).add(tuple(spot(note) for note in notes))
    assert sum(len(places) for places in held.values()) == len(held)
    assert 6 <= len(held) <= 12


@pytest.mark.parametrize(
    ("position", "chords"),
    # A1 lies on E5 and open, B1 on E7 and A2, C#2 on E9 and A4, D2 on E10, A5 and open.
    [(2, ["F#m", "Bm", "C#m"]), (5, ["Bm", "A", "Bm"]), (9, ["C#m", "D", "C#m"])],
)
def test_a_position_is_kept_whatever_the_first_note_is(position: int, chords: list[str]) -> None:
    line = fingered(
        cell_line(chords, "R - - - 5 - - - R - - - 5 - - -"), 96, position_fret=position
    )
    frets = [place.fret for place in line.places]
    assert len(frets) == 12
    assert all(position <= fret <= position + 4 for fret in frets), frets


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
    line = finger_performance(play(FLATS.format(feel=feel)))[1]
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
    line = finger_performance(play(chart))[1]
    octaves = [spot(note) for note in line.notes if note.pitch == 43]
    assert octaves
    assert set(octaves) == {(2, 5)}
