"""Songs made up from functional grammars, with their tonic: to tune and to try the key finder.

The loops and how one chord follows another stand in shared/tables/progression_families.toml, by
style (common practice, no source); a song draws its form, its loops, its colours, its borrowed
chords and now and then a lift of the key from a seeded generator.
"""

import tomllib
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from random import Random
from typing import Any

from groove.chart.degrees import parse_degree_chord
from groove.theory.chords import Chord
from groove.theory.keys import Key, Mode
from groove.theory.pitch import SpelledPitch, semitones_to_fifths

FILE = Path(__file__).parents[2] / "shared" / "tables" / "progression_families.toml"
TABLE: dict[str, Any] = tomllib.loads(FILE.read_text(encoding="utf-8"))
C_MAJOR = Key(SpelledPitch(0), Mode.MAJOR)
PLAIN = ("I", "II", "III", "IV", "V", "VI", "VII")
ORDERS = (
    "ivcvcbcc ivcvcvcc vcvcbc ivvbvv ivvcvcsco ivcvcbcco vvbv icvcvbccc ivcvcsvcc vvvvv ivvbvbvo"
)
SECTION_NAMES = {
    "i": "intro",
    "v": "verse",
    "c": "chorus",
    "b": "bridge",
    "s": "solo",
    "o": "outro",
}
BORROWED = {
    "major": ("iv", "bVII", "II7", "v", "III7", "bVI", "#iv°7", "V"),
    "minor": ("IV", "V", "bII", "v", "II7"),
}
BASSES = {"V": SpelledPitch(1), "1": SpelledPitch(0)}
LIFT_SHARE, OTHER_BRIDGE_SHARE = 0.12, 0.05
Bars = list[list[str]]


@dataclass(frozen=True, slots=True)
class Family:
    """A style: its mode, how often it is met, and loops for each kind of section."""

    name: str
    mode: Mode
    weight: float
    sevenths: float
    verses: tuple[str, ...]
    choruses: tuple[str, ...]
    bridges: tuple[str, ...]
    cadences: tuple[str, ...]


def loops(text: str) -> tuple[str, ...]:
    return tuple(part.strip() for part in text.split(";"))


def read_family(row: dict[str, Any]) -> Family:
    pools = {name: loops(row[name]) for name in ("verses", "choruses", "bridges", "cadences")}
    mode = Mode(row["mode"])
    return Family(row["name"], mode, row["weight"], row["sevenths"], **pools)


FAMILIES = tuple(map(read_family, TABLE["family"]))


def pick(rng: Random, weights: dict[str, float]) -> str:
    total = rng.random() * sum(weights.values())
    for name, weight in weights.items():
        total -= weight
        if total < 0:
            return name
    return next(iter(weights))


@dataclass
class MadeSong:
    """A song: sections in order of play with the chords of each bar, the tonic (0-11), the mode."""

    family: str
    tonic: int
    mode: Mode
    sections: list[tuple[str, list[list[Chord]]]] = field(default_factory=list)


