"""A song at another tempo: every tempo of its chart, by the same share, worked out by hand."""

from fractions import Fraction

import pytest

from groove.chart.parse import parse_chart
from groove.chart.tempo_map import at_another_tempo

CHART = "{head}verse:\n| D |\nchorus:\ntempo: 60 to 80\n| G |\nend:\n| A |\n"


@pytest.mark.parametrize(("head", "own", "moved"), [("tempo: 120\n", 120, 180), ("", 100, 150)])
def test_every_tempo_moves(head: str, own: int, moved: int) -> None:
    """Without a tempo a chart is played at a hundred (design of the chart, no other source)."""
    song = parse_chart(CHART.format(head=head))
    assert song.tempo.bpm == own
    fast = at_another_tempo(song, Fraction(3, 2))
    assert fast.tempo.bpm == moved
    chorus = fast.section("chorus").settings.tempo
    assert chorus is not None and chorus.bpm == 90 and chorus.end_bpm == 120
    assert fast.section("verse").settings.tempo is None


def test_a_tempo_of_the_first_section_alone() -> None:
    song = parse_chart("verse:\ntempo: 80\n| D |\nchorus:\n| G |\n")
    fast = at_another_tempo(song, Fraction(1, 2))
    assert fast.settings.tempo is None and fast.tempo.bpm == 40
