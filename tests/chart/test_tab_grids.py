"""How the columns of a bar are counted where they might be counted otherwise, and what is told.

Times are counted by hand: in 4/4 thirty-three columns are a margin and sixteen slots of two.
That players keep the grid of such tab and let a number of two digits cover two of its columns is
common practice, no source.
"""

import re

import pytest

from groove.chart.model import TabLine
from groove.chart.parse import parse_chart
from groove.errors import ChartError
from groove.text.notices import notice_texts

SLOTS_16 = 33


def read(row: str, bars: str = "| D |", beats: str = "") -> tuple[list[str], list[str]]:
    """Return where the notes of an A string's bar begin, in quarters, and what is told."""
    silent = "-" * len(row)
    rows = "\n".join(f"{name} |{row if name == 'A' else silent}|" for name in "GDAE")
    song = parse_chart(f"key: D\nverse:\n{bars}\n{rows}\n{beats}")
    line = song.sections[0].bars[0].line
    assert isinstance(line, TabLine)
    return [str(note.start_quarters) for note in line.notes], notice_texts(song.notices)


@pytest.mark.parametrize(
    ("row", "wanted"),
    [
        ("-5-12--7-", ["0", "1/4", "3/4"]),
        ("-12--10--7-5-", ["0", "1/2", "1", "5/4"]),
        ("-5-5-12--12--", ["0", "1/4", "1/2", "1"]),
    ],
)
def test_a_wide_number_on_a_fixed_grid_moves_nothing(row: str, wanted: list[str]) -> None:
    assert read(row.ljust(SLOTS_16, "-")) == (wanted, [])


def test_the_grid_with_the_fewest_slots_is_meant() -> None:
    """One column more for the ten, on every string: sixteen slots again, nothing to tell."""
    starts, told = read("-5-10-7-5-".ljust(SLOTS_16 + 1, "-"))
    assert starts == ["0", "1/4", "1/2", "3/4"]
    assert told == []


def test_a_wide_number_that_leaves_no_grid_is_told_with_its_line() -> None:
    _, told = read("-12-7-5--".ljust(SLOTS_16, "-"))
    (notice,) = told
    assert notice.startswith("line 3: bar 1 is read one column a slot")
    assert "row of beats" in notice


def test_columns_that_are_triplets_are_told_and_a_row_of_beats_tells_nothing() -> None:
    starts, told = read("-5-----7-----")
    assert starts == ["0", "2"]
    (notice,) = told
    assert notice.startswith("line 3: bar 1 is read in triplets, a column each")
    _, told = read("-5-----7-----", beats="    1  2  3  4")
    assert told == []
    # Two columns a triplet are written so on purpose.
    _, told = read("-5-----7----".ljust(25, "-"))
    assert told == []


def test_several_such_bars_are_told_once() -> None:
    row = "-5-----7-----"
    rows = "\n".join(
        f"{name} |{'|'.join([row if name == 'A' else '-' * len(row)] * 3)}|" for name in "GDAE"
    )
    song = parse_chart(f"key: D\nverse:\n| D | G | A |\n{rows}\n")
    assert len(notice_texts(song.notices)) == 1
    assert "so are 2 more" in notice_texts(song.notices)[0]


@pytest.mark.parametrize("row", ["5-5-5-5-5-5-5-5--", "5-7------"])
def test_a_sign_in_the_margin_is_told_as_what_it_is(row: str) -> None:
    with pytest.raises(ChartError) as raised:
        read(row)
    assert f"found a sign in the first of {len(row)} columns" in raised.value.message
    assert (raised.value.place.line, raised.value.place.column) == (6, 4)
    assert "a dash before the first fret" in raised.value.hint
    assert str(len(row)) not in raised.value.hint


@pytest.mark.parametrize(("meter", "beats"), [("4/4", 4), ("3/4", 3), ("5/4", 5)])
def test_the_widths_that_are_offered_are_those_that_are_read(meter: str, beats: int) -> None:
    """A bar is read where its columns, or those after a dash, divide by its beats."""
    bars = f"meter: {meter}\nverse:\n| D |\n"
    judged = 0
    for width in range(1, 34):
        text = bars + "\n".join(f"{name} |{'-' * width}|" for name in "GDAE")
        if width >= beats and width % beats < 2:
            parse_chart(text)
        else:
            with pytest.raises(ChartError) as raised:
                parse_chart(text)
            offered = [int(word) for word in re.findall("[0-9]+", raised.value.hint)]
            even = [beats * times for times in range(1, 5)]
            assert offered == [*even, *(count + 1 for count in even)]
        judged += 1
    assert judged == 33


def test_a_lone_dash_of_a_word_processor_is_one_hold() -> None:
    """A word processor makes of a hyphen between blanks an en dash; a phone, of two, an em dash."""
    rows = {"R – 5 –": "R - 5 -", "R — 5 -": "R -- 5 -", "R -- 5 –": "R - - 5 -"}
    for row, typed in rows.items():
        texts = [f"key: D\nmeter: {'5/4' if '—' in row or '--' in row else '4/4'}\nverse:\n| D |\n"
                 f"bass | {each} |\n" for each in (row, typed)]  # fmt: skip
        found, wanted = (parse_chart(text).sections[0].bars[0].line for text in texts)
        assert found == wanted is not None, row
    assert len(rows) == 3


def test_slots_of_cut_time_are_counted_in_quarters() -> None:
    with pytest.raises(ChartError, match="3 slots in a bar of 2/2: 4 quarters"):
        parse_chart("meter: 2/2\nverse:\n| D |\nbass | R 5 8 |\n")
    with pytest.raises(ChartError, match="played in 2/2: 4 quarters"):
        parse_chart("meter: 2/2\nriff knock:\n  R 5 8\nverse:\nbass: knock\n| D |\n")
