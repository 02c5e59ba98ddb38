"""What is named, against a brute-force reading of the definitions that the table of names states.

Sections are made up with a seed: chords by chance, and forms, runs and cadences planted among them,
some with one chord put wrong.  The judge below looks at every stretch of bars by itself, with its
own reading of chords (their notes alone) and music21's of numerals, and must name the same bars.
"""

from collections import Counter
from collections.abc import Callable, Iterator
from functools import cache
from itertools import groupby, pairwise
from random import Random

import pytest
from music21 import key as m21_key
from music21 import roman

from groove.chart.parse import parse_chart
from groove.harmony.analysis import analyse
from groove.harmony.changes import Change, Function
from groove.harmony.named import BLUES_FORMS, LOOPS, RULES, TURNAROUNDS, named_in
from groove.harmony.passages import HeardChord, Passage
from groove.theory.chords import Chord, parse_chord
from groove.theory.keys import Key, Mode, parse_key

SECTIONS = 300
NAMES = ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B")
SUFFIXES = ("", "", "m", "m", "7", "7", "m7", "maj7", "m7b5", "°7", "sus4", "5", "6", "7sus4")
Section = list[list[Chord | None]]
Placed = list[tuple[Chord, int]]
Told = tuple[str, int, int]
"""A name, the first and the last of its bars."""

BLUES = (
    "I7 I7 I7 I7 IV7 IV7 I7 I7 V7 IV7 I7 V7",
    "I IV7 I I7 IV7 ♯iv° I7 I7 V7 V7 I7 I7",
    "I7 IV7 I7 I7 IV7 IV7 I7 VI7 ii7 V7 I7 V7",
    "i7 i7 i7 I7 iv7 iv7 i7 i7 VI7 V7 i7 V7",
    "I7 V7 IV7 IV7 I7 V7 I7 V7",
    "I I7 IV iv I V7 I V7",
    "I7 I7 IV ♯iv° I VI7 II7 V7",
    "I7 I7 I7 I7 I7 I7 I7 I7 IV7 IV7 I7 I7 V7 IV7 I7 I7",
)
RUNS = (
    "ii7 V7 I", "ii7 V7 Imaj7 I", "iim7b5 V7 i", "ii V I", "v7 I7 IV", "iii7 VI7 ii7", "ii7 V7 I7",
    "iii7 vi7 ii7 V7 I", "VI7 II7 V7 I7 IV7", "IV vii° iii vi", "VII III VI ii° V7", "iv7 ♭VII7 I",
    "♭VII7 Imaj7", "♭VII7 I7", "V7 vi", "V7 VI", "V7 VI7", "V vi", "V7sus4 V7 vi7",
    "I I/7 I/b7 I/6", "I V/7 vi I/5 IV", "i i/7 i/6 i/b6 V", "I/3 ii/2 IV/1", "I IV/1 V/1",
    "I IV/1 ♭VII/1 I", "V IV/5 ii/5 V7", "I I6 I7",
)  # fmt: skip


def planted(text: str, key: Key) -> list[Chord]:
    """Return the chords of numerals, by music21's roots; ``/7`` is a bass above the tonic."""
    found = []
    for word in text.split():
        head, _, below = word.partition("/")
        digits = next((i for i, mark in enumerate(head) if mark not in "♭♯IViv"), len(head))
        root, minor = root_of(head[:digits], key.is_minor)
        suffix = head[digits:]
        if minor and not suffix.startswith(("m", "°")):
            suffix = "m" + suffix
        name = NAMES[(root + key.tonic.pitch_class) % 12] + suffix.replace("°", "°7")
        if below:
            steps = {"1": 0, "2": 2, "3": 4, "5": 7, "b6": 8, "6": 9, "b7": 10, "7": 11}[below]
            name += "/" + NAMES[(steps + key.tonic.pitch_class) % 12]
        found.append(parse_chord(name))
    return found


@cache
def root_of(numeral: str, minor: bool) -> tuple[int, bool]:
    """Return a numeral's root above the tonic, and whether it is a small one, by music21."""
    sign = {"♭": -1, "♯": 1}.get(numeral[0], 0)
    plain = numeral.lstrip("♭♯")
    scale = m21_key.Key("c" if minor else "C")
    degree = roman.RomanNumeral(plain.upper()).scaleDegree
    return (scale.pitchFromDegree(degree).pitchClass + sign) % 12, plain.islower()


