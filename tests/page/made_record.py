"""A record whose bar lines are known: a stroke at each, over a low tone, after a silence."""

import io
from functools import cache
from itertools import pairwise

import numpy
import soundfile
from numpy.typing import NDArray

CHART = """title: Beside the Record
tempo: 240
verse:
| D | G | A7 | D |
chorus:
| G | A | Bm | D |
form: verse, chorus
"""
BAR_SEC = 1.0
"""As long as a bar of the chart lasts at its own tempo."""
LINES = (1.65, 2.68, 3.68, 4.65, 5.57, 6.55, 7.58, 8.63, 9.65)
"""Where the record has the chart's bar lines, in seconds: a band that speeds up and slows down."""
LENGTH_SEC = 11.0
RATE = 44_100
STROKE_HZ = 3000
TONE_HZ = 82.4  # an E an octave over the lowest string


@cache
def made_record(
    lines: tuple[float, ...] = LINES, length_sec: float = LENGTH_SEC, rate: int = RATE
) -> bytes:
    """Return a WAV file: strokes of 3 kHz at the lines, a low tone from the first to the last."""
    time = numpy.arange(round(length_sec * rate)) / rate
    sound = 0.1 * numpy.sin(2 * numpy.pi * TONE_HZ * time)
    sound[(time < lines[0]) | (time > lines[-1])] = 0
    for line in lines:
        after = numpy.maximum(0, time - line)
        stroke = 0.6 * numpy.exp(-after / 0.02) * numpy.sin(2 * numpy.pi * STROKE_HZ * after)
        sound += numpy.where(time >= line, stroke, 0)
    written = io.BytesIO()
    soundfile.write(written, numpy.stack([sound, sound], axis=1), rate, format="WAV")
    return written.getvalue()


def stroke_times(sound: NDArray[numpy.float32], rate: int, *, apart_sec: float) -> list[float]:
    """Return where strokes begin: the high band's first quarter of its peak, none too near."""
    # The second difference weakens the low tone by a factor of a thousand beside the stroke.
    high = numpy.abs(numpy.diff(sound.astype(float), 2))
    loud = numpy.flatnonzero(high > 0.25 * high.max()) / rate
    starts = [loud[0], *(b for a, b in pairwise(loud) if b - a > apart_sec)]
    return [float(start) for start in starts]
