"""What a bass player expects of a fingering.

Where no source is named: common practice, no source.
"""

import tomllib
from collections.abc import Sequence
from functools import lru_cache
from itertools import pairwise
from pathlib import Path
from random import Random
from typing import Any

import pytest
from msgspec.structs import replace
from music21.pitch import Pitch

from groove.errors import NeckError, OptionError
from groove.events import Note, Part, Role, Touch
from groove.io.library import load_library
from groove.neck.fingering import (
    FingeredLine,
    finger_line,
    finger_performance,
    line_tables,
)
from groove.neck.instrument import STANDARD, TUNINGS
from groove.neck.options import NeckOptions
from groove.neck.path import GripTables
from groove.pipeline import perform_chart
from groove.text.notices import notice_texts
from groove.timing import Meter
from tests.neck.neck_lines import (
    ROOT_PITCHES,
    SIXTEENTHS,
    as_performance,
    cell_line,
    onset,
    plain_line,
    tempo,
)

CHORDS = tuple(ROOT_PITCHES)
SHAPES_FILE = Path(__file__).parents[2] / "shared" / "tables" / "shapes.toml"


def fingered(notes: Sequence[Note], bpm: float = 84, **choices: Any) -> FingeredLine:
    options = NeckOptions(**choices)
    return finger_line(notes, tempo_map=tempo(bpm), options=options, tables=tables_for(options))


@lru_cache(maxsize=8)
def tables_for(options: NeckOptions) -> GripTables:
    """Return one hand's costs for all lines; ``test_tables_that_are_kept`` says it is no matter."""
    return line_tables(STANDARD, options)


def relative(line: FingeredLine) -> dict[int, list[tuple[int, int, int]]]:
    """Return for each bar its notes seen from the bar's first: strings up, frets up, finger."""
    bars: dict[int, list[tuple[int, int, int]]] = {}
    first: dict[int, tuple[int, int]] = {}
    for note, place in zip(line.notes, line.places, strict=True):
        bar = note.origin.bar.played_bar
        string, fret = first.setdefault(bar, (place.string, place.fret))
        bars.setdefault(bar, []).append((string - place.string, place.fret - fret, place.finger))
    return bars


def test_shapes_on_strings_a_fourth_apart() -> None:
    shapes = tomllib.loads(SHAPES_FILE.read_text(encoding="utf-8"))["shape"]
    tokens = {7: "5", 12: "8", 14: "9", -5: "5,", 4: "3", 3: "b3", 10: "b7", 9: "6"}
    tested = [shape for shape in shapes if shape["semitones"] in tokens]
    assert len(tested) == 8
    for shape in tested:
        for chord in ("Bb", "Bm", "C", "C#m", "D", "Eb"):
            cell = f"R - - - {tokens[shape['semitones']]} - - - R - - - R - - -"
            # Places above the open strings, so that the nut forbids nothing.
            line = fingered(cell_line([chord], cell), open_strings="no")
            root, other = line.places[0], line.places[1]
            assert [root.string - other.string, other.fret - root.fret] == shape["move"], chord


@pytest.mark.parametrize("chord", [chord for chord in CHORDS if chord != "E"])
def test_root_fifth_octave_is_one_hand(chord: str) -> None:
    line = fingered(cell_line([chord] * 2, "R - R - 5 - 8 - R - 5 - 8 - 5 -"))
    assert line.shifts == ()
    assert len({place.position_fret for place in line.places}) == 1
    # 1-3-4 or 1-4-4 from the fifth fret up, below it fifth and octave rolled by the fourth finger.
    fingers = [place.finger for place in line.places[1:4]]
    high = line.places[0].fret >= 5
    assert fingers in ([[1, 3, 4], [1, 4, 4]] if high else [[1, 4, 4]])


@pytest.mark.parametrize("cell", [SIXTEENTHS, "R - 8 - 5 - 8 - R R x R 5 - 8 -", "R - 5 - R - 5 8"])
def test_a_cell_keeps_its_shape_on_each_root(cell: str) -> None:
    rng = Random(f"neck: {cell}")
    compared = 0
    for _ in range(12):
        chords = [CHORDS[1 + int(rng.random() * 11)] for _ in range(8)]
        line = fingered(cell_line(chords, cell))
        starts = {
            n.origin.bar.played_bar: p.fret
            for n, p in reversed(list(zip(line.notes, line.places, strict=True)))
        }
        bars = relative(line)
        # The hand is one of three: an open root, 1-2-4 below the fifth fret, four fingers above.
        kinds = {number: (starts[number] > 0) + (starts[number] >= 5) for number in bars}
        for kind in range(3):
            assert len({tuple(bar) for number, bar in bars.items() if kinds[number] == kind}) <= 1
        assert len({tuple(move[:2] for move in bar) for bar in bars.values()}) == 1
        compared += len(bars)
    assert compared == 12 * 8


