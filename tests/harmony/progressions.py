"""Songs made up from functional grammars, with their tonic: to tune and to try the key finder.

Every progression is composed from the functions of a style (common practice, no source); none is
taken from a song.  ``FAMILIES`` says how each style moves; a song draws its form, its loops, its
colours, its borrowed chords and now and then a lift of the key from a seeded generator.
"""

from dataclasses import dataclass, field
from functools import lru_cache
from random import Random

from groove.chart.degrees import parse_degree_chord
from groove.theory.chords import Chord
from groove.theory.keys import Key, Mode
from groove.theory.pitch import SpelledPitch, semitones_to_fifths

C_MAJOR = Key(SpelledPitch(0), Mode.MAJOR)
Bars = list[list[str]]


@dataclass(frozen=True, slots=True)
class Family:
    """A style: its mode, how often it is met, and loops for each kind of section."""

    name: str
    mode: Mode
    weight: float
    verses: tuple[str, ...]
    choruses: tuple[str, ...]
    bridges: tuple[str, ...]
    cadences: tuple[str, ...]
    sevenths: float = 0.2


def loops(text: str) -> tuple[str, ...]:
    return tuple(part.strip() for part in text.split(";") if part.strip())


MAJOR_BRIDGES = loops(
    "IV I IV V; vi iii IV V; IV iv I V7; vi V IV V; ii V I vi ii V V V; IV IV I I II7 II7 V V7;"
    "III7 III7 VI7 VI7 II7 II7 V7 V7; bVI bVII I I; iii vi iii vi ii V ii V; bIII bVII IV V"
)
MINOR_BRIDGES = loops(
    "iv i iv V; bVI bVII i i; bIII bVII bVI V; bVI bIII bVII i; iv bVII bIII bVI iiø7 V7; bVI V;"
    "iv iv i i bVI bVI V V"
)
FAMILIES = (
    Family(
        "plain major", Mode.MAJOR, 25,
        loops("I IV I V; I IV V I; I I IV V; I V IV I; I V I V; I I V V; I IV; I V; I IV I I;"
              "I I IV I V V I I; I IV I V I IV V I; I ii IV V; IV I V I; V IV I I; I V ii IV"),
        loops("I IV V V; IV V I I; IV I V I; I IV I V; V V I I; IV V I vi; I V IV V; IV IV I I V V I I;"
              "V IV I I"),
        MAJOR_BRIDGES, loops("V; IV V; V V; I V; ii V; IV I; I"), 0.15,
    ),
    Family(
        "turnaround major", Mode.MAJOR, 14,
        loops("I vi IV V; I vi ii V; I iii IV V; I iii vi IV; I V vi IV; I V vi iii IV I IV V;"
              "I IV vi V; vi IV I V; I vi iii V; I V6 vi I6/4 IV I6 ii V; I iii ii V; I vi I vi"),
        loops("I V vi IV; IV V I vi; vi IV I V; IV I V vi; I vi IV V; IV V iii vi ii V I I; ii V I vi;"
              "IV V vi vi; I iii IV iv; vi V IV V; IV V vi I"),
        MAJOR_BRIDGES, loops("V; IV V; ii V; IV iv; V7sus4 V; I"), 0.25,
    ),
    Family(
        "soft sevenths", Mode.MAJOR, 8,
        loops("Imaj7 IVmaj7; ii7 V7; Imaj7 vi7 ii7 V7; IVmaj7 iii7; Imaj7 ii7 iii7 IVmaj7;"
              "IVmaj7 V7sus4 Imaj7 Imaj7; Imaj7 iii7 IVmaj7 V7sus4; vi7 ii7 V7 Imaj7; Imaj7 v7;"
              "ii7 iii7 IVmaj7 V7sus4; Imaj7 I7 IVmaj7 iv; vi7 V IVmaj7 IVmaj7; Imaj7 bVIImaj7"),
        loops("IVmaj7 iii7 ii7 Imaj7; ii7 V7sus4 Imaj7 vi7; IVmaj7 V iii7 vi7; Imaj7 IVmaj7 ii7 V7sus4;"
              "IVmaj7 V7sus4; ii7 V7 iii7 vi7; iii7 vi7 ii7 V7; IVmaj7 IV/V Imaj7 Imaj7"),
        loops("IVmaj7 iii7 ii7 V7sus4; vi7 II7 ii7 V7; iv7 bVII7 Imaj7 Imaj7; bVImaj7 bVII V7sus4 V7sus4;"
              "iii7 VI7 ii7 V7"),
        loops("V7sus4; ii7 V7sus4; ii7 V7; IV/V; bVII; Imaj7"), 0.9,
    ),
    Family(
        "standard", Mode.MAJOR, 6,
        loops("I vi ii V7 I vi ii V7; I VI7 ii V7; I I7 IV iv I VI7 II7 V7; I #I°7 ii7 V7; I iii bIII°7 ii7 V7;"
              "I VI7 II7 V7 I I I I; ii7 V7 I I; I III7 vi I7 IV iv I V7; I IV I I II7 II7 V7 V7"),
        loops("IV #IV°7 I VI7 II7 V7 I I; I II7 ii7 V7; I III7 VI7 VI7 II7 V7 I I; IV iv iii VI7 ii V7 I I;"
              "I I7 IV iv I V7 I I"),
        loops("III7 III7 VI7 VI7 II7 II7 V7 V7; IV iv I I II7 II7 V7 V7; iv7 bVII7 bIII bIII ii7 V7 V7 V7;"
              "v7 I7 IV IV vi II7 ii7 V7"),
        loops("V7; ii7 V7; I V7; I; bII7"), 0.4,
    ),
    Family(
        "blues", Mode.MAJOR, 7,
        loops("I7 I7 I7 I7 IV7 IV7 I7 I7 V7 IV7 I7 V7; I7 IV7 I7 I7 IV7 IV7 I7 I7 V7 IV7 I7 I7;"
              "I I I I IV IV I I V IV I I; I I I I IV IV I I V V I I; I7 I7 IV7 IV7 I7 V7 I7 V7;"
              "I7 IV7; I7 I7 IV7 I7; I7 bIII IV7 I7; I7 bVII7 IV7 I7; i7 i7 i7 i7 iv7 iv7 i7 i7 V7 iv7 i7 i7"),
        loops("I7 I7 I7 I7 IV7 IV7 I7 I7 V7 IV7 I7 V7; IV7 IV7 I7 I7 V7 IV7 I7 I7; IV7 I7 V7 I7; I7 IV7 V7 IV7"),
        loops("IV7 IV7 I7 I7 IV7 IV7 V7 V7; IV7 IV7 I7 I7 II7 II7 V7 V7; V7 IV7 V7 V7"),
        loops("V7; IV7 I7; I7 V7; V7 IV7; I7"), 0.6,
    ),
    Family(
        "rock mixolydian", Mode.MAJOR, 9,
        loops("I bVII IV I; I bVII IV IV; I bVII; I IV bVII IV; I bVII I bVII; I bIII IV I; I bVII bVI V;"
              "I IV bVII I; I5 bIII5 IV5 I5; I bIII bVII IV; I I I bVII; I v IV I; I bVI bVII I; I5 bVII5 IV5 IV5;"
              "I5 IV5 bVII5 IV5; bVII IV I I; I IV bIII bVII; I I IV IV"),
        loops("IV I bVII I; bVII IV I I; I bVII IV I; IV bVII I I; V IV I I; bVI bVII I I; IV V bVII I;"
              "I bIII IV bVI; I V IV bVII; IV I V V; bIII bVII I I"),
        loops("bVI bIII bVII IV; IV bVII IV V; ii IV V V; bVI bVII bVI V; vi IV bVII V; bIII IV bVII V; v IV v V"),
        loops("V; bVII; IV; bVII IV; bVI bVII; I; V IV"), 0.15,
    ),
    Family(
        "vamp major", Mode.MAJOR, 3,
        loops("I7; I7 IV7; I9 I9 I9 IV9; I7 bVII; I; I7 I7 I7 bIII IV; v7 I7; I IV/1; I7 v7; ii7 I; Iadd9 bVII/1"),
        loops("IV7 IV7 I7 I7; I7; bIII IV I7 I7; V7 IV7 I7 I7; ii7 V7 I7 I7; bVII IV I I; IV I"),
        loops("IV7; ii7 V7; bVII IV; bVI bVII; V7"), loops("V7; I7; bVII; V7 IV7; IV"), 0.6,
    ),
    Family(
        "vamp minor", Mode.MINOR, 4,
        loops("i7; i7 IV7; i7 iv7; i7 bVII; i7 IV; i9 IV9 i9 IV9; i i bIII IV; i7 v7; i7 ii7; i; i bVII IV IV; i7 bIII7 IV7"),
        loops("iv7 i7; i7 IV7; bVI bVII i7 i7; bIII IV i7 i7; i7 bVII bVI bVII; bVImaj7 v7 i7 i7; i7 bIII bVII IV"),
        loops("iv7 bVII7; bVI V7; bVI bVII; iv7 v7; bIII IV"), loops("V7; i7; bVII; v7; IV; bVI bVII"), 0.6,
    ),
    Family(
        "aeolian", Mode.MINOR, 8,
        loops("i bVII bVI bVII; i bVI bVII i; i bVI bIII bVII; i bVII i bVII; i bVI; i bVII iv i; i bIII bVII iv;"
              "i v bVI bVII; i bVII bVI iv; bVI bVII i i; bVI bVII; i iv bVII i; I5 bVI5 bVII5; i bVI iv bVII; i v; i iv bVI bVII;"
              "bVI i bVII i; iv bVI i bVII; i bIII iv bVI"),
        loops("i bVI bIII bVII; bVI bVII i i; bVI bIII bVII i; iv bVII bIII bVI; bIII bVII iv bVI; bVI bVII i bIII;"
              "i bVII bVI bVII; bVI bVII bIII bIII; bVI bIII bVII bVII; I5 bIII5 bVII5 IV5; iv bVI bVII i"),
        MINOR_BRIDGES, loops("bVII; bVI bVII; V; v; i; bVI V; iv V"), 0.15,
    ),
    Family(
        "minor with dominant", Mode.MINOR, 9,
        loops("i bVII bVI V; i iv V i; i iv i V; i V i V; i iv i i; i bVI V V; i bVII bVI V7; i VII+ bIII IV bVI V; i iv bVII bIII bVI iiø7 V7 i;"
              "i i6/4 bVI V; i V7 bIII IV; i iiø7 V7 i; i i iv V; i iv bVI V; i bIII bVI V; i IV bVI V7"),
        loops("iv V i i; iv bVII bIII bVI iiø7 V7 i V7; i bVII bVI V; bVI V i i; iv i V i; bIII bVII i V; i iv V V; bVI bVII i V"),
        MINOR_BRIDGES, loops("V; V7; iv V; iiø7 V7; bVI V; i"), 0.3,
    ),
    Family(
        "two homes", Mode.MAJOR, 3,
        loops("vi IV I V; vi V IV V; vi iii IV V; vi ii III7 vi; vi V vi V; vi IV; vi III7 vi vi; vi ii V I; vi IV V vi"),
        loops("I V vi IV; I IV V V; IV V I I; I V ii IV; I iii IV V; IV I V vi; IV V I vi"),
        MAJOR_BRIDGES, loops("V; IV V; III7; ii V; I; vi"), 0.2,
    ),
)  # fmt: skip

