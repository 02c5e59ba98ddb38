"""How numbers of bars are written: as English counts them, one bar, two bars (no other source)."""

from groove.text.counts import bar_span, numbered_bars, spanned_bars


def test_bars_are_written_by_their_numbers() -> None:
    assert numbered_bars([4]) == "bar 4"
    assert numbered_bars([1, 5]) == "bars 1, 5"


def test_runs_of_bars_are_written_by_their_ends() -> None:
    assert spanned_bars([(4, 4)]) == "bar 4"
    assert spanned_bars([(5, 8)]) == "bars 5-8"
    assert spanned_bars([(1, 1), (5, 8)]) == "bars 1, 5-8"
    assert (bar_span(3, 3), bar_span(3, 4)) == ("3", "3-4")
