"""Which note name a pitch has on the page, and which accidentals are printed.

A chord's own tones are spelled as the chord has them, notes of the key as the key has them; a half
step that leads to a note is its neighbour letter (F♯ up to G, A♭ down to G: E. Gould, *Behind
Bars*, 2011, "Accidentals"), any other note takes the raised or lowered degree nearest to the key
on the line of fifths.
"""

from dataclasses import dataclass
from functools import lru_cache

from groove.theory.chords import Chord
from groove.theory.keys import near_key
from groove.theory.pitch import SpelledPitch

LETTERS = "CDEFGAB"
HALF_STEP_FIFTHS = 5
WHITE_KEYS_BENT = ("Cb", "Fb", "E#", "B#")


@dataclass(frozen=True, slots=True)
class StaffPitch:
    """A note of the page: letter, alteration in half steps, octave (scientific, C4 middle C)."""

    letter: str
    alter: int
    octave: int

    @property
    def line(self) -> int:
        """Place on the staff as a count of letters from C0."""
        return 7 * self.octave + LETTERS.index(self.letter)


@lru_cache(maxsize=4096)
def spell(pitch: int, chord: Chord | None, key_fifths: int, target: int | None) -> StaffPitch:
    """Return how a MIDI pitch is written over a chord in a key signature.

    ``target`` is the pitch that the note leads to, None where it leads nowhere.
    """
    return staff_pitch(pitch, _spelled_class(pitch, chord, key_fifths, target))


def staff_pitch(pitch: int, name: SpelledPitch) -> StaffPitch:
    """Return the note with a name, in the octave in which it sounds as ``pitch``."""
    return StaffPitch(name.letter, name.accidental, (pitch - name.accidental) // 12 - 1)


def _spelled_class(
    pitch: int, chord: Chord | None, key_fifths: int, target: int | None
) -> SpelledPitch:
    """Return the name of a pitch's class."""
    pitch_class = pitch % 12
    for tone in _chord_tones(chord):
        if tone.pitch_class == pitch_class:
            return tone
    in_key = near_key(pitch_class, key_fifths)
    if key_fifths - 1 <= in_key.fifths <= key_fifths + 5:
        return in_key
    if target is not None and abs(target - pitch) == 1:
        goal = near_key(target % 12, key_fifths)
        leading = goal.up(HALF_STEP_FIFTHS if target > pitch else -HALF_STEP_FIFTHS).simplified()
        # A black key has a neighbour's letter; a white key keeps its own name, not C♭ or E♯.
        return leading if leading.name not in WHITE_KEYS_BENT else in_key
    return in_key


@lru_cache(maxsize=1024)
def _chord_tones(chord: Chord | None) -> tuple[SpelledPitch, ...]:
    """Return the tones of a chord, slash note first, without double accidentals."""
    if chord is None:
        return ()
    return tuple(tone.simplified() for tone in (chord.bass_note, *chord.tones))


def _key_alter(letter: str, key_fifths: int) -> int:
    """Return what a key signature does to a letter: 1 sharp, -1 flat, 0 nothing."""
    place = "FCGDAEB".index(letter)
    if key_fifths > 0:
        return 1 if place < key_fifths else 0
    return -1 if 6 - place < -key_fifths else 0


class BarAccidentals:
    """The accidentals in force in one bar of one staff."""

    def __init__(self, key_fifths: int) -> None:
        """Begin at a bar line: the key signature alone."""
        self.key_fifths = key_fifths
        self.seen: dict[tuple[str, int], int] = {}

    def printed(self, pitch: StaffPitch, *, held: bool) -> bool:
        """Return whether a note needs its accidental; a note that is held over needs none."""
        place = (pitch.letter, pitch.octave)
        before = self.seen.get(place, _key_alter(pitch.letter, self.key_fifths))
        if held:
            return False
        self.seen[place] = pitch.alter
        return before != pitch.alter
