"""What a player wrote, in another key and on another instrument.

Open strings: four E1 A1 D2 G2, five with B0 below, tenor five with C3 above, drop D with D1 for E1
(the table of tunings by name is common practice); MIDI numbers with C4 = 60.
"""

import pytest

from groove.cells.model import Library
from groove.errors import ChartError
from groove.events import Note, Part
from groove.neck.instrument import TUNINGS
from groove.pipeline import PerformOptions, perform_chart
from groove.text.notices import notice_texts
from groove.theory.keys import parse_key
from tests.arrange.tabs import tab_rows

HEAD = "tempo: 96\nkey: D\nfills: none\nverse:\n| D | D |\n"
ROWS = tab_rows({"E": {0: "3==="}, "A": {4: "5===", 8: "x"}, "D": {10: "<12>"}}, {})


def written(library: Library, rows: str = ROWS, **options: object) -> list[Note]:
    """Return the notes of the written bar."""
    asked = PerformOptions(tight=True, **options)  # type: ignore[arg-type]
    notes = perform_chart(f"{HEAD}{rows}\n", library, asked).part_notes(Part.BASS)
    return [note for note in notes if note.origin.bar.played_bar == 1]


def told(notes: list[Note]) -> list[tuple[int, object]]:
    """Return pitch and place of each note."""
    return [(note.pitch, tuple(note.stated_place or ())) for note in notes]


def test_a_key_moves_pitches_and_keeps_strings_where_they_fit(library: Library) -> None:
    """E major is two half steps up; a harmonic becomes a fretted note, as the node is gone."""
    assert told(written(library, key=parse_key("E"))) == [
        (33, (4, 5)),
        (40, (3, 7)),
        (40, (3, 7)),
        (52, (2, 14)),
    ]
    assert told(written(library, transpose=-3)) == [
        (28, (4, 0)),
        (35, (3, 2)),
        (35, (3, 2)),
        (47, (2, 9)),
    ]


@pytest.mark.parametrize("way", ["| D | D |", "transpose"])
def test_a_section_that_is_transposed_moves_what_is_written(library: Library, way: str) -> None:
    text = f"tempo: 96\nkey: D\nverse:\n  transpose: 2\n| D | D |\n{ROWS}\n"
    if way == "transpose":
        text = text.replace("  transpose: 2\n", "").replace("key: D", "key: D\ntranspose: 2")
    notes = perform_chart(text, library, PerformOptions(tight=True)).part_notes(Part.BASS)
    assert [note.pitch for note in notes[:2]] == [33, 40]


def test_another_instrument_has_the_same_notes_on_the_same_strings(library: Library) -> None:
    """On a five-string strings keep their numbers from the highest; with C3 above they go down."""
    plain = written(library)
    five, tenor = (written(library, tuning=TUNINGS[name]) for name in ("five", "tenor five"))
    assert [note.pitch for note in plain] == [note.pitch for note in five]
    assert [note.pitch for note in plain] == [note.pitch for note in tenor]
    assert [note.stated_place for note in five] == [note.stated_place for note in plain]
    assert [tuple(note.stated_place or ()) for note in tenor] == [
        (note.stated_place.string + 1, note.stated_place.fret)
        for note in plain
        if note.stated_place
    ]


def test_a_string_tuned_lower_has_its_notes_higher_up(library: Library) -> None:
    """G1 lies at fret 3 of E1 and fret 5 of D1."""
    assert told(written(library, tuning=TUNINGS["drop D"]))[0] == (31, (4, 5))


def test_a_note_below_the_neck_is_told_with_what_has_it(library: Library) -> None:
    with pytest.raises(ChartError, match="D#1, which is not on the neck") as caught:
        written(library, transpose=-4)
    place = caught.value.place
    assert (place.line, place.column) == (9, 5) and place.text.startswith("E |-3===")
    for word in ("1 half step higher", "B major", "five", "drop D"):
        assert word in caught.value.hint
    assert "Bb major" not in caught.value.hint
    lower = written(library, transpose=-4, tuning=TUNINGS["five"])
    assert (lower[0].pitch, lower[0].stated_place) == (27, (5, 4))


def test_a_low_note_of_a_five_string_is_not_on_a_four(library: Library) -> None:
    rows = "\n".join(f"{name} |-{'1' if name == 'B' else '-'}-------| |" for name in "GDAEB")
    text = f"tuning: five\n{HEAD}{rows}\n"
    assert perform_chart(text, library).part_notes(Part.BASS)[0].pitch == 24
    with pytest.raises(ChartError, match="C1, which is not on the neck") as caught:
        perform_chart(text, library, PerformOptions(tuning=TUNINGS["four"]))
    assert caught.value.place.line == 11 and "five" in caught.value.hint
    moved = PerformOptions(tuning=TUNINGS["four"], transpose=4)
    assert perform_chart(text, library, moved).part_notes(Part.BASS)[0].pitch == 28


FIXED = [
    ("riff a:\n  R @D1 . .\nverse:\n  bass: a\n| D |\n", 2, 5),
    ("verse:\n| D |\nbass | R . . @D1 |\n", 3, 14),
]


@pytest.mark.parametrize(("text", "line", "column"), FIXED)
def test_a_fixed_note_that_the_tuning_lacks_is_refused(
    library: Library, text: str, line: int, column: int
) -> None:
    with pytest.raises(ChartError, match="D1 is not on the neck") as caught:
        perform_chart(text, library)
    assert (caught.value.place.line, caught.value.place.column) == (line, column)
    assert "drop D" in caught.value.hint
    found = perform_chart(text, library, PerformOptions(tuning=TUNINGS["drop D"]))
    assert 26 in [note.pitch for note in found.part_notes(Part.BASS)]


def test_a_riff_that_nobody_plays_is_refused_nowhere(library: Library) -> None:
    perform_chart("riff a:\n  R @D1 . .\nverse:\n| D |\n", library)


def test_a_degree_below_the_lowest_string_is_told_once(library: Library) -> None:
    """The fifth below E1 and F1 is not on a four-string; below B1 (35) it is F#1 (30)."""
    text = "riff a:\n  R 5, R 5,\nkey: B\nverse:\n  bass: a\n| B | E | F | E |\n"
    performance = perform_chart(text, library, PerformOptions(tight=True))
    told_once = [t for t in notice_texts(performance.notices) if "below the lowest string" in t]
    assert len(told_once) == 1 and "a falls" in told_once[0] and "over E in bar 2" in told_once[0]
    pitches = [note.pitch for note in performance.part_notes(Part.BASS)]
    assert pitches == [35, 30, 35, 30, 28, 35, 28, 35, 29, 36, 29, 36, 28, 35, 28, 35]
    five = perform_chart(text, library, PerformOptions(tight=True, tuning=TUNINGS["five"]))
    assert [note.pitch for note in five.part_notes(Part.BASS)] == pitches
