"""The key of a song and of its sections, from the chords as they are played.

Every one of the 24 keys gets a score, a plain sum: what each thing heard counts (``key_table``:
share of time of each chord, which chords belong, first and last chord, starts and ends of sections,
strong bars, bass, moves of roots, also into phrases, goals of dominants), and the correlation with
a key profile.  The shares of the scores (softmax) are the confidence.  A tonic is
chosen by the shares of its major and its minor key together.
"""

from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache
from math import exp

from msgspec import Struct

from groove.chart.form import PlayedBar
from groove.harmony.evidence import (
    Amounts,
    Moment,
    View,
    evidence,
    heard_moments,
)
from groove.harmony.key_table import MAJOR_TABLE, MINOR_TABLE
from groove.harmony.profiles import USUAL_TONIC_FIFTHS, chord_histogram, profile_correlations
from groove.theory.chords import Chord
from groove.theory.keys import Key, Mode
from groove.theory.pitch import SpelledPitch

_MODES = (Mode.MAJOR, Mode.MINOR)
TABLES = {Mode.MAJOR: MAJOR_TABLE, Mode.MINOR: MINOR_TABLE}
PROFILE, PROFILE_WEIGHT = "kostka-payne", 3.0
"""The key profile, and the log odds that a correlation of 1 counts.

It finds 17 of 18 labelled chorales alone.
"""
CALIBRATION = 0.6
"""What the scores are multiplied by before they become shares: made-up songs are too clear."""
AMBIGUOUS_MARGIN = 0.4
"""Two readings whose shares lie closer than this are both told."""
MODAL_SHARE = 0.04
"""From this share of the song on, a chord with a mode's own note colours the key."""

_Row = tuple[float, ...]


class KeyReading(Struct, frozen=True):
    """The key of a run of bars.

    ``confidence`` and ``runner_up_confidence`` are shares of all 24 keys, 0 to 1; ``runner_up`` is
    None without chords.  Keys have at most seven accidentals; ``written`` is ``key`` as the chords
    spell it, with however many, None without chords.
    """

    key: Key
    confidence: float
    runner_up: Key | None
    runner_up_confidence: float
    written: Key | None = None

    @property
    def is_ambiguous(self) -> bool:
        """Whether a player could as well hear the runner-up."""
        close = self.confidence - self.runner_up_confidence < AMBIGUOUS_MARGIN
        return self.runner_up is not None and close


@lru_cache(maxsize=2)
def rows(mode: Mode) -> Mapping[tuple[View, str], _Row]:
    """Return the table of a mode: twelve numbers for a view and what stands beside the root."""
    table = {}
    for line in TABLES[mode].split("\n"):
        if line:
            label, *numbers = line.split()
            view, _, beside = label.partition(":")
            table[View(view), beside.replace("-", " ")] = tuple(map(float, numbers))
    return table


def _table_scores(views: Mapping[View, Amounts], mode: Mode) -> list[float]:
    """Return what was heard as log odds for the tonics 0 to 11."""
    table = rows(mode)
    scores = [0.0] * 12
    for view, amounts in views.items():
        for (root, beside), amount in amounts.items():
            if isinstance(beside, int):
                for tonic in range(12):
                    row = table[view, str((beside - tonic) % 12)]
                    scores[tonic] += amount * row[(root - tonic) % 12]
            else:
                row = table[view, str(beside)]
                for tonic in range(12):
                    scores[tonic] += amount * row[(root - tonic) % 12]
    return scores


def key_scores(
    moments: Sequence[Moment], histogram: Sequence[float]
) -> dict[tuple[int, Mode], float]:
    """Return the score of each tonic (0-11) and mode."""
    views = evidence(moments)
    scores = {}
    for mode, values in profile_correlations(histogram, PROFILE).items():
        for tonic, score in enumerate(_table_scores(views, mode)):
            scores[tonic, mode] = score + PROFILE_WEIGHT * values[tonic]
    return scores


