"""In a section's name hyphen and blank are the same, wherever it is called (common practice)."""

import pytest

from groove.bar_place import SectionKind
from groove.cells.model import Library
from groove.chart.parse import parse_chart
from groove.errors import ChartError
from groove.pipeline import PerformOptions, perform_song

CHART = (
    "verse:\n| D | G |\n{heading}:\n| A | A |\nverse two:\nas: verse\n"
    "form: verse, {called}, verse two, {called} x2\n"
)
SPELLINGS = [
    ("Pre-Chorus", "pre chorus"),
    ("pre chorus", "Pre-chorus"),
    ("Prechorus", "prechorus"),
    ("pre-chorus", "pre-chorus"),
]


@pytest.mark.parametrize(("heading", "called"), SPELLINGS)
def test_a_form_finds_its_section(library: Library, heading: str, called: str) -> None:
    song = parse_chart(CHART.format(heading=heading, called=called))
    whole = perform_song(song, library)
    names = [bar.ref.section for bar in whole.bars]
    assert names == ["verse"] * 2 + [heading] * 2 + ["verse two"] * 2 + [heading] * 4
    kinds = {bar.place.kind for bar in whole.bars if bar.ref.section == heading}
    assert kinds == {SectionKind.PRE_CHORUS}
    for asked, count in ((called, 2), (f"{called} 3", 2)):
        piece = perform_song(song, library, PerformOptions(sections=(asked,)))
        assert [bar.ref.section for bar in piece.bars] == [heading] * count
    assert piece.bars[0].ref.occurrence == 3


def test_a_section_is_like_one_that_is_written_otherwise() -> None:
    song = parse_chart("Middle-Part:\n| D | G |\nout:\nas: middle part\n")
    assert song.sections[1].like == "Middle-Part"


def test_two_that_differ_by_a_hyphen_alone_stay_two() -> None:
    song = parse_chart("mid part:\n| D |\nmid-part:\n| G |\nform: mid-part, mid part, mid-part\n")
    assert [entry.section for entry in song.form] == ["mid-part", "mid part", "mid-part"]
    with pytest.raises(ChartError, match="no such section"):
        parse_chart("mid part:\n| D |\nform: midpart\n")
