"""Which meter strokes are in and where its bars begin, where no chart says so."""

from collections.abc import Iterator
from typing import TYPE_CHECKING

from msgspec import Struct

from groove.timing import Meter

if TYPE_CHECKING:
    from groove.arrays import Places

_METERS = (Meter(4, 4), Meter(3, 4))
"""The meters that are looked for: the fours of most songs, else the threes of a waltz."""
_ONE_ROOT, _HEAD, _ON_BEAT, _AGAIN, _FIRST = 1.0, 1.0, 0.5, 1.0, 0.3
"""What speaks for bars: one pitch class through most of each, and struck at its head; strokes on
beats; a rhythm that comes again in the next bars; a recording that begins with one (common
practice, no source)."""
_SURE = 4.0  # how fast a lead in worth becomes confidence


class PlacedStrokes(Struct, frozen=True, kw_only=True):
    """Strokes on the slots of a beat, counted from the first beat that is followed.

    ``pitch_classes`` has -1 for none, ``lengths`` the slots to the next stroke, ``is_plain`` which
    are full notes.
    """

    slots_per_beat: int
    slots: "Places"
    pitch_classes: "Places"
    lengths: "Places"
    is_plain: "Places"


class FirstBar(Struct, frozen=True, kw_only=True):
    """The meter, the slot on which a bar begins, and how sure both are (0 to 1)."""

    meter: Meter
    slot: int
    meter_confidence: float
    confidence: float


def find_first_bar(strokes: PlacedStrokes) -> FirstBar:
    """Return the meter and the first whole bar that strokes speak for, at or before the first."""
    found = sorted(_worths(strokes), key=lambda each: -each[0])
    worth, meter, slot = found[0]
    other_slot = max((w for w, m, s in found if m == meter and s != slot), default=0.0)
    other_meter = max((w for w, m, _ in found if m != meter), default=0.0)
    return FirstBar(
        meter=meter,
        slot=slot,
        meter_confidence=_confidence(worth - other_meter),
        confidence=_confidence(worth - other_slot),
    )


def _confidence(lead: float) -> float:
    from math import exp

    return round(1 - exp(-_SURE * max(0.0, lead)), 2)


def _worths(strokes: PlacedStrokes) -> Iterator[tuple[float, Meter, int]]:
    """Yield what each meter is worth with bars from each slot on."""
    first = int(strokes.slots[0])
    for meter in _METERS:
        bar = meter.beats_per_bar * strokes.slots_per_beat
        for back in range(bar):
            yield _worth(strokes, bar, first - back), meter, first - back


def _worth(strokes: PlacedStrokes, bar: int, start: int) -> float:
    import numpy

    bars, places = numpy.divmod(strokes.slots - start, bar)
    count = int(bars[-1]) + 1
    heard = numpy.zeros((count, 12))
    known = strokes.pitch_classes >= 0
    lengths = numpy.minimum(strokes.lengths, bar - places)
    numpy.add.at(heard, (bars[known], strokes.pitch_classes[known]), lengths[known])
    sounding = heard.sum(axis=1) > 0
    root = heard.argmax(axis=1)
    shares = heard.max(axis=1)[sounding] / heard.sum(axis=1)[sounding]
    struck = numpy.zeros((count, bar), bool)
    struck[bars, places] = True
    at_head = known & (places == 0) & (strokes.pitch_classes == root[bars])
    on_beat = (places % strokes.slots_per_beat == 0) & (strokes.is_plain > 0)
    return float(
        _ONE_ROOT * (shares.mean() if len(shares) else 0.0)
        + _HEAD * at_head.sum() / max(1, sounding.sum())
        + _ON_BEAT * on_beat.sum() / max(1, strokes.is_plain.sum())
        + _AGAIN * _again(struck)
        + _FIRST * (places[0] == 0)
    )


def _again(struck: "Places") -> float:
    """Return how alike bars are to the one after them or the second after them (0 to 1)."""
    import numpy

    alike = []
    for apart in (1, 2):
        one, two = struck[:-apart], struck[apart:]
        either = (one | two).sum(axis=1)
        both = (one & two).sum(axis=1)
        alike.append(both[either > 0] / either[either > 0])
    return max((float(numpy.mean(each)) for each in alike if len(each)), default=0.0)