def test_the_only_shifts_are_between_cells() -> None:
    line = fingered(cell_line(["D", "A", "Bm", "G", "F", "C"], SIXTEENTHS))
    firsts = {i for i, n in enumerate(line.notes) if n.origin.step == 0}
    assert {shift.note_index for shift in line.shifts} <= firsts
    assert 1 <= len(line.shifts) <= 5


def test_fifth_below_with_the_root_on_the_second_fret() -> None:
    line = fingered(cell_line(["Bm"], "R - - - 5, - - - R - - - 5, - - -"))
    assert [(p.string, p.fret) for p in line.places] == [(3, 2), (4, 2)] * 2


def test_ninth_lies_two_frets_above_the_octave() -> None:
    line = fingered(cell_line(["A"], "R - - - 8 - 9 - 8 - - - R - - -"))
    octave, ninth = line.places[1], line.places[2]
    assert (ninth.string, ninth.fret) == (octave.string, octave.fret + 2)


def test_where_a_player_puts_four_common_roots() -> None:
    line = fingered(cell_line(["D", "A", "Bm", "G"], SIXTEENTHS))
    roots = [
        (p.string, p.fret)
        for n, p in zip(line.notes, line.places, strict=True)
        if n.origin.step == 0
    ]
    assert roots in ([(3, 5), (4, 5), (3, 2), (4, 3)], [(3, 5), (4, 5), (4, 7), (4, 3)])


def test_ghosts_stay_under_the_hand() -> None:
    line = fingered(cell_line(CHORDS, SIXTEENTHS))
    pairs = [(a.place, b.place) for a, b in pairwise(line.notes) if b.touch is Touch.GHOST]
    assert len(pairs) == 3 * len(CHORDS)
    for old, ghost in pairs:
        assert old and ghost
        assert (old.string, old.fret, old.finger) == (ghost.string, ghost.fret, ghost.finger)


def test_time_keeping_stays_under_the_twelfth_fret() -> None:
    line = fingered(cell_line(CHORDS * 3, SIXTEENTHS))
    assert len(line.places) == 36 * 12
    assert max(place.fret for place in line.places) < 12


def test_open_strings_wanted_or_not() -> None:
    walking = plain_line([29, 33, 36, 38, 39, 38, 36, 34, 33, 36, 38, 41, 43, 41, 38, 35])
    opens = {
        choice: sum(p.fret == 0 for p in fingered(walking, 160, open_strings=choice).places)
        for choice in ("yes", "free", "no")
    }
    assert opens["yes"] == 7  # every A1, D2 and G2 of the line, counted by hand
    assert opens["no"] == 0


def test_open_strings_wanted_even_where_the_hand_has_the_note() -> None:
    # E2 on the seventh fret, D2 under the same hand on the fifth: wanted, it is played open.
    choices = {"start_fret": 7, "max_fret": 9}
    for choice, opens in (("yes", 3), ("free", 0)):
        line = fingered(plain_line([40, 38] * 3), open_strings=choice, **choices)
        assert sum(place.fret == 0 for place in line.places) == opens


def test_a_ghost_waits_for_the_hand_even_if_there_is_time_before_it() -> None:
    # Four seconds to the ghost, a sixteenth from it to a note nine frets up.
    notes = plain_line([38, 38, 60])
    ticks = (0, 3840, 4080)
    notes = [replace(n, grid_tick=t) for n, t in zip(notes, ticks, strict=True)]
    notes[1] = replace(notes[1], touch=Touch.GHOST)
    line = fingered(notes, 60, start_fret=5)
    assert (line.places[0].string, line.places[0].fret) == (
        line.places[1].string,
        line.places[1].fret,
    )
    assert [shift.note_index for shift in line.shifts] == [2]


def test_of_two_hands_the_lower_one() -> None:
    # Root, fifth, octave and sixth on C: third fret of the A string, not eighth of the E string.
    cell = "R - R - 5 - 8 - 6 - - - R - R -"
    line = fingered(cell_line(["C", "A", "F", "G"], cell), 100)
    assert (line.places[0].string, line.places[0].fret) == (3, 3)


def test_no_open_strings_still_allows_the_lowest_note() -> None:
    line = fingered(cell_line(["E", "A"], SIXTEENTHS), open_strings="no")
    assert {n.pitch for n, p in zip(line.notes, line.places, strict=True) if p.fret == 0} == {28}


