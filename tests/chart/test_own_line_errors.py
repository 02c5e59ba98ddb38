"""Bad input where a player writes a line: each error has its place, what was found, what would do.

The places are marked by hand in the charts: « before the text under the caret, » after it.
"""

import pytest

from groove.cells.model import Library
from groove.errors import ChartError
from groove.pipeline import PerformOptions, perform_chart
from groove.text.notices import notice_texts

TAB = "G |-----|\nD |-----|\nA |-2-2-|\nE |-----|\n"
RIFF = "riff heron:\n  R - 5 .\n"
ONE = "verse:\n| D |\n"

CASES = [
    # Tab that does not fill the bar, or is not as wide as the strings beside it.
    (f"{ONE}G |«------»|\nD |------|\nA |-2-2--|\nE |------|\n", "6 columns in a bar of 4/4",
     "to every beat: 4, 8, 12, 16 …, or one more with a dash in front: 5, 9, 13, 17 …;"),
    (f"{ONE}G |-----|\nD |«----»|\nA |-2-2-|\nE |-----|\n",
     "4 columns where the string above has 5",
     "every string of a bar to be as wide"),
    (f"{ONE}«G |-----|---|»\nD |-----|---|\nA |-2-2-|---|\nE |-----|---|\n",
     "2 bars under a line of 1", "expected as many as above"),
    ("verse:\n| D | G |\n«G |-----|»\nD |-----|\nA |-2-2-|\nE |-----|\n",
     "1 bar under a line of 2", "an empty one, | |, is drawn"),
    (f"{ONE}G «|:»-----|\nD |-----|\nA |-2-2-|\nE |-----|\n", "found", "plain bar lines"),
    # A fret the neck has not; a missing string, or one too many.
    (f"{ONE}G |-----|\nD |-----|\nA |-«31»--|\nE |-----|\n", "fret 31", "0 to 24"),
    (f"{ONE}G |---------|\nD |---------|\nA |-«7b19»----|\nE |---------|\n",
     "bend from fret 7 to 19",
     "e.g. 7b9"),
    (f"{ONE}G |-----|\n«A |-2-2-|»\nE |-----|\n", "string A where D belongs", "G D A E"),
    (f"{ONE}G |-----|\nD |-----|\n«A |-2-2-|»\n", "3 strings", "tuning: five"),
    (f"{ONE}{TAB}«B |-----|»\n", "5 strings", "tuning: five"),
    # A slur that leads nowhere, comes from nowhere, or goes the wrong way.
    (f"{ONE}G |-----|\nD |-----|\nA |-2-2«h»|\nE |-----|\n", "leads to nothing", "e.g. 5h7"),
    # Marks of another notation.
    (f"{ONE}G |-----|\nD |-----|\nA |-----|\nE |-«S»-2-|\n", "found 's' on a string",
     "slap and pop"),
    (f"{ONE}G |-----|\nD |-----|\nA |-----|\nE |-«T»-2-|\n", "found 't' on a string",
     "slap and pop"),
    (f"{ONE}G |-----|\nD |-----|\nA |---«P»-|\nE |-----|\n", "'p' that leads to nothing",
     "not read"),
    (f"{ONE}G |-----|\nD |-----|\nA |-----|\nE |--h«2»-|\n", "no note before it", "e.g. 5h7"),
    (f"{ONE}G |---------|\nD |---------|\nA |-5-h«2»----|\nE |---------|\n", "from fret 5 to 2",
     "h to a higher fret"),
    ("verse:\n| D | G |\nG |-----|«==»---|\nD |-0-2-|-----|\nA |-----|-----|\nE |-----|-----|\n",
     "no note before it", "silence"),
    # Tokens.
    (f"{ONE}bass | R «Q» 5 . |\n", "found 'Q'", "expected R 2 3"),
    (f"{ONE}bass |« R 5 . »|\n", "3 slots in a bar of 4/4", "4, 8 or 16 slots"),
    (f"{ONE}bass | R . «-» . |\n", "hold after a rest", "nothing to hold"),
    (f"{ONE}bass | «@C1» - 5 . |\n", "C1 is not on the neck", "five, six"),
    (f"{ONE}bass | R 5 R 5 |\n«bass | R 5 R 5 |»\n", "second row", "one row of tokens"),
    # Rows that stand nowhere.
    ("verse:\n«G |-----|»\n| D |\n", "row with no bars above", "e.g. | D | G |"),
    ("verse:\n«bass | R . 5 . |»\n| D |\n", "row with no bars above", "e.g. | D | G |"),
    # Riffs.
    ("riff heron:\n  «R» - 5 .\nverse:\nmeter: 3/4\nbass: heron\n| D |\n",
     "4 slots in a bar of heron, played in 3/4", "3, 6, 9 or 12 slots"),
    ("riff heron:\n  «@C1» - 5 .\nverse:\nbass: heron\n| D |\n", "C1 is not on the neck",
     "E1 to G4"),
    (f"{RIFF}«riff heron:»\n  R\n{ONE}", "stands twice, first in line 1", "another name"),
    (f"{RIFF}  «Chorsu»: R - 5 .\n{ONE}", "no such row of a bass part", "nearest: chorus"),
    (f"{RIFF}verse:\nbass: «herom»\n| D |\n", "no such bass cell", "nearest: heron"),
    # Words of the end and jumps.
    ("verse:\n| D | «(tag x3)» G |\nchorus:\n| D |\n", "before its end", "in chorus"),
    ("verse:\n| D | «(ritard)» G |\nchorus:\n| D |\n", "before its end", "in chorus"),
    ("verse:\n| «(segno)» D | (D.S.) G |\nform: verse\n", "jump in a chart that has a form:",
     "expected one of the two"),
    ("verse:\n| D | «(D.S.)» G |\n", "no (segno)", "(segno) at a bar's head"),
    ("verse:\n| D | «(to coda)» G |\n", "mark that no jump goes to", "(D.S. al coda)"),
    # Settings and sections like others.
    ("verse:\n| D | G |\n«tempo»: 90\n", "tempo stands after the bars", "above the bars"),
    (f"{ONE}other:\nas: «vers»\nbar 1: | G |\n", "no section above", "nearest: verse"),
    (f"{ONE}other:\nas: verse\n«bar 9»: | G |\n", "verse has no bar 9", "bar 1 to bar 1"),
]  # fmt: skip