def by_chance(rng: Random, key: Key) -> Chord | None:
    if rng.random() < 0.02:
        return None
    root = rng.choice(key.pitch_classes) if rng.random() < 0.8 else rng.randrange(12)
    symbol = NAMES[root] + rng.choice(SUFFIXES)
    return parse_chord(symbol + ("/" + rng.choice(NAMES) if rng.random() < 0.15 else ""))


def made_section(rng: Random) -> tuple[Key, Section]:
    """Return a key and the bars of a section, something planted in most of them."""
    key = Key(parse_key(rng.choice(NAMES)).tonic, rng.choice((Mode.MAJOR, Mode.MINOR)))
    kind = rng.choice(
        ("chance", "run", "run", "run", "turnaround", "loop", "blues", "blues", "blues")
    )
    bars: Section = [
        [by_chance(rng, key) for _ in range(rng.choice((1, 1, 2)))]
        for _ in range(rng.choice((4, 8)))
    ]
    rows = TURNAROUNDS if kind == "turnaround" else LOOPS
    chords: list[Chord | None] = list(planted(rng.choice(rows[key.mode]), key))
    pairs: Section = [[chord] for chord in chords]
    if rng.random() < 0.5:
        pairs = [chords[:2], chords[2:]]
    if kind == "turnaround":
        bars += pairs
    elif kind == "loop":
        bars = pairs * rng.choice((1, 2, 2, 3, 4))
    elif kind == "blues":
        key = Key(key.tonic, Mode.MINOR) if rng.random() < 0.15 else Key(key.tonic, Mode.MAJOR)
        form = BLUES[3] if key.is_minor else rng.choice(BLUES)
        chorus: Section = [[chord] for chord in planted(form, key)]
        bars = chorus * rng.choice((1, 1, 2))
    elif kind == "run":
        for _ in range(4):
            run: list[Chord | None] = list(planted(rng.choice(RUNS), key))
            place = rng.randrange(len(bars) + 1)
            bars[place:place] = [run[i : i + 2] for i in range(0, len(run), 2)]
    if rng.random() < 0.25:
        bar = list(rng.choice(bars))
        bar[rng.randrange(len(bar))] = by_chance(rng, key)
        bars[rng.randrange(len(bars))] = bar
    return key, bars


def third(chord: Chord) -> str:
    """Major, minor, diminished or neither, by the notes above the root."""
    above = {(pc - chord.root.pitch_class) % 12 for pc in chord.pitch_classes}
    if 3 in above and 4 not in above:
        return "diminished" if 6 in above and 7 not in above else "minor"
    return "major" if 4 in above else ""


def seventh(chord: Chord) -> bool:
    """Whether a chord that is neither minor nor diminished has the minor seventh."""
    has_it = (chord.root.pitch_class + 10) % 12 in chord.pitch_classes
    return has_it and third(chord) not in ("minor", "diminished")


def stands(chord: Chord, word: str, key: Key) -> bool:
    """Whether a chord is what one place of a row of numerals asks for."""
    for each in word.split("|"):
        if each == "*":
            return True
        root, small = root_of(each.rstrip("7°"), key.is_minor)
        if (chord.root.pitch_class - key.tonic.pitch_class) % 12 != root:
            continue
        if each.endswith("°"):
            wanted = third(chord) == "diminished"
        elif each.endswith("7"):
            wanted = seventh(chord)
        else:
            bare = not third(chord) and not seventh(chord)
            wanted = bare or third(chord) == "minor" if small else third(chord) in ("major", "")
        if wanted:
            return True
    return False