def test_slides_stay_on_one_string_with_one_finger() -> None:
    notes = plain_line([38, 40, 45, 43, 48, 41])
    notes[2] = replace(notes[2], touch=Touch.SLIDE)
    notes[4] = replace(notes[4], touch=Touch.SLIDE)
    line = fingered(notes)
    for index in (2, 4):
        old, new = line.places[index - 1], line.places[index]
        assert (old.string, old.finger) == (new.string, new.finger)
        assert new.fret > 0


@pytest.mark.parametrize(("start", "place"), [(2, (3, 2)), (7, (4, 7))])
def test_start_fret(start: int, place: tuple[int, int]) -> None:
    line = fingered(cell_line(["Bm", "G"], SIXTEENTHS), start_fret=start)
    assert (line.places[0].string, line.places[0].fret) == place


def test_start_fret_that_the_root_does_not_have() -> None:
    with pytest.raises(NeckError) as caught:
        fingered(cell_line(["D"], SIXTEENTHS), start_fret=3)
    assert caught.value.message == "bar 1 (verse): the first root D2 is not on fret 3"
    # D2 by shared/tables/places.toml: the open D string, A string 5, E string 10.
    hint = "it lies on fret 0 (D string), fret 5 (A string), fret 10 (E string)"
    assert caught.value.hint == hint


@pytest.mark.parametrize(
    ("chord", "pitch", "name"),
    # The letter is the chord's; music21 says which octave it lies in.
    [
        ("Eb", 39, "Eb2"),
        ("D#", 39, "D#2"),
        ("Cb", 35, "Cb2"),
        ("B#", 36, "B#1"),
        ("Gm7/Bb", 34, "Bb1"),
        ("N.C.", 39, "D#2"),
    ],
)
def test_the_first_root_is_spelled_as_its_chord(chord: str, pitch: int, name: str) -> None:
    (note, *_) = cell_line(["D"], SIXTEENTHS)
    note = replace(note, pitch=pitch, origin=replace(note.origin, onset=onset(chord)))
    assert Pitch(name.replace("b", "-")).midi == pitch
    with pytest.raises(NeckError) as caught:
        fingered([note], start_fret=14)
    assert f"the first root {name} is not on fret 14" in caught.value.message


@pytest.mark.parametrize("frame", [3, 4])
def test_frame(frame: int) -> None:
    line = fingered(plain_line([34, 35, 36, 37, 36, 35, 34, 36]), span=frame, max_fret=9)
    fingers = {place.finger for place in line.places if place.fret}
    assert (3 in fingers) == (frame == 4)


def test_max_fret_is_kept_to() -> None:
    line = fingered(plain_line([36, 40, 43, 45, 47, 48]), max_fret=5)
    assert max(place.fret for place in line.places) <= 5


@pytest.mark.parametrize(
    "choice",
    [
        {"fret_count": 19},
        {"span": 5},
        {"max_fret": 25},
        {"start_fret": -1},
        {"open_strings": "maybe"},
    ],
)
def test_choices_out_of_range(choice: dict[str, Any]) -> None:
    with pytest.raises(OptionError, match="out of range"):
        NeckOptions(**choice)


def test_below_the_lowest_string() -> None:
    with pytest.raises(NeckError) as caught:
        fingered(plain_line([38] * 8 + [26]))
    assert caught.value.message == (
        "bar 2 (verse): D1 lies below the lowest string, E1 (tuning four)"
    )
    assert caught.value.hint == (
        "would do: an octave higher (D2); the tuning five or six or drop D"
    )


def test_above_the_last_fret() -> None:
    with pytest.raises(NeckError, match="not on the neck") as caught:
        fingered(plain_line([66]), fret_count=20)
    assert caught.value.hint == "would do: an octave lower (F#3); the tuning six or tenor five"


def test_two_notes_at_once() -> None:
    notes = plain_line([36, 43])
    with pytest.raises(NeckError, match=r"bar 1 \(verse\): C2 and G2 at once"):
        fingered([notes[0], replace(notes[1], grid_tick=0)])


def test_a_stretch_no_hand_makes_at_that_tempo() -> None:
    # F1 to E4 and back in 62 ms: half a metre of the neck.
    line = plain_line([29, 64, 29, 64], step_ticks=240)
    with pytest.raises(NeckError, match=r"no hand gets from F1 to E4 in 62 ms") as caught:
        fingered(line, 240)
    assert "would do" in caught.value.hint
    slow = fingered(line, 40)
    assert len(slow.shifts) == 3


