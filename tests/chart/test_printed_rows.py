"""What a printed tab has beside its strings is refused by name where it is pasted into a chart.

The lines are those of ``groove tab --fingers --pluck``, printed here by the command.
"""

import pytest

from groove.cells.model import Library
from groove.chart.model import Vary
from groove.chart.parse import parse_chart
from groove.errors import ChartError
from groove.neck.fingering import finger_performance
from groove.pipeline import PerformOptions, perform_song
from groove.text.tab import tab_text

CHART = "title: Moss\nverse:\n  | D | G | A7 | D |\nform: verse x3\n"
NAMED = [
    ("(bass: E A D G)", "the title of a printed tab"),
    ("bar 1", "a heading of a printed tab"),
    ("bar 3", "a heading of a printed tab"),
    ("    D   ", "chord names without bar lines"),
    ("    A7  ", "chord names without bar lines"),
    ("fi ", "the fingers of a printed tab"),
    ("pl ", "the plucking of a printed tab"),
    ("as the ", "a time of a printed tab that is told in words"),
    ("x ghost", "the legend of a printed tab"),
    ("pl pluck: i index", "the legend of a printed tab"),
]


@pytest.fixture(scope="module")
def printed(library: Library) -> list[str]:
    performance = perform_song(
        parse_chart(CHART), library, PerformOptions(feel="sixteenths", tight=True, vary=Vary.NONE)
    )
    placed, _ = finger_performance(performance)
    return tab_text(placed, show_fingers=True, show_pluck=True).splitlines()


def found(text: str, line: str) -> str:
    """Return what a chart is refused for; the place is that of the line."""
    with pytest.raises(ChartError) as caught:
        parse_chart(text)
    assert caught.value.place
    assert caught.value.place.text.strip() == line.strip()
    assert caught.value.hint
    return caught.value.message


def test_each_row_that_is_no_string_is_named(printed: list[str]) -> None:
    bars = "verse:\n  | D | G |\n"
    strings = [line for line in printed if "|" in line][:4]
    rows = "".join(f"{row}\n" for row in strings)
    parse_chart(bars + rows)
    named = 0
    for begins, words in NAMED:
        line = next(each for each in printed if begins in each)
        for text in (f"{bars}{line}\n{rows}", f"{bars}{rows}{line}\n"):
            assert found(text, line) == f"found {words}", line
            named += 1
    assert named == 20


def test_a_title_above_all_bars_is_named(printed: list[str]) -> None:
    title = printed[0]
    assert found(f"{title}\nverse:\n| D |\n", title) == "found the title of a printed tab"


def test_a_whole_print_is_read_once_its_other_lines_are_struck_out(printed: list[str]) -> None:
    system = printed[2:11]
    kept = [line for line in system if "|" in line or line.strip().startswith("1")]
    song = parse_chart("verse:\n  | D | G |\n" + "\n".join(kept[:5]) + "\n")
    assert len(kept) == 5
    assert all(bar.line for bar in song.sections[0].bars)
