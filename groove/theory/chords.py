"""Chord symbols: the table of qualities, and the parser that is built from it.

Qualities follow C. Harte et al., *Symbolic Representation of Musical Chords* (ISMIR 2005) and the
kinds of MusicXML 4.0; spellings are those of lead sheets.  "sus" is the fourth in place of the
third, an eleventh keeps the third (R. Hutchinson, *Music Theory for the 21st-Century Classroom*,
§31.2).  A symbol is read as the longest quality that lets the rest be read as altered, added or
omitted tones.
"""

import re
from dataclasses import dataclass
from functools import lru_cache

from groove.theory.pitch import (
    NOTE_PATTERN,
    SpelledPitch,
    accidental_sign,
    degree_fifths,
    degree_semitones,
    parse_note,
)

LONGEST_SYMBOL = 40


@dataclass(frozen=True, slots=True, order=True)
class Degree:
    """A chord degree: its number above the root (1-13) and its alteration in half steps."""

    number: int
    alter: int = 0

    @property
    def semitones(self) -> int:
        """Semitones above the root."""
        return degree_semitones(self.number, self.alter)

    @property
    def label(self) -> str:
        """The degree as printed: ``♭7``."""
        return accidental_sign(self.alter) + str(self.number)


def parse_degrees(text: str) -> tuple[Degree, ...]:
    """Return the degrees of a row of the table: ``1 b3 5``."""
    return tuple(
        Degree(int(word.lstrip("b#")), word.count("#") - word.count("b")) for word in text.split()
    )


@dataclass(frozen=True, slots=True)
class Quality:
    """A row of the table: our name for it, its degrees, and how charts spell it."""

    name: str
    degrees: tuple[Degree, ...]
    spellings: tuple[str, ...]


QUALITIES = tuple(
    Quality(name, parse_degrees(degrees), tuple(spellings.split(",")))
    for name, degrees, spellings in (
        ("major", "1 3 5", ",maj,major,M"),
        ("minor", "1 b3 5", "m,min,minor,-,mi"),
        ("augmented", "1 3 #5", "+,aug"),
        ("diminished", "1 b3 b5", "°,dim,o,º"),
        ("suspended fourth", "1 4 5", "sus4,sus,4"),
        ("suspended second", "1 2 5", "sus2"),
        ("fifth", "1 5", "5"),
        ("root alone", "1", "1,ped,pedal"),
        ("added ninth", "1 3 5 9", "add9,2,add2"),
        ("seventh", "1 3 5 b7", "7,dom7"),
        ("major seventh", "1 3 5 7", "maj7,M7,major7,ma7,△7,△,Δ7,Δ"),
        ("minor seventh", "1 b3 5 b7", "m7,min7,-7,mi7,minor7"),
        ("minor major seventh", "1 b3 5 7", "mM7,mmaj7,minmaj7,-M7,-maj7,m△7,m△,-△7,-△,mΔ7,mΔ,-Δ"),
        ("diminished seventh", "1 b3 b5 bb7", "°7,dim7,o7,º7"),
        ("half-diminished", "1 b3 b5 b7", "ø,ø7,hdim7,hdim,m7b5"),
        ("augmented seventh", "1 3 #5 b7", "+7,aug7,7+,7aug"),
        ("augmented major seventh", "1 3 #5 7", "+M7,+maj7,augmaj7,augM7,+△7,+△"),
        ("seventh flat five", "1 3 b5 b7", "7b5"),
        ("seventh suspended fourth", "1 4 5 b7", "7sus4,7sus,sus7"),
        ("sixth", "1 3 5 6", "6,maj6,M6,ma6"),
        ("minor sixth", "1 b3 5 6", "m6,min6,-6,mi6"),
        ("sixth and ninth", "1 3 5 6 9", "6/9,69,maj6/9,maj69,M6/9"),
        ("minor sixth and ninth", "1 b3 5 6 9", "m6/9,m69,min6/9,min69,-6/9,-69"),
        ("ninth", "1 3 5 b7 9", "9,dom9"),
        ("major ninth", "1 3 5 7 9", "maj9,M9,ma9,major9,△9,Δ9"),
        ("minor ninth", "1 b3 5 b7 9", "m9,min9,-9,mi9"),
        ("minor major ninth", "1 b3 5 7 9", "mM9,mmaj9,minmaj9,-M9,-maj9,m△9"),
        ("ninth suspended fourth", "1 4 5 b7 9", "9sus4,9sus"),
        ("eleventh", "1 3 5 b7 9 11", "11"),
        ("major eleventh", "1 3 5 7 9 11", "maj11,M11,ma11,△11"),
        ("minor eleventh", "1 b3 5 b7 9 11", "m11,min11,-11,mi11"),
        ("minor major eleventh", "1 b3 5 7 9 11", "mM11,mmaj11,minmaj11,-M11"),
        ("thirteenth", "1 3 5 b7 9 11 13", "13"),
        ("major thirteenth", "1 3 5 7 9 11 13", "maj13,M13,ma13,△13"),
        ("minor thirteenth", "1 b3 5 b7 9 11 13", "m13,min13,-13,mi13"),
        ("minor major thirteenth", "1 b3 5 7 9 11 13", "mM13,mmaj13,minmaj13,-M13"),
        ("thirteenth suspended fourth", "1 4 5 b7 9 13", "13sus4,13sus"),
        ("altered", "1 3 #5 b7 b9 #9", "7alt,alt"),
    )
)
"""Every quality, simplest first; the first spelling is the one we write."""

