"""The tempi of a ladder, worked out by hand."""

from fractions import Fraction

import pytest

from groove.errors import OptionError
from groove.practice.ladder import Ladder

F = Fraction


@pytest.mark.parametrize(
    ("ladder", "bpm", "percents"),
    [
        (Ladder(), 92, [60, 70, 80, 90, 100]),
        (Ladder(bottom=F(60), top=F(100), step=F(15)), 92, [60, 75, 90, 100]),
        (Ladder(bottom=F(80), top=F(80)), 92, [80]),
        (Ladder(bottom=F(100), top=F(120), step=F("7.5")), 92, [100, F("107.5"), 115, 120]),
        # 60 to 90 beats a minute by 5, of a song at 75: 60 is 4/5 of it, a step 1/15.
        (
            Ladder(bottom=F(60), top=F(90), in_bpm=True),
            75,
            [80, F(260, 3), F(280, 3), 100, F(320, 3), F(340, 3), 120],
        ),
        # Only the top in beats: from 60 % of 80, which is 48, by 5 beats: 53 and 58.
        (Ladder(top=F(58), in_bpm=True), 80, [60, F("66.25"), F("72.5")]),
        (Ladder(bottom=F(96), in_bpm=True), 100, [96, 100]),
    ],
)
def test_the_tempi_by_hand(ladder: Ladder, bpm: int, percents: list[Fraction]) -> None:
    assert list(ladder.percents(F(bpm))) == percents


def test_what_does_not_climb_is_refused() -> None:
    with pytest.raises(OptionError, match="would go down from 110 to 100"):
        Ladder(bottom=F(110)).percents(F(92))
    with pytest.raises(OptionError, match="a ladder of 101 tempi"):
        Ladder(bottom=F(50), top=F(100), step=F("0.5")).percents(F(92))
    assert len(Ladder(bottom=F("50.5"), top=F(100), step=F("0.5")).percents(F(92))) == 100
