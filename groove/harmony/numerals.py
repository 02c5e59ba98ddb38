"""What a chord is called in its key: its Roman numeral and its number.

Numerals count degrees of the major scale in major keys (and mixolydian, lydian), of the natural
minor scale in minor ones (and dorian, phrygian): *Open Music Theory*, "Triads and seventh chords".
Figures are for inversions alone, a slash and a degree for any other bass, a slash and a numeral for
what a dominant is "of"; a sixth chord is always written ``I(add6)``, so that ``I6`` is the first
inversion and nothing else (common practice).
Numbers are the trade's (T. de Clercq, Journal of Music Theory Pedagogy 33) and count the same
degrees.  What a name says, ``groove.chart.degrees`` reads back.
"""

from functools import lru_cache

from groove.chart.degrees import INVERSIONS, NUMERALS, scale_triad
from groove.harmony.evidence import ChordClass, kind_of
from groove.theory.chords import QUALITIES, Chord, has_minor_third
from groove.theory.keys import Key, Mode
from groove.theory.pitch import SpelledPitch

SPELLINGS = {quality.name: quality.spellings[0] for quality in QUALITIES}
SPELLINGS["half-diminished"] = "ø7"
_DEGREES = {quality.name: quality.degrees for quality in QUALITIES}
_WRITTEN_OUT = {"sixth": "(add6)", "minor sixth": "(add6)", "added ninth": "(add9)", "fifth": "5"}
"""Suffixes that a numeral cannot take as they are, because its figures mean inversions."""
LOWERED_IN_MINOR = (3, 6, 7)
"""Degrees that a minor key has low already: ♭VI there is VI, so nothing below it has that name."""
_FIGURES = {figure: pair for figure, pair in INVERSIONS.items() if "/" in figure or figure == "6"}


def naming_key(key: Key) -> Key:
    """Return the key whose degrees name chords: plain major or minor on the same tonic."""
    return Key(key.tonic, Mode.MINOR if key.is_minor else Mode.MAJOR)


@lru_cache(maxsize=4096)
def degree_of(pitch: SpelledPitch, key: Key) -> tuple[str, int]:
    """Return a pitch as sign and degree (1-7) of the naming key.

    A note of the key is named as that, however it is spelled; any other by its spelling (C in A is
    ♭3, B♯ is ♯2), and where that would take two signs by the flat (in minor ♯3, ♯6, ♯7).
    """
    own = naming_key(key)
    scale = own.scale
    for index, note in enumerate(scale):
        if note.pitch_class == pitch.pitch_class:
            return "", index + 1
    number, alter = _letter_degree(pitch, scale)
    if abs(alter) > 1 or (own.is_minor and alter < 0 and number in LOWERED_IN_MINOR):
        near = (pitch.fifths - key.tonic.fifths + 6) % 12 - 6
        number, alter = _letter_degree(key.tonic.up(near), scale)
    return ("♯" if alter > 0 else "♭") * abs(alter), number


def _letter_degree(pitch: SpelledPitch, scale: tuple[SpelledPitch, ...]) -> tuple[int, int]:
    """Return the degree of a scale that has a pitch's letter, and how far the pitch is altered."""
    index = next(i for i, note in enumerate(scale) if note.letter == pitch.letter)
    return index + 1, pitch.accidental - scale[index].accidental


def _chord_degree(chord: Chord, key: Key) -> tuple[str, int]:
    """Return a chord's root as sign and degree; the diminished chord below a minor tonic is vii."""
    rises = (key.tonic.pitch_class - chord.root.pitch_class) % 12 == 1
    if rises and key.is_minor and _is_diminished(chord):
        return "", 7
    return degree_of(chord.root, key)


def _is_diminished(chord: Chord) -> bool:
    """Return whether a chord has a diminished triad."""
    return kind_of(chord) is ChordClass.DIMINISHED


