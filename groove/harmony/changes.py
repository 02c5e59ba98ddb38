"""What a chord is in its key: Roman numeral, number, function, and what pulls it home.

Numerals count degrees of the major scale in major keys (and mixolydian, lydian), of the natural
minor scale in minor ones (and dorian, phrygian): *Open Music Theory*, "Triads and seventh chords".
Figures are for inversions alone, a slash and a degree for any other bass, a slash and a numeral for
what a dominant is "of" (common practice).
Numbers are the trade's (T. de Clercq, Journal of Music Theory Pedagogy 33) and count the same
degrees.  What a name says, ``groove.chart.degrees`` reads back.
"""

from enum import StrEnum
from functools import lru_cache

from msgspec import Struct

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


class Function(StrEnum):
    """What a chord does in its key."""

    TONIC = "tonic"
    SUBDOMINANT = "subdominant"
    DOMINANT = "dominant"
    SECONDARY = "secondary dominant"
    SUBSTITUTE = "tritone substitute"
    PASSING = "passing diminished"
    BORROWED = "borrowed"
    CHROMATIC = "chromatic"
    NONE = "no chord"


FUNCTIONS = {
    Mode.MAJOR: {
        "I": Function.TONIC, "ii": Function.SUBDOMINANT, "iii": Function.TONIC,
        "IV": Function.SUBDOMINANT, "V": Function.DOMINANT, "vi": Function.TONIC,
        "vii°": Function.DOMINANT,
    },
    Mode.MINOR: {
        "i": Function.TONIC, "ii°": Function.SUBDOMINANT, "III": Function.TONIC,
        "iv": Function.SUBDOMINANT, "v": Function.DOMINANT, "V": Function.DOMINANT,
        "VI": Function.SUBDOMINANT, "VII": Function.DOMINANT, "vii°": Function.DOMINANT,
        "III+": Function.TONIC,
    },
}  # fmt: skip
"""Functions of the scale's own triads (common practice; minor with its harmonic V, vii°, III+)."""


class Change(Struct, frozen=True):
    """A chord in its key.

    ``of`` is the numeral that a secondary dominant, substitute or passing chord leads to, or the
    key that a borrowed chord comes from; empty otherwise.
    """

    numeral: str
    number: str
    function: Function
    of: str = ""

    @property
    def function_text(self) -> str:
        """The function as told: ``secondary dominant of vi``."""
        if self.function is Function.BORROWED:
            return f"borrowed from {self.of}"
        link = " to " if self.function is Function.PASSING else " of "
        return self.function + (link + self.of if self.of else "")


def _naming_key(key: Key) -> Key:
    """Return the key whose degrees name chords: plain major or minor on the same tonic."""
    return Key(key.tonic, Mode.MINOR if key.is_minor else Mode.MAJOR)


@lru_cache(maxsize=4096)
def degree_of(pitch: SpelledPitch, key: Key) -> tuple[str, int]:
    """Return a pitch as sign and degree (1-7) of the naming key.

    A note of the key is named as that, however it is spelled; any other by its spelling (C in A is
    ♭3, B♯ is ♯2), and where that would take two signs by the flat (in minor ♯3, ♯6, ♯7).
    """
    own = _naming_key(key)
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


def _applied_name(chord: Chord, key: Key, target: str) -> str:
    """Return a dominant as what it is "of": A7 in G is ``V7/V``, A7/C♯ ``V6/5/V``."""
    return _completed("V", chord, key, of=f"/{target}")


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
    own = _naming_key(key)
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
def _triad_name(chord: Chord, key: Key) -> str:
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


@lru_cache(maxsize=16384)
def change(chord: Chord, key: Key, before: Chord | None, after: Chord | None) -> Change:
    """Return what a chord is in its key, between its neighbours (None where there is none).

    A secondary dominant is named as one (``V7/V``) where it goes there, else by its own degree.
    """
    function, of = _chord_function(chord, key, before, after)
    is_applied = function is Function.SECONDARY and _goes_home(chord, after)
    name = _applied_name(chord, key, of) if is_applied else numeral(chord, key)
    return Change(name, number_name(chord, key), function, of)


def _goes_home(chord: Chord, after: Chord | None) -> bool:
    """Return whether the root falls a fifth to the next chord's."""
    return after is not None and (after.root.pitch_class - chord.root.pitch_class) % 12 == 5


