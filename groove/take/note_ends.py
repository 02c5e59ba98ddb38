"""Where a plucked note stops sounding: damped, or run into the next one.

A string that rings falls by a few dB a second; a finger that damps it takes 10 dB and more in the
time of one period.  The end is where the level falls that far under its own ringing, and a note
that never does so is held to the next one.  A room goes on sounding some 10 dB softer, which is
why the step is no larger.
"""

from typing import TYPE_CHECKING

from groove.take.working_rate import WORKING_RATE_HZ

if TYPE_CHECKING:
    from groove.arrays import Samples

_STEP = 4  # 5.5 kHz: what is above has little to do with how long a bass sounds
_RATE_HZ = WORKING_RATE_HZ // _STEP
_WINDOW_SEC = 0.024  # a period of a low E
_WINDOW, _ATTACK = (round(sec * _RATE_HZ) for sec in (_WINDOW_SEC, 0.035))
LEAST_FALL_DB = 8.0
_RINGING_DB_A_SEC = 40.0
_LATE_SEC = 0.0125  # how late a fall is seen: the median of made notes with a known end
LONGEST_SEC = 6.0


def sounding_sec(samples: "Samples", following_sec: float) -> float | None:
    """Return how long a note sounds that begins with these samples (at the working rate).

    ``following_sec`` is where the next one begins.  None for one too short to be told.
    """
    import numpy

    length_sec = min(LONGEST_SEC, following_sec)
    part = samples[: int(length_sec * WORKING_RATE_HZ)]
    part = part[: len(part) // _STEP * _STEP].reshape(-1, _STEP).mean(axis=1)
    if len(part) < _ATTACK + 2 * _WINDOW:
        return None
    sums = numpy.concatenate([[0.0], numpy.cumsum(numpy.square(part), dtype=numpy.float64)])
    starts = numpy.arange(_ATTACK, len(part) - _WINDOW)
    levels = 10 * numpy.log10((sums[starts + _WINDOW] - sums[starts]).clip(0) + 1e-14)
    ringing_db = _RINGING_DB_A_SEC / _RATE_HZ * numpy.arange(len(levels))
    rung = numpy.maximum.accumulate(levels + ringing_db) - ringing_db
    fallen = numpy.flatnonzero(levels < rung - LEAST_FALL_DB)
    if not len(fallen):
        return following_sec
    return float((starts[fallen[0]] + _WINDOW / 2) / _RATE_HZ) - _LATE_SEC