SPELLED_QUALITIES = sorted(
    ((spelling, quality) for quality in QUALITIES for spelling in quality.spellings),
    key=lambda pair: -len(pair[0]),
)
"""Every spelling with its quality, longest first."""

MODIFIER = re.compile(
    r"(?P<omit>(?:no|omit)(?P<omitted>[1357]|9|11|13))"
    r"|(?P<sus>sus(?P<sus_number>[24]?))"
    r"|(?P<major>(?:add)?(?:maj|M|△|Δ)(?P<major_number>7|9|11|13))"
    r"|(?P<add>add)?(?P<sign>[b#+-]?)(?P<number>13|11|10|[12345679])"
)
SEPARATORS = "(), /"
WORDS = re.compile(r"maj|min|dim|aug|sus|add|omit|alt|no", re.IGNORECASE)
SIGNS = str.maketrans({"♭": "b", "♯": "#"})


@dataclass(frozen=True, slots=True)
class Chord:
    """A chord: root, degrees above it (sorted), and the note in the bass where it is not the root.

    ``suffix`` is the quality as the chart spells it; ``quality`` the row of the table that it
    begins with.
    """

    root: SpelledPitch
    suffix: str
    quality: str
    degrees: tuple[Degree, ...]
    bass: SpelledPitch | None = None

    @property
    def symbol(self) -> str:
        """The symbol as a chart has it."""
        return self.root.name + self.suffix + (f"/{self.bass.name}" if self.bass else "")

    @property
    def bass_note(self) -> SpelledPitch:
        """What the bass plays: the slash note, else the root."""
        return self.bass or self.root

    @property
    def tones(self) -> tuple[SpelledPitch, ...]:
        """The chord's notes, spelled, in the order of its degrees."""
        return tuple(
            self.root.up(degree_fifths(degree.number, degree.alter)) for degree in self.degrees
        )

    @property
    def pitch_classes(self) -> frozenset[int]:
        """The chord's pitch classes without the slash note."""
        return frozenset((self.root.pitch_class + d.semitones) % 12 for d in self.degrees)

    def degree(self, *numbers: int) -> Degree | None:
        """Return the chord's own degree with one of the given numbers, None where it has none."""
        return next((degree for degree in self.degrees if degree.number in numbers), None)

    def transposed(self, fifths: int) -> "Chord":
        """Return the chord an interval higher, the interval given in fifths."""
        root = self.root.up(fifths).simplified()
        bass = self.bass.up(fifths).simplified() if self.bass else None
        return Chord(root, self.suffix, self.quality, self.degrees, bass)