@pytest.mark.parametrize(("marked", "message", "hint"), CASES)
def test_each_mistake_has_its_place_and_what_would_do(
    library: Library, marked: str, message: str, hint: str
) -> None:
    before, found, _ = marked.replace("»", "«").split("«")
    text = marked.replace("«", "").replace("»", "")
    with pytest.raises(ChartError) as caught:
        perform_chart(text, library, source="any.txt")
    error = caught.value
    assert message in error.message
    assert hint in error.hint and error.hint
    line, column = before.count("\n") + 1, len(before.rpartition("\n")[2]) + 1
    assert (error.place.line, error.place.column) == (line, column)
    assert error.place.length == len(found)
    shown = error.report().split("\n")
    assert shown[0] == f"any.txt:{line}:{column}: {error.message}"
    assert shown[2].strip() == "^" * len(found)


def test_there_is_a_case_for_every_kind_of_mistake() -> None:
    assert len(CASES) == 37


TOLD = [
    (f"{RIFF}{ONE}", "heron (line 1) is played nowhere: write bass: heron in a section"),
    ("riff walking:\n  R - 5 .\nverse:\nbass: walking\n| D | G |\n",
     "bass walking: the chart's own, in place of the shipped one"),
    ("riff heron:\n  R - 5, .\nverse:\nbass: heron\n| E | E |\n", "octave"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "told"), TOLD)
def test_what_is_decided_for_the_player_is_told_once(
    library: Library, text: str, told: str
) -> None:
    notices = notice_texts(perform_chart(text, library, PerformOptions(tight=True)).notices)
    assert len([notice for notice in notices if told in notice]) == 1
