"""What pitch a note of a bass has, a moment after it began.

The difference function of A. de Cheveigné and H. Kawahara, "YIN, a fundamental frequency estimator
for speech and music", JASA 111(4), 2002 (from memory): the least shift by which the sound is its
own likeness.  It needs two periods, some 50 ms of a low E.
"""

from typing import TYPE_CHECKING

from groove.take.working_rate import WORKING_RATE_HZ

if TYPE_CHECKING:
    from groove.arrays import Floats, Samples

_LOWEST_HZ, _HIGHEST_HZ = 28.0, 420.0  # under a five-string's B, over a four-string's 20th fret
_ATTACK_SEC = 0.012
_LONGEST_SEC = 0.15
_SHORTEST_SEC = 0.045
_STEP = 4  # 5.5 kHz is plenty for what is looked for
_GOOD = 0.15  # YIN's threshold: the first dip as deep as this is the period
_A4_HZ, _A4_PITCH = 440.0, 69


def heard_pitch(
    samples: "Samples", start_sec: float, following_sec: float
) -> tuple[float | None, float]:
    """Return the pitch of a note (MIDI number with fraction) and how sure it is (0 to 1).

    The note begins at ``start_sec`` of samples at the working rate and lasts until the next one
    at most.  None and 0 where it is too short or has no period.
    """
    import numpy

    first = start_sec + _ATTACK_SEC
    length_sec = min(_LONGEST_SEC, following_sec - first)
    if length_sec < _SHORTEST_SEC:
        return None, 0.0
    begin = int(first * WORKING_RATE_HZ)
    part = samples[begin : begin + int(length_sec * WORKING_RATE_HZ)]
    part = part[: len(part) // _STEP * _STEP].reshape(-1, _STEP).mean(axis=1)
    rate = WORKING_RATE_HZ / _STEP
    shortest, longest = int(rate / _HIGHEST_HZ), int(rate / _LOWEST_HZ)
    longest = min(longest, int(len(part) * 0.6))
    if longest <= shortest + 2 or not part.any():
        return None, 0.0
    unlike = _unlikeness(part, longest)
    lag = _first_dip(unlike, shortest)
    confidence = float(max(0.0, 1.0 - unlike[lag]))
    if confidence < 0.3:
        return None, 0.0
    exact = lag + _vertex(unlike[lag - 1 : lag + 2]) if 0 < lag < len(unlike) - 1 else float(lag)
    return float(_A4_PITCH + 12 * numpy.log2(rate / exact / _A4_HZ)), confidence


def _unlikeness(part: "Samples", longest: int) -> "Floats":
    """Return YIN's difference for each lag, over its own mean: 0 for what is periodic."""
    import numpy

    width = len(part) - longest
    size = 1 << (len(part) + width).bit_length()
    spectrum = numpy.fft.rfft(part, size)
    head = numpy.fft.rfft(part[:width], size)
    likeness = numpy.fft.irfft(spectrum * numpy.conj(head), size)[: longest + 1]
    energy = numpy.concatenate([[0.0], numpy.cumsum(part * part, dtype=numpy.float64)])
    powers = energy[width : width + longest + 1] - energy[: longest + 1]
    difference = (powers[0] + powers - 2 * likeness).clip(0)
    mean = numpy.cumsum(difference[1:]) / numpy.arange(1, longest + 1)
    out = numpy.ones(longest + 1, numpy.float32)
    out[1:] = difference[1:] / numpy.maximum(mean, 1e-20)
    return out


def _first_dip(unlike: "Floats", shortest: int) -> int:
    """Return the first lag at the bottom of a dip that is deep enough, or of the deepest one."""
    import numpy

    for lag in range(max(1, shortest), len(unlike) - 1):
        if unlike[lag] < _GOOD and unlike[lag] <= unlike[lag + 1]:
            return lag
    return shortest + int(numpy.argmin(unlike[shortest:]))


def _vertex(three: "Floats") -> float:
    """Return where the parabola through three values is lowest, from the middle one."""
    bend = three[0] - 2 * three[1] + three[2]
    return float(0.5 * (three[0] - three[2]) / bend) if bend > 0 else 0.0
