"""Tunings, the neck's reach, and the register in which a root is played.

Pitches are MIDI numbers.  Strings are numbered as on a tab staff, from the highest (1) down, and
fret 0 is the open string (MusicXML 4.0, types ``string`` and ``fret``).
"""

from dataclasses import dataclass

from groove.errors import OptionError, nearest_hint
from groove.theory.pitch import parse_pitch, pitch_name

FRET_COUNTS = range(20, 25)


@dataclass(frozen=True, slots=True)
class Tuning:
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
        if tuning.name.casefold() == text.strip().casefold():
            return tuning
    try:
        pitches = tuple(parse_pitch(word) for word in text.split())
    except ValueError:
        pitches = ()
    if 3 <= len(pitches) <= 8 and list(pitches) == sorted(set(pitches)):
        return Tuning(" ".join(text.split()), pitches)
    raise OptionError(
        f"no such tuning: {text!r}",
        hint="expected one of: "
        + ", ".join(TUNINGS)
        + ", or open strings from the lowest up, as 'D1 A1 D2 G2'; "
        + nearest_hint(text, TUNINGS),
    )


def root_pitch(pitch_class: int, tuning: Tuning = STANDARD) -> int:
    """Return the pitch at which a root (0-11) is played: the lowest one on the instrument.

    So roots live in the octave above the lowest string, an octave shape lies under one hand
    position two strings up, and nothing depends on what was played before (common practice, no
    source).
    """
    lowest = tuning.lowest_pitch
    return lowest + (pitch_class - lowest) % 12
