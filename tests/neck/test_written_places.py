"""Where a player wrote a note, there it is played; what is drawn around it is fingered to fit.

Strings and frets are counted from the rows of tab by hand; one finger a fret and the reach of a
hand are common practice, no source.
"""

import pytest

from groove.cells.model import Library
from groove.errors import NeckError
from groove.events import Note, Part
from groove.neck.fingering import FingeredLine, finger_line, finger_performance
from groove.neck.options import NeckOptions
from groove.pipeline import PerformOptions, perform_chart
from tests.arrange.tabs import tab_rows

HEAD = "tempo: 60\nkey: D\nfills: none\nfeel: sixteenths\nverse:\n"


def fingered(
    library: Library, *bars: dict[str, dict[int, str]], options: NeckOptions | None = None
) -> FingeredLine:
    """Return the bass line of bars of tab over D, an empty bar drawn, with its places."""
    text = f"{HEAD}|{' D |' * len(bars)}\n{tab_rows(*bars)}\n"
    performance = perform_chart(text, library, PerformOptions(tight=True))
    return finger_line(
        performance.part_notes(Part.BASS), tempo_map=performance.tempo_map, options=options
    )


def spot(note: Note) -> tuple[int, int]:
    """Return string and fret."""
    assert note.place is not None
    return note.place.string, note.place.fret


HIGH = {"E": {0: "7=", 4: "x", 6: "9=", 8: "5="}, "A": {10: "9=", 12: "0="}}


@pytest.mark.parametrize("way", ["free", "yes", "no"])
def test_written_places_stay_whatever_the_hand_would_like(library: Library, way: str) -> None:
    line = fingered(library, {}, HIGH, {}, options=NeckOptions(open_strings=way))  # type: ignore[arg-type]
    own = [note for note in line.notes if note.stated_place]
    assert [spot(note) for note in own] == [(4, 7), (4, 7), (4, 9), (4, 5), (3, 9), (3, 0)]
    assert [note.place.finger > 0 for note in own if note.place] == [True] * 5 + [False]


def test_the_hand_goes_there_and_its_shifts_count(library: Library) -> None:
    """D is drawn in the fifth position; the ninth fret and the second need two more hands."""
    near = fingered(library, {}, {"A": {0: "5=", 8: "7="}}, {})
    far = fingered(library, {}, {"A": {0: "2=", 8: "9="}}, {})
    assert len(far.shifts) > len(near.shifts)
    assert far.travel_mm > near.travel_mm + 100


def test_what_is_drawn_is_fingered_to_fit(library: Library) -> None:
    """G1 has one place; the drawn B1 before it lies at fret 7 of the E string or 2 of the A."""
    text = f"{HEAD.replace('sixteenths', 'long notes')}| Bm | G |\n"
    near = {"E": {0: "3=", 8: "5="}, "A": {4: "2="}}
    far = {"E": {0: "9=", 8: "7="}, "A": {4: "9="}}
    spots = []
    for bar in (near, far):
        rows = tab_rows({}, bar)
        performance = perform_chart(f"{text}{rows}\n", library, PerformOptions(tight=True))
        notes = performance.part_notes(Part.BASS)
        line = finger_line(notes, tempo_map=performance.tempo_map)
        assert line.notes[0].pitch == 35
        spots.append(spot(line.notes[0]))
    assert spots == [(3, 2), (4, 7)]


def test_slurred_notes_are_not_plucked_and_the_others_go_on(library: Library) -> None:
    """Struck, slurred, slurred, struck: index, none, none, middle."""
    signs = {0: "5===", 2: "h7===", 4: "p5===", 6: "5==="}
    line = fingered(library, {"A": signs}, {})
    assert [note.place.pluck for note in line.notes[:4] if note.place] == ["i", "", "", "m"]


