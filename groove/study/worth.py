"""What of a line is worth practising first: the hand's hard moves, runs, what comes once."""

from collections.abc import Iterator

from msgspec import Struct

from groove.study.result import Study, departures
from groove.text.counts import bar_span, counted

MOST_WORTH = 3
_PERCENT, _TIMES = 70, 8
"""How fast and how often it is looped at first; common practice, no source."""


class Worth(Struct, frozen=True, kw_only=True):
    """Bars to practise, first and last, and why, in words."""

    bars: tuple[int, int]
    why: str

    @property
    def options(self) -> list[str]:
        """The options of a render that loops them with a click and without the bass."""
        often = ["--bars", bar_span(*self.bars), "--times", str(_TIMES)]
        return ["--without", "bass", "--click", "--tempo", f"{_PERCENT}%", *often]


def worth_practising(study: Study) -> tuple[Worth, ...]:
    """Return what is worth practising, the hardest first, each bar once."""
    found: dict[int, Worth] = {}
    for last, why in _reasons(study):
        numbers = sorted({bar.frame.number for bar in study.bars if bar.notes})
        before = [number for number in numbers if number == last - 1]
        found.setdefault(last, Worth(bars=(before[0] if before else last, last), why=why))
    return tuple(found.values())[:MOST_WORTH]


def _reasons(study: Study) -> Iterator[tuple[int, str]]:
    """Yield bars with what is hard in them, the hardest first; the busiest one at least."""
    hard = [shift for shift in study.hand.shifts if shift.is_hard] if study.hand else []
    for shift in sorted(hard, key=lambda each: (-abs(each.to_fret - each.from_fret), each.time_ms)):
        moves = f"fret {shift.from_fret} to {shift.to_fret} in {shift.time_ms / 1000:.2f} s"
        yield shift.bar, f"the hand goes from {moves}"
    for run in sorted(study.runs, key=lambda each: -each.notes):
        yield run.bar, f"a run of {counted(run.notes, 'note')} into {run.to}"
    once = departures(study)
    if len(once) < len(study.bars):
        for bar in sorted(once, key=lambda each: -len(each.notes)):
            yield bar.frame.number, f"bar {bar.frame.number} comes once"
    busy = max(study.bars, key=lambda each: len(each.notes), default=None)
    if busy and busy.notes:
        yield busy.frame.number, f"the most notes in a bar, {len(busy.notes)}"
