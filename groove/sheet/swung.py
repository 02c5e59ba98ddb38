"""Swing on the page: written straight, under a sign that says how it is played.

Long and short of a swung pair are written as two eighths (or sixteenths) alike, and a sign at the
head says what they are (E. Gould, *Behind Bars*, 2011, "Swing"; from memory).  A beat keeps its
triplet where something begins on the middle of the three, in any voice of the part, so that what
is struck together stands together.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby

from msgspec.structs import replace

from groove.events import Bar, Performance
from groove.sheet.voices import Cut
from groove.timing import (
    STRAIGHT,
    STRAIGHT_WORD,
    TICKS_PER_QUARTER,
    TRIPLET_PERCENT,
    TRIPLET_SWING,
    Meter,
    Swing,
    SwingUnit,
)

_HALF, _MIDDLE, _SHORT = (TICKS_PER_QUARTER * part // 6 for part in (3, 2, 4))
"""Places in a beat: its half, and the second and the third of its triplets."""
DOTTED_PERCENT = 75.0
"""The long share of a dotted note with its short one."""
LIGHT_PERCENT = 58.3
"""Under this share, half-way from even to triplets, a swing is light (common practice)."""
SAME_PERCENT = 1.0
"""How near a share is to what the sign says, so that it need not be told in numbers."""


@dataclass(frozen=True, slots=True)
class SwingMark:
    """What a page says of a swing: a word, the sign of an equation (or none), the share."""

    word: str
    sign: str = ""
    share: str = ""


SWING_SIGNS = {
    (SwingUnit.EIGHTHS, False): "♫=3",
    (SwingUnit.EIGHTHS, True): "♫=.",
    (SwingUnit.SIXTEENTHS, False): "♬=3",
    (SwingUnit.SIXTEENTHS, True): "♬=.",
}
"""The names of the signs by the notes that swing, and by whether they are as if dotted."""


def page_swing(bar: Bar, meter: Meter) -> Swing:
    """Return the swing that a page has in force: triplets where a beat of two is felt in three.

    ``meter`` is the page's, which a pickup has from the bar after it.
    """
    if bar.in_triplets and not meter.is_compound:
        return TRIPLET_SWING
    return bar.swing or STRAIGHT


def page_meter(performance: Performance, index: int) -> Meter:
    """Return the meter that the page has: a pickup stands in the meter of bar 1."""
    bars = performance.bars
    is_pickup = bars[index].ref.is_pickup and index + 1 < len(bars)
    return bars[index + 1 if is_pickup else index].meter


def page_swings(performance: Performance) -> list[Swing]:
    """Return the swing that a page has in force in every bar."""
    bars = enumerate(performance.bars)
    return [page_swing(bar, page_meter(performance, index)) for index, bar in bars]


def is_dotted(swing: Swing) -> bool:
    """Return whether a swing is nearer to a dotted note and its short one than to triplets."""
    half_way = (TRIPLET_PERCENT + DOTTED_PERCENT) / 2
    return swing.percent is not None and swing.percent > half_way


def swing_mark(swing: Swing) -> SwingMark:
    """Return what a page says where a swing begins; the share where the sign does not tell it."""
    if swing.percent == STRAIGHT.percent:
        return SwingMark(STRAIGHT_WORD)
    sign = SWING_SIGNS[swing.unit, is_dotted(swing)]
    if swing.percent is None:
        return SwingMark("swing", sign)
    said = DOTTED_PERCENT if is_dotted(swing) else TRIPLET_PERCENT
    share = "" if abs(swing.percent - said) < SAME_PERCENT else f"({swing.percent:.3g}%)"
    return SwingMark("light swing" if swing.percent < LIGHT_PERCENT else "swing", sign, share)


def straightened(
    voices: Mapping[int, Sequence[tuple[Cut, ...]]],
    swings: Sequence[Swing],
    meters: Sequence[Meter],
) -> dict[int, list[tuple[Cut, ...]]]:
    """Return what falls into each bar as it is written: pairs that swing as two alike.

    ``swings`` and ``meters`` are those of the bars.
    """
    found = {voice: list(bars) for voice, bars in voices.items()}
    for index, (swing, meter) in enumerate(zip(swings, meters, strict=True)):
        is_swung = swing.unit is SwingUnit.EIGHTHS and swing.percent != STRAIGHT.percent
        if not is_swung or meter.pulse_ticks != TICKS_PER_QUARTER:
            continue
        own = [bars[index] for bars in voices.values()]
        beats = frozenset(_pair_beats(own))
        for voice, cuts in zip(voices, own, strict=True):
            found[voice][index] = tuple(_written(cut, beats) for cut in cuts)
    return found


def _pair_beats(voices: Sequence[Sequence[Cut]]) -> Iterator[int]:
    """Yield the beats of a bar that have long and short, and nothing on the middle triplet."""
    edges = [
        (*divmod(tick, TICKS_PER_QUARTER), begins, number)
        for number, cuts in enumerate(voices)
        for cut in cuts
        for tick, begins in ((cut.start, True), (cut.end, False))
    ]
    for beat, group in groupby(sorted(edges), key=lambda edge: edge[0]):
        own = list(group)
        starts = {place for _, place, begins, _ in own if begins}
        ends = {place for _, place, begins, _ in own if not begins}
        both = {number for _, place, _, number in own if place == _HALF}
        both &= {number for _, place, _, number in own if place in (_MIDDLE, _SHORT)}
        is_pair = starts <= {0, _HALF, _SHORT} and ends <= {0, _MIDDLE, _HALF, _SHORT}
        if is_pair and not both:
            yield beat


def _written(cut: Cut, beats: frozenset[int]) -> Cut:
    """Return what of a stroke falls into a bar as it is written."""
    start, end = _straight(cut.start, beats), _straight(cut.end, beats)
    return cut if (start, end) == (cut.start, cut.end) else replace(cut, start=start, end=end)


def _straight(tick: int, beats: frozenset[int]) -> int:
    """Return where a place in a bar is written."""
    beat, place = divmod(tick, TICKS_PER_QUARTER)
    in_pair = beat in beats and place in (_MIDDLE, _SHORT)
    return beat * TICKS_PER_QUARTER + _HALF if in_pair else tick
