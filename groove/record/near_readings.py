"""Where a record may be read another way that fits nearly as well: what is said there is unsure.

Which of two phrases alike was left out nobody can hear; and a phrase that is said to come again
may be one that the chart does not have.
"""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from msgspec.structs import replace

from groove.record.due_sound import DueSound
from groove.record.heard_bar import HeardBar
from groove.record.heard_tones import TONE_STEP_SEC
from groove.record.song_path import NO_PLACE, SongPath
from groove.record.ways import ELSEWHERE_COST

if TYPE_CHECKING:
    from groove.arrays import Floats, Places

_NEAR_SEC = 0.6
"""Another reading is near that costs less than so much more, in seconds of what fits not at all."""
NEAR_CONFIDENCE = 0.4
"""The most that is said of a bar that another reading has elsewhere: it is one to check."""


def without_unlike(path: SongPath) -> "Places":
    """Return the places of a way, but none where bars come again that are not like the chart."""
    places = path.places.copy()
    for step in range(1, len(places)):
        before, after = int(path.places[step - 1]), int(path.places[step])
        if after == NO_PLACE or before == NO_PLACE or after >= before:
            continue
        end = step + 1
        while end < len(places) and path.places[end - 1] < path.places[end] + 1 <= before + 1:
            end += 1
        if end - step > 1 and path.paid[step + 1 : end].mean() > ELSEWHERE_COST:
            places[step:end] = NO_PLACE
    return places


def with_doubts(
    bars: Sequence[HeardBar],
    due: DueSound,
    harmony: "Floats",
    heard: "Floats",
    *,
    start_sec: float,
    plain_sec: float,
) -> list[HeardBar]:
    """Return bars with less confidence in those that another reading has elsewhere.

    ``heard`` begins at ``start_sec``; ``plain_sec`` is how much more it costs, an edit, to read the
    record without edits inside sections.
    """
    unlike = _Unlike(due, harmony, heard, start_sec)
    doubted: set[int] = set()
    for place in range(1, len(bars)):
        edited = _edited(bars[place - 1].index, bars[place].index, due)
        if edited is None:
            continue
        if plain_sec < _NEAR_SEC:
            doubted |= _around(bars, place, edited)
        doubted |= _otherwise(bars, place, edited, unlike)
    return [
        replace(one, confidence=min(one.confidence, NEAR_CONFIDENCE)) if place in doubted else one
        for place, one in enumerate(bars)
    ]


def edit_count(bars: Sequence[HeardBar], due: DueSound) -> int:
    """Return how many edits inside sections a record has."""
    return sum(
        _edited(bars[place - 1].index, bars[place].index, due) is not None
        for place in range(1, len(bars))
    )


class _Unlike:
    """How little a bar of the record is like one of the chart."""

    def __init__(self, due: DueSound, harmony: "Floats", heard: "Floats", start_sec: float) -> None:
        self._lines, self._harmony, self._heard = due.line_secs, harmony, heard
        self._start_sec = start_sec

    def __call__(self, one: HeardBar, index: int) -> float:
        """Return the cost of the bar, in seconds, if it were that bar of the chart."""
        import numpy

        first, end = ((sec - self._start_sec) / TONE_STEP_SEC for sec in (one.sec, one.end_sec))
        rows = numpy.arange(max(0, round(first)), min(len(self._heard), round(end)))
        share = (rows - first) / max(end - first, 1)
        low, high = self._lines[index], self._lines[index + 1]
        due = numpy.rint((low + share * (high - low)) / TONE_STEP_SEC).astype(int)
        due = due.clip(0, len(self._harmony) - 1)
        products = (self._heard[rows] * self._harmony[due]).sum(axis=1)
        return float((1 - products).sum()) * TONE_STEP_SEC


def _edited(before: int, after: int, due: DueSound) -> tuple[int, int, int, int] | None:
    """Return which bars an edit inside a section concerns, and the first and last of the section.

    None where the bars follow each other, or whole sections are left out or played again.
    """
    low, high = min(before + 1, after), max(before, after - 1)
    if low > high:
        return None
    section = int(due.first_bars.searchsorted(low, side="right")) - 1
    first = int(due.first_bars[section])
    is_last = section + 1 == len(due.first_bars)
    last = (len(due.line_secs) - 1 if is_last else int(due.first_bars[section + 1])) - 1
    return None if high > last or (low, high) == (first, last) else (low, high, first, last)


def _around(bars: Sequence[HeardBar], place: int, edited: tuple[int, int, int, int]) -> set[int]:
    """Return the bars of the section in which an edit is."""
    _, _, first, last = edited
    length = last - first + 1
    near = range(max(0, place - length), min(len(bars), place + length))
    return {other for other in near if first <= bars[other].index <= last}


def _otherwise(
    bars: Sequence[HeardBar], place: int, edited: tuple[int, int, int, int], unlike: _Unlike
) -> set[int]:
    """Return the bars that would be others if an edit were earlier or later in its section."""
    low, high, first, last = edited
    shift = bars[place].index - bars[place - 1].index - 1
    found: set[int] = set()
    for towards, most, by in ((-1, low - first, shift), (1, last - high, -shift)):
        others: list[int] = []
        more_sec = 0.0
        for number in range(1, most + 1):
            other = place - number if towards < 0 else place + number - 1
            if not 0 <= other < len(bars):
                break
            one = bars[other]
            more_sec += unlike(one, one.index + by) - unlike(one, one.index)
            others.append(other)
            if more_sec < _NEAR_SEC:
                found |= set(others)
    return found
