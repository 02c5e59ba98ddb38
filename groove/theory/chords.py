"""Chord symbols: the table of qualities, and the parser that is built from it.

Qualities follow C. Harte et al., *Symbolic Representation of Musical Chords* (ISMIR 2005) and the
kinds of MusicXML 4.0; spellings are those of lead sheets.  "sus" is the fourth in place of the
third, an eleventh keeps the third (R. Hutchinson, *Music Theory for the 21st-Century Classroom*,
§31.2).  A symbol is read as the longest quality that lets the rest be read as altered, added or
omitted tones.
"""

import re
from collections.abc import Iterator
from functools import lru_cache

from msgspec import Struct

from groove.theory.pitch import (
    NOTE_PATTERN,
    SpelledPitch,
    accidental_sign,
    degree_fifths,
    degree_semitones,
    parse_note,
)

LONGEST_SUFFIX = 32
"""How many characters may stand after a chord's root, its bass aside."""

MAJOR_WORDS = ("maj", "M", "major", "ma")
MINOR_WORDS = ("m", "min", "-", "minor", "mi")
"""How charts write major and minor, ours first."""


class Degree(Struct, frozen=True, order=True):
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


class Quality(Struct, frozen=True):
    """A row of the table: our name for it, its degrees, and how charts spell it."""

    name: str
    degrees: tuple[Degree, ...]
    spellings: tuple[str, ...]


def spelled(templates: str) -> tuple[str, ...]:
    """Return the spellings of a row: MAJ and MIN stand for every way to write the word."""
    found = []
    for template in templates.split():
        text = "" if template == "none" else template
        majors = MAJOR_WORDS if "MAJ" in text else ("",)
        minors = MINOR_WORDS if "MIN" in text else ("",)
        found += [
            text.replace("MAJ", major).replace("MIN", minor) for minor in minors for major in majors
        ]
    return tuple(dict.fromkeys(found))


QUALITIES = tuple(
    Quality(name, parse_degrees(degrees), spelled(spellings))
    for name, degrees, spellings in (
        ("major", "1 3 5", "none MAJ"),
        ("minor", "1 b3 5", "MIN"),
        ("augmented", "1 3 #5", "+ aug"),
        ("diminished", "1 b3 b5", "° dim o"),
        ("suspended fourth", "1 4 5", "sus4 sus 4"),
        ("suspended second", "1 2 5", "sus2"),
        ("fifth", "1 5", "5"),
        ("root alone", "1", "1 ped pedal"),
        ("added ninth", "1 3 5 9", "add9 2 add2"),
        ("seventh", "1 3 5 b7", "7 dom7"),
        ("major seventh", "1 3 5 7", "MAJ7 △7 △"),
        ("minor seventh", "1 b3 5 b7", "MIN7"),
        ("minor major seventh", "1 b3 5 7", "mM7 MINMAJ7 MIN(MAJ7) MIN/MAJ7 MIN△7 MIN△ MIN(△7)"),
        ("diminished seventh", "1 b3 b5 bb7", "°7 dim7 o7"),
        ("half-diminished", "1 b3 b5 b7", "ø ø7 hdim7 hdim m7b5"),
        ("augmented seventh", "1 3 #5 b7", "+7 aug7 7+ 7aug"),
        ("augmented major seventh", "1 3 #5 7", "+MAJ7 augMAJ7 MAJ7+ +△7 +△"),
        ("seventh flat five", "1 3 b5 b7", "7b5"),
        ("seventh suspended fourth", "1 4 5 b7", "7sus4 7sus sus7"),
        ("sixth", "1 3 5 6", "6 MAJ6"),
        ("minor sixth", "1 b3 5 6", "MIN6"),
        ("sixth and ninth", "1 3 5 6 9", "6/9 69 6(9) MAJ6/9 MAJ69"),
        ("minor sixth and ninth", "1 b3 5 6 9", "MIN6/9 MIN69 MIN6(9)"),
        ("ninth", "1 3 5 b7 9", "9 dom9"),
        ("major ninth", "1 3 5 7 9", "MAJ9 △9"),
        ("minor ninth", "1 b3 5 b7 9", "MIN9"),
        ("minor major ninth", "1 b3 5 7 9", "mM9 MINMAJ9 MIN(MAJ9) MIN△9"),
        ("ninth suspended fourth", "1 4 5 b7 9", "9sus4 9sus sus9"),
        ("eleventh", "1 3 5 b7 9 11", "11"),
        ("major eleventh", "1 3 5 7 9 11", "MAJ11 △11"),
        ("minor eleventh", "1 b3 5 b7 9 11", "MIN11"),
        ("minor major eleventh", "1 b3 5 7 9 11", "mM11 MINMAJ11 MIN(MAJ11)"),
        ("thirteenth", "1 3 5 b7 9 11 13", "13"),
        ("major thirteenth", "1 3 5 7 9 11 13", "MAJ13 △13"),
        ("minor thirteenth", "1 b3 5 b7 9 11 13", "MIN13"),
        ("minor major thirteenth", "1 b3 5 7 9 11 13", "mM13 MINMAJ13 MIN(MAJ13)"),
        ("thirteenth suspended fourth", "1 4 5 b7 9 13", "13sus4 13sus sus13"),
        ("altered", "1 3 #5 b7 b9 #9", "7alt alt 7(alt)"),
    )
)
"""Every quality, simplest first; the first spelling is the one we write."""

