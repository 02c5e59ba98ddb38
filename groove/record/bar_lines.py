"""Bar lines put to within some hundredths of a second, where a rough way through the song is known.

The rough way is made smooth first: a line laid through the bars of some seconds round each.  Then
every bar line is moved to where what is due about it fits what is heard about it, all of them at
once, so that neighbours move alike: first by the harmony alone, for a record's band strikes in a
rhythm of its own, and then, within a tenth of a second, by what is struck.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from groove.record.heard_tones import TONE_STEP_SEC
from groove.record.rises import RISE_STEP_SEC

if TYPE_CHECKING:
    from groove.arrays import Doubles, Floats, Places

_LINE_SEC = 13.0
_LEAST_BARS = 6
_LEAST_ERROR_SEC = 0.03
_FITS = 8
_END_BARS = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class LineLook:
    """One look at all bar lines: how far each may move, and what is listened to.

    ``reach`` is in steps of ``RISE_STEP_SEC``; ``stiff`` is what a difference of one step between
    neighbours costs, squared.
    """

    reach: int
    harmony: float
    rises: float
    stiff: float


LOOKS = (
    LineLook(reach=30, harmony=1.0, rises=0.0, stiff=0.05),
    LineLook(reach=12, harmony=0.5, rises=0.02, stiff=0.05),
    LineLook(reach=12, harmony=0.3, rises=0.04, stiff=0.02),
)
LAST_LOOK = LineLook(reach=45, harmony=1.0, rises=0.04, stiff=0.02)
"""How sure the lines are is asked of a look that reaches past an eighth."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sounds:
    """Harmony every ``TONE_STEP_SEC`` and rises every ``RISE_STEP_SEC``, of song or record."""

    harmony: "Floats"
    rises: "Floats"


def smooth_lines(due_secs: "Doubles", secs: "Doubles") -> "Doubles":
    """Return where bar lines lie by straight lines through their neighbours, outliers left out.

    ``due_secs`` are those of the song, ``secs`` about where the record has them.
    """
    import numpy

    count = len(secs)
    usual = float(numpy.median(numpy.diff(due_secs))) if count > 1 else 1.0
    half = max(_LEAST_BARS, round(_LINE_SEC / max(usual, 0.1)))
    smooth = numpy.empty(count)
    for place in range(count):
        first = max(0, min(place - half, count - 2 * half - 1))
        near = slice(first, max(place + half, 2 * half) + 1)
        smooth[place] = _on_line(due_secs[near], secs[near], due_secs[place])
    return numpy.maximum.accumulate(smooth)


def _on_line(x: "Doubles", y: "Doubles", at: float) -> float:
    """Return where the line of least absolute deviations through points lies at a place."""
    import numpy

    if len(x) < 2:
        return float(y[0])
    weights = numpy.ones(len(x))
    found = float(at)
    for _ in range(_FITS):
        share = weights / weights.sum()
        middle_x, middle_y = float(share @ x), float(share @ y)
        spread = float(share @ (x - middle_x) ** 2) + 1e-9
        slope = float(share @ ((x - middle_x) * (y - middle_y))) / spread
        weights = 1 / numpy.maximum(_LEAST_ERROR_SEC, abs(y - middle_y - slope * (x - middle_x)))
        found = middle_y + slope * (at - middle_x)
    return found


def refined_lines(
    due: Sounds,
    heard: Sounds,
    due_secs: "Doubles",
    secs: "Doubles",
    looks: Sequence[LineLook] = LOOKS,
) -> "Doubles":
    """Return bar lines moved to where song and record fit, from where they are about."""
    for look in looks:
        fits = line_fits(due, heard, due_secs, secs, look)
        secs = secs + (_chain(fits, look.stiff) - look.reach) * RISE_STEP_SEC
        secs[-1] = _end_sec(due_secs, secs)
    return secs


def _end_sec(due_secs: "Doubles", secs: "Doubles") -> float:
    """Return where the last bar ends at the tempo of the bars before it: nothing is struck there.

    What rings on in a room says nothing of the bar line.
    """
    first = max(0, len(secs) - 2 - _END_BARS)
    if first == len(secs) - 2:
        return float(secs[-1])
    ratio = (secs[-2] - secs[first]) / (due_secs[-2] - due_secs[first])
    return float(secs[-2] + ratio * (due_secs[-1] - due_secs[-2]))


