"""Chords by scale degree: the trade's number system, and Roman numerals.

Degrees are those of the key's own scale.  A bare number is a major chord in a major key and the
scale's own triad in any other, so that 1 is minor in a minor key.  A numeral's case is its
quality; a slash before a numeral is "of"; figures are inversions.

Sources: T. de Clercq, *Journal of Music Theory Pedagogy* 33 (numbers); *Open Music Theory*,
"Triads and seventh chords" and "Generating Roman numerals" (numerals).  That a bare number is
the scale's own triad outside major keys is our rule.
"""

import re
from functools import lru_cache

from groove.theory.chords import SIGNS, Chord, build_chord
from groove.theory.keys import Key, Mode
from groove.theory.pitch import SpelledPitch, degree_fifths

LONGEST_DEGREE = 48
_ACCIDENTALS = {"": 0, "b": -1, "#": 1}
# Compiled when a chart in numbers asks for them.
NUMBER = r"(?s)([b#]?)([1-7])(.*)"
NUMBER_BASS = r"([b#]?)([1-7])"
ROMAN_BASS = r"(?s)(.*)/([b#]?)([1-7])"
ROMAN = r"(?s)([b#]?)(VII|VI|IV|V|III|II|I|vii|vi|iv|v|iii|ii|i)(.*)"
NUMERALS = ("I", "II", "III", "IV", "V", "VI", "VII")
INVERSIONS = {"6/5": (1, "7"), "65": (1, "7"), "6/4": (2, ""), "64": (2, ""), "4/3": (2, "7")}
INVERSIONS |= {"43": (2, "7"), "4/2": (3, "7"), "42": (3, "7"), "2": (3, "7"), "6": (1, "")}
INVERSIONS |= {"6/3": (1, ""), "63": (1, "")}
DIMINISHED_SIGNS = ("°", "o", "ø", "dim", "hdim")
TRIAD_SUFFIXES = {(4, 7): "", (3, 7): "m", (3, 6): "°", (4, 8): "+"}


_DIGITS, _RAISED = "0123456789", "⁰¹²³⁴⁵⁶⁷⁸⁹"
_FIGURES, _LOWERED = str.maketrans(_DIGITS, _RAISED), str.maketrans(_RAISED, _DIGITS)
_FIGURED = r"(?s)((?:[0-9]+\.?)?<)?([b#♭♯]?[1-7]-?)([0-9]+)(.*)"
"""A number with a figure right after its degree: a push, the degree, the figure, the rest."""


def raised_number(text: str) -> str:
    """Return a number as it is printed, its figure raised: ``57`` is ``5⁷``, ``2-7`` ``2-⁷``.

    So charts of numbers are written by hand: T. de Clercq, as above.  Anything else stays as it
    is: a numeral, a number's bass (``5/7``), a quality in words (``1maj7``).
    """
    match = re.fullmatch(_FIGURED, text)
    if not match:
        return text
    push, degree, figure, rest = match.groups(default="")
    return push + degree + figure.translate(_FIGURES) + rest


@lru_cache(maxsize=4096)
def parse_degree_chord(text: str, key: Key) -> Chord:
    """Return the chord that a number (``5/7``, ``6-``) or a numeral (``V7/V``) means in a key.

    Raises ValueError for anything else.
    """
    if len(text) > LONGEST_DEGREE:
        raise ValueError(f"a degree with its quality has at most {LONGEST_DEGREE} characters")
    plain = text.translate(SIGNS).translate(_LOWERED)
    if re.fullmatch(NUMBER, plain):
        return _parse_number(plain, key)
    if re.fullmatch(ROMAN, plain):
        return _parse_roman(plain, key)
    raise ValueError("a number chart has degrees (1, 6-, 5/7) or numerals (V7/V)")


def _parse_number(text: str, key: Key) -> Chord:
    """Return the chord of a number-system symbol."""
    head, slash, tail = text.rpartition("/")
    bass_match = re.fullmatch(NUMBER_BASS, tail) if slash else None
    if bass_match and head:
        bass = _degree_pitch(bass_match[1], int(bass_match[2]), key)
    else:
        head, bass = text, None
    match = re.fullmatch(NUMBER, head)
    if not match:
        raise ValueError("a number begins with a degree from 1 to 7")
    number = int(match[2])
    suffix = match[3]
    if not suffix and not match[1] and key.mode not in (Mode.MAJOR, Mode.IONIAN):
        suffix = scale_triad(number, key)
    return _make_chord(_degree_pitch(match[1], number, key), suffix, bass)


