"""Tunings, the neck's reach, and the register in which a root is played.

Pitches are MIDI numbers.  Strings are numbered as on a tab staff, from the highest (1) down, and
fret 0 is the open string (MusicXML 4.0, types ``string`` and ``fret``).
"""

import re
from collections.abc import Sequence
from functools import lru_cache

from msgspec import Struct

from groove.errors import OptionError, joined_hints, nearest_hint
from groove.naming import fold_name
from groove.theory.pitch import parse_pitch, pitch_name

FRET_COUNTS = range(20, 25)
HIGHEST_FRET = FRET_COUNTS[-1]
"""The highest fret that may be written: two octaves, on the longest of necks."""
MM_PER_INCH = 25.4
LONG_SCALE_MM = 34 * MM_PER_INCH
"""The usual scale of a four-string: open string length from nut to saddle, 34 inches."""
SCALE_LENGTHS_MM = (600.0, 1000.0)
HAND_FRETS = 12
INLAY_FRETS = (3, 5, 7, 9, 12, 15, 17, 19, 21, 24)
"""The frets that a bass has a dot on; twelve and twenty-four have two."""
_FLAT_NAMES = ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B")


class Tuning(Struct, frozen=True):
    """How an instrument is strung: its name and its open strings, lowest first, as a player says.

    ``open_pitches`` are MIDI numbers; string number 1 is the last of them.
    """

    name: str
    open_pitches: tuple[int, ...]

    @property
    def lowest_pitch(self) -> int:
        """The lowest note of the instrument."""
        return min(self.open_pitches)

    @property
    def string_count(self) -> int:
        """How many strings there are."""
        return len(self.open_pitches)

    def open_pitch(self, string: int) -> int:
        """Return the open pitch of a string, 1 the highest."""
        return self.open_pitches[self.string_count - string]

    def pitch_at(self, string: int, fret: int) -> int:
        """Return the pitch that a string (1 the highest) gives at a fret (0 open)."""
        return self.open_pitch(string) + fret

    def places(self, pitch: int, max_fret: int) -> list[tuple[int, int]]:
        """Return every (string, fret) that gives a pitch up to a fret, highest string first."""
        frets = [(string, pitch - self.open_pitch(string)) for string in self.strings]
        return [(string, fret) for string, fret in frets if 0 <= fret <= max_fret]

    @property
    def strings(self) -> range:
        """The string numbers, 1 (highest) first."""
        return range(1, self.string_count + 1)

    def string_name(self, string: int) -> str:
        """Return a string's letter as players of flat tunings say it: ``G``, ``Eb``."""
        return _FLAT_NAMES[self.open_pitch(string) % 12]

    def string_words(self, string: int) -> str:
        """Return a string as a player says it, the lower of two of one letter too: ``low D``."""
        name = self.string_name(string)
        has_twin = any(self.string_name(higher) == name for higher in range(1, string))
        return f"low {name} string" if has_twin else f"{name} string"

    def __str__(self) -> str:
        """Return the open strings, lowest first: ``E1 A1 D2 G2``."""
        return " ".join(pitch_name(pitch) for pitch in self.open_pitches)


TUNINGS = {
    tuning.name: tuning
    for tuning in (
        Tuning("four", (28, 33, 38, 43)),
        Tuning("five", (23, 28, 33, 38, 43)),
        Tuning("six", (23, 28, 33, 38, 43, 48)),
        Tuning("drop D", (26, 33, 38, 43)),
        Tuning("tenor five", (28, 33, 38, 43, 48)),
        Tuning("half step down", (27, 32, 37, 42)),
    )
}
"""Tunings by the name that a chart and an option use."""

STANDARD = TUNINGS["four"]


