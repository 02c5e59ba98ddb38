"""How loud each pitch sounds in a recording, a few times a second, and how it is tuned.

A window of 0.37 s parts the low notes of a bass by a whole tone; pitches are told in fifths of a
semitone, so that the tuning, which is known at the end only, can be taken off afterwards.
"""

from functools import lru_cache
from typing import TYPE_CHECKING

from groove.take.working_rate import WORKING_RATE_HZ

if TYPE_CHECKING:
    from groove.arrays import Doubles, Floats

TONE_WINDOW = 8192
TONE_HOP = 880
TONE_STEP_SEC = TONE_HOP / WORKING_RATE_HZ

LOWEST_TONE, HIGHEST_TONE = 28, 88
"""From a bass's open E to the E above a soprano's high C."""
PARTS_OF_SEMITONE = 5
SPLIT_PITCH = 50
"""Below, the bass is heard alone; above, the chords."""

TUNING_HZ = (150.0, 2000.0)
_TUNING_EVERY = 6
_PEAK_RANGE = 3.5  # in nepers under the loudest of the moment
_SPREAD_CENTS = 30.0
_BINS_WIDE = 0.6
_LOUDNESS = 30.0
_REFERENCE_PERCENT = 80
_TUNING_BINS = 100
_TUNING_KERNEL_CENTS = 8.0
_LEAST = 1e-9


def tuning_weights(magnitudes: "Floats") -> "Doubles":
    """Return how far the peaks of spectra lie from equal temperament at a' = 440 Hz.

    ``magnitudes`` has the shape (moments, bins); the weights are by the cent, and add up over a
    recording.
    """
    import numpy

    per_hz = TONE_WINDOW / WORKING_RATE_HZ
    low, high = _tuning_bins()
    levels = numpy.log(magnitudes[:, low - 1 : high + 1] + _LEAST)
    before, here, after = levels[:, :-2], levels[:, 1:-1], levels[:, 2:]
    loud = levels.max(axis=1, keepdims=True) - _PEAK_RANGE
    moments, bins = numpy.nonzero((here > before) & (here >= after) & (here > loud))
    left, middle, right = (row[moments, bins] for row in (before, here, after))
    bend = left - 2 * middle + right
    beside = 0.5 * (left - right) / numpy.where(abs(bend) < _LEAST, -_LEAST, bend)
    hz = (low + bins + beside) / per_hz
    cents = 1200 * numpy.log2(hz / 440)
    places = numpy.floor(cents % 100).astype(int) % _TUNING_BINS
    weights: Doubles = numpy.zeros(_TUNING_BINS)
    numpy.add.at(weights, places, numpy.exp(middle / 2))
    return weights


def tuning_of(weights: "Doubles") -> float:
    """Return how many cents a recording is tuned up, -50 to 50, by ``tuning_weights`` of it."""
    import numpy

    angles = 2 * numpy.pi * (numpy.arange(_TUNING_BINS) + 0.5) / _TUNING_BINS
    apart = (numpy.arange(_TUNING_BINS) + 50) % 100 - 50
    kernel = numpy.exp(-0.5 * (apart / _TUNING_KERNEL_CENTS) ** 2)
    smooth = numpy.fft.irfft(numpy.fft.rfft(weights) * numpy.fft.rfft(kernel), _TUNING_BINS)
    top = int(smooth.argmax())
    near = weights * kernel[(numpy.arange(_TUNING_BINS) - top) % _TUNING_BINS]
    mean = numpy.angle((near * numpy.exp(1j * angles)).sum())
    return float(mean / (2 * numpy.pi) * 100)


def tone_levels(frames: "Floats") -> "tuple[Floats, Doubles]":
    """Return how loud each part of each semitone is in some moments, and how they are tuned."""
    import numpy

    window = numpy.hanning(TONE_WINDOW).astype(numpy.float32)
    spectra = numpy.fft.rfft(frames * window)
    magnitudes = abs(spectra[:, : max(len(_bank()), _tuning_bins()[1] + 1)]).astype(numpy.float32)
    bank = _bank()
    levels: Floats = magnitudes[:, : len(bank)] @ bank
    return levels, tuning_weights(magnitudes[::_TUNING_EVERY])


def _tuning_bins() -> tuple[int, int]:
    """Return the first and the last bin whose peaks say how a recording is tuned."""
    low, high = (int(hz * TONE_WINDOW / WORKING_RATE_HZ) for hz in TUNING_HZ)
    return low, high


@lru_cache(maxsize=1)
def _bank() -> "Floats":
    """Return the weight of each bin in each part of a semitone."""
    import numpy

    count = (HIGHEST_TONE - LOWEST_TONE) * PARTS_OF_SEMITONE
    centres = 440 * 2 ** ((LOWEST_TONE + numpy.arange(count) / PARTS_OF_SEMITONE - 69) / 12)
    bin_hz = WORKING_RATE_HZ / TONE_WINDOW
    bins = numpy.arange(int(centres[-1] * 1.1 / bin_hz)) * bin_hz
    widths = numpy.maximum(centres * (2 ** (_SPREAD_CENTS / 1200) - 1), _BINS_WIDE * bin_hz)
    bank = numpy.exp(-0.5 * ((bins[:, None] - centres) / widths) ** 2)
    even: Floats = (bank / numpy.sqrt(numpy.square(bank).sum(axis=0))).astype(numpy.float32)
    return even


def chroma(tones: "Floats", tuning_cents: float) -> "tuple[Floats, Floats]":
    """Return how loud each of the twelve classes sounds below and above ``SPLIT_PITCH``.

    Both have the shape (moments, 12); loudness is compressed, as an ear does.
    """
    import numpy

    count = HIGHEST_TONE - LOWEST_TONE
    places = numpy.arange(count) * PARTS_OF_SEMITONE + tuning_cents * PARTS_OF_SEMITONE / 100
    places = places.clip(0, tones.shape[1] - 1.001)
    whole = places.astype(int)
    share = (places - whole).astype(numpy.float32)
    semitones = tones[:, whole] * (1 - share) + tones[:, whole + 1] * share
    loud = float(numpy.percentile(semitones.max(axis=1), _REFERENCE_PERCENT)) + _LEAST
    semitones = numpy.log1p(semitones * (_LOUDNESS / loud)).astype(numpy.float32)
    low = numpy.zeros((len(tones), 12), numpy.float32)
    high = numpy.zeros((len(tones), 12), numpy.float32)
    for number in range(count):
        pitch = LOWEST_TONE + number
        (low if pitch < SPLIT_PITCH else high)[:, pitch % 12] += semitones[:, number]
    return low, high