SPELLED_QUALITIES = {spelling: quality for quality in QUALITIES for spelling in quality.spellings}
LONGEST_SPELLING = max(map(len, SPELLED_QUALITIES))
NAMES = {frozenset(quality.degrees): quality.name for quality in QUALITIES}

EXTENSIONS = {"9": "(9)", "11": "(9,11)", "13": "(9,11,13)"}
_WRITTEN_OUT = {
    **{sign + n: "m7b5" + tones for sign in ("ø", "hdim") for n, tones in EXTENSIONS.items()},
    **{sign + n: "°7" + tones for sign in ("°", "o", "dim") for n, tones in EXTENSIONS.items()},
    **{sign + "b9": "°7(b9)" for sign in ("°", "o", "dim")},
    **{sign + n: n + "#5" for sign in ("+", "aug") for n in EXTENSIONS},
    **{n + "+": n + "#5" for n in EXTENSIONS},
    **dict.fromkeys(("sus24", "sus42", "sus2/4", "sus4/2"), "sus2sus4"),
    **{word + "2": "m(9)" for word in ("m", "min", "mi")},
    **{word + "4": "m(4)" for word in ("m", "min", "mi")},
    "dom11": "11",
    "dom13": "13",
    "dom7dim5": "7b5",
    "power": "5",
}
"""Short spellings at the head of a suffix that stand for a quality and a change to it."""

MODIFIER = re.compile(
    r"(?P<omit>(?:no|omit)(?P<omitted>11|13|[135679]))"
    r"|(?P<sus>sus(?P<sus_number>[24]?))"
    r"|(?P<major>(?:add)?(?:maj|M|△)(?P<major_number>7|9|11|13))"
    r"|(?P<add>add)?(?P<sign>[b#+-]?)(?P<number>13|11|10|[12345679])"
)
_GROUP = re.compile(r"\((?P<inside>[^()]*)\)|(?P<plain>[^()]+)")
SEPARATOR = re.compile(r"[ ,/]+")
IN_BRACKETS = frozenset(range(1, 14))
AFTER_SLASH = frozenset({6, 9, 11, 13})
"""Numbers that add a tone without ``add``: every one in brackets, these after ``/`` (``7/13``)."""

_WORDS = re.compile(r"maj|min|mi|ma|dim|aug|sus|add|omit|alt|no|dom", re.IGNORECASE)
LEADING_SIGN = re.compile(r"[b#♭♯]+[0-9]+")
SIGNS = str.maketrans("♭♯Δ∆▵−–‐Ø∅⌀º˚⁺⁻⁰¹²³⁴⁵⁶⁷⁸⁹", "b#△△△---øøø°°+-0123456789")
"""What people paste or find on their keyboards, as the table of qualities has it."""