def parse_tuning(text: str) -> Tuning:
    """Return a tuning of the table by name, or one of its own by note names (``D1 A1 D2 G2``).

    Own tunings have three to eight strings that rise.  Raises OptionError for anything else.
    """
    for tuning in TUNINGS.values():
        if fold_name(tuning.name) == fold_name(text):
            return tuning
    try:
        pitches = tuple(parse_pitch(word) for word in text.split())
    except ValueError:
        pitches = ()
    if 3 <= len(pitches) <= 8 and list(pitches) == sorted(set(pitches)):
        return Tuning(" ".join(text.split()), pitches)
    expected = (
        f"expected one of: {', '.join(TUNINGS)}, or open strings from the lowest up, "
        "as 'D1 A1 D2 G2'"
    )
    hint = joined_hints(expected, nearest_hint(text, TUNINGS))
    raise OptionError(f"no such tuning: {text!r}", hint=hint)


def root_pitch(pitch_class: int, tuning: Tuning = STANDARD, lift: int = 0) -> int:
    """Return the pitch at which a root (0-11) is played: the lowest one on the instrument.

    So roots live in the octave above the lowest string, an octave shape lies under one hand
    position two strings up, and nothing depends on what was played before (common practice, no
    source).  Up the neck the lowest of them lies ``lift`` semitones above that string.
    """
    lowest = tuning.lowest_pitch + lift
    return lowest + (pitch_class - lowest) % 12


def hand_frets(pitches: Sequence[int], tuning: Tuning = STANDARD) -> int:
    """Return over how many frets a hand has to reach to play these pitches, up to fret 12.

    One finger a fret covers four (common practice, no source); an open string asks for none.  A
    pitch that is not there counts as the whole neck, 12.
    """
    # A line asks for the same few figures again and again.
    return _hand_frets(tuple(pitches), tuning)


@lru_cache(maxsize=4096)
def _hand_frets(pitches: tuple[int, ...], tuning: Tuning) -> int:
    return min(_frets_from(position, pitches, tuning) for position in range(1, HAND_FRETS + 1))


def _frets_from(position: int, pitches: Sequence[int], tuning: Tuning) -> int:
    """Return the same for a hand whose first finger stands at ``position``."""
    farthest = 0
    for pitch in pitches:
        frets = [fret for _, fret in tuning.places(pitch, HAND_FRETS)]
        if 0 not in frets:
            reach = min((fret for fret in frets if fret >= position), default=None)
            farthest = max(farthest, HAND_FRETS if reach is None else reach - position + 1)
    return farthest


def fret_mm(fret: float, scale_length_mm: float = LONG_SCALE_MM) -> float:
    """Return the distance of a fret wire from the nut in mm, for equal temperament.

    d(n) = L (1 - 2^(-n/12)); M. Koch, "Building Electric Guitars", gives the same by the constant
    17.817.
    """
    return scale_length_mm * (1 - 2 ** (-fret / 12))


def fret_ruler(fret_count: int, scale_length_mm: float = LONG_SCALE_MM) -> tuple[float, ...]:
    """Return the distances of nut and frets (0 to ``fret_count``) from the nut in mm."""
    return tuple(fret_mm(fret, scale_length_mm) for fret in range(fret_count + 1))


def parse_scale_length(text: str) -> float:
    """Return a scale length in mm from ``34``, ``34 in``, ``34"``, ``864 mm`` or ``86.4 cm``.

    A bare number under 100 is inches.  Raises OptionError for anything else, or for a length that
    no bass has (under 600 or over 1000 mm).
    """
    match = re.fullmatch(r'\s*(\d+(?:[.,]\d+)?)\s*(in|inch|inches|"|mm|cm)?\s*', text.lower())
    if match:
        value = float(match[1].replace(",", "."))
        unit = match[2] or ("in" if value < 100 else "mm")
        scale_mm = value * {"mm": 1.0, "cm": 10.0}.get(unit, MM_PER_INCH)
        if SCALE_LENGTHS_MM[0] <= scale_mm <= SCALE_LENGTHS_MM[1]:
            return scale_mm
    raise OptionError(
        f"no such scale length: {text!r}",
        hint="expected inches or mm between 600 and 1000 mm, e.g. '34 in' or '864 mm'",
    )


def tunings_with(pitches: Sequence[int], fret_count: int) -> list[Tuning]:
    """Return the tunings of the table on which all these pitches exist."""
    return [
        tuning
        for tuning in TUNINGS.values()
        if all(tuning.places(pitch, fret_count) for pitch in pitches)
    ]
