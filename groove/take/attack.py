"""The sample at which a note begins: where what sounds stops following from what sounded before.

The 45 ms before teach a linear predictor; from the attack on, its errors are larger.  Where their
size changes is found by the likelihood ratio (a change of variance, as in M. Basseville and
I. Nikiforov, *Detection of Abrupt Changes*, 1993, from memory).  Soft notes change too little to
be told so, and where drums sound they would be found in the place of the bass: the change must be
clear, and near to where the onset was seen.
"""

from typing import TYPE_CHECKING

from groove.take.working_rate import WORKING_RATE_HZ

if TYPE_CHECKING:
    from groove.arrays import Doubles, Flags, Places, Samples

_STEP = 2  # half the working rate: what is above has little to do with a bass's attack
_HALVING = (-0.0313, 0.0, 0.2813, 0.5, 0.2813, 0.0, -0.0313)  # a half-band filter, 0 dB at 0 Hz
_RATE_HZ = WORKING_RATE_HZ // _STEP
_LEARN, _BEFORE, _AFTER, _TAIL = (round(sec * _RATE_HZ) for sec in (0.045, 0.012, 0.010, 0.006))
_LENGTH = _LEARN + _BEFORE + _AFTER + _TAIL
_ORDER = 32
_RIDGE = 1e-4
_CLEAR = 150.0
"""The log likelihood ratio from which on a change is clear: found on made takes, no source."""
_FARTHEST_SEC = 0.005


def attacks(samples: "Samples", frames: "Places") -> "tuple[Places, Flags]":
    """Return the attacks of onsets at these samples, to two samples, and which of them are clear.

    Unclear ones are left as given.
    """
    import numpy

    is_clear = numpy.zeros(len(frames), bool)
    if not len(frames):
        return frames, is_clear
    halved = numpy.convolve(samples, numpy.array(_HALVING, numpy.float32), "same")[::_STEP]
    padded = numpy.concatenate([numpy.zeros(_LENGTH), halved, numpy.zeros(_LENGTH)])
    found = frames.copy()
    for number, frame in enumerate(frames.tolist()):
        first = frame // _STEP + _LENGTH - _BEFORE - _LEARN
        away, clearness = _change(padded[first : first + _LENGTH])
        if clearness > _CLEAR and abs(away) <= _FARTHEST_SEC * _RATE_HZ:
            found[number] = (frame // _STEP + away) * _STEP
            is_clear[number] = True
    return found, is_clear


def _change(part: "Doubles") -> tuple[int, float]:
    """Return how many samples after the expected place the change is, and how clear it is."""
    import numpy

    size = numpy.sqrt(numpy.mean(part * part))
    if size == 0:
        return 0, 0.0
    windows = numpy.lib.stride_tricks.sliding_window_view(part / size, _ORDER + 1)
    past, present = windows[:, :-1], windows[:, -1]
    taught = _LEARN - _ORDER
    known = past[:taught]
    square = known.T @ known
    square += numpy.eye(_ORDER) * (_RIDGE * numpy.trace(square) / _ORDER + 1e-6)
    predictor = numpy.linalg.solve(square, known.T @ present[:taught])
    errors = (present - past @ predictor) ** 2
    usual = errors[:taught].mean() + 1e-8
    sums = numpy.concatenate([[0.0], numpy.cumsum(errors[taught:])])
    places = numpy.arange(_BEFORE + _AFTER)
    count = len(sums) - 1
    before = (sums[places] + usual * _LEARN) / (places + _LEARN)
    after = (sums[-1] - sums[places]) / (count - places)
    likelihood = -0.5 * (
        (places + _LEARN) * numpy.log(before) + (count - places) * numpy.log(after + 1e-12)
    )
    none = -0.5 * (count + _LEARN) * numpy.log((sums[-1] + usual * _LEARN) / (count + _LEARN))
    best = int(likelihood.argmax())
    return best - _BEFORE, float(likelihood[best] - none)