def line_fits(
    due: Sounds, heard: Sounds, due_secs: "Doubles", secs: "Doubles", look: LineLook
) -> "Floats":
    """Return how well each bar line fits at each step round where it is, shape (lines, steps).

    A line is judged by what sounds in the bars before and after it.
    """
    import numpy

    reach = look.reach
    fits = numpy.zeros((len(secs), 2 * reach + 1), numpy.float32)
    steps = numpy.arange(-reach, reach + 1) * RISE_STEP_SEC
    far = int(reach * RISE_STEP_SEC / TONE_STEP_SEC) + 2
    tone_steps = numpy.arange(-far, far + 1) * TONE_STEP_SEC
    for line in range(len(secs)):
        low, high = secs[max(0, line - 1)], secs[min(len(secs) - 1, line + 1)]
        span = (due_secs, secs, float(low), float(high))
        if look.rises:
            own = _products(due.rises, heard.rises, RISE_STEP_SEC, span, reach)
            fits[line] += look.rises * RISE_STEP_SEC * own
        products = _products(due.harmony, heard.harmony, TONE_STEP_SEC, span, far)
        fits[line] += look.harmony * TONE_STEP_SEC * 2 * numpy.interp(steps, tone_steps, products)
    return fits


def _products(
    due: "Floats",
    heard: "Floats",
    step_sec: float,
    span: "tuple[Doubles, Doubles, float, float]",
    reach: int,
) -> "Floats":
    """Return the sums of products of what is due and what is heard, at each step up to ``reach``.

    ``span`` are the lines in song and record, and from where to where the record is looked at.
    """
    import numpy

    due_secs, secs, low, high = span
    first, end = round(low / step_sec), max(round(low / step_sec) + 1, round(high / step_sec))
    places = numpy.interp(numpy.arange(first, end) * step_sec, secs, due_secs) / step_sec
    own = due[numpy.rint(places).astype(int).clip(0, len(due) - 1)]
    stretch = _stretch(heard, first - reach, end + reach)
    views = numpy.lib.stride_tricks.sliding_window_view(stretch, end - first, axis=0)
    sums: Floats = numpy.einsum("sbk,kb->s", views, own, optimize=True)
    return sums


def _stretch(rows: "Floats", first: int, end: int) -> "Floats":
    """Return some rows, silence where there are none."""
    import numpy

    inside = rows[max(0, first) : max(0, end)]
    before = min(max(0, -first), end - first)
    after = end - first - before - len(inside)
    return numpy.pad(inside, ((before, after), (0, 0)))


def _chain(fits: "Floats", stiff: float) -> "Places":
    """Return the step of each line by which all fit best and neighbours differ little."""
    import numpy

    lines, steps = fits.shape
    apart = _apart(steps, stiff)
    came_from = numpy.zeros((lines, steps), numpy.intp)
    best = fits[0]
    for line in range(1, lines):
        offered = best[None, :] - apart
        came_from[line] = offered.argmax(axis=1)
        best = offered.max(axis=1) + fits[line]
    chosen = numpy.zeros(lines, numpy.intp)
    chosen[-1] = best.argmax()
    for line in range(lines - 1, 0, -1):
        chosen[line - 1] = came_from[line, chosen[line]]
    return chosen


def _apart(steps: int, stiff: float) -> "Floats":
    import numpy

    places = numpy.arange(steps, dtype=numpy.float32)
    return (stiff * (places[:, None] - places[None, :]) ** 2).astype(numpy.float32)


def best_through(fits: "Floats", stiff: float) -> "Floats":
    """Return how well all lines fit at best, where one of them stands at each step."""
    import numpy

    apart = _apart(fits.shape[1], stiff)

    def sweep(rows: "Floats") -> "Floats":
        out = numpy.zeros_like(rows)
        for line in range(1, len(rows)):
            out[line] = ((out[line - 1] + rows[line - 1])[None, :] - apart).max(axis=1)
        return out

    return sweep(fits) + sweep(fits[::-1])[::-1] + fits