class Judge:
    """Reads one section by the definitions, stretch by stretch."""

    def __init__(self, key: Key, bars: Section, borrowed: set[int]) -> None:
        self.key, self.bars, self.borrowed = key, bars, borrowed
        self.flat = [(chord, n) for n, bar in enumerate(bars, start=1) for chord in bar]

    def told(self) -> list[Told]:
        found = list(self.but_borrowed())
        doors = [(first, last) for name, first, last in found if name == "back door"]
        for i, (_, n) in enumerate(self.flat):
            if i in self.borrowed and not any(first <= n <= last for first, last in doors):
                found.append(("borrowed chord", n, n))
        return sorted(found)

    def but_borrowed(self) -> Iterator[Told]:
        yield from self.blues()
        yield from self.turnarounds()
        yield from self.loop()
        for sounding, group in groupby(self.flat, key=lambda pair: pair[0] is not None):
            if sounding:
                yield from self.stretch([(c, n) for c, n in group if c])

    def above(self, chord: Chord) -> int:
        return (chord.root.pitch_class - self.key.tonic.pitch_class) % 12

    def blues(self) -> Iterator[Told]:
        for length in (8, 12, 16):
            if len(self.bars) % length:
                continue
            parts = [self.bars[at : at + length] for at in range(0, len(self.bars), length)]
            found = [self.form(part) for part in parts]
            if None not in found:
                for n, name in enumerate(found):
                    yield str(name), n * length + 1, (n + 1) * length

    def form(self, part: Section) -> str | None:
        bluesy = any(c and seventh(c) and self.above(c) in (0, 5) for bar in part for c in bar)
        for form in BLUES_FORMS:
            places = form.bars.split()
            if form.mode is self.key.mode and len(places) == len(part):
                opens = [
                    bar[0] is not None and stands(bar[0], p, self.key)
                    for bar, p in zip(part, places, strict=True)
                ]
                if all(opens) and (bluesy or not form.wants_seventh):
                    return form.name
        return None

    def is_row(self, bars: Section, rows: tuple[str, ...]) -> bool:
        flat = [chord for bar in bars for chord in bar if chord]
        if len(flat) < sum(map(len, bars)):
            return False
        roots = [self.above(chord) for chord in flat]
        one_each = [c for i, c in enumerate(flat) if i == 0 or roots[i] != roots[i - 1]]
        return any(
            len(row.split()) == len(one_each)
            and all(map(stands, one_each, row.split(), [self.key] * 9))
            for row in rows
        )

    def loop_bars(self) -> int:
        return min(
            n
            for n in range(1, len(self.bars) + 1)
            if self.bars == self.bars[:n] * (len(self.bars) // n)
        )

    def turnarounds(self) -> Iterator[Told]:
        count = len(self.bars)
        for length in (2, 4):
            if (
                count >= length
                and self.loop_bars() > length
                and self.is_row(self.bars[-length:], TURNAROUNDS[self.key.mode])
            ):
                yield "turnaround", count - length + 1, count

    def loop(self) -> Iterator[Told]:
        loop = self.loop_bars()
        if len(self.bars) >= 2 * loop and self.is_row(self.bars[:loop], LOOPS[self.key.mode]):
            yield "four-chord loop", 1, len(self.bars)

    def stretch(self, chords: Placed) -> Iterator[Told]:
        groups = [list(g) for _, g in groupby(chords, key=lambda pair: pair[0].root.pitch_class)]
        yield from self.cadences(groups)
        roots = [(g[0][0].root.pitch_class, g[0][1]) for g in groups]
        middle = (self.key.tonic.pitch_class + (8 if self.key.is_minor else 5)) % 12
        for first, last in longest(
            roots, lambda a, b: (b - a) % 12 == 5 or ((b - a) % 12 == 6 and a == middle)
        ):
            if last - first >= 3:
                yield "circle of fifths", roots[first][1], roots[last][1]
        notes = [
            next(g)
            for _, g in groupby(
                [(c.bass_note.pitch_class, n) for c, n in chords], key=lambda p: p[0]
            )
        ]
        for first, last in longest(notes, lambda a, b: (a - b) % 12 in (1, 2)):
            if last - first >= 3:
                run = [note for note, _ in notes[first : last + 1]]
                halves = all((a - b) % 12 == 1 for a, b in pairwise(run))
                kind = (
                    "chromatic "
                    if halves
                    else "diatonic "
                    if all(n in self.key.pitch_classes for n in run)
                    else ""
                )
                yield kind + "step-down bass", notes[first][1], notes[last][1]
        others = [next(g) for _, g in groupby(chords, key=lambda pair: pair[0])]
        basses = [(c.bass_note.pitch_class, n) for c, n in others]
        for first, last in longest(basses, lambda a, b: a == b):
            if (
                last - first >= 2
                and len({c.root.pitch_class for c, _ in others[first : last + 1]}) > 1
            ):
                yield "pedal", basses[first][1], basses[last][1]

    def cadences(self, groups: list[Placed]) -> Iterator[Told]:
        for i in range(len(groups) - 1):
            before = groups[i - 1] if i else []
            yield from self.back_door(before, groups[i], groups[i + 1])
            yield from self.deceptive(groups[i][-1], groups[i + 1][0])
            if before:
                yield from self.two_five_one(before, groups[i][-1], groups[i + 1][0])

    def back_door(self, before: Placed, door: Placed, home: Placed) -> Iterator[Told]:
        (dominant, _), (goal, there) = door[-1], home[0]
        places = (self.above(dominant), self.above(goal)) == (10, 0)
        if self.key.is_minor or not places or not seventh(dominant):
            return
        if third(goal) == "major" and not seventh(goal):
            is_four = bool(before) and self.above(before[0][0]) == 5
            start = (minor_from(before) if is_four else 0) or door[0][1]
            yield "back door", start, there

    def deceptive(self, five: tuple[Chord, int], after: tuple[Chord, int]) -> Iterator[Told]:
        (dominant, at), (goal, there) = five, after
        minor = self.key.is_minor
        kind = third(goal) == "major" and not seventh(goal) if minor else third(goal) == "minor"
        places = (self.above(dominant), self.above(goal)) == (7, 8 if minor else 9)
        if places and seventh(dominant) and kind:
            yield "deceptive move", at, there

    def two_five_one(
        self, two: Placed, five: tuple[Chord, int], one: tuple[Chord, int]
    ) -> Iterator[Told]:
        (dominant, _), (goal, there) = five, one
        roots = [self.above(chord) for chord in (two[0][0], dominant, goal)]
        if [(b - a) % 12 for a, b in pairwise(roots)] != [5, 5]:
            return
        start = minor_from(two)
        plain = third(dominant) == "major" and not major_seventh(dominant)
        pulls = seventh(dominant) or (plain and roots[2] == 0)
        lands = roots[2] in (0, 5) if seventh(goal) else third(goal) in ("major", "minor")
        if start and pulls and lands:
            yield "ii–V–i" if third(goal) == "minor" else "ii–V–I", start, there


def minor_from(chords: Placed) -> int:
    """The first bar from which all chords to the last are minor or half-diminished, 0 if none."""
    for n, (_, bar) in enumerate(chords):
        if all(third(c) == "minor" or is_half_diminished(c) for c, _ in chords[n:]):
            return bar
    return 0


def is_half_diminished(chord: Chord) -> bool:
    has_it = (chord.root.pitch_class + 10) % 12 in chord.pitch_classes
    return third(chord) == "diminished" and has_it


def major_seventh(chord: Chord) -> bool:
    return (chord.root.pitch_class + 11) % 12 in chord.pitch_classes


def longest(
    items: list[tuple[int, int]], goes_on: Callable[[int, int], bool]
) -> Iterator[tuple[int, int]]:
    """Every stretch in which each item goes on from the one before, and that cannot grow."""
    values = [value for value, _ in items]
    for first in range(len(values)):
        for last in range(first, len(values)):
            inside = all(goes_on(values[i], values[i + 1]) for i in range(first, last))
            before = first > 0 and goes_on(values[first - 1], values[first])
            after = last + 1 < len(values) and goes_on(values[last], values[last + 1])
            if inside and not before and not after:
                yield first, last


def test_the_namer_names_what_its_definitions_say() -> None:
    rng = Random("named")
    compared: Counter[str] = Counter()
    for _ in range(SECTIONS):
        key, bars = made_section(rng)
        flat = [chord for bar in bars for chord in bar]
        lent = {i for i, chord in enumerate(flat) if chord and rng.random() < 0.03}
        judge = Judge(key, bars, lent)
        places = iter(range(len(flat)))
        heard = [
            [
                HeardChord(
                    n,
                    chord,
                    Change("x", "1", Function.BORROWED if next(places) in lent else Function.TONIC),
                )
                for chord in bar
            ]
            for n, bar in enumerate(bars, start=1)
        ]
        found = named_in(Passage(key, heard, judge.loop_bars()))
        wanted = judge.told()
        assert sorted((f.name, f.first_bar, f.last_bar) for f in found) == wanted, (key.name, bars)
        compared.update(name for name, _, _ in wanted)
    assert min(compared.values()) >= 5, compared
    assert len(compared) == 18


@pytest.mark.parametrize(
    ("key", "bars", "told"),
    [
        # Common practice, no source: the names with their keys, numerals and notes.
        ("C", "Dm7 | G7 | Cmaj7 | C6", "ii–V–I in C major 1-3"),
        ("F", "Cm7 | F7 | Bbmaj7 | Bb6", "ii–V–I in B♭ major 1-3"),
        ("A minor", "Bm7b5 | E7 | Am | Am", "ii–V–i in A minor 1-3"),
        ("C", "Dm7 | G7 | C7 | C", "ii–V–I in C major 1-3"),
        ("F", "Dm7 | G7 | C7 | C", ""),
        ("Bb", "F7 | Fm7 | Bb7 | Ebmaj7", "ii–V–I in E♭ major 2-4"),
        ("C", "C | F | C | G | C A7 | Dm7 G7", "turnaround I–VI7–ii–V 5-6"),
        ("D", "D | D/C | D/B | D/Bb", "step-down bass D C B B♭ 1-4"),
        ("D", "D | D/C# | D/C | G/B", "chromatic step-down bass D C♯ C B 1-4"),
        ("D", "D | A/C# | Bm | D/A", "diatonic step-down bass D C♯ B A 1-4"),
        ("D", "D | D/C# | Bm | G", ""),
        ("D", "D | G/D | A/D | D", "pedal on D 1-4"),
        ("C", "F | Fm7 | Bb7 | C", "back door iv–♭VII7–I 2-4"),
        ("C", "F | G7 | Am | F", "deceptive move V7–vi 2-3"),
        ("C", "F | G | Am | F", ""),
        ("C", "C | Fm | C | C", "borrowed chord iv from C minor 2-2"),
        ("C", "C | G | Am | F | C | G | Am | F", "four-chord loop I–V–vi–IV 1-8"),
        ("C", "C | G | Am | F | C | G | Am | Dm", ""),
        ("C", "Em | A7 | D7 | G7 | C | F", "circle of fifths E A D G C F 1-6"),
    ],
)
def test_names_with_what_is_told_of_them(key: str, bars: str, told: str) -> None:
    known = analyse(parse_chart(f"key: {key}\nverse:\n| {bars} |\n"))
    found = [
        f"{f.name} {f.detail}".strip() + f" {f.first_bar}-{f.last_bar}" for f in known.named[0]
    ]
    assert "; ".join(found) == told


def test_every_name_has_its_definition_and_its_source() -> None:
    assert len({rule.name for rule in RULES}) == len(RULES) == 10
    for rule in RULES:
        assert rule.definition
        assert rule.source


@pytest.mark.parametrize(
    ("old", "last", "new", "told"),
    [
        # Common practice, no source: the last bars of the old section, then a key of its own.
        ("C", "C | F | G | Em", "G", "pivot Em iii vi"),
        ("C", "C | F | Am | D7", "G", "pivot Am vi ii"),
        ("C", "C | F | G7 | F#°7", "G", "dominant F#°7  vii°7"),
        ("C", "C | F | G | D7", "G", "pivot G V I"),
        ("C", "C | F | G | Bb7", "Eb", "dominant Bb7  V7"),
        ("C", "C | F | F | Ab7", "Db", "dominant Ab7  V7"),
        ("C", "C | F | G7 | C", "Db", "direct None  "),
        ("A minor", "Am | Dm | E7 | Am", "C", "pivot Am i vi"),
        ("C", "C | F | G | C", "F", "pivot C I V"),
        ("C", "C | F | E7sus4 | E7", "A minor", "pivot F IV VI"),
        ("C", "C | F#°7 | E7sus4 | E7", "A minor", "dominant E7  V7"),
    ],
)
def test_how_a_key_is_reached(old: str, last: str, new: str, told: str) -> None:
    tonic = parse_key(new).tonic.name + ("m" if "minor" in new else "")
    text = f"verse:\nkey: {old}\n| {last} |\nbridge:\nkey: {new}\n| {tonic} | {tonic} |\n"
    (way,) = analyse(parse_chart(text)).means_of_modulation
    chord = way.chord.symbol if way.chord else None
    assert f"{way.kind.value} {chord} {way.old_numeral} {way.new_numeral}" == told