class Chord(Struct, frozen=True):
    """A chord: root, degrees above it (sorted), and the note in the bass where it is not the root.

    ``suffix`` is the quality as the chart spells it (see ``_separable``); ``quality`` the row of
    the table that it is (``-7(b5)`` is half-diminished), else the row that it begins with.
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

    @property
    def all_pitch_classes(self) -> frozenset[int]:
        """The chord's pitch classes, that of its slash note too."""
        return self.pitch_classes | {self.bass_note.pitch_class}

    def degree(self, *numbers: int) -> Degree | None:
        """Return the chord's own degree with one of the given numbers, None where it has none."""
        return next((degree for degree in self.degrees if degree.number in numbers), None)

    def transposed(self, fifths: int) -> "Chord":
        """Return the chord an interval higher, the interval given in fifths."""
        root = self.root.up(fifths).simplified()
        bass = self.bass.up(fifths).simplified() if self.bass else None
        return Chord(root, self.suffix, self.quality, self.degrees, bass)

    def __repr__(self) -> str:
        """Return the symbol on one line."""
        return f"<Chord {self.symbol}>"


def has_minor_third(chord: Chord) -> bool:
    """Return whether a chord's third is minor."""
    third = chord.degree(3)
    return third is not None and third.alter < 0


@lru_cache(maxsize=4096)
def parse_chord(text: str) -> Chord:
    """Return the chord that a symbol spells, as ``F#m7b5`` or ``C6/9/E``.

    Raises ValueError with what was found.
    """
    match = re.match(NOTE_PATTERN, text)
    if not match:
        raise ValueError("a chord begins with a letter from A to G")
    suffix, bass = _split_bass(text[match.end() :])
    return build_chord(parse_note(match[0]), suffix, bass)


def build_chord(root: SpelledPitch, suffix: str, bass: SpelledPitch | None) -> Chord:
    """Return a chord from its root, the text of its quality, and its bass.

    Raises ValueError where the text is no quality.
    """
    text = _separable(suffix)
    if len(text) > LONGEST_SUFFIX:
        raise ValueError(f"a chord has at most {LONGEST_SUFFIX} characters after its root")
    quality, degrees = parse_suffix(text)
    return Chord(root, text, quality, degrees, bass)


def _separable(suffix: str) -> str:
    """Return a suffix that no root can swallow: after F♯ moved to G, ``b5`` must not read G♭5."""
    match = LEADING_SIGN.match(suffix)
    return f"({match[0]}){suffix[match.end() :]}" if match else suffix


def _split_bass(text: str) -> tuple[str, SpelledPitch | None]:
    """Return the quality and the slash note of a symbol's rest; a bass begins with a letter."""
    head, slash, tail = text.rpartition("/")
    if slash and tail[:1] in tuple("ABCDEFG"):
        if not re.fullmatch(NOTE_PATTERN, tail):
            raise ValueError(f"not a bass note: {tail[:20]}")
        return head, parse_note(tail)
    return text, None


@lru_cache(maxsize=4096)
def parse_suffix(suffix: str) -> tuple[str, tuple[Degree, ...]]:
    """Return the quality's name and the degrees of a symbol without root and bass.

    Raises ValueError where it is no quality.
    """
    text = suffix.translate(SIGNS)
    for candidate in dict.fromkeys((text, _lower_words(text))):
        for quality, rest in _readings(_written_out(candidate)):
            degrees = _modified(quality.degrees, rest)
            if degrees:
                return NAMES.get(frozenset(degrees), quality.name), degrees
    raise ValueError(f"not a chord quality: {suffix}")


def _lower_words(text: str) -> str:
    """Return a suffix with its words in small letters: a phone writes ``Maj7`` and ``Sus4``."""
    return _WORDS.sub(lambda match: match[0].lower(), text)


