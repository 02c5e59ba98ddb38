"""Scales, and which of them fit a chord.

Scales and the chord-scale table: R. Hutchinson, *Music Theory for the 21st-Century Classroom*,
Tables 31.9.4 and 31.10.3.  Degrees are spelled from the root; scales of eight notes spell one
letter twice.
"""

from msgspec import Struct

from groove.theory.chords import QUALITIES, Chord, Degree, parse_degrees
from groove.theory.keys import SIGNATURE_OFFSETS, Key, Mode
from groove.theory.pitch import SpelledPitch, degree_fifths


class Scale(Struct, frozen=True):
    """A scale: its name and its degrees above the root."""

    name: str
    degrees: tuple[Degree, ...]

    @property
    def semitones(self) -> tuple[int, ...]:
        """Semitones above the root, rising."""
        return tuple(degree.semitones for degree in self.degrees)

    def notes(self, root: SpelledPitch) -> tuple[SpelledPitch, ...]:
        """Return the scale's notes from a root up."""
        return tuple(root.up(degree_fifths(d.number, d.alter)) for d in self.degrees)


SCALES = {
    name: Scale(name, parse_degrees(degrees))
    for name, degrees in (
        ("major", "1 2 3 4 5 6 7"),
        ("mixolydian", "1 2 3 4 5 6 b7"),
        ("lydian", "1 2 3 #4 5 6 7"),
        ("dorian", "1 2 b3 4 5 6 b7"),
        ("phrygian", "1 b2 b3 4 5 b6 b7"),
        ("locrian", "1 b2 b3 4 b5 b6 b7"),
        ("natural minor", "1 2 b3 4 5 b6 b7"),
        ("harmonic minor", "1 2 b3 4 5 b6 7"),
        ("melodic minor", "1 2 b3 4 5 6 7"),
        ("locrian ♯2", "1 2 b3 4 b5 b6 b7"),
        ("lydian dominant", "1 2 3 #4 5 6 b7"),
        ("lydian augmented", "1 2 3 #4 #5 6 7"),
        ("mixolydian ♭6", "1 2 3 4 5 b6 b7"),
        ("altered", "1 b2 #2 3 b5 #5 b7"),
        ("blues", "1 b3 4 b5 5 b7"),
        ("whole tone", "1 2 3 #4 #5 b7"),
        ("half–whole", "1 b2 #2 3 #4 5 6 b7"),
        ("whole–half", "1 2 b3 4 b5 b6 6 7"),
        ("bebop dominant", "1 2 3 4 5 6 b7 7"),
        ("phrygian dominant", "1 b2 3 4 5 b6 b7"),
        ("major pentatonic", "1 2 3 5 6"),
        ("minor pentatonic", "1 b3 4 5 b7"),
    )
}
"""Every scale by name.  Phrygian dominant, the harmonic minor scale from its fifth, and the two
pentatonics are not in the handbook's tables (common practice, no source)."""

MODES_RISING = (
    Mode.MAJOR,
    Mode.DORIAN,
    Mode.PHRYGIAN,
    Mode.LYDIAN,
    Mode.MIXOLYDIAN,
    Mode.MINOR,
    Mode.LOCRIAN,
)
"""The modes of the major scale by the degree of it that they begin on."""
MODE_SCALES = {mode: mode.value for mode in MODES_RISING} | {Mode.MINOR: "natural minor"}

NEAR_SCALES = {
    0: (
        "major", "lydian", "mixolydian", "lydian dominant", "mixolydian ♭6", "phrygian dominant",
        "lydian augmented", "altered",
    ),
    -1: (
        "dorian", "natural minor", "phrygian", "melodic minor", "harmonic minor", "locrian",
        "locrian ♯2",
    ),
}  # fmt: skip
"""Scales of seven notes that a chord outside of its key may take, by how far its third is altered
(common practice, no source: the modes of major and of the two raised minor scales)."""

