"""How a song gets from one key to the next: over a pivot, by the new key's dominant, or at once.

Common practice, no source: the pivot is the last chord of the old section that has its notes in
both keys, with nothing but dominants of the new key (V and vii°) between it and the new section;
where there is no such chord but a dominant, the dominant leads; else the key changes directly.
"""

from collections.abc import Sequence
from enum import StrEnum

from msgspec import Struct

from groove.harmony.evidence import ChordClass, kind_of
from groove.harmony.numerals import numeral
from groove.theory.chords import Chord
from groove.theory.keys import Key

_FIFTH, _LEADING_NOTE = 7, 11
"""Roots of a key's dominants, in semitones above its tonic."""


class ModulationKind(StrEnum):
    """How a key is reached."""

    PIVOT = "pivot"
    DOMINANT = "dominant"
    DIRECT = "direct"


class ModulationMeans(Struct, frozen=True):
    """How a key is reached: the chord that leads there, and its numerals in the old and new key.

    ``chord`` is None and the numerals are empty where the key changes directly; a dominant of the
    new key has no numeral in the old one.
    """

    kind: ModulationKind
    chord: Chord | None = None
    old_numeral: str = ""
    new_numeral: str = ""


def modulation_means(chords: Sequence[Chord], old: Key, new: Key) -> ModulationMeans:
    """Return how a song gets from one key to another after the chords of the last section."""
    dominant: Chord | None = None
    for chord in reversed(chords):
        if _is_dominant(chord, new) and not _is_plain_of_both(chord, old, new):
            dominant = dominant or chord
            continue
        if _belongs(chord, old, new):
            return ModulationMeans(
                ModulationKind.PIVOT, chord, numeral(chord, old), numeral(chord, new)
            )
        break
    if dominant is None:
        return ModulationMeans(ModulationKind.DIRECT)
    return ModulationMeans(ModulationKind.DOMINANT, dominant, "", numeral(dominant, new))


def _is_dominant(chord: Chord, key: Key) -> bool:
    """Return whether a chord is a dominant of a key: major or a seventh on V, diminished on vii."""
    above = (chord.root.pitch_class - key.tonic.pitch_class) % 12
    kind = kind_of(chord)
    if above == _FIFTH:
        return kind in (ChordClass.MAJOR, ChordClass.DOMINANT)
    return above == _LEADING_NOTE and kind is ChordClass.DIMINISHED


def _is_plain_of_both(chord: Chord, old: Key, new: Key) -> bool:
    """Return whether a chord is a major triad of both keys, as G is I and V from G to C."""
    return kind_of(chord) is ChordClass.MAJOR and _belongs(chord, old, new)


def _belongs(chord: Chord, old: Key, new: Key) -> bool:
    """Return whether two keys have all notes of a chord."""
    return chord.pitch_classes <= set(old.pitch_classes) & set(new.pitch_classes)