def _written_out(text: str) -> str:
    """Return a suffix with a short spelling at its head written out."""
    for end in range(min(len(text), LONGEST_SPELLING), 0, -1):
        if text[:end] in _WRITTEN_OUT:
            return _WRITTEN_OUT[text[:end]] + text[end:]
    return text


def _readings(text: str) -> Iterator[tuple[Quality, str]]:
    """Yield every quality that a suffix can begin with and the rest, longest first.

    A quality in brackets is one only if it is a word: ``C(9)`` adds a ninth to C.
    """
    if text.startswith("("):
        inside, _, rest = text[1:].partition(")")
        if inside in SPELLED_QUALITIES and inside[:1].isalpha():
            yield SPELLED_QUALITIES[inside], rest
    for end in range(min(len(text), LONGEST_SPELLING), -1, -1):
        if text[:end] in SPELLED_QUALITIES:
            yield SPELLED_QUALITIES[text[:end]], text[end:]


def _modified(degrees: tuple[Degree, ...], text: str) -> tuple[Degree, ...] | None:
    """Return degrees after altered, added and omitted tones; None where they cannot be read."""
    found = list(degrees)
    natural = {degree.number for degree in degrees if degree.number in (5, 9, 11, 13)}
    position = 0
    while position < len(text):
        group = _GROUP.match(text, position)
        if not group:
            return None
        for word, numbers in _group_words(group):
            if not _apply_word(found, natural, word, numbers):
                return None
        position = group.end()
    return tuple(sorted(set(found), key=lambda d: (d.semitones, d.number)))


def _group_words(group: re.Match[str]) -> list[tuple[str, frozenset[int]]]:
    """Return the words of a pair of brackets, or between two, and the plain numbers each may be."""
    if group["inside"] is not None:
        return [(word, IN_BRACKETS) for word in SEPARATOR.split(group["inside"].strip())]
    first, *rest = SEPARATOR.split(group["plain"])
    words = [(word, AFTER_SLASH) for word in rest]
    return [(first, frozenset()), *words] if first else words


def _apply_word(found: list[Degree], natural: set[int], word: str, numbers: frozenset[int]) -> bool:
    """Change the degrees by the modifiers of a word; return whether there is one and all fit."""
    position = 0
    while position < len(word):
        match = MODIFIER.match(word, position)
        if not match or not _apply_modifier(found, natural, match, numbers):
            return False
        position = match.end()
    return position > 0


def _apply_modifier(
    found: list[Degree], natural: set[int], match: re.Match[str], numbers: frozenset[int]
) -> bool:
    """Change the degrees by one modifier; return whether it could stand there."""
    if match["omit"]:
        found[:] = [degree for degree in found if degree.number != int(match["omitted"])]
    elif match["sus"]:
        found[:] = [degree for degree in found if degree.number != 3]
        found.append(Degree(int(match["sus_number"] or 4)))
    elif match["major"]:
        found.extend(_major_extension(int(match["major_number"])))
    else:
        return _add_tone(found, natural, match, numbers)
    return True


def _major_extension(number: int) -> list[Degree]:
    """Return the major seventh and the odd degrees up to a number: ``maj9`` is 7 and 9."""
    return [Degree(degree) for degree in range(7, number + 1, 2)]


def _add_tone(
    found: list[Degree], natural: set[int], match: re.Match[str], numbers: frozenset[int]
) -> bool:
    """Add or alter one tone.  A plain number stands after ``add`` or where ``numbers`` lets it."""
    number, sign = int(match["number"]), match["sign"]
    if not sign and not match["add"] and number not in numbers:
        return False
    alter = {"": 0, "b": -1, "-": -1, "#": 1, "+": 1}[sign]
    if alter and number in natural and not match["add"]:
        natural.discard(number)
        found[:] = [degree for degree in found if degree != Degree(number)]
    if number == 7:
        # A seventh is the minor one unless it is raised: m#7 is m(maj7).
        alter = 0 if sign in ("#", "+") else -1
    found.append(Degree(number, alter))
    return True