def _chord_function(
    chord: Chord, key: Key, before: Chord | None, after: Chord | None
) -> tuple[Function, str]:
    """Return a chord's function and what it leads to, or where it is borrowed."""
    own = _naming_key(key)
    name = _triad_name(chord, key)
    known = FUNCTIONS[own.mode].get(name)
    kind = kind_of(chord)
    rise = (after.root.pitch_class - chord.root.pitch_class) % 12 if after else None
    if kind is ChordClass.DIMINISHED and known is None and after and rise in (1, 2, 11):
        return Function.PASSING, _triad_name(after, key)
    if kind is ChordClass.DOMINANT and after and rise == 11 and name != "IV":
        return Function.SUBSTITUTE, "V" if _is_tonic(after, key) else f"V/{_triad_name(after, key)}"
    applied = _applied_target(chord, key, before, after, known)
    if applied:
        return Function.SECONDARY, applied
    if known:
        return known, ""
    if kind is ChordClass.OPEN:
        return _open_function(chord, key), ""
    lender = Mode.MAJOR if own.is_minor else Mode.MINOR
    if _triad_name(chord, Key(key.tonic, lender)) in FUNCTIONS[lender]:
        return Function.BORROWED, f"{key.tonic.pretty} {lender}"
    if kind is ChordClass.DOMINANT and chord.root.pitch_class == (key.tonic.pitch_class + 1) % 12:
        return Function.SUBSTITUTE, "V"
    return Function.CHROMATIC, ""


def _is_tonic(chord: Chord, key: Key) -> bool:
    """Return whether a chord stands on the tonic."""
    return chord.root.pitch_class == key.tonic.pitch_class


def _open_function(chord: Chord, key: Key) -> Function:
    """Return the function of a chord without a third, by its degree alone."""
    sign, number = degree_of(chord.root, key)
    by_degree = {1: Function.TONIC, 4: Function.SUBDOMINANT, 5: Function.DOMINANT}
    by_degree |= {2: Function.SUBDOMINANT, 7: Function.DOMINANT}
    return by_degree.get(number, Function.TONIC) if not sign else Function.BORROWED


def _applied_target(
    chord: Chord, key: Key, before: Chord | None, after: Chord | None, known: Function | None
) -> str:
    """Return the numeral whose dominant a chord is; empty where it is none.

    A major triad must go there; a seventh chord on a degree where the scale has none may also
    go elsewhere.  The seventh on I counts only after a plain I (in a blues it is at home).
    """
    kind = kind_of(chord)
    if kind not in (ChordClass.MAJOR, ChordClass.DOMINANT) or known is Function.DOMINANT:
        return ""
    goes = _goes_home(chord, after)
    if known and not (goes and kind is ChordClass.DOMINANT and _leaves_home(chord, key, before)):
        return ""
    sign, number = degree_of(chord.root.up(-1), key)
    target = _scale_chord_name(number, key)
    if sign or target.endswith("°"):
        return ""
    if target == "v" and not (goes and after and has_minor_third(after)):
        target = "V"
    return target if goes or kind is ChordClass.DOMINANT else ""


def _leaves_home(chord: Chord, key: Key, before: Chord | None) -> bool:
    """Return whether a seventh on one of the scale's own triads makes it lead away.

    On I after a plain I; on III of a minor key, whose own seventh is major.
    """
    if not _is_tonic(chord, key):
        return key.is_minor
    return before is not None and before.root == chord.root and kind_of(before) is ChordClass.MAJOR


@lru_cache(maxsize=256)
def _scale_chord_name(number: int, key: Key) -> str:
    """Return the numeral of the triad on a degree of the naming key."""
    own = _naming_key(key)
    suffix = scale_triad(number, own)
    roman = NUMERALS[number - 1]
    return (roman.lower() if suffix in ("m", "°") else roman) + suffix.replace("m", "")


class Pull(Struct, frozen=True):
    """Why a dominant pulls: its third is the leading note of the goal, its seventh falls."""

    chord: Chord
    goal: SpelledPitch
    leading_note: SpelledPitch
    seventh: SpelledPitch | None
    seventh_goal: SpelledPitch | None


def home_pull(chord: Chord, goal: Chord) -> Pull | None:
    """Return how a dominant pulls to a chord a fifth below; None where it is no dominant of it.

    Common practice, no source: the dominant of a minor key is major, for its leading note's sake.
    """
    third, seventh = chord.degree(3), chord.degree(7)
    if chord.root.up(-1).pitch_class != goal.root.pitch_class or third is None or third.alter:
        return None
    falls = chord.root.up(-2) if seventh is not None and seventh.alter == -1 else None
    goal_third = goal.root.up(-3 if has_minor_third(goal) else 4)
    leading = chord.root.up(4)
    return Pull(chord, goal.root, leading, falls, goal_third if falls else None)
