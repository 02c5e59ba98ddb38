"""What to practise after a take: a few bars, a tempo, and the options that play them."""

from collections import Counter
from collections.abc import Sequence

from msgspec import Struct

from groove.take.judgement import TakeReport
from groove.verdict import Steadiness

SLOWER_PERCENT, MUCH_SLOWER_PERCENT, FASTER_PERCENT = 80, 70, 105
SLIPS_IN_A_BAR = 2
"""So many notes of a bar at another pitch are no slip of the finger."""
LOOP_TIMES = 8
"""How often a piece is looped; all of these are common practice, no source."""


class NextStep(Struct, frozen=True, kw_only=True):
    """What comes next: the chart's bars (None: all), a share of the tempo, and why, in words."""

    bars: tuple[int, int] | None
    percent: int
    why: str

    def tempo_bpm(self, report: TakeReport) -> float:
        """Return the tempo, of the reference's own beat."""
        return report.reference.tempo_bpm * self.percent / 100

    def options(self) -> list[str]:
        """Return the options of a render that plays it, with a click."""
        words = ["--without", "bass", "--click"]
        words += [] if self.percent == 100 else ["--tempo", f"{self.percent}%"]
        if self.bars:
            first, last = self.bars
            words += ["--bars", str(first) if first == last else f"{first}-{last}"]
            words += ["--times", str(LOOP_TIMES)]
        return words


def next_step(report: TakeReport) -> NextStep | None:
    """Return what to practise next, None where there is no verdict."""
    if report.steadiness is None:
        return None
    numbers = [bar.number for bar in report.reference.bars if bar.number > 0]
    if report.left_out:
        return NextStep(bars=_around(report.left_out, numbers), percent=100, why="left out")
    if report.worst_bars:
        bars = _around(report.worst_bars[:1], numbers)
        return NextStep(bars=bars, percent=SLOWER_PERCENT, why="these strayed the most")
    if report.steadiness in (Steadiness.UNEVEN, Steadiness.UNSTEADY):
        return NextStep(bars=None, percent=MUCH_SLOWER_PERCENT, why="slowly, until it is even")
    if report.trend.moves:
        return NextStep(bars=None, percent=100, why=f"against {report.trend}, with the click")
    at_another_pitch = Counter(
        report.reference.bars[report.reference.notes[index].bar].number for index in report.wrong
    )
    for number, count in at_another_pitch.most_common(1):
        if count >= SLIPS_IN_A_BAR:
            why = "heard at another pitch"
            return NextStep(bars=_around([number], numbers), percent=SLOWER_PERCENT, why=why)
    return NextStep(bars=None, percent=FASTER_PERCENT, why="it holds: a little faster")


def _around(found: Sequence[int], numbers: Sequence[int]) -> tuple[int, int]:
    """Return some bars with the one before them, which leads there."""
    first = max(min(numbers), min(found) - 1)
    return first, max(found)
