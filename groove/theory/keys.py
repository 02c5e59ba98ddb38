"""Keys: a tonic, a mode, its scale and its signature.

On the line of fifths a mode of the major family is seven neighbours, so a key is its tonic and
how far the signature lies from it (major 0, minor three fifths down).
"""

import re
from enum import StrEnum
from functools import lru_cache

from msgspec import Struct

from groove.theory.pitch import NOTE_PATTERN, SpelledPitch, parse_note, semitones_to_fifths

MOST_ACCIDENTALS = 7


class Mode(StrEnum):
    """Major, minor and the modes of the major scale, as MusicXML 4.0 lists them (``mode``).

    Ionian sounds as major and aeolian as minor: whoever writes the one means to be shown it.
    """

    MAJOR = "major"
    MINOR = "minor"
    IONIAN = "ionian"
    DORIAN = "dorian"
    PHRYGIAN = "phrygian"
    LYDIAN = "lydian"
    MIXOLYDIAN = "mixolydian"
    AEOLIAN = "aeolian"
    LOCRIAN = "locrian"


SIGNATURE_OFFSETS = {
    Mode.LYDIAN: 1,
    Mode.MAJOR: 0,
    Mode.IONIAN: 0,
    Mode.MIXOLYDIAN: -1,
    Mode.DORIAN: -2,
    Mode.MINOR: -3,
    Mode.AEOLIAN: -3,
    Mode.PHRYGIAN: -4,
    Mode.LOCRIAN: -5,
}
"""Fifths from the tonic to the tonic of the major key with the same signature."""

MODE_SPELLINGS = {mode.value: mode for mode in Mode} | {
    "": Mode.MAJOR,
    "maj": Mode.MAJOR,
    "m": Mode.MINOR,
    "min": Mode.MINOR,
}


MOST_FLAT_FIFTHS = 5
"""Flats more than its signature that a key's chromatic scale has, in fifths."""


class Key(Struct, frozen=True):
    """A tonic and a mode."""

    tonic: SpelledPitch
    mode: Mode

    @property
    def signature_fifths(self) -> int:
        """Sharps (positive) or flats (negative) of the signature."""
        return self.tonic.fifths + SIGNATURE_OFFSETS[self.mode]

    @property
    def is_minor(self) -> bool:
        """Whether the third above the tonic is minor."""
        return SIGNATURE_OFFSETS[self.mode] <= SIGNATURE_OFFSETS[Mode.DORIAN]

    @property
    def nearest(self) -> "Key":
        """The major or minor key of the same signature, by the third: A minor for D dorian.

        MIDI and other places know these two modes alone (*Standard MIDI Files 1.0*, meta event 59).
        """
        mode = Mode.MINOR if self.is_minor else Mode.MAJOR
        return Key(SpelledPitch(self.signature_fifths - SIGNATURE_OFFSETS[mode]), mode)

    @property
    def name(self) -> str:
        """The key as a chart has it: ``F# minor``."""
        return f"{self.tonic.name} {self.mode}"

    @property
    def pretty(self) -> str:
        """The key as it is printed: ``F♯ minor``."""
        return f"{self.tonic.pretty} {self.mode}"

    @property
    def scale(self) -> tuple[SpelledPitch, ...]:
        """The seven pitches of the key, from the tonic up."""
        lowest = self.signature_fifths - 1
        steps = (0, 2, 4, 6, 1, 3, 5)
        letters = "CDEFGAB"
        by_letter = {
            SpelledPitch(lowest + step).letter: SpelledPitch(lowest + step) for step in steps
        }
        start = letters.index(self.tonic.letter)
        return tuple(by_letter[letters[(start + degree) % 7]] for degree in range(7))

    @property
    def pitch_classes(self) -> tuple[int, ...]:
        """The pitch classes (0-11) of the key's scale, from the tonic up."""
        return _pitch_classes(self)

    def degree(self, number: int, alter: int = 0) -> SpelledPitch:
        """Return a degree of the key's own scale (1-7), altered by half steps."""
        return self.scale[number - 1].up(7 * alter)

    def transposed(self, fifths: int) -> "Key":
        """Return the key an interval higher (in fifths), respelled where it must be."""
        return Key(self.tonic.up(fifths), self.mode).respelled()

    def moved(self, semitones: int) -> "Key":
        """Return the key moved by semitones, spelled with as few accidentals as it can have."""
        if not semitones:
            return self
        moved = self.transposed(semitones_to_fifths(semitones))
        spellings = [moved, *(Key(moved.tonic.up(12 * turn), moved.mode) for turn in (-1, 1))]
        return min(spellings, key=lambda each: abs(each.signature_fifths))

    def respelled(self) -> "Key":
        """Return the same key with at most seven accidentals in its signature."""
        fifths = self.signature_fifths
        turns = 0
        while not -MOST_ACCIDENTALS <= fifths + 12 * turns <= MOST_ACCIDENTALS:
            turns += 1 if fifths < 0 else -1
        return Key(self.tonic.up(12 * turns), self.mode)

    def __repr__(self) -> str:
        """Return the key's name on one line."""
        return f"<Key {self.name}>"


@lru_cache(maxsize=256)
def _pitch_classes(key: Key) -> tuple[int, ...]:
    return tuple(pitch.pitch_class for pitch in key.scale)


def near_key(pitch_class: int, key_fifths: int) -> SpelledPitch:
    """Return a pitch class as the key's chromatic scale has it: ♭2 to ♯4 round a major tonic."""
    fifths = pitch_class * 7 % 12
    low = key_fifths - MOST_FLAT_FIFTHS
    return SpelledPitch(low + (fifths - low) % 12).simplified()


def parse_key(text: str) -> Key:
    """Return the key that a text spells: ``D``, ``F# minor``, ``F♯m``, ``Bb``, ``D dorian``.

    Case does not matter (``b minor`` is B minor, ``bb`` is B flat).  The key may have more than
    seven accidentals; ``Key.respelled`` mends that.  Raises ValueError for anything else.
    """
    words = text.split()
    if not words or len(words) > 2:
        raise ValueError(f"not a key: {text!r}")
    head = words[0][0].upper() + words[0][1:]
    match = re.match(NOTE_PATTERN, head)
    suffix = (head[match.end() :] + " " + " ".join(words[1:])).strip() if match else "?"
    mode = Mode.MAJOR if suffix == "M" else MODE_SPELLINGS.get(suffix.casefold())
    if not match or mode is None:
        raise ValueError(f"not a key: {text!r}")
    return Key(parse_note(match[0]), mode)
