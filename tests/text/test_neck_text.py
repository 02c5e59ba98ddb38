"""The neck in words, against sentences a bass player would say (common practice, no source)."""

from dataclasses import replace as replace_figures

import pytest
from msgspec.structs import replace

from groove.events import Performance, Place, Role
from groove.neck.fingering import finger_performance
from groove.neck.instrument import STANDARD, TUNINGS
from groove.neck.line_figures import easier_points, fingering_figures, root_places
from groove.neck.options import NeckOptions
from groove.text.neck import compare_text, move_words, neck_diagram, neck_text
from groove.text.neck_data import neck_data
from groove.timing import Meter
from tests.neck.neck_lines import SIXTEENTHS, as_performance, cell_line, onset, tempo

PERFORMANCE = as_performance(cell_line(["Bm", "G", "D", "A", "E"], SIXTEENTHS), Meter(4, 4))


def place(string: int, fret: int) -> Place:
    return Place(string=string, fret=fret, finger=1, pluck="i", position_fret=max(1, fret))


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ((3, 2), (4, 2), "same fret, next string down"),
        ((4, 3), (4, 6), "up three frets"),
        ((4, 3), (2, 5), "up two frets, two strings up"),
        ((4, 5), (4, 4), "down one fret"),
        ((3, 5), (4, 0), "to the open string, next string down"),
        ((4, 0), (3, 0), "open string, next string up"),
        ((3, 5), (3, 5), "same place"),
    ],
)
def test_moves_as_a_player_says_them(
    old: tuple[int, int], new: tuple[int, int], words: str
) -> None:
    assert move_words(place(*old), place(*new)) == words


def test_diagram_has_each_root_at_its_fret() -> None:
    _, line = finger_performance(PERFORMANCE, options=NeckOptions(start_fret=2))
    rows = neck_diagram(root_places(line), STANDARD).splitlines()
    assert [row[0] for row in rows[:4]] == ["G", "D", "A", "E"]
    # Fret n is the cell after the n-th wire, counted on the page.
    a_string = rows[2].replace("║", "|").split("|")
    e_string = rows[3].replace("║", "|").split("|")
    assert (a_string[2].strip("-"), a_string[5].strip("-")) == ("1B", "3D")
    assert (e_string[3].strip("-"), e_string[5].strip("-")) == ("2G", "4A")
    assert "5E" in e_string[0]
    assert "1 B: A string, fret 2, 5 times" in rows[5]


def test_shifts_moves_and_totals() -> None:
    placed, line = finger_performance(PERFORMANCE, options=NeckOptions(start_fret=2))
    text = neck_text(line, placed.bars, title="Lantern Row")
    assert "B to G: up one fret, next string down" in text
    # Frets 2, 3 and 5 of a 34-inch scale: 94.220, 137.402, 216.631 mm; a sixteenth at 84 is 179 ms.
    assert "2     1      2 to 3      43 mm    179 ms" in text
    assert "3     1      3 to 5      79 mm    179 ms" in text
    assert "60 notes, 3 shifts (0 hard)" in text
    assert max(map(len, text.splitlines())) <= 80


def test_a_hard_shift_is_marked() -> None:
    fast = as_performance(cell_line(["F", "Eb"], "R - 8 - R - 8 -"), Meter(4, 4), bpm=126)
    placed, line = finger_performance(fast)
    rows = [
        row
        for row in neck_text(line, placed.bars, title="Lantern Row").splitlines()
        if " ms" in row
    ]
    assert [row.endswith("!") for row in rows] == [True]


def passes(count: int, bpm: float = 84) -> Performance:
    """Return the five bars, played so many times."""
    notes, bars = [], []
    for number in range(count):
        late = number * PERFORMANCE.end_tick
        for bar in PERFORMANCE.bars:
            ref = replace(
                bar.ref, occurrence=number + 1, played_bar=5 * number + bar.ref.played_bar
            )
            bars.append(replace(bar, ref=ref, start_tick=bar.start_tick + late))
        for note in PERFORMANCE.notes:
            ref = bars[5 * number + note.origin.bar.played_bar - 1].ref
            origin = replace(note.origin, bar=ref)
            notes.append(replace(note, grid_tick=note.grid_tick + late, origin=origin))
    return replace(PERFORMANCE, notes=tuple(notes), bars=tuple(bars), tempo_map=tempo(bpm))


