"""What a chart says is compared by what it says, wherever it stands.

Judge: the Python language reference on ``object.__eq__`` and ``object.__hash__``: values that are
equal have equal hashes.
"""

import pytest
from msgspec.structs import replace

from groove.chart.model import RiffRow, Slot, Song, TokenLine
from groove.chart.parse import parse_chart

CHART = """title: Two
key: D
feel: soul
riff hook:
  R . . 5 R . 5 .
verse:
  | D | <A7 |
  bass | R - 5 - | 3 - 5 - |
"""
SPACED = CHART.replace("verse:", "# a remark\n\n\nverse:").replace("| D |", "|  D   |")


def songs(*texts: str) -> list[Song]:
    """Return the songs of charts, each read from another file."""
    return [parse_chart(text, source=f"{number}.txt") for number, text in enumerate(texts)]


def test_songs_that_say_the_same_are_equal_wherever_it_stands() -> None:
    song, spaced = songs(CHART, SPACED)
    assert song.sections[0].bars[1].place != spaced.sections[0].bars[1].place
    assert song == spaced and hash(song) == hash(spaced)
    assert (song != spaced) is False
    assert song.source != spaced.source


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("title: Two", "title: Three"),
        ("feel: soul", "feel: ska"),
        ("R . . 5", "R . . 8"),
        ("<A7", "A7"),
        ("<A7", "<A9"),
        ("R - 5 -", "R - 8 -"),
    ],
)
def test_songs_that_differ_in_a_word_do_not_equal(old: str, new: str) -> None:
    song, other = songs(CHART, CHART.replace(old, new))
    assert song != other and hash(song) != hash(other)


def test_values_of_two_kinds_are_never_equal() -> None:
    slots = parse_chart(CHART).sections[0].bars[0].line
    assert isinstance(slots, TokenLine)
    assert slots != RiffRow(name="", bars=(slots.slots,))
    assert slots.slots[0] != slots and slots != slots.slots


def test_a_value_is_shown_without_its_place() -> None:
    line = parse_chart(CHART).sections[0].bars[0].line
    assert isinstance(line, TokenLine)
    slot = replace(line.slots[0], level=7)
    assert repr(slot) == "Slot(token='R', level=7)"
    assert type(slot) is Slot