class Composer:
    """Draws one song of a family."""

    def __init__(self, rng: Random, family: Family) -> None:
        self.rng, self.family = rng, family
        self.mode = family.mode.value
        self.home = "i" if family.mode is Mode.MINOR else "I"
        self.sevenths = family.sevenths * rng.choice([0, 0.5, 1, 1.3])
        self.free = rng.random() < 0.2
        self.borrow = rng.choice([0, 0.02, 0.05, 0.1])
        self.pace = rng.choice([1, 1, 1, 2, 2, 0])
        self.coloured: dict[tuple[str, int, int, str], str] = {}

    def loop(self, pool: tuple[str, ...]) -> list[str]:
        if not self.free:
            homes = (self.home, f"{self.home}7", f"{self.home}9", "Imaj7")
            weights = {loop: 2.2 if loop.split()[0] in homes else 1.0 for loop in pool}
            return pick(self.rng, weights).split()
        chords = [pick(self.rng, TABLE["starts"][self.mode])]
        for _ in range(self.rng.choice([1, 2, 3, 3, 3, 5, 7])):
            chords.append(pick(self.rng, TABLE["steps"][self.mode][chords[-1]]))
        return chords

    def section(self, pool: tuple[str, ...], bars: int) -> Bars:
        loop = self.loop(pool)
        if len(loop) >= 8 and self.pace:
            twice = len(loop) == 8 and self.rng.random() < 0.4
            return [[chord] for chord in loop] * (2 if twice else 1)
        once = self.paced(loop)
        length = max(bars, len(loop) if self.pace == 1 else bars)
        flat = (once * length)[:length]
        if self.rng.random() < 0.4:
            cadence = self.rng.choice(self.family.cadences).split()
            flat[-len(cadence) :] = [[chord] for chord in cadence]
        return flat

    def paced(self, loop: list[str]) -> Bars:
        if self.pace == 2 and len(loop) <= 4:
            return [[chord] for chord in loop for _ in (0, 1)]
        if self.pace == 0 and len(loop) % 2 == 0:
            return [list(pair) for pair in zip(loop[::2], loop[1::2], strict=True)]
        return [[chord] for chord in loop]

    def colour(self, numeral: str) -> str:
        blues = self.family.name == "blues"
        if is_plain(numeral) and not blues and self.rng.random() < self.borrow:
            numeral = self.rng.choice(BORROWED[self.mode])
        if is_plain(numeral) and self.rng.random() < self.sevenths:
            return numeral + self.seventh(numeral)
        if is_plain(numeral) and self.rng.random() < 0.06:
            return numeral + self.rng.choice(["6", "6/4", "sus4", "6", "6/4", "add9"])
        return numeral

    def seventh(self, numeral: str) -> str:
        bluesy = self.family.name in ("blues", "vamp major")
        if numeral.strip("b").islower() or numeral == "V" or bluesy:
            return "7"
        return "maj7" if numeral in ("I", "IV", "bVI", "bIII") else ""

    def song(self) -> MadeSong:
        rng, family = self.rng, self.family
        verse = self.section(family.verses, rng.choice([8, 8, 16, 12, 16]))
        chorus = self.section(family.choruses, rng.choice([8, 8, 16, 4]))
        bridge = self.section(family.bridges, 8)
        if rng.random() < 0.12:
            chorus = verse
        order = rng.choice(ORDERS.split())
        outro = (chorus if rng.random() < 0.5 else verse)[:4]
        if rng.random() < 0.5:
            outro = [*outro, [self.home], [self.home]]
        parts = {"i": self.intro(verse, chorus), "v": verse, "c": chorus, "b": bridge}
        parts |= {"s": verse, "o": outro}
        played = [(part, parts[part]) for part in order]
        self.end(played)
        return self.realised(played)

    def intro(self, verse: Bars, chorus: Bars) -> Bars:
        kind = pick(self.rng, TABLE["intros"][self.mode])
        named = {"verse": verse[:8], "chorus": chorus[:8]}
        bars = named.get(kind) or [[c] for c in kind.split()] * self.rng.choice([1, 2, 4])
        return bars[: self.rng.choice([2, 4, 4, 8])]

    def end(self, played: list[tuple[str, Bars]]) -> None:
        """End on the tonic, or fade anywhere in the last section."""
        part, bars = played[-1]
        if self.rng.random() < 0.42 and part != "o":
            played[-1] = (part, [*bars, [self.home]])
        elif self.rng.random() < 0.3:
            played[-1] = (part, bars[: max(2, len(bars) - self.rng.randrange(1, 5))])

    def realised(self, played: list[tuple[str, Bars]]) -> MadeSong:
        rng = self.rng
        made = MadeSong(self.family.name, rng.randrange(12), self.family.mode)
        lifts = rng.random() < LIFT_SHARE
        lift_at = rng.randrange(len(played) // 2 + 1, len(played) + 1) if lifts else len(played)
        lift = rng.choice([1, 1, 2, 2, 3, 5])
        other = rng.choice([3, -3, 5, 2, -2, 4]) if rng.random() < OTHER_BRIDGE_SHARE else 0
        for index, (part, bars) in enumerate(played):
            shift = made.tonic + (lift if index >= lift_at else 0) + (other if part == "b" else 0)
            rows = [self.bar(bar, part, n, shift % 12) for n, bar in enumerate(bars)]
            made.sections.append((part, rows))
        if self.family.name == "two homes":
            self.label_two_homes(made, played)
        return made

    def bar(self, bar: list[str], part: str, number: int, shift: int) -> list[Chord]:
        chords = []
        for place, numeral in enumerate(bar):
            key = (part, number, place, numeral)
            if key not in self.coloured:
                self.coloured[key] = self.colour(numeral)
            chords.append(chord_at(self.coloured[key], shift))
        return chords

    def label_two_homes(self, made: MadeSong, played: list[tuple[str, Bars]]) -> None:
        """The minor is home where a dominant of it is heard, or it both begins and ends."""
        flat = [chord for _, bars in played for bar in bars for chord in bar]
        votes = (flat[0] == "vi") + 1.4 * (flat[-1] == "vi") + 1.5 * ("III7" in flat)
        votes += sum(bars[0][0] == "vi" for _, bars in played) / len(played)
        votes -= 1.2 * (flat[-1] == "I") + 3 * flat.count("I") / len(flat)
        if votes + self.rng.gauss(0, 0.8) > 1.4:
            made.tonic, made.mode = (made.tonic + 9) % 12, Mode.MINOR


def is_plain(numeral: str) -> bool:
    return numeral.strip("b#").upper() in PLAIN


@lru_cache(maxsize=8192)
def chord_at(numeral: str, shift: int) -> Chord:
    """Return the chord of a numeral over a tonic; ``IV/V`` and ``IV/1`` have that degree below."""
    head, slash, below = numeral.partition("/")
    if slash and below in BASSES:
        plain = parse_degree_chord(head, C_MAJOR)
        chord = Chord(plain.root, plain.suffix, plain.quality, plain.degrees, BASSES[below])
    else:
        chord = parse_degree_chord(numeral, C_MAJOR)
    return chord.transposed(semitones_to_fifths(shift))


def made_songs(seed: str, count: int) -> list[MadeSong]:
    """Return songs drawn from the families by their weights; the same seed, the same songs."""
    rng = Random(seed)
    weights = {family.name: family.weight for family in FAMILIES}
    by_name = {family.name: family for family in FAMILIES}
    return [Composer(rng, by_name[pick(rng, weights)]).song() for _ in range(count)]


def made_chart(song: MadeSong) -> str:
    """Return a made song as the text of a chart, each played section written out."""
    lines = [f"title: made up, {song.family}"]
    for number, (part, bars) in enumerate(song.sections):
        lines.append(f"{SECTION_NAMES[part]} {number + 1}:")
        rows = [" ".join(chord.symbol for chord in bar) for bar in bars]
        lines += ["| " + " | ".join(rows[at : at + 4]) + " |" for at in range(0, len(rows), 4)]
    return "\n".join(lines) + "\n"
