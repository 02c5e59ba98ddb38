"""Where a gigging player would put a bar or two: lines of a few chords, read off the fingering.

Common practice, no source.
"""

from itertools import pairwise
from random import Random

import pytest
from msgspec.structs import replace

from groove.errors import NeckError
from groove.events import Role
from groove.neck.hand import Grip
from groove.neck.returns import as_known
from groove.neck.shapes import hand_tasks
from tests.neck.neck_lines import cell_line, plain_line, spot
from tests.neck.test_fingering import fingered


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


def test_a_note_out_of_reach_is_spelled_as_its_chord() -> None:
    # Eb3 lies on fret 8 of the G string; the chord is written with a flat.
    notes = cell_line(["Eb"], "R - R - R - 8 -", 2)
    with pytest.raises(NeckError) as caught:
        fingered(notes, max_fret=7)
    assert caught.value.message == (
        "bar 1 (verse): Eb3 is not below fret 8, and no fret over 7 was allowed"
    )


def test_an_open_string_pumped_in_eighths_is_one_open_string() -> None:
    # Four bars of A between F#s on the second fret: open, however long, and the hand stays.
    notes = cell_line(["F#m", *["A"] * 4, "F#m"], "R R R R R R R R", 2)
    line = fingered(notes, 124)
    assert {(p.string, p.fret) for p in line.places} == {(4, 2), (3, 0)}
    assert line.shifts == ()


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
    for _ in range(50):
        pitches = [33]
        for _ in range(23):
            step = (-5, -4, -3, -2, -1, 1, 1, 2, 3, 4, 5)[int(rng.random() * 11)]
            pitches.append(min(max(pitches[-1] + step, 28), 50))
        for old, new in pairwise(fingered(plain_line(pitches), 120).notes):
            if abs(old.pitch - new.pitch) == 1 and spot(old)[1] and spot(new)[1]:
                side_by_side += spot(old)[0] == spot(new)[0]
                apart += spot(old)[0] != spot(new)[0]
    # A leap that the hand must make anyway may fall between the two.
    assert side_by_side >= 175
    assert apart <= side_by_side / 100


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