@lru_cache(maxsize=4096)
def parse_chord(text: str) -> Chord:
    """Return the chord that a symbol spells, as ``F#m7b5`` or ``C6/9/E``.

    Raises ValueError with what was found.
    """
    if len(text) > LONGEST_SYMBOL:
        raise ValueError(f"a chord symbol has at most {LONGEST_SYMBOL} characters")
    match = re.match(NOTE_PATTERN, text)
    if not match:
        raise ValueError("a chord begins with a letter from A to G")
    suffix, bass = split_bass(text[match.end() :])
    quality, degrees = parse_suffix(suffix)
    return Chord(parse_note(match[0]), suffix, quality, degrees, bass)


def split_bass(text: str) -> tuple[str, SpelledPitch | None]:
    """Return the quality and the slash note of a symbol's rest; a bass begins with a letter."""
    head, slash, tail = text.rpartition("/")
    if slash and tail[:1] in set("ABCDEFG"):
        if not re.fullmatch(NOTE_PATTERN, tail):
            raise ValueError(f"not a bass note: {tail}")
        return head, parse_note(tail)
    return text, None


@lru_cache(maxsize=1024)
def parse_suffix(suffix: str) -> tuple[str, tuple[Degree, ...]]:
    """Return the quality's name and the degrees of a symbol without root and bass."""
    text = suffix.translate(SIGNS)
    for candidate in (text, lower_words(text)):
        for spelling, quality in SPELLED_QUALITIES:
            for spelled in (spelling, f"({spelling})"):
                if not candidate.startswith(spelled):
                    continue
                degrees = modified(quality.degrees, candidate[len(spelled) :])
                if degrees is not None:
                    return quality.name, degrees
    raise ValueError(f"not a chord quality: {suffix}")


def lower_words(text: str) -> str:
    """Return a suffix with its words in small letters: a phone writes ``Maj7`` and ``Sus4``."""
    return WORDS.sub(lambda match: match[0].lower(), text)


def modified(degrees: tuple[Degree, ...], text: str) -> tuple[Degree, ...] | None:
    """Return degrees after altered, added and omitted tones; None where they cannot be read."""
    found = list(degrees)
    natural = {degree.number for degree in degrees if degree.number in (5, 9, 11, 13)}
    position = depth = 0
    while position < len(text):
        mark = text[position]
        if mark in SEPARATORS:
            depth += {"(": 1, ")": -1}.get(mark, 0)
            if not 0 <= depth <= 1:
                return None
            position += 1
            continue
        match = MODIFIER.match(text, position)
        if not match or not apply_modifier(found, natural, match, in_brackets=depth == 1):
            return None
        position = match.end()
    return tuple(sorted(set(found), key=lambda d: (d.semitones, d.number))) if depth == 0 else None


def apply_modifier(
    found: list[Degree], natural: set[int], match: re.Match[str], *, in_brackets: bool
) -> bool:
    """Change the degrees by one modifier; return whether it could stand there."""
    if match["omit"]:
        found[:] = [degree for degree in found if degree.number != int(match["omitted"])]
    elif match["sus"]:
        found[:] = [degree for degree in found if degree.number not in (2, 3, 4)]
        found.append(Degree(int(match["sus_number"] or 4)))
    elif match["major"]:
        found.extend(major_extension(int(match["major_number"])))
    else:
        return add_tone(found, natural, match, in_brackets=in_brackets)
    return True


def major_extension(number: int) -> list[Degree]:
    """Return the major seventh and the odd degrees up to a number: ``maj9`` is 7 and 9."""
    return [Degree(degree) for degree in range(7, number + 1, 2)]


def add_tone(
    found: list[Degree], natural: set[int], match: re.Match[str], *, in_brackets: bool
) -> bool:
    """Add or alter one tone.  A plain number stands only in brackets or after ``add``."""
    number = int(match["number"])
    alter = {"": 0, "b": -1, "-": -1, "#": 1, "+": 1}[match["sign"]]
    if not match["sign"] and not match["add"] and not in_brackets:
        return False
    if alter and number in natural and not match["add"]:
        natural.discard(number)
        found[:] = [degree for degree in found if degree != Degree(number)]
    if number == 7 and not match["sign"]:
        alter = -1
    found.append(Degree(number, alter))
    return True