def test_a_double_stop_is_held_by_one_hand_and_plucked_by_two_fingers(library: Library) -> None:
    """Fret 3 on the A string and 5 on the D string: first and third finger, or little finger."""
    line = fingered(library, {"A": {0: "3==="}, "D": {0: "5==="}}, {})
    low, high = line.notes[:2]
    assert low.place and high.place
    assert (spot(low), spot(high)) == ((3, 3), (2, 5))
    assert low.place.position_fret == high.place.position_fret == 3
    assert (low.place.finger, high.place.finger) in ((1, 3), (1, 4))
    assert {low.place.pluck, high.place.pluck} == {"i", "m"}
    assert all(shift.note_index < len(line.notes) for shift in line.shifts)


def test_a_harmonic_is_touched_where_it_is_written(library: Library) -> None:
    """A2 at the twelfth fret of the A string lies there, not at fret 7 of the D string."""
    line = fingered(library, {"A": {0: "<12>===="}}, {})
    assert spot(line.notes[0]) == (3, 12) and line.notes[0].pitch == 45


def test_a_leap_that_a_player_wrote_is_no_error(library: Library) -> None:
    """From fret 1 to fret 19 in 62 ms is the player's own business."""
    text = HEAD.replace("60", "240") + "| D |\n" + tab_rows({"E": {0: "1=", 1: "9=", 2: "1="}})
    performance = perform_chart(text + "\n", library, PerformOptions(tight=True))
    line = finger_line(performance.part_notes(Part.BASS), tempo_map=performance.tempo_map)
    assert [spot(note) for note in line.notes] == [(4, 1), (4, 9), (4, 1)]
    assert [shift.is_hard for shift in line.shifts] == [True, True]


def test_a_neck_that_ends_before_a_written_fret_is_told(library: Library) -> None:
    rows = "\n".join(f"{name} |-{'24' if name == 'G' else '--'}-------|" for name in "GDAE")
    text = f"{HEAD}| D |\n{rows}\n"
    performance = perform_chart(text, library, PerformOptions(tight=True))
    bass = performance.part_notes(Part.BASS)
    assert bass[0].stated_place == (1, 24)
    with pytest.raises(NeckError, match="fret 20"):
        finger_line(bass, tempo_map=performance.tempo_map, options=NeckOptions(fret_count=20))


def test_a_shift_after_a_double_stop_names_its_own_note(library: Library) -> None:
    """The fourth note, at fret 9, is the one that the hand moves for."""
    bar = {"A": {0: "2==", 4: "2==", 8: "9=="}, "D": {0: "4=="}}
    line = fingered(library, bar, {})
    assert spot(line.notes[line.shifts[0].note_index]) == (3, 9)
    assert line.shifts[0].note_index == 3


def test_a_hand_that_comes_from_above_reaches_both_strings(library: Library) -> None:
    """Down from the twelfth fret the little finger alone on fret 3 would leave out fret 5."""
    line = fingered(library, {"A": {0: "<12>====", 10: "3==="}, "D": {10: "5==="}}, {})
    low, high = line.notes[1:3]
    assert low.place and high.place
    assert (low.place.position_fret, low.place.fret, high.place.fret) == (3, 3, 5)


def test_tokens_under_a_bar_keep_the_shape_of_their_chord(library: Library) -> None:
    """Root, fifth and octave of C and of G: a string and two frets up each (shapes.toml)."""
    chart = (
        "tempo: 96\nkey: E minor\nfeel: soul\nverse:\n| B7 | C |\nbass | R 5 7 8 | R - 5 8 |\n"
        "| G | A |\nbass | R - 5 8 | R 5 8 5 |\n"
    )
    _, line = finger_performance(perform_chart(chart, library))
    held = {
        number: [
            (n.place.string, n.place.fret)
            for n in line.notes
            if n.place and n.origin.bar.played_bar == number
        ]
        for number in (2, 3)
    }
    assert held == {2: [(3, 3), (2, 5), (1, 5)], 3: [(4, 3), (3, 5), (2, 5)]}