def shares(scores: Mapping[tuple[int, Mode], float]) -> dict[tuple[int, Mode], float]:
    """Return the scores as shares that sum to one."""
    best = max(scores.values())
    powers = {key: exp(CALIBRATION * (score - best)) for key, score in scores.items()}
    total = sum(powers.values())
    return {key: power / total for key, power in powers.items()}


def read_scores(
    scores: Mapping[tuple[int, Mode], float], chords: Sequence[tuple[Chord, float]]
) -> KeyReading:
    """Return the reading that scores give; ``chords`` and their quarters spell and colour it."""
    found = shares(scores)
    tonic = max(range(12), key=lambda t: sum(found[t, mode] for mode in _MODES))
    mode = max(_MODES, key=lambda m: found[tonic, m])
    rivals = sorted((key for key in found if key != (tonic, mode)), key=lambda key: -found[key])
    other = rivals[0]
    written = _coloured(_spelled_key(tonic, mode, chords), chords)
    return KeyReading(
        key=written.respelled(),
        confidence=found[tonic, mode],
        runner_up=_spelled_key(*other, chords).respelled(),
        runner_up_confidence=found[other],
        written=written,
    )


def _spelled_key(tonic: int, mode: Mode, chords: Sequence[tuple[Chord, float]]) -> Key:
    """Return a key spelled as the chart spells its tonic chord most, else with the fewest signs."""
    usual = next(f for f in USUAL_TONIC_FIFTHS[mode] if SpelledPitch(f).pitch_class == tonic)
    weights = {usual: 0.001}
    for chord, quarters in chords:
        if chord.root.pitch_class == tonic:
            weights[chord.root.fifths] = weights.get(chord.root.fifths, 0.0) + quarters
    return Key(SpelledPitch(max(weights, key=weights.__getitem__)), mode)


def _coloured(key: Key, chords: Sequence[tuple[Chord, float]]) -> Key:
    """Return the key in its mode: mixolydian or dorian where the mode's own note is in chords.

    Mixolydian wants the triad on the lowered seventh or a minor dominant, dorian a major fourth
    degree; the note that the mode leaves out (leading note, minor sixth) must not be there.
    """
    mode, own, absent = (Mode.DORIAN, 9, 8) if key.is_minor else (Mode.MIXOLYDIAN, 10, 11)
    tonic = key.tonic.pitch_class
    total = sum(quarters for _, quarters in chords)
    heard = {own: 0.0, absent: 0.0}
    for chord, quarters in chords:
        # A blues seventh on the tonic or on the fourth degree says nothing of the scale.
        triad = [degree.semitones for degree in chord.degrees if degree.number in (1, 3, 5)]
        root = chord.root.pitch_class - tonic
        above = {(root + semitones) % 12 for semitones in triad}
        for step in heard:
            heard[step] += quarters * (step in above)
    if total and heard[own] / total >= MODAL_SHARE and not heard[absent]:
        return Key(key.tonic, mode)
    return key


NO_KEY = KeyReading(Key(SpelledPitch(0), Mode.MAJOR), 0.0, None, 0.0)
"""What is read where no chord is."""


def read_key(bars: Iterable[PlayedBar]) -> KeyReading:
    """Return the key of played bars by their chords alone; without any, C major, confidence 0."""
    bars = tuple(bars)
    chords = sounded(bars)
    if not chords:
        return NO_KEY
    return read_scores(bar_scores(bars, chords), chords)


def sounded(bars: Iterable[PlayedBar]) -> list[tuple[Chord, float]]:
    """Return the chords of played bars with their quarters."""
    return [
        (span.chord, float(span.length_quarters))
        for bar in bars
        for span in bar.chords
        if span.chord
    ]


def bar_scores(
    bars: Sequence[PlayedBar], chords: Sequence[tuple[Chord, float]]
) -> dict[tuple[int, Mode], float]:
    """Return the score of each tonic and mode for played bars."""
    return key_scores(heard_moments(bars), chord_histogram(chords))