def test_a_rest_buys_time() -> None:
    notes = plain_line([36, 48, 36, 55, 36])
    late = [replace(n, grid_tick=n.grid_tick * 4) for n in notes]
    quick, slow = fingered(notes, 120), fingered(late, 120)
    assert slow.cost < quick.cost
    assert all(s.time_ms == pytest.approx(1000) for s in slow.shifts)


def test_shifts_are_measured_on_the_neck() -> None:
    # 34-inch scale, frets 2 and 5: 94.220 and 216.631 mm (handbook table).
    line = fingered(cell_line(["Bm", "D"], SIXTEENTHS), start_fret=2)
    assert [(s.from_fret, s.to_fret) for s in line.shifts] == [(2, 5)]
    assert line.shifts[0].travel_mm == pytest.approx(216.631 - 94.220, abs=0.001)
    assert line.travel_mm == line.shifts[0].travel_mm


@pytest.mark.parametrize("name", list(TUNINGS))
def test_every_tuning_places_every_root(name: str) -> None:
    tuning = TUNINGS[name]
    assert len(tuning.open_pitches) >= 4
    for root in range(tuning.lowest_pitch, tuning.lowest_pitch + 12):
        notes = plain_line([root, root + 12, root + 7, root], time_keeping=True)
        line = finger_line(notes, tempo_map=tempo(90), tuning=tuning)
        assert [tuning.pitch_at(p.string, p.fret) for p in line.places] == [n.pitch for n in notes]


def test_other_parts_are_left_alone() -> None:
    performance = as_performance(cell_line(["D", "A"], SIXTEENTHS), Meter(4, 4))
    kick = replace(performance.notes[0], part=Part.DRUMS, pitch=36, grid_tick=0)
    placed, line = finger_performance(
        replace(performance, notes=(performance.notes[0], kick, *performance.notes[1:]))
    )
    assert placed.part_notes(Part.DRUMS) == (kick,)
    assert placed.part_notes(Part.BASS) == line.notes
    assert [n.pitch for n in line.notes] == [n.pitch for n in performance.notes]


def test_an_empty_line() -> None:
    line = fingered([])
    assert (line.notes, line.shifts, line.cost) == ((), (), 0.0)


def test_a_fill_may_leave_the_cell() -> None:
    fill = plain_line([50, 52, 54, 55], time_keeping=False)
    line = fingered([replace(n, origin=replace(n.origin, role=Role.FILL)) for n in fill])
    assert len(line.places) == 4


@pytest.mark.parametrize("chord", [chord for chord in CHORDS if chord != "E"])
@pytest.mark.parametrize("cell", ["R - 8 - R - 8 -", "R 8 R 8 R 8 R 8"])
def test_an_octave_lies_under_first_and_little_finger(chord: str, cell: str) -> None:
    """Common practice, no source: it is one hand, whether three fingers cover it or four."""
    line = fingered(cell_line([chord] * 2, cell, 2), 110)
    assert {(p.finger, p.fret - p.position_fret) for p in line.places} == {(1, 0), (4, 2)}
    assert len({place.position_fret for place in line.places}) == 1


def test_a_written_double_stop_wider_than_a_hand_is_told() -> None:
    """A fourth and a tenth fret at once are six frets apart; two beside each other are not."""
    chart = "tempo: 96\nkey: D\nfeel: soul\nverse:\n| D |\n{}| G |\n"
    wide = "bar 1: frets 4 and 10 at once are farther apart than a hand reaches"
    for high, wanted in ((10, [wide]), (6, [])):
        rows = {"G": f"-{high}==", "D": "", "A": "-4==", "E": ""}
        text = "".join(f"{name} |{row.ljust(13, '-')}|\n" for name, row in rows.items())
        placed, _ = finger_performance(perform_chart(chart.format(text), load_library()))
        told = [text for text in notice_texts(placed.notices) if "at once" in text]
        assert told == wanted


def test_tables_that_are_kept_change_no_line() -> None:
    """One line after another, in four keys, with the costs of all before it and with none."""
    tables = line_tables(STANDARD, NeckOptions())
    line = cell_line(["E", "A", "D", "G"], SIXTEENTHS)
    compared = 0
    for semitones in range(0, 12, 3):
        notes = [replace(note, pitch=note.pitch + semitones) for note in line]
        kept = finger_line(notes, tempo_map=tempo(84), tables=tables)
        alone = finger_line(notes, tempo_map=tempo(84))
        assert (kept.places, kept.cost) == (alone.places, alone.cost)
        compared += len(kept.places)
    assert compared > 100
