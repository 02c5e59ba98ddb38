"""Spelled pitches and intervals on the line of fifths, and MIDI numbers.

The line of fifths runs … B♭ F C G D …; C is 0, a sharp adds 7, a flat takes 7 away.  A letter and
an accidental are one integer there, so that transposing a spelling is an addition.
MIDI number 60 is C4 (scientific names), 69 is 440 Hz.
"""

import re

from msgspec import Struct

FIFTHS_ORDER = "FCGDAEB"
ACCIDENTAL_VALUES = {"": 0, "#": 1, "♯": 1, "##": 2, "𝄪": 2, "♯♯": 2, "b": -1, "♭": -1}
ACCIDENTAL_VALUES |= {"bb": -2, "♭♭": -2, "𝄫": -2}
NOTE_PATTERN = r"[A-G](?:##|♯♯|bb|♭♭|#|b|♯|♭|𝄪|𝄫)?"
F_FLAT, B_SHARP = -8, 12
"""The outermost single accidentals on the line of fifths."""
DEGREE_FIFTHS = (0, 2, 4, -1, 1, 3, 5)
"""Place on the line of fifths of the major scale's degrees 1 to 7 above a tonic at 0."""
DEGREE_SEMITONES = (0, 2, 4, 5, 7, 9, 11)
MIDDLE_C = 60
OCTAVE = 12
"""In semitones."""


class SpelledPitch(Struct, frozen=True, order=True):
    """A pitch class with its spelling: ``fifths`` is its place on the line of fifths, C = 0."""

    fifths: int

    @property
    def letter(self) -> str:
        """The letter, A to G."""
        return FIFTHS_ORDER[(self.fifths + 1) % 7]

    @property
    def accidental(self) -> int:
        """Sharps (positive) or flats (negative)."""
        return (self.fifths + 1) // 7

    @property
    def pitch_class(self) -> int:
        """0 (C) to 11 (B)."""
        return self.fifths * 7 % 12

    @property
    def name(self) -> str:
        """The name in ASCII, as a chart has it: ``F#``, ``Bb``."""
        sign = "#" if self.accidental > 0 else "b"
        return self.letter + sign * abs(self.accidental)

    @property
    def pretty(self) -> str:
        """The name with musical signs: ``F♯``, ``B♭``, ``B𝄫``."""
        return self.letter + accidental_sign(self.accidental)

    def up(self, fifths: int) -> "SpelledPitch":
        """Return the pitch an interval higher, the interval given in fifths (a whole tone is 2)."""
        return SpelledPitch(self.fifths + fifths)

    def simplified(self) -> "SpelledPitch":
        """Return the same pitch class without double accidentals: ``B𝄫`` is A."""
        fifths = self.fifths
        while not F_FLAT <= fifths <= B_SHARP:
            fifths += 12 if fifths < F_FLAT else -12
        return SpelledPitch(fifths)


def accidental_sign(accidental: int) -> str:
    """Return the printed sign of an accidental: ``♯``, ``♭``, ``𝄪``, ``𝄫`` or nothing."""
    signs = {0: "", 1: "♯", -1: "♭", 2: "𝄪", -2: "𝄫"}
    return signs.get(accidental, ("♯" if accidental > 0 else "♭") * abs(accidental))


def parse_note(text: str) -> SpelledPitch:
    """Return the pitch that a note name spells, as ``F#``, ``B♭`` or ``Cbb``.

    Raises ValueError for anything else.
    """
    match = re.fullmatch(NOTE_PATTERN, text)
    if not match:
        raise ValueError(f"not a note name: {text!r}")
    fifths = FIFTHS_ORDER.index(text[0]) - 1
    return SpelledPitch(fifths + 7 * ACCIDENTAL_VALUES[text[1:]])


def degree_fifths(number: int, alter: int) -> int:
    """Return a scale degree (1 to 15, altered by half steps) as fifths above its tonic."""
    return DEGREE_FIFTHS[(number - 1) % 7] + 7 * alter


def degree_semitones(number: int, alter: int) -> int:
    """Return a scale degree (1 to 15, altered by half steps) as semitones above its tonic."""
    return DEGREE_SEMITONES[(number - 1) % 7] + 12 * ((number - 1) // 7) + alter


def semitones_to_fifths(semitones: int) -> int:
    """Return the interval with the fewest accidentals for a transposition, -5 to 6 fifths."""
    fifths = semitones * 7 % 12
    return fifths - 12 if fifths > 6 else fifths


def pitch_name(pitch: int) -> str:
    """Return the scientific name of a MIDI number, black keys as sharps: 28 is ``E1``."""
    names = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")
    return f"{names[pitch % 12]}{pitch // 12 - 1}"


def spelled_pitch_name(pitch: int, spelling: SpelledPitch) -> str:
    """Return the scientific name of a MIDI number, spelled: 27 as E♭ is ``Eb1``.

    The octave is that of the letter: B♯0 and C1 are one pitch.
    """
    return f"{spelling.name}{(pitch - spelling.accidental) // 12 - 1}"


def parse_pitch(text: str) -> int:
    """Return the MIDI number of a scientific name, as ``E1`` (28) or ``Bb0``.

    Raises ValueError for anything else, or for a number outside 0 to 127.
    """
    match = re.fullmatch(rf"({NOTE_PATTERN})(-?\d)", text)
    if not match:
        raise ValueError(f"not a pitch: {text!r}")
    note = parse_note(match[1])
    letter_class = SpelledPitch(FIFTHS_ORDER.index(note.letter) - 1).pitch_class
    pitch = 12 * (int(match[2]) + 1) + letter_class + note.accidental
    if not 0 <= pitch <= 127:
        raise ValueError(f"outside the MIDI range: {text!r}")
    return pitch
