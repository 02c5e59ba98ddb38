"""Keys by profile correlation: what a bare histogram of pitch classes says.

Method: Pearson correlation of a histogram of pitch classes, weighted by duration, with a profile
turned to all 24 keys (Krumhansl and Schmuckler; C. L. Krumhansl, *Cognitive Foundations of Musical
Pitch*, 1990).  Profiles, tonic first: Krumhansl and Kessler, Psychological Review 89(4), 1982;
Temperley, Music Perception 17(1), 1999, and *Music and Probability*, 2007 (Kostka-Payne corpus);
Albrecht and Shanahan, Music Perception 31(1), 2013.
"""

from collections.abc import Iterable, Sequence
from fractions import Fraction
from functools import lru_cache
from operator import mul

from groove.theory.chords import Chord
from groove.theory.keys import Mode

PROFILE_TEXTS = {
    "krumhansl-kessler": (
        "6.35 2.23 3.48 2.33 4.38 4.09 2.52 5.19 2.39 3.66 2.29 2.88",
        "6.33 2.68 3.52 5.38 2.60 3.53 2.54 4.75 3.98 2.69 3.34 3.17",
    ),
    "temperley": (
        "5.0 2.0 3.5 2.0 4.5 4.0 2.0 4.5 2.0 3.5 1.5 4.0",
        "5.0 2.0 3.5 4.5 2.0 4.0 2.0 4.5 3.5 2.0 1.5 4.0",
    ),
    "kostka-payne": (
        ".748 .060 .488 .082 .670 .460 .096 .715 .104 .366 .057 .400",
        ".712 .084 .474 .618 .049 .460 .105 .747 .404 .067 .133 .330",
    ),
    "albrecht-shanahan": (
        ".238 .006 .111 .006 .137 .094 .016 .214 .009 .080 .008 .081",
        ".220 .006 .104 .123 .019 .103 .012 .214 .062 .022 .061 .052",
    ),
}
PROFILES = {
    name: {
        mode: tuple(float(word) for word in text.split())
        for mode, text in zip((Mode.MAJOR, Mode.MINOR), texts, strict=True)
    }
    for name, texts in PROFILE_TEXTS.items()
}
USUAL_TONIC_FIFTHS = {Mode.MAJOR: range(-5, 7), Mode.MINOR: range(-3, 9)}
"""The tonics that a signature of at most six signs gives, on the line of fifths."""


def chord_histogram(chords: Iterable[tuple[Chord, Fraction | float]]) -> tuple[float, ...]:
    """Return the weight of each pitch class, C first, from chords and their lengths."""
    bins = [0.0] * 12
    for chord, length in chords:
        weight = float(length)
        for pitch_class in chord.pitch_classes:
            bins[pitch_class] += weight
    return tuple(bins)


@lru_cache(maxsize=64)
def _centred(profile: tuple[float, ...]) -> tuple[float, ...]:
    """Return a profile less its mean, scaled to length one; all zeros where it does not vary."""
    mean = sum(profile) / len(profile)
    rest = [value - mean for value in profile]
    length = sum(value * value for value in rest) ** 0.5
    return tuple(value / length if length else 0.0 for value in rest)


def profile_correlations(
    histogram: Sequence[float], profile: str = "albrecht-shanahan"
) -> dict[Mode, tuple[float, ...]]:
    """Return Pearson's correlation for the tonics 0 to 11 in major and in minor."""
    heard = _centred(tuple(histogram))
    from_tonic = [heard[tonic:] + heard[:tonic] for tonic in range(12)]
    found = {}
    for mode, values in PROFILES[profile].items():
        wanted = _centred(values)
        found[mode] = tuple(sum(map(mul, turned, wanted)) for turned in from_tonic)
    return found
