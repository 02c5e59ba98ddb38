"""A section as the namer reads it: its bars, its chords one after another, and rows of numerals.

A row of numerals says what chords must stand one after another (``I vi ii V``): upper case has a
major third, lower case a minor one, and a chord without a third fits either; ``7`` asks for a
dominant seventh, ``°`` for a diminished chord; ``*`` is any chord, and ``IV|V`` either one.
"""

import re
from collections.abc import Sequence
from functools import cached_property, lru_cache
from itertools import groupby

from msgspec import Struct

from groove.chart.degrees import NUMERALS
from groove.harmony.changes import Change
from groove.harmony.evidence import ChordClass, kind_of
from groove.theory.chords import Chord
from groove.theory.keys import Key, Mode
from groove.theory.pitch import SpelledPitch

_NAMED_DEGREE = re.compile(r"([♭♯]?)([IViv]+)([7°]?)")
_SIGNS = {"": 0, "♭": -1, "♯": 1}
_SCALES = {mode: Key(SpelledPitch(0), mode).pitch_classes for mode in (Mode.MAJOR, Mode.MINOR)}
"""The degrees that rows count from, in semitones above the tonic."""
_UPPER = frozenset(
    (ChordClass.MAJOR, ChordClass.MAJOR_SEVENTH, ChordClass.DOMINANT, ChordClass.OPEN)
)
_LOWER = frozenset((ChordClass.MINOR, ChordClass.MINOR_SEVENTH, ChordClass.OPEN))

Fit = tuple[int | None, frozenset[ChordClass]]
"""What fits a place of a row: a root in semitones above the tonic (None: any), kinds of chord."""


class HeardChord(Struct, frozen=True):
    """A chord of a section: its bar there (from 1), what it is in its key; None is no chord."""

    bar: int
    chord: Chord | None
    change: Change


class RootStep(Struct, frozen=True):
    """Chords on one root in a row, each with its bar; ``root`` in semitones above the tonic."""

    root: int
    chords: tuple[Chord, ...]
    bars: tuple[int, ...]

    @property
    def first_bar(self) -> int:
        """The bar of its first chord."""
        return self.bars[0]

    @property
    def last_bar(self) -> int:
        """The bar of its last chord."""
        return self.bars[-1]

    @property
    def first_kind(self) -> ChordClass:
        """The kind of its first chord."""
        return kind_of(self.chords[0])

    @property
    def last_kind(self) -> ChordClass:
        """The kind of its last chord."""
        return kind_of(self.chords[-1])


class Passage:
    """One section: its key, its bars, the shortest run of bars that it repeats."""

    def __init__(self, key: Key, bars: Sequence[Sequence[HeardChord]], loop_bars: int) -> None:
        """Keep the bars; ``loop_bars`` is their number where nothing repeats."""
        self.key = key
        self.bars = tuple(map(tuple, bars))
        self.loop_bars = loop_bars

    @cached_property
    def stretches(self) -> tuple[tuple[HeardChord, ...], ...]:
        """The chords in order, parted where there is none."""
        heard = [each for bar in self.bars for each in bar]
        grouped = groupby(heard, key=lambda each: each.chord is not None)
        return tuple(tuple(group) for sounding, group in grouped if sounding)

    @cached_property
    def steps(self) -> tuple[tuple[RootStep, ...], ...]:
        """The steps of each stretch."""
        return tuple(self.steps_of(stretch) for stretch in self.stretches)

    def steps_of(self, heard: Sequence[HeardChord]) -> tuple[RootStep, ...]:
        """Return chords with those on one root in a row as one step."""
        tonic = self.key.tonic.pitch_class
        sounding = [(each.chord, each.bar) for each in heard if each.chord]
        grouped = groupby(sounding, key=lambda pair: pair[0].root.pitch_class)
        steps = []
        for root, group in grouped:
            chords, bars = zip(*group, strict=True)
            steps.append(RootStep((root - tonic) % 12, chords, bars))
        return tuple(steps)

    def opening(self, bar: int) -> Chord | None:
        """Return the chord that opens a bar (from 0)."""
        return self.bars[bar][0].chord if self.bars[bar] else None


@lru_cache(maxsize=512)
def row_fits(row: str, mode: Mode) -> tuple[tuple[Fit, ...], ...]:
    """Return for each place of a row of numerals what fits there."""
    return tuple(
        tuple(_numeral_fit(word, mode) for word in place.split("|")) for place in row.split()
    )


def _numeral_fit(word: str, mode: Mode) -> Fit:
    """Return what fits one numeral of a row."""
    if word == "*":
        return None, frozenset(ChordClass)
    match = _NAMED_DEGREE.fullmatch(word)
    assert match, word
    sign, roman, ending = match.groups()
    root = (_SCALES[mode][NUMERALS.index(roman.upper())] + _SIGNS[sign]) % 12
    if ending == "7":
        return root, frozenset((ChordClass.DOMINANT,))
    if ending == "°":
        return root, frozenset((ChordClass.DIMINISHED,))
    return root, _UPPER if roman.isupper() else _LOWER


def fits_place(fit: Sequence[Fit], root: int, kind: ChordClass) -> bool:
    """Return whether a chord fits a place: its root above the tonic, and its kind."""
    return any(wanted in (None, root) and kind in kinds for wanted, kinds in fit)
