"""The twenty chorale analyses that music21 ships, read at test time (corpus/bach/choraleAnalyses).

Analyst: Andrew Jones; proofreaders: Dmitri Tymoczko, Hamish Robb.
"""

import re
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import music21
from music21 import corpus, roman

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
    folder = Path(music21.__file__).parent / "corpus" / "bach" / "choraleAnalyses"
    found = []
    for number, opening in enumerate(OPENING_KEYS, 1):
        name = f"riemenschneider{number:03}.rntxt"
        text = (folder / name).read_text(encoding="utf-8")
        bwv = re.search(r"BWV:\s*([\d.]+)", text)
        assert bwv
        score = corpus.parse(f"bach/choraleAnalyses/{name}")
        numerals = score.flatten().getElementsByClass(roman.RomanNumeral)
        found.append(Analysis(bwv[1], to_key(opening), tuple(map(read, numerals))))
    return tuple(found)


def read(numeral: roman.RomanNumeral) -> Numeral:
    return Numeral(
        float(numeral.offset),
        numeral.figure,
        to_key(numeral.key.tonicPitchNameWithCase),
        frozenset(pitch.pitchClass for pitch in numeral.pitches),
        numeral.root().pitchClass,
        numeral.bass().pitchClass,
        float(numeral.quarterLength) or 1.0,
    )
