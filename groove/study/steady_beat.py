"""The beat that strokes have in common: its tempo, how it moves, and where each stroke stands.

The pulse is followed through short stretches, as by the predominant local pulse of P. Grosche and
M. Müller, *Extracting Predominant Local Pulse Information from Music Recordings*, IEEE TASLP 19,
2011 (from memory): for each moment the tempo and phase whose wave the strokes near by agree with.
"""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from msgspec import Struct
from msgspec.structs import replace

from groove.study.heard_strokes import HeardStroke

if TYPE_CHECKING:
    from numpy import complex128
    from numpy.typing import NDArray

    from groove.arrays import Doubles, Places

    Waves = NDArray[complex128]

FEWEST_HEARD = 8
"""Fewer strokes have no beat that anybody could be sure of (common practice, no source)."""
USUAL_BPM, USUAL_OCTAVES = 96.0, 0.5
"""The tempo that a beat is looked for at first, and how far from it (SD, in doublings)."""
LOWEST_BPM, HIGHEST_BPM = 40.0, 240.0
CHART_OCTAVES = 0.15
"""How far from a chart's tempo a player is looked for (SD): a tenth."""
SLOT_WORTH = {1: 0.8, 2: 1.0, 3: 0.9, 4: 0.95}
"""The parts of a beat on whose grid strokes may lie, and what each speaks for a tempo."""
SLOTS = tuple(SLOT_WORTH)
_MOST_SLOTS = max(SLOTS)
_ON_BEAT = 0.75  # what strokes on the beat itself speak for it, beside those on its slots
_SOFT = 0.4
_SAME_TEMPO = 0.03
_MOST_TEMPO_STEP = 4  # that are held against a chart
_STEP_SEC, _NEAR_SEC = 0.5, 2.5
_BEND, _BEND_STEP = 0.08, 0.005
_BEND_COST = 30.0
_TEMPO_STEP = 1 / 175  # of an octave: 0.4 %
_PEAK = 12  # steps in which agreement goes over from enough to most
_MOST_STRETCHES = 16
_FINEST = 0.9  # of the best grid's agreement: as good a coarser one is taken


class Beats(Struct, frozen=True, kw_only=True):
    """Where the beat lies: at ``secs`` it has come to ``beats`` (rising), straight lines between.

    ``slots`` is the grid that the strokes lie on, in parts of a beat.  ``confidence`` (0 to 1) is
    how well they do: 1 exactly, 0 by chance.
    """

    secs: tuple[float, ...]
    beats: tuple[float, ...]
    slots: int
    bpm: float
    confidence: float
    other_bpm: float | None = None
    tempo_confidence: float = 1.0

    def at(self, secs: Sequence[float]) -> "Doubles":
        """Return how many beats have gone by at some moments."""
        import numpy

        return _through(numpy.asarray(secs, float), self.secs, self.beats)

    def sec(self, beats: float) -> float:
        """Return the moment of a beat."""
        import numpy

        return float(_through(numpy.array([beats]), self.beats, self.secs)[0])


def _through(at: "Doubles", xs: Sequence[float], ys: Sequence[float]) -> "Doubles":
    """Return values on lines through points, the first and the last drawn on."""
    import numpy

    found: Doubles = numpy.interp(at, xs, ys)
    first = (ys[1] - ys[0]) / (xs[1] - xs[0])
    last = (ys[-1] - ys[-2]) / (xs[-1] - xs[-2])
    found = numpy.where(at < xs[0], ys[0] + first * (at - xs[0]), found)
    found = numpy.where(at > xs[-1], ys[-1] + last * (at - xs[-1]), found)
    return found


def find_beats(strokes: Sequence[HeardStroke], chart_bpm: float | None = None) -> list[Beats]:
    """Return the beats that strokes may have, the likeliest first; none for too few strokes.

    ``chart_bpm`` is the tempo that they are looked for near to.
    """
    import numpy

    if len(strokes) < FEWEST_HEARD or strokes[-1].sec - strokes[0].sec < 2 * _NEAR_SEC:
        return []
    secs = numpy.array([stroke.sec for stroke in strokes])
    weights = numpy.array([_SOFT if stroke.is_soft else 1.0 for stroke in strokes])
    tempi: list[tuple[float, float, int]] = []
    for one in sorted(_tempi(secs, weights, chart_bpm), reverse=True):
        if all(abs(one[1] / other[1] - 1) > _SAME_TEMPO for other in tempi):
            tempi.append(one)
    if chart_bpm:
        return [_followed(secs, weights, bpm, slots) for _, bpm, slots in tempi[:_MOST_TEMPO_STEP]]
    worth, bpm, slots = tempi[0]
    beats = _followed(secs, weights, bpm, slots)
    if len(tempi) > 1:
        other, sure = round(tempi[1][1], 1), round(1 - tempi[1][0] / worth, 2)
        beats = replace(beats, other_bpm=other, tempo_confidence=sure)
    return [beats]


def beats_on(
    strokes: Sequence[HeardStroke], secs: Sequence[float], beats: Sequence[float]
) -> Beats:
    """Return the beat that is at some beats at some moments, and the grid that strokes lie on."""
    import numpy

    given = Beats(secs=tuple(secs), beats=tuple(beats), slots=1, bpm=1.0, confidence=0.0)
    at = given.at([stroke.sec for stroke in strokes])
    agreed = {slots: float(abs(numpy.exp(2j * numpy.pi * slots * at).mean())) for slots in SLOTS}
    most = max(agreed.values())
    slots = next(slots for slots in SLOTS if agreed[slots] >= _FINEST * most)
    return replace(
        given,
        slots=slots,
        bpm=float(60 * (beats[-1] - beats[0]) / (secs[-1] - secs[0])),
        confidence=round(agreed[slots], 2),
    )


