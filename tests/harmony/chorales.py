"""The twenty chorale analyses that music21 ships, read at test time (corpus/bach/choraleAnalyses).

Analyst: Andrew Jones; proofreaders: Dmitri Tymoczko, Hamish Robb.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import music21
from music21 import roman
from music21.meter import TimeSignature
from music21.romanText import rtObjects

from groove.theory.keys import Key, parse_key

OPENING_KEYS = tuple("GAaEGFAfGaCaaGdbeGgD")
"""Of the twenty analyses, as their files begin; small letters are minor."""
OTHER_KEY = ("184.5", "145.5")
"""Scores in another key than their analysis."""
NOT_ALIGNED = ("41.6", "184.5", "145.5")


@dataclass(frozen=True)
class Numeral:
    """A numeral: offset in quarters, figure, local key, pitch classes, root, length."""

    offset: float
    figure: str
    key: Key
    pitch_classes: frozenset[int]
    root: int
    bass: int
    quarters: float


@dataclass(frozen=True)
class Analysis:
    bwv: str
    opening_key: Key
    numerals: tuple[Numeral, ...]


def to_key(name: str) -> Key:
    text = name.replace("-", "b")
    return parse_key(text if name[0].isupper() else f"{text[0].upper()}{text[1:]} minor")


@cache
def analyses() -> tuple[Analysis, ...]:
    """Return the analyses; music21 reads their tokens and spells each numeral, in each key once.

    Its scores of them, of which no test asks more, take five times as long.
    """
    folder = Path(music21.__file__).parent / "corpus" / "bach" / "choraleAnalyses"
    found = []
    for number, opening in enumerate(OPENING_KEYS, 1):
        text = (folder / f"riemenschneider{number:03}.rntxt").read_text(encoding="utf-8")
        bwv = re.search(r"BWV:\s*([\d.]+)", text)
        assert bwv
        found.append(Analysis(bwv[1], to_key(opening), tuple(read(text))))
    return tuple(found)


def read(text: str) -> Iterator[Numeral]:
    """Yield the numerals of an analysis; of two readings of a bar, or of a chord, the first.

    A bar that begins later than with its first beat goes on with the numeral before it; the song's
    first bar is a pickup then.
    """
    meter, key, start = None, "", 0.0
    before: tuple[str, str] | None = None
    for token in rtObjects.RTFile().readstr(text).tokens:
        if token.isTimeSignature():
            meter = TimeSignature(token.data)
        if not token.isMeasure() or token.variantNumber is not None:
            continue
        assert meter
        own: dict[float, tuple[str, str]] = {}
        beat = 0.0
        for atom in token.atoms:
            if isinstance(atom, rtObjects.RTKey | rtObjects.RTAnalyticKey):
                key = atom.getKey().tonicPitchNameWithCase
            elif isinstance(atom, rtObjects.RTBeat):
                beat = float(atom.getOffset(meter))
                if beat and not own and before:
                    own[0.0] = before
            elif isinstance(atom, rtObjects.RTChord):
                before = (atom.src, key)
                own.setdefault(beat, before)
        end = float(meter.barDuration.quarterLength)
        start -= min(own) if start == 0 else 0.0
        for (beat, numeral), after in zip(own.items(), [*list(own)[1:], end], strict=True):
            spelled = spell(*numeral)
            yield Numeral(start + beat, *spelled, after - beat)
        start += end


@cache
def spell(figure: str, key: str) -> tuple[str, Key, frozenset[int], int, int]:
    """Return a numeral's figure, key, pitch classes, root and bass by music21."""
    numeral = roman.RomanNumeral(figure, key)
    classes = frozenset(pitch.pitchClass for pitch in numeral.pitches)
    bass = numeral.bass().pitchClass
    return numeral.figure, to_key(key), classes, numeral.root().pitchClass, bass
