"""The key of a song by profile correlation, where the chart gives none.

Method: Pearson correlation of a histogram of pitch classes, weighted by duration, with a profile
turned to all 24 keys (Krumhansl and Schmuckler; C. L. Krumhansl, *Cognitive Foundations of Musical
Pitch*, 1990).  Profile: J. Albrecht and D. Shanahan, Music Perception 31(1), 2013.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from groove.chart.form import PlayedBar
from groove.theory.chords import Chord
from groove.theory.keys import Key, Mode
from groove.theory.pitch import SpelledPitch

MAJOR_PROFILE = (0.238, 0.006, 0.111, 0.006, 0.137, 0.094, 0.016, 0.214, 0.009, 0.080, 0.008, 0.081)
MINOR_PROFILE = (0.220, 0.006, 0.104, 0.123, 0.019, 0.103, 0.012, 0.214, 0.062, 0.022, 0.061, 0.052)
PROFILES = {Mode.MAJOR: MAJOR_PROFILE, Mode.MINOR: MINOR_PROFILE}
USUAL_TONIC_FIFTHS = {Mode.MAJOR: range(-5, 7), Mode.MINOR: range(-3, 9)}
"""The tonics that a signature of at most six signs gives, on the line of fifths."""


@dataclass(frozen=True, slots=True)
class KeyFit:
    """A key and its correlation with the song's pitch classes, -1 to 1."""

    key: Key
    correlation: float


def chord_histogram(chords: Iterable[tuple[Chord, Fraction]]) -> tuple[float, ...]:
    """Return the weight of each pitch class, C first, from chords and their lengths."""
    bins = [0.0] * 12
    for chord, length in chords:
        weight = float(length)
        for pitch_class in chord.pitch_classes:
            bins[pitch_class] += weight
    return tuple(bins)


def correlation(first: Sequence[float], second: Sequence[float]) -> float:
    """Return Pearson's correlation; 0 where one side does not vary."""
    mean_a, mean_b = sum(first) / len(first), sum(second) / len(second)
    a = [value - mean_a for value in first]
    b = [value - mean_b for value in second]
    spread = (sum(x * x for x in a) * sum(y * y for y in b)) ** 0.5
    return sum(x * y for x, y in zip(a, b, strict=True)) / spread if spread else 0.0


def rank_keys(histogram: Sequence[float]) -> tuple[KeyFit, ...]:
    """Return all 24 keys, best first.  ``histogram`` has twelve weights, C first."""
    fits = []
    for mode, profile in PROFILES.items():
        for fifths in USUAL_TONIC_FIFTHS[mode]:
            tonic = SpelledPitch(fifths)
            turned = [profile[(pc - tonic.pitch_class) % 12] for pc in range(12)]
            fits.append(KeyFit(Key(tonic, mode), correlation(histogram, turned)))
    return tuple(sorted(fits, key=lambda fit: -fit.correlation))


def find_key(bars: Iterable[PlayedBar]) -> Key:
    """Return the key that fits the chords of the played bars best; C major without chords."""
    chords = (
        (span.chord, span.length_quarters) for bar in bars for span in bar.chords if span.chord
    )
    return rank_keys(chord_histogram(chords))[0].key
