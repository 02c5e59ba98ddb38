"""What to practise after a take: which bars, how fast, and the options that play them."""

from groove.take.practice_next import NextStep, _around


def test_some_bars_are_practised_with_the_one_that_leads_there() -> None:
    # Common practice, no source; the first bar of all has none before it.
    numbers = list(range(1, 9))
    assert _around([5], numbers) == (4, 5)
    assert _around([3, 4], numbers) == (2, 4)
    assert _around([1], numbers) == (1, 1)


def test_a_piece_is_looped_and_the_whole_is_not() -> None:
    piece = NextStep(bars=(4, 5), percent=80, why="these strayed the most")
    assert piece.options() == [
        "--without", "bass", "--click", "--tempo", "80%", "--bars", "4-5", "--times", "8",
    ]  # fmt: skip
    whole = NextStep(bars=None, percent=105, why="it holds: a little faster")
    assert whole.options() == ["--without", "bass", "--click", "--tempo", "105%"]
