"""Two lines over the same bars: what both do, and bar by bar what one does that the other does not.

Strokes are put beside each other by where they stand in the bar, without the swing of either.
"""

from collections import Counter
from collections.abc import Iterator, Sequence
from fractions import Fraction

from msgspec import Struct

from groove.study.note_kinds import PlacedNote
from groove.study.result import Study
from groove.study.studied_line import BarFrame
from groove.theory.pitch import OCTAVE

SAME_PLACE = Fraction(1, 12)
"""How many beats apart two strokes are one: so far is a sixteenth from a triplet."""
SAME_SWING_PERCENT = 1.5
"""Swings so near to each other are one; both are common practice, no source."""


class StrokePair(Struct, frozen=True, kw_only=True):
    """A place in a bar (beats from 1), and what either line strikes there: None for nothing."""

    beat: Fraction
    one: PlacedNote | None
    two: PlacedNote | None

    @property
    def is_same_rhythm(self) -> bool:
        """Whether both strike."""
        return self.one is not None and self.two is not None

    @property
    def octaves(self) -> int:
        """How many octaves the second one's note lies above the first one's, 0 for another note."""
        if self.one is None or self.two is None or self.one.kind is None or self.two.kind is None:
            return 0
        apart = self.two.note.pitch - self.one.note.pitch
        return 0 if apart % OCTAVE else apart // OCTAVE

    @property
    def is_same(self) -> bool:
        """Whether both strike the same note, or both a ghost."""
        if self.one is None or self.two is None:
            return False
        if self.one.kind is None or self.two.kind is None:
            return self.one.kind is self.two.kind
        return self.one.note.pitch == self.two.note.pitch


class BarPair(Struct, frozen=True, kw_only=True):
    """A played bar of both lines, its strokes in order.

    ``time`` is which time its written bar is played, from 1; 0 where it comes but once.
    """

    frame: BarFrame
    time: int
    strokes: tuple[StrokePair, ...]

    @property
    def is_same(self) -> bool:
        """Whether both lines have the same notes in it."""
        return all(stroke.is_same for stroke in self.strokes)

    @property
    def is_same_rhythm(self) -> bool:
        """Whether both lines strike at the same places of it."""
        return all(stroke.is_same_rhythm for stroke in self.strokes)


class ComparedLines(Struct, frozen=True, kw_only=True):
    """Two lines and their bars, paired."""

    one: Study
    two: Study
    bars: tuple[BarPair, ...]

    @property
    def has_same_swing(self) -> bool:
        """Whether both lines are swung alike, or neither is."""
        one, two = self.one.swing, self.two.swing
        if one is None or two is None:
            return one is two
        apart = abs((one.percent or 0) - (two.percent or 0))
        return one.unit is two.unit and apart <= SAME_SWING_PERCENT

    @property
    def same_share(self) -> float:
        """Which share of all strokes both lines have alike, 0 to 1; 1 where there are none."""
        strokes = [stroke for bar in self.bars for stroke in bar.strokes]
        return sum(stroke.is_same for stroke in strokes) / len(strokes) if strokes else 1.0


def compare_lines(one: Study, two: Study) -> ComparedLines:
    """Return two lines beside each other; both were studied in the same bars."""
    return ComparedLines(one=one, two=two, bars=tuple(_bar_pairs(one, two)))


def _bar_pairs(one: Study, two: Study) -> Iterator[BarPair]:
    of_one, of_two = _by_bar(one), _by_bar(two)
    counts = Counter(bar.frame.number for bar in one.bars)
    times: Counter[int] = Counter()
    for bar in one.bars:
        start, number = bar.frame.start_quarters, bar.frame.number
        times[number] += 1
        yield BarPair(
            frame=bar.frame,
            time=times[number] if counts[number] > 1 else 0,
            strokes=tuple(_paired(of_one.get(start, []), of_two.get(start, []))),
        )


def _by_bar(study: Study) -> dict[Fraction, list[PlacedNote]]:
    found: dict[Fraction, list[PlacedNote]] = {}
    for each in study.notes:
        found.setdefault(each.bar.frame.start_quarters, []).append(each)
    return found


def _paired(one: Sequence[PlacedNote], two: Sequence[PlacedNote]) -> Iterator[StrokePair]:
    """Yield the strokes of a bar in order, those at one place together."""
    left, right = list(one), list(two)
    while left or right:
        if left and right and abs(left[0].beat - right[0].beat) <= SAME_PLACE:
            yield StrokePair(beat=left[0].beat, one=left.pop(0), two=right.pop(0))
        elif left and (not right or left[0].beat < right[0].beat):
            yield StrokePair(beat=left[0].beat, one=left.pop(0), two=None)
        else:
            yield StrokePair(beat=right[0].beat, one=None, two=right.pop(0))