@lru_cache(maxsize=4096)
def numeral(chord: Chord, key: Key) -> str:
    """Return the Roman numeral of a chord by itself: ``V6/5``, ``ii7``, ``♭VI``, ``I/7``.

    A bass note of the chord is told by the figure of its inversion.  Any other is written as a
    degree after a slash, and so is one of the chord where no figures have its name (``i(add9)/3``).
    """
    sign, number = _chord_degree(chord, key)
    roman = NUMERALS[number - 1]
    return _completed(sign + (roman.lower() if has_minor_third(chord) else roman), chord, key)


def applied_name(chord: Chord, key: Key, roman: str, target: str) -> str:
    """Return a chord as what it is "of": in G, A7 as V is ``V7/V``, A7/C♯ ``V6/5/V``."""
    return _completed(roman, chord, key, of=f"/{target}")


def _completed(roman: str, chord: Chord, key: Key, *, of: str = "") -> str:
    """Return a numeral with the chord's quality or figures, what it is "of", and its bass."""
    suffix = _plain_suffix(chord)
    if has_minor_third(chord) and not suffix.startswith("maj"):
        suffix = suffix.removeprefix("m")
    name = roman + _WRITTEN_OUT.get(chord.quality, suffix) + of
    if chord.bass is None or chord.bass.pitch_class == chord.root.pitch_class:
        return name
    figure = _inversion_figure(chord, suffix)
    if figure is not None:
        return roman + figure + of
    below, degree = degree_of(chord.bass, key)
    return f"{name}/{below}{degree}"


def _plain_suffix(chord: Chord) -> str:
    """Return a chord's suffix as the table of qualities writes it first."""
    if chord.degrees == _DEGREES.get(chord.quality):
        return SPELLINGS[chord.quality]
    return chord.suffix


def _inversion_figure(chord: Chord, suffix: str) -> str | None:
    """Return the figure of an inverted triad or seventh chord with what goes before it."""
    tones = [pitch.pitch_class for pitch in chord.tones]
    bass = chord.bass_note.pitch_class
    if bass not in tones or suffix not in ("", "7", "maj7", "M7", "°", "°7", "ø7", "+", "+7"):
        return None
    seventh = len(tones) == 4
    for figure, (inversion, with_seventh) in _FIGURES.items():
        if tones.index(bass) == inversion and bool(with_seventh) == seventh:
            return suffix.removesuffix("7") + figure
    return None


@lru_cache(maxsize=4096)
def number_name(chord: Chord, key: Key) -> str:
    """Return the number-system name of a chord: ``1``, ``6-``, ``5/7``, ``♭7``.

    A dash is minor.  In minor keys a bare number is the scale's own triad, so a major chord where
    the scale has a minor one says ``maj``: ``5maj``.
    """
    own = naming_key(key)
    sign, number = _chord_degree(chord, key)
    if number == 7 and not sign and chord.root.pitch_class != own.degree(7).pitch_class:
        sign = "♯"
    suffix = _plain_suffix(chord)
    if suffix == "m" or (suffix.startswith("m") and not suffix.startswith("maj")):
        suffix = "-" + suffix[1:]
    if not suffix and not sign and own.is_minor and scale_triad(number, own):
        suffix = "maj"
    name = f"{sign}{number}{suffix}"
    if chord.bass is None or chord.bass.pitch_class == chord.root.pitch_class:
        return name
    below, degree = degree_of(chord.bass, key)
    return f"{name}/{below}{degree}"


@lru_cache(maxsize=4096)
def triad_name(chord: Chord, key: Key) -> str:
    """Return the numeral of a chord's triad, sevenths and inversions left out."""
    sign, number = _chord_degree(chord, key)
    roman = NUMERALS[number - 1]
    if has_minor_third(chord):
        roman = roman.lower()
    fifth = chord.degree(5)
    if _is_diminished(chord):
        roman += "°"
    elif fifth is not None and fifth.alter > 0 and chord.degree(3) and not has_minor_third(chord):
        roman += "+"
    return sign + roman


@lru_cache(maxsize=256)
def scale_chord_name(number: int, key: Key) -> str:
    """Return the numeral of the triad on a degree of the naming key."""
    own = naming_key(key)
    suffix = scale_triad(number, own)
    roman = NUMERALS[number - 1]
    return (roman.lower() if suffix in ("m", "°") else roman) + suffix.replace("m", "")