CHORD_SCALES = {
    "major seventh": ("major", "lydian"),
    "augmented major seventh": ("lydian augmented",),
    "minor seventh": ("dorian", "natural minor"),
    "half-diminished": ("locrian", "locrian ♯2"),
    "diminished seventh": ("whole–half",),
    "seventh": ("mixolydian",),
    "augmented seventh": ("whole tone",),
    "seventh flat five": ("whole tone",),
    "altered": ("altered",),
    "minor major seventh": ("melodic minor",),
    "minor sixth and ninth": ("dorian", "melodic minor"),
}
"""Scales of a chord by its quality, the usual one first."""

ALTERED_SCALES = (
    (("major", "major seventh", "major ninth", "major thirteenth"), (11, 1), ("lydian",)),
    (("seventh", "ninth", "eleventh", "thirteenth"), (9, -1), ("half–whole",)),
    (("seventh", "ninth", "eleventh", "thirteenth"), (9, 1), ("half–whole",)),
    (("seventh", "ninth", "eleventh", "thirteenth"), (11, 1), ("lydian dominant",)),
    (("half-diminished",), (9, 0), ("locrian ♯2",)),
)
"""Scales of a chord that spells an altered tone: qualities, the degree, and the scales."""

_LIKE = {
    "major": "major seventh", "sixth": "major seventh", "sixth and ninth": "major seventh",
    "added ninth": "major seventh", "major ninth": "major seventh",
    "major eleventh": "major seventh", "major thirteenth": "major seventh",
    "minor": "minor seventh", "minor ninth": "minor seventh", "minor eleventh": "minor seventh",
    "minor thirteenth": "minor seventh", "minor sixth": "minor sixth and ninth",
    "minor major ninth": "minor major seventh", "minor major eleventh": "minor major seventh",
    "minor major thirteenth": "minor major seventh",
    "ninth": "seventh", "eleventh": "seventh", "thirteenth": "seventh",
    "seventh suspended fourth": "seventh", "ninth suspended fourth": "seventh",
    "thirteenth suspended fourth": "seventh", "suspended fourth": "seventh",
    "suspended second": "major seventh", "fifth": "seventh", "root alone": "seventh",
    "diminished": "half-diminished", "augmented": "augmented seventh",
}  # fmt: skip
"""Qualities that the table leaves out, by the one that they are played like (common practice, no
source)."""


QUALITY_NAMES = {quality.degrees: quality.name for quality in QUALITIES}
"""The quality that a chord's degrees have, however the chart spells it: ``maj7#5``."""


def chord_scales(chord: Chord) -> tuple[Scale, ...]:
    """Return the scales that fit a chord by itself, the usual one first."""
    for qualities, (number, alter), names in ALTERED_SCALES:
        if chord.quality in qualities and Degree(number, alter) in chord.degrees:
            return tuple(SCALES[name] for name in names)
    name = QUALITY_NAMES.get(chord.degrees, chord.quality)
    quality = _LIKE.get(name, name)
    return tuple(SCALES[name] for name in CHORD_SCALES[quality])


def mode_from(root: SpelledPitch, key: Key) -> Scale | None:
    """Return the key's own scale, begun on one of its notes; None for a root outside of it."""
    classes = list(key.pitch_classes)
    if root.pitch_class not in classes:
        return None
    offsets = [SIGNATURE_OFFSETS[mode] for mode in MODES_RISING]
    number = offsets.index(SIGNATURE_OFFSETS[key.mode]) + classes.index(root.pitch_class)
    return SCALES[MODE_SCALES[MODES_RISING[number % 7]]]


def near_scales(chord: Chord) -> tuple[Scale, ...]:
    """Return the scales of seven notes that have a chord's third, the usual one first."""
    third = chord.degree(3)
    alters = (0, -1) if third is None else (third.alter,)
    return tuple(SCALES[name] for alter in alters for name in NEAR_SCALES[alter])
