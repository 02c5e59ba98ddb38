"""From a chord degree to semitones above the bass note.

The rules are those of the cells' format: a degree is the sounding chord's own, else the key's,
else a major sixth, minor seventh or major ninth; over a suspended chord the third is what
suspends it; over a slash chord the fifth is the chord's fifth, or its root where the fifth is the
slash note, never a second from the bass.

Not every degree is a note to lean on where the chord does not state it (common practice, no
source).  Over a slash chord the line goes back to the slash note.  A minor or diminished chord
takes its seventh for a sixth.  A plain triad takes the key's minor seventh, as on V or ii, else
the sixth of the key, and where that lies a half step over a chord tone or outside the key, the
fifth.  A ninth a half step over the root gives way to the third above it.
"""

from functools import lru_cache

from groove.cells.model import Aim
from groove.events import Role
from groove.harmony.tones import run_notes
from groove.theory.chords import Chord, has_minor_third
from groove.theory.keys import Key
from groove.theory.pitch import OCTAVE, degree_semitones

MINOR_THIRD, MAJOR_THIRD = 3, 4
PERFECT_FIFTH = 7
MINOR_SEVENTH = 10
TOO_CLOSE = (0, 1, 2, 11)
"""Intervals to the slash note that cannot serve as its fifth, in semitones."""

OWN_NUMBERS = {2: (2, 9), 3: (3, 4, 2), 4: (4, 11), 6: (6, 13), 7: (7,), 9: (9, 2)}
"""Which of a chord's own degrees answer to a cell's degree."""

_COLOURS = {6: 1, 7: 1, 9: 8}
"""Degrees that colour a chord, and where the line stays in place of them over a slash chord."""

ABOVE_OCTAVE = {10: 3, 11: 4, 13: 6}
"""Degrees that are another one an octave higher."""

_PLAIN = (2, 4)
"""Degrees that the root's major scale gives, whatever the key, unless the chord alters them."""

FALLBACK_ALTERS = {2: 0, 3: 0, 4: 0, 6: 0, 7: -1, 9: 0}
"""Alteration of a degree that neither chord nor key states."""

DEGREE_ROLES = {
    1: Role.ROOT,
    2: Role.SECOND,
    3: Role.THIRD,
    4: Role.FOURTH,
    5: Role.FIFTH,
    6: Role.SIXTH,
    7: Role.SEVENTH,
    8: Role.OCTAVE,
    9: Role.NINTH,
    10: Role.TENTH,
    11: Role.ELEVENTH,
    13: Role.THIRTEENTH,
}


def aim_role(aim: Aim, chord: Chord, key: Key) -> Role:
    """Return what a degree is there for; the slash note has its own name."""
    number = aim.number if aim.is_altered else served_number(aim.number, chord, key)
    if number in (1, 8) and chord.bass:
        return Role.SLASH
    if number == 3 and chord.degree(3) is None and chord.degree(4):
        return Role.FOURTH
    return DEGREE_ROLES[number]


HEARD_NUMBERS = (1, 9, 9, 3, 3, 4, 4, 5, 6, 6, 7, 7)
"""What an interval above the root is called where the chord does not state it, by semitones."""


def heard_role(pitch: int, chord: Chord) -> Role:
    """Return what a pitch is in its chord: the slash note, a degree of its own, or an interval."""
    if chord.bass and pitch % OCTAVE == chord.bass.pitch_class:
        return Role.SLASH
    interval = (pitch - chord.root.pitch_class) % OCTAVE
    own = (degree.number for degree in chord.degrees if degree.semitones % OCTAVE == interval)
    return DEGREE_ROLES[next(own, HEARD_NUMBERS[interval])]


def aim_semitones(aim: Aim, chord: Chord, key: Key) -> int:
    """Return the semitones from the bass note up to the degree that a cell asks for."""
    offset = degree_offset(served_number(aim.number, chord, key), chord, key)
    if aim.is_altered:
        offset = _forced_offset(aim, chord)
    offset += OCTAVE * aim.octaves
    # Over a slash note the chord's fifth may lie just above it: it is no fifth below then.
    is_far_below = chord.bass and aim.number == 5 and aim.octaves < 0 and offset < -PERFECT_FIFTH
    return offset + OCTAVE if is_far_below else offset


@lru_cache(maxsize=8192)
def served_number(number: int, chord: Chord, key: Key) -> int:
    """Return the degree that is played for one of a cell's, where that one would lean wrongly."""
    if number not in _COLOURS:
        return number
    if chord.bass:
        return number if _is_heard(number, chord) else _COLOURS[number]
    if chord.degree(*OWN_NUMBERS[number]):
        return number
    if number == 9:
        return 10 if clashes(_own_semitones(9, chord, key), chord) else 9
    return _sixth_or_seventh(number, chord, key)


def _is_heard(number: int, chord: Chord) -> bool:
    """Return whether a slash chord has a degree of its own, not a second from the slash note."""
    own = chord.degree(*OWN_NUMBERS[number])
    return own is not None and _above_bass(chord, own.semitones % OCTAVE) not in TOO_CLOSE