def test_a_shift_that_comes_again_is_listed_once() -> None:
    placed, line = finger_performance(passes(3), options=NeckOptions(start_fret=2))
    text = neck_text(line, placed.bars, title="Lantern Row")
    rows = [row.split() for row in text.splitlines() if " ms" in row]
    # B to G and G to D; over the open E of bar 5 there is a bar's time.
    assert [(row[0], row[-1]) for row in rows] == [("2", "x3"), ("3", "x3")]
    assert "x2: twice in the song as played" in text
    assert "  and three with more than a second of time" in text
    assert len(line.shifts) == 9


def test_shifts_with_time_to_spare_are_summed_up() -> None:
    # A sixteenth at 12 beats a minute is 1250 ms.
    slow = replace(PERFORMANCE, tempo_map=tempo(12))
    placed, line = finger_performance(slow, options=NeckOptions(start_fret=2))
    assert len(line.shifts) >= 2
    words = {2: "two", 3: "three", 4: "four"}[len(line.shifts)]
    assert f"Shifts: {words} with more than a second of time" in neck_text(
        line, placed.bars, title="Lantern Row"
    )
    assert len(neck_data(line, placed.bars)["shifts"]) == len(line.shifts)


def test_octaves_of_a_slash_note_are_no_roots() -> None:
    notes = cell_line(["C", "G"], "R - 8 - R - 8 -")
    slashed = [
        replace(
            note,
            origin=replace(note.origin, role=Role.SLASH, onset=onset(f"A/{note.origin.symbol}")),
        )
        for note in notes
    ]
    placed, line = finger_performance(as_performance(slashed, Meter(4, 4)))
    assert [root.name for root in root_places(line)] == ["C", "G"]
    moves = (
        neck_text(line, placed.bars, title="Lantern Row")
        .split("From root to root\n")[1]
        .split("\n\n")[0]
    )
    assert moves == "  C to G: same fret, next string down"


@pytest.mark.parametrize(
    ("chord", "pitch", "name"),
    [("Cm7/Bb", 34, "Bb"), ("D7/F#", 30, "F#"), ("B\u266d7", 34, "Bb"), ("Gbmaj7", 30, "Gb")],
)
def test_a_root_has_the_name_of_what_sounds(chord: str, pitch: int, name: str) -> None:
    """Whatever the note is there for: some lines walk from a slash note as from a root."""
    for role in (Role.ROOT, Role.SLASH):
        note, *_ = cell_line(["A"], "R - - - - - - -")
        note = replace(
            note, pitch=pitch, origin=replace(note.origin, onset=onset(chord), role=role)
        )
        _, line = finger_performance(as_performance([note], Meter(4, 4)))
        assert [root.name for root in root_places(line)] == [name]


def test_one_of_a_kind_is_said_in_the_singular() -> None:
    notes = as_performance(cell_line(["F", "Eb"], "R - 8 - R - 8 -"), Meter(4, 4))
    placed, line = finger_performance(notes)
    assert len(line.shifts) == 1
    assert ", 1 shift (" in neck_text(line, placed.bars, title="Lantern Row")


def test_two_ways_side_by_side() -> None:
    lines = [
        finger_performance(PERFORMANCE, options=NeckOptions(position_fret=fret))[1]
        for fret in (2, 7)
    ]
    text = compare_text(*lines, title="Lantern Row")
    low, high = text.split("position 7 makes easier:")
    assert "position 2 makes easier:\n  fewer hard shifts: 0 instead of 1" in low
    assert "fewer notes rolled with one finger" in high
    assert max(map(len, text.splitlines())) <= 80


def test_what_hardly_differs_makes_nothing_easier() -> None:
    _, line = finger_performance(PERFORMANCE)
    mine = replace_figures(fingering_figures(line), string_crossings=96, shifts=10, open_strings=0)
    other = replace_figures(mine, string_crossings=100, shifts=11)
    assert easier_points(mine, other) == (("shifts", 10, 11),)


def test_of_two_strings_of_one_letter_the_lower_is_called_low() -> None:
    # Drop D: the fourth string is a D too.
    placed, line = finger_performance(PERFORMANCE, tuning=TUNINGS["drop D"])
    text = neck_text(line, placed.bars, title="Lantern Row")
    names = {TUNINGS["drop D"].string_words(string) for string in (1, 2, 3, 4)}
    assert names == {"G string", "D string", "A string", "low D string"}
    assert "G: low D string, fret 5" in text
    assert text.startswith("Lantern Row\n")
