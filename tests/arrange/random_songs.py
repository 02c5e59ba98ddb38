"""Random progressions for the bass line's tests; their chord tones come from mir_eval.

The shorthand's tones are C. Harte et al., "Symbolic representation of musical chords", ISMIR 2005,
as mir_eval has them; the rest is drawn by a seeded generator, so that every run sees the same.
"""

from random import Random

from groove.events import Performance
from tests.mir_judge import chord as chord_judge

SHORTHAND = {
    "": "maj",
    "m": "min",
    "7": "7",
    "maj7": "maj7",
    "m7": "min7",
    "dim7": "dim7",
    "dim": "dim",
    "m7b5": "hdim7",
    "aug": "aug",
    "6": "maj6",
    "m6": "min6",
    "sus4": "sus4",
}
TRIADS = ("", "m")
NAMES = ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B")
KEYS = (
    *NAMES,
    *(f"{name} minor" for name in ("C", "C#", "D", "E", "F", "F#", "G", "A", "Bb", "B")),
)


def chord_classes(symbol: str) -> frozenset[int]:
    """Return the pitch classes of a symbol of this table, its slash note left out."""
    head = symbol.partition("/")[0]
    name = head[:2] if head[1:2] == "b" else head[:1]
    bitmap = chord_judge.quality_to_bitmap(SHORTHAND[head[len(name) :]])
    root = NAMES.index(name)
    return frozenset((root + step) % 12 for step, has in enumerate(bitmap) if has)


def root_class(symbol: str) -> int:
    """Return the pitch class that the bass begins with: the slash note, else the root."""
    head, _, slash = symbol.partition("/")
    return NAMES.index(slash or (head[:2] if head[1:2] == "b" else head[:1]))


def symbol(random: Random, qualities: tuple[str, ...] = tuple(SHORTHAND)) -> str:
    """Return a chord of the table, one in five over another of its tones."""
    name, quality = random.choice(NAMES), random.choice(qualities)
    plain = name + quality
    others = sorted(chord_classes(plain) - {NAMES.index(name)})
    return f"{plain}/{NAMES[random.choice(others)]}" if random.random() < 0.2 else plain


def progression(
    random: Random,
    length: int,
    *,
    qualities: tuple[str, ...] = tuple(SHORTHAND),
    two_a_bar: bool = False,
) -> list[str]:
    """Return so many bars of one chord, where asked for some of two."""
    bars = [symbol(random, qualities) for _ in range(length)]
    if two_a_bar:
        bars = [
            f"{bar} {symbol(random, qualities)}" if random.random() < 0.2 else bar for bar in bars
        ]
    return bars


def sounding_chord(performance: Performance, tick: int) -> str:
    """Return the chord that the chart has at a tick."""
    found = ""
    for bar in performance.bars:
        for onset in bar.chords:
            if bar.start_tick + onset.tick <= tick:
                found = onset.symbol
    return found
