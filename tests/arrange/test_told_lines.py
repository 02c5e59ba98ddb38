"""What is told of a player's own line where it cannot sound as it seems to say."""

import pytest

from groove.cells.model import Library
from groove.neck.fingering import finger_performance
from groove.neck.options import NeckOptions
from groove.pipeline import perform_chart
from groove.text.notices import notice_texts

HEAD = "tempo: 90\nkey: D\nfeel: soul\n"
RIFF = "riff knock:\n  {} . R . 5 . . .\nverse:\nbass: knock\n| D | G |\n"
HOLD = "G |---------|\nD |---------|\nA |====-5---|\nE |---------|\n"


def told(text: str, library: Library) -> list[str]:
    return notice_texts(perform_chart(HEAD + text, library).notices)


def test_a_first_note_that_slides_from_nothing_is_told(library: Library) -> None:
    assert told(RIFF.format("5"), library) == []
    (notice,) = told(RIFF.format("s5"), library)
    assert notice.startswith("bar 1: the first note slides in from below")
    # In bar 2 the slide has a note before it.
    assert (
        told(RIFF.replace("| D | G |", "| D |\nbass | R . . . |\n| G |").format("s5"), library)
        == []
    )


@pytest.mark.parametrize("row", [HOLD, "bass | - R . . |\n"])
def test_a_hold_with_nothing_before_it_is_told_with_its_bar(library: Library, row: str) -> None:
    (notice,) = told(f"verse:\n| D |\n{row}| G |\n", library)
    assert notice == "bar 1 begins with a hold, and no note before it lasts so long"
    assert told(f"verse:\nbass: long notes\n| D |\n| G |\n{row}", library) == []
    # Each written bar once, however often it is played.
    assert len(told(f"verse:\n| N.C. |\n| G |\n{row}form: verse x3\n", library)) == 1


def test_written_notes_above_the_highest_fret_that_is_asked_for_are_told(library: Library) -> None:
    rows = "".join(f"{s} |{'-12--9---' if s == 'A' else '-' * 9}|\n" for s in "GDAE")
    performance = perform_chart(f"{HEAD}verse:\n| D |\n{rows}| G |\n", library)
    for fret, wanted in ((12, []), (11, ["fret 12 in bar 1"]), (7, ["fret 12 in bar 1"])):
        placed, line = finger_performance(performance, options=NeckOptions(max_fret=fret))
        found = notice_texts(placed.notices)
        assert [text[-len(wanted[0]) :] for text in found] == wanted if wanted else found == []
        assert [place.fret for place in line.places][:2] == [12, 9]