def _tempi(
    secs: "Doubles", weights: "Doubles", chart_bpm: float | None
) -> list[tuple[float, float, int]]:
    """Return what tempi are worth, in beats a minute, and into how many slots a beat is divided."""
    import numpy

    low, high = (0.8 * chart_bpm, 1.25 * chart_bpm) if chart_bpm else (LOWEST_BPM, HIGHEST_BPM)
    rates = 2 ** numpy.arange(
        numpy.log2(low / 60), numpy.log2(_MOST_SLOTS * high / 60), _TEMPO_STEP
    )
    agreed = _agreement(secs, weights, rates)

    def agreement(rate: float) -> float:
        near = round(float(numpy.log2(rate / rates[0]) / _TEMPO_STEP))
        return float(agreed[max(0, near - 1) : near + 2].max(initial=0.0))

    if chart_bpm:
        usual, octaves = chart_bpm, CHART_OCTAVES
        tempi = 60 * rates[rates <= high / 60]
        found = [(float(bpm), slots) for bpm in tempi for slots in SLOTS]
    else:
        usual, octaves = USUAL_BPM, USUAL_OCTAVES
        enough = numpy.flatnonzero(agreed >= _FINEST * agreed.max())[0]
        reach = agreed[enough : enough + _PEAK]
        slot = 60 * float(rates[enough + reach.argmax()])
        found = [(slot / slots, slots) for slots in SLOTS if low <= slot / slots <= high]
        found += [(slot * 2, 1)] if slot * 2 <= high else []

    def worth(one: tuple[float, int]) -> float:
        bpm, slots = one
        likely = numpy.exp(-0.5 * (numpy.log2(bpm / usual) / octaves) ** 2)
        grid = SLOT_WORTH[slots] * agreement(bpm * slots / 60)
        return float(likely * (grid + _ON_BEAT * agreement(bpm / 60)))

    return [(worth(one), *one) for one in found]


def _agreement(secs: "Doubles", weights: "Doubles", rates: "Doubles") -> "Doubles":
    """Return how well strokes agree with waves of some rates (a second), in the mean of stretches.

    A long recording is looked at in some places of it.
    """
    import numpy

    count = min(_MOST_STRETCHES, max(1, round((secs[-1] - secs[0]) / _NEAR_SEC)))
    centres = numpy.linspace(secs[0] + _NEAR_SEC, secs[-1] - _NEAR_SEC, count)
    found = numpy.zeros(len(rates))
    for centre in centres:
        near, shares = _near(secs, weights, centre)
        found += numpy.abs(numpy.exp(-2j * numpy.pi * numpy.outer(rates, near)) @ shares) / count
    return found


def _near(secs: "Doubles", weights: "Doubles", centre: float) -> "tuple[Doubles, Doubles]":
    """Return the strokes round a moment, from it, and what share of the whole each has there."""
    import numpy

    first, last = numpy.searchsorted(secs, (centre - 3 * _NEAR_SEC, centre + 3 * _NEAR_SEC))
    near = secs[first:last] - centre
    shares = weights[first:last] * numpy.exp(-0.5 * (near / _NEAR_SEC) ** 2)
    total = shares.sum()
    return near, shares / total if total > 0 else shares


def _followed(secs: "Doubles", weights: "Doubles", bpm: float, slots: int) -> Beats:
    """Return the beat along the strokes as its tempo moves, the strokes' grid known."""
    import numpy

    moments = numpy.arange(secs[0], secs[-1] + _STEP_SEC, _STEP_SEC)
    bends = 1 + numpy.arange(-_BEND, _BEND + _BEND_STEP / 2, _BEND_STEP)
    rates = bpm / 60 * slots * bends
    waves = numpy.zeros((len(moments), len(rates)), complex)
    for row, moment in enumerate(moments):
        near, shares = _near(secs, weights, moment)
        waves[row] = numpy.exp(-2j * numpy.pi * numpy.outer(rates, near)) @ shares
    path = _path(numpy.abs(waves), rates / rates[len(rates) // 2])
    rows = numpy.arange(len(moments))
    agreed = waves[rows, path]
    # A wave's angle says how far before the moment the nearest slot lies.
    phase = numpy.angle(agreed) / (-2 * numpy.pi)
    place = numpy.zeros(len(moments))
    place[0] = -phase[0]
    for row in range(1, len(moments)):
        gone = place[row - 1] + _STEP_SEC * (rates[path[row]] + rates[path[row - 1]]) / 2
        place[row] = gone + (-phase[row] - gone + 0.5) % 1 - 0.5
    place = numpy.maximum.accumulate(place + 1e-6 * rows)
    return Beats(
        secs=tuple(moments.tolist()),
        beats=tuple((place / slots).tolist()),
        slots=slots,
        bpm=float(60 * (place[-1] - place[0]) / slots / (moments[-1] - moments[0])),
        confidence=round(float(numpy.abs(agreed).mean()), 2),
    )


def _path(agreed: "Doubles", bends: "Doubles") -> "Places":
    """Return for each moment the tempo on a path that moves little and agrees most."""
    import numpy

    cost = _BEND_COST * numpy.abs(bends[:, None] - bends[None, :])
    totals = agreed[0].copy()
    came = numpy.zeros(agreed.shape, int)
    for row in range(1, len(agreed)):
        ways = totals[None, :] - cost
        came[row] = ways.argmax(axis=1)
        totals = ways.max(axis=1) + agreed[row]
    path = numpy.zeros(len(agreed), int)
    path[-1] = totals.argmax()
    for row in range(len(agreed) - 1, 0, -1):
        path[row - 1] = came[row, path[row]]
    return path