def _sixth_or_seventh(number: int, chord: Chord, key: Key) -> int:
    """Return 6, 7 or 5 for a sixth or seventh that a chord does not state."""
    if chord.degree(*OWN_NUMBERS[6]):
        return 6
    seventh = chord.degree(7)
    sixth = _own_semitones(6, chord, key)
    in_key = (chord.root.pitch_class + sixth) % OCTAVE in key.pitch_classes
    sixth_fits = not has_minor_third(chord) and not clashes(sixth, chord)
    if number == 6 and sixth_fits and (in_key or seventh):
        return 6
    minor_seventh = seventh.semitones if seventh else _key_semitones(7, chord, key)
    if minor_seventh is not None and minor_seventh <= MINOR_SEVENTH:
        return 7
    return 6 if sixth_fits and in_key else 5


def clashes(semitones: int, chord: Chord) -> bool:
    """Return whether a note above the root lies a half step over a tone of the chord."""
    return any((semitones - degree.semitones) % OCTAVE == 1 for degree in chord.degrees)


@lru_cache(maxsize=2048)
def wrong_third(chord: Chord, key: Key) -> int | None:
    """Return the pitch class of the third that a chord has not: it is heard as a wrong chord.

    Major over minor, or minor over major (common practice, no source).  A chord that states no
    third is heard with the key's own; None where the key has both or neither.
    """
    third = chord.degree(3)
    own = [third.semitones] if third else _thirds_of(key, chord.root.pitch_class)
    if len(own) != 1:
        return None
    other = MAJOR_THIRD + MINOR_THIRD - own[0]
    pitch_class = (chord.root.pitch_class + other) % OCTAVE
    return None if pitch_class in chord.pitch_classes else pitch_class


def _thirds_of(key: Key, root: int) -> list[int]:
    """Return the thirds that a key has over a root, in semitones; its leading tone is one too."""
    heard = {*key.pitch_classes}
    if key.is_minor:
        heard.add((key.tonic.pitch_class - 1) % OCTAVE)
    return [third for third in (MINOR_THIRD, MAJOR_THIRD) if (root + third) % OCTAVE in heard]


@lru_cache(maxsize=2048)
def scale_classes(chord: Chord, key: Key) -> frozenset[int]:
    """Return the pitch classes that a run over a chord draws from (see ``harmony.tones``)."""
    return frozenset(pitch.pitch_class for pitch in run_notes(chord, key))


def _forced_offset(aim: Aim, chord: Chord) -> int:
    """Return a degree with a forced alteration, counted from the major scale of the root."""
    number = 1 if aim.number == 8 else aim.number
    lift = OCTAVE if aim.number == 8 else 0
    return _above_bass(chord, degree_semitones(number, aim.alter)) + lift


@lru_cache(maxsize=8192)
def degree_offset(number: int, chord: Chord, key: Key) -> int:
    """Return the semitones from the bass note up to a plain degree."""
    if number in (1, 8):
        return 0 if number == 1 else OCTAVE
    if number == 5:
        return fifth_offset(chord)
    base = ABOVE_OCTAVE.get(number, number)
    lift = OCTAVE if number in ABOVE_OCTAVE else 0
    return _above_bass(chord, _own_semitones(base, chord, key) + lift)


def _above_bass(chord: Chord, semitones: int) -> int:
    """Return semitones above the root as semitones above the bass note, octave kept."""
    if chord.bass is None:
        return semitones
    octaves = semitones // OCTAVE
    distance = (chord.root.pitch_class + semitones - chord.bass.pitch_class) % OCTAVE
    return distance + OCTAVE * octaves


def _own_semitones(number: int, chord: Chord, key: Key) -> int:
    """Return a degree above the root: the chord's own, else the key's, else the usual one."""
    own = chord.degree(*OWN_NUMBERS[number])
    if own:
        wanted = own.semitones % OCTAVE
        return wanted + (OCTAVE if number == 9 else 0)
    from_key = None if number in _PLAIN else _key_semitones(number, chord, key)
    if from_key is not None:
        return from_key
    return degree_semitones(number, FALLBACK_ALTERS[number])


def _key_semitones(number: int, chord: Chord, key: Key) -> int | None:
    """Return a degree above a root by the key's scale, None where the root is not in the key."""
    classes = list(key.pitch_classes)
    if chord.root.pitch_class not in classes:
        return None
    index = classes.index(chord.root.pitch_class)
    distance = (classes[(index + number - 1) % 7] - chord.root.pitch_class) % OCTAVE
    return distance + (OCTAVE if number == 9 else 0)


def fifth_offset(chord: Chord) -> int:
    """Return the fifth above the bass note; over a slash note, what serves as its fifth."""
    own = chord.degree(5)
    fifth = own.semitones if own else _altered_fifth(chord)
    if chord.bass is None:
        return fifth
    candidates = (fifth, 0, *(degree.semitones for degree in chord.degrees))
    for semitones in candidates:
        offset = _above_bass(chord, semitones % OCTAVE)
        if offset not in TOO_CLOSE:
            return offset
    return OCTAVE


def _altered_fifth(chord: Chord) -> int:
    """Return the fifth of a chord that states none: perfect unless an altered one is spelled."""
    for number, alter, semitones in ((11, 1, 6), (13, -1, 8)):
        degree = chord.degree(number)
        if degree and degree.alter == alter:
            return semitones
    return PERFECT_FIFTH