MAJOR_STEPS = {
    "I": {"IV": 32, "V": 24, "vi": 13, "ii": 9, "bVII": 6, "iii": 6, "I": 8, "III7": 1, "II7": 1},
    "ii": {"V": 46, "I": 10, "IV": 14, "vi": 8, "iii": 10, "ii": 4, "bVII": 2},
    "iii": {"vi": 38, "IV": 34, "ii": 16, "V": 6, "I": 4},
    "IV": {"I": 38, "V": 31, "ii": 7, "vi": 6, "iv": 4, "iii": 5, "bVII": 4, "IV": 5},
    "V": {"I": 48, "IV": 20, "vi": 15, "V": 7, "ii": 5, "iii": 2, "bVII": 1},
    "vi": {"IV": 30, "ii": 22, "V": 22, "iii": 9, "I": 7, "II7": 4, "vi": 5},
    "bVII": {"IV": 40, "I": 36, "V": 8, "bVI": 6, "bIII": 4},
    "iv": {"I": 60, "V": 15, "bVII": 20}, "III7": {"vi": 70, "IV": 20, "VI7": 10},
    "VI7": {"ii": 60, "II7": 40}, "II7": {"V": 60, "IV": 25, "ii": 15},
    "bVI": {"bVII": 60, "V": 25, "I": 15}, "bIII": {"IV": 50, "bVII": 30, "I": 10, "bVI": 10},
}  # fmt: skip
MINOR_STEPS = {
    "i": {"bVII": 27, "iv": 22, "bVI": 18, "V": 9, "v": 6, "bIII": 9, "IV": 6, "i": 8},
    "bVII": {"i": 33, "bVI": 30, "bIII": 14, "iv": 9, "bVII": 4, "IV": 5, "V": 3},
    "bVI": {"bVII": 42, "i": 12, "V": 16, "bIII": 13, "iv": 10, "bVI": 3},
    "iv": {"i": 38, "V": 16, "bVII": 22, "bVI": 9, "v": 8, "bIII": 5},
    "V": {"i": 66, "bVI": 14, "iv": 14, "V": 6}, "v": {"i": 40, "iv": 22, "bVI": 28, "bVII": 10},
    "bIII": {"bVII": 32, "bVI": 28, "iv": 20, "IV": 10, "i": 10}, "IV": {"i": 55, "bVI": 20, "bVII": 25},
}  # fmt: skip
STARTS = {
    Mode.MAJOR: {"I": 68, "IV": 11, "vi": 8, "ii": 6, "V": 4, "bVII": 1, "iii": 2},
    Mode.MINOR: {"i": 72, "bVI": 11, "iv": 8, "bIII": 4, "bVII": 4, "V": 1},
}
INTROS = {
    Mode.MAJOR: {"verse": 48, "chorus": 12, "I": 26, "V": 5, "IV V": 3, "IV I": 4, "ii V": 3, "bVII IV": 2, "V I": 1, "IV": 2},
    Mode.MINOR: {"verse": 52, "chorus": 14, "i": 24, "V": 3, "bVI bVII": 4, "iv V": 2, "bVII": 2, "bVI": 2},
}  # fmt: skip