def _degree_pitch(sign: str, number: int, key: Key) -> SpelledPitch:
    return key.degree(number, _ACCIDENTALS[sign])


def number_of(pitch: SpelledPitch, key: Key) -> str:
    """Return the number of a pitch in a key, with its sign, as ``b7``."""
    tonic_letter, letter = ("CDEFGAB".index(p.letter) for p in (key.tonic, pitch))
    number = (letter - tonic_letter) % 7
    alter = pitch.accidental - key.scale[number].accidental
    return ("#" if alter > 0 else "b") * abs(alter) + str(number + 1)


def scale_triad(number: int, key: Key) -> str:
    """Return the suffix of the triad that stands on a degree of the key's own scale."""
    root, third, fifth = (key.scale[(number - 1 + step) % 7].pitch_class for step in (0, 2, 4))
    return TRIAD_SUFFIXES[(third - root) % 12, (fifth - root) % 12]


def _make_chord(root: SpelledPitch, suffix: str, bass: SpelledPitch | None) -> Chord:
    """Return a chord from its parts, spelled so that its symbol can be read again."""
    return build_chord(_readable(root), suffix, _readable(bass) if bass else None)


def _readable(pitch: SpelledPitch) -> SpelledPitch:
    """Return a pitch, respelled where it would have more than two sharps or flats."""
    return pitch if abs(pitch.accidental) <= 2 else pitch.simplified()


def _parse_roman(text: str, key: Key) -> Chord:
    """Return the chord of a Roman numeral, applied ones (``V7/V``) included.

    A degree after the slash that is no figure is the bass: ``IV/5``.
    """
    head, slash, tail = text.rpartition("/")
    if slash and re.fullmatch(ROMAN, tail) and head:
        return _parse_roman(head, _applied_key(tail, key))
    match = re.fullmatch(ROMAN, text)
    if not match:
        raise ValueError("a numeral runs from I to VII")
    figure, inversion = _split_figure(match[3])
    bass_match = None if inversion else re.fullmatch(ROMAN_BASS, figure)
    if bass_match:
        chord = _parse_roman(text[: match.end(2)] + bass_match[1], key)
        bass = _degree_pitch(bass_match[2], int(bass_match[3]), key)
        return _make_chord(chord.root, chord.suffix, bass)
    root = _roman_root(match[1], match[2], figure, key)
    suffix = _roman_suffix(match[2], figure)
    chord = _make_chord(root, suffix, None)
    if not inversion:
        return chord
    degree = chord.degree(2 * inversion + 1)
    if degree is None:
        raise ValueError("this chord has no such inversion")
    return _make_chord(root, suffix, root.up(degree_fifths(degree.number, degree.alter)))


def _split_figure(text: str) -> tuple[str, int]:
    """Return a numeral's quality and the number of its inversion: ``ø6/5`` is ``ø7``, 1."""
    for figure in sorted(INVERSIONS, key=len, reverse=True):
        sign = text.removesuffix(figure)
        if text.endswith(figure) and sign in ("", *DIMINISHED_SIGNS, "+", "maj", "M"):
            inversion, seventh = INVERSIONS[figure]
            return sign + seventh, inversion
    return text, 0


def _applied_key(numeral: str, key: Key) -> Key:
    """Return the key that an applied numeral is read in: that of the chord it is "of"."""
    target = _parse_roman(numeral, key)
    third = target.degree(3)
    minor = third is not None and third.alter < 0
    return Key(target.root, Mode.MINOR if minor else Mode.MAJOR)


def _roman_root(sign: str, numeral: str, figure: str, key: Key) -> SpelledPitch:
    """Return a numeral's root.

    In minor keys the diminished chord on vii stands on the leading note, a half step below the
    tonic.  A sign that names a degree of the key (♭VII in minor) names that degree.
    """
    number = NUMERALS.index(numeral.upper()) + 1
    is_leading = numeral == "vii" and figure.startswith(DIMINISHED_SIGNS)
    if number == 7 and is_leading and not sign and key.is_minor:
        return key.tonic.up(degree_fifths(7, 0))
    named = key.tonic.up(degree_fifths(number, _ACCIDENTALS[sign]))
    # ♭VI and ♭VII are named from the major scale, also where the key has them low itself.
    return named if sign and named in key.scale else _degree_pitch(sign, number, key)


def _roman_suffix(numeral: str, figure: str) -> str:
    """Return the chord suffix of a numeral: a small one is minor unless it says otherwise."""
    if numeral.isupper() or figure.startswith((*DIMINISHED_SIGNS, "m", "-")):
        return figure
    return "m" + figure