def pick(rng: Random, weights: dict[str, float] | dict[str, int]) -> str:
    total = rng.random() * sum(weights.values())
    for name, weight in weights.items():
        total -= weight
        if total < 0:
            return name
    return next(iter(weights))


@dataclass
class MadeSong:
    """A song: sections in order of play with bars of numerals, the tonic (0-11) and the mode."""

    family: str
    tonic: int
    mode: Mode
    sections: list[tuple[str, list[list[Chord]]]] = field(default_factory=list)


class Composer:
    """Draws one song of a family."""

    def __init__(self, rng: Random, family: Family) -> None:
        self.rng, self.family = rng, family
        self.minor = family.mode is Mode.MINOR
        self.sevenths = family.sevenths * rng.choice([0, 0.5, 1, 1.3])
        self.free = rng.random() < 0.2
        self.borrow = rng.choice([0, 0.02, 0.05, 0.1])
        self.slow = rng.choice([1, 1, 1, 2, 2, 0])

    def loop(self, pool: tuple[str, ...]) -> list[str]:
        rng = self.rng
        if self.free:
            steps = MINOR_STEPS if self.minor else MAJOR_STEPS
            chords = [pick(rng, STARTS[self.family.mode])]
            for _ in range(rng.choice([1, 2, 3, 3, 3, 5, 7]) - 0):
                chords.append(pick(rng, steps[chords[-1]]))
            return chords
        home = ("i", "i7", "i9") if self.minor else ("I", "I7", "Imaj7", "I9")
        weights = {loop: 2.2 if loop.split()[0] in home else 1.0 for loop in pool}
        return pick(rng, weights).split()

    def section(self, pool: tuple[str, ...], bars: int) -> Bars:
        rng = self.rng
        loop = self.loop(pool)
        if len(loop) >= 8 and self.slow != 0:
            return [[chord] for chord in loop] * (2 if len(loop) == 8 and rng.random() < 0.4 else 1)
        flat: Bars = []
        while len(flat) < bars:
            if self.slow == 2 and len(loop) <= 4:
                flat += [[chord] for chord in loop for _ in (0, 1)]
            elif self.slow == 0 and len(loop) % 2 == 0:
                flat += [[a, b] for a, b in zip(loop[::2], loop[1::2], strict=True)]
            else:
                flat += [[chord] for chord in loop]
        flat = flat[: max(bars, len(loop) if self.slow == 1 else bars)]
        if rng.random() < 0.4:
            cadence = rng.choice(self.family.cadences).split()
            flat[-len(cadence) :] = [[chord] for chord in cadence]
        return flat

    def colour(self, numeral: str) -> str:
        rng = self.rng
        plain = numeral.strip("b#").upper() in ("I", "II", "III", "IV", "V", "VI", "VII")
        if plain and rng.random() < self.borrow and self.family.name != "blues":
            numeral = rng.choice(
                {
                    True: ["IV", "V", "bII", "v", "II7"],
                    False: ["iv", "bVII", "II7", "v", "III7", "bVI", "#iv°7", "V"],
                }[self.minor]
            )
            plain = numeral.strip("b").upper() in ("I", "II", "III", "IV", "V", "VI", "VII")
        if plain and rng.random() < self.sevenths:
            if numeral.islower() or numeral.strip("b").islower():
                return numeral + "7"
            if numeral == "V":
                return "V7"
            return numeral + (
                "maj7"
                if self.family.name != "blues" and numeral in ("I", "IV", "bVI", "bIII")
                else "7"
                if self.family.name in ("blues", "vamp major")
                else ""
            )
        if plain and rng.random() < 0.06:
            return numeral + rng.choice(["6", "6/4", "sus4", "6", "6/4", "add9"])
        return numeral

    def song(self) -> MadeSong:
        rng, family = self.rng, self.family
        verse = self.section(family.verses, rng.choice([8, 8, 16, 12, 16]))
        chorus = self.section(family.choruses, rng.choice([8, 8, 16, 4]))
        bridge = self.section(family.bridges, 8)
        if rng.random() < 0.12:
            chorus = verse
        intro_kind = pick(rng, INTROS[family.mode])
        named = {"verse": verse[:8], "chorus": chorus[:8]}
        intro = named.get(intro_kind) or [[c] for c in intro_kind.split()] * rng.choice([1, 2, 4])
        intro = intro[: rng.choice([2, 4, 4, 8])]
        order = rng.choice(
            [
                "ivcvcbcc",
                "ivcvcvcc",
                "vcvcbc",
                "ivvbvv",
                "ivvcvcsco",
                "ivcvcbcco",
                "vvbv",
                "icvcvbccc",
                "ivcvcsvcc",
                "vvvvv",
                "ivvbvbvo",
            ]
        )
        home = "i" if self.minor else "I"
        outro = (chorus if rng.random() < 0.5 else verse)[:4]
        if rng.random() < 0.5:
            outro = [*outro, [home], [home]]
        parts = {"i": intro, "v": verse, "c": chorus, "b": bridge, "s": verse, "o": outro}
        played = [(part, parts[part]) for part in order]
        if rng.random() < 0.42 and order[-1] != "o":
            played[-1] = (order[-1], [*played[-1][1], [home]])
        elif rng.random() < 0.3:
            last = played[-1][1]
            played[-1] = (order[-1], last[: max(2, len(last) - rng.randrange(1, 5))])
        return self.realised(played)

    def realised(self, played: list[tuple[str, Bars]]) -> MadeSong:
        rng = self.rng
        tonic = rng.randrange(12)
        made = MadeSong(self.family.name, tonic, self.family.mode)
        lift_at = (
            rng.randrange(len(played) // 2 + 1, len(played) + 1) if rng.random() < 0.12 else 99
        )
        lift = rng.choice([1, 1, 2, 2, 3, 5])
        other = rng.choice([3, -3, 5, 2, -2, 4]) if rng.random() < 0.05 else 0
        coloured: dict[tuple[str, int, int, str], str] = {}
        for index, (part, bars) in enumerate(played):
            shift = tonic + (lift if index >= lift_at else 0) + (other if part == "b" else 0)
            made.sections.append(
                (part, [self.bar(bar, part, n, shift % 12, coloured) for n, bar in enumerate(bars)])
            )
        if self.family.name == "two homes":
            self.label_two_homes(made, played)
        return made

    def bar(
        self,
        bar: list[str],
        part: str,
        number: int,
        shift: int,
        coloured: dict[tuple[str, int, int, str], str],
    ) -> list[Chord]:
        chords = []
        for place, numeral in enumerate(bar):
            key = (part, number, place, numeral)
            if key not in coloured:
                coloured[key] = self.colour(numeral)
            chords.append(chord_at(coloured[key], shift))
        return chords

    def label_two_homes(self, made: MadeSong, played: list[tuple[str, Bars]]) -> None:
        """The minor is home where a dominant of it is heard, or it both begins and ends."""
        flat = [chord for _, bars in played for bar in bars for chord in bar]
        minor_votes = (flat[0] == "vi") + 1.4 * (flat[-1] == "vi") + 1.5 * ("III7" in flat)
        minor_votes += sum(bars[0][0] == "vi" for _, bars in played) / len(played)
        minor_votes -= 1.2 * (flat[-1] == "I") + 3 * flat.count("I") / len(flat)
        if minor_votes + self.rng.gauss(0, 0.8) > 1.4:
            made.tonic, made.mode = (made.tonic + 9) % 12, Mode.MINOR


@lru_cache(maxsize=8192)
def chord_at(numeral: str, shift: int) -> Chord:
    """Return the chord of a numeral over a tonic; ``IV/V`` and ``IV/1`` have that degree below."""
    head, slash, below = numeral.partition("/")
    basses = {"V": SpelledPitch(1), "1": SpelledPitch(0)}
    if slash and below in basses:
        chord = parse_degree_chord(head, C_MAJOR)
        chord = Chord(chord.root, chord.suffix, chord.quality, chord.degrees, basses[below])
    else:
        chord = parse_degree_chord(numeral, C_MAJOR)
    return chord.transposed(semitones_to_fifths(shift))


def made_songs(seed: str, count: int, families: tuple[Family, ...] = FAMILIES) -> list[MadeSong]:
    """Return songs drawn from the families by their weights; the same seed, the same songs."""
    rng = Random(seed)
    weights = {family.name: family.weight for family in families}
    by_name = {family.name: family for family in families}
    return [Composer(rng, by_name[pick(rng, weights)]).song() for _ in range(count)]


SECTION_NAMES = {
    "i": "intro",
    "v": "verse",
    "c": "chorus",
    "b": "bridge",
    "s": "solo",
    "o": "outro",
}


def made_chart(song: MadeSong) -> str:
    """Return a made song as the text of a chart, each played section written out."""
    lines = [f"title: made up, {song.family}"]
    for number, (part, bars) in enumerate(song.sections):
        lines.append(f"{SECTION_NAMES[part]} {number + 1}:")
        rows = [" ".join(chord.symbol for chord in bar) for bar in bars]
        lines += ["| " + " | ".join(rows[at : at + 4]) + " |" for at in range(0, len(rows), 4)]
    return "\n".join(lines) + "\n"
