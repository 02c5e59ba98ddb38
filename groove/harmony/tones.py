"""Notes that work over a chord where it stands: its tones, its scale, the way to the next chord.

The chord-scale table and its context rule (a minor seventh chord that is vi of the key takes
natural minor, not dorian) are R. Hutchinson's, *Music Theory for the 21st-Century Classroom*,
§31.10: of the scales that fit a chord the one with most of the key's notes is chosen.  So a chord
of the key takes the key's own scale from its root (V of a major key is mixolydian, with or without
its seventh).  Guide tones, approaches and notes to handle with care are common practice, no source.
"""

from functools import lru_cache

from msgspec import Struct

from groove.theory.chords import Chord, Degree, has_minor_third
from groove.theory.keys import Key
from groove.theory.pitch import SpelledPitch
from groove.theory.scales import Scale, chord_scales, mode_from, near_scales

GUIDE_NUMBERS = (3, 7)
HALF_STEP_UP, HALF_STEP_DOWN = -5, 5
"""A half step to the next letter, in fifths."""
WHOLE_STEP = 2
FLAT_SECOND = Degree(2, -1)
DIMINISHED_SEVENTH = Degree(7, -2)
SHARP_NAMES = tuple(map(SpelledPitch, range(-1, 11)))
_FLAT_NAMES = tuple(map(SpelledPitch, range(-6, 6)))
"""The twelve notes with five sharps, F to A♯, and with five flats, G♭ to B."""


class GuideTone(Struct, frozen=True):
    """A third or seventh and where it goes in the next chord, ``step`` semitones away (-2 to 2)."""

    note: SpelledPitch
    goal: SpelledPitch
    step: int


class Tones(Struct, frozen=True):
    """The notes that work over one chord in its context.

    ``chord_tones`` and ``scale_notes`` have the names of ``_named_tones``. ``scale`` begins on
    the chord's root; ``approaches`` lead to the next chord's bass note: a half step below, a half
    step above, the key's own step below and above; ``ninth`` is the ninth where it belongs to key
    and scale.
    """

    chord: Chord
    chord_tones: tuple[SpelledPitch, ...]
    scale: Scale
    scale_notes: tuple[SpelledPitch, ...]
    guide_tones: tuple[GuideTone, ...]
    approaches: tuple[SpelledPitch, ...]
    ninth: SpelledPitch | None


@lru_cache(maxsize=8192)
def chord_tones_in(chord: Chord, key: Key, after: Chord | None) -> Tones:
    """Return the notes that work over a chord in a key, before the chord that follows it."""
    scale = _context_scale(chord, key)
    notes = tuple(_named_note(chord, note) for note in scale.notes(chord.root))
    return Tones(
        chord=chord,
        chord_tones=_named_tones(chord),
        scale=scale,
        scale_notes=notes,
        guide_tones=guide_tones(chord, after) if after else (),
        approaches=_approach_notes(after.bass_note, key) if after else (),
        ninth=_fitting_ninth(chord, key, notes),
    )


def _context_scale(chord: Chord, key: Key) -> Scale:
    """Return the scale for a chord in a key.

    A chord of the key, its slash note too, takes the key's own notes.  Any other takes, of the
    scales that hold all of its notes, the one with most of the key's; where none holds them, one
    of its quality's.  A dominant on a root outside of the key keeps its natural ninth (the tritone
    substitute is lydian dominant; common practice, no source).
    """
    key_classes = set(key.pitch_classes)
    chord_classes = chord.all_pitch_classes
    own = mode_from(chord.root, key)
    if own and chord_classes <= key_classes:
        return own
    usual = chord_scales(chord)
    near = near_scales(chord)
    if own is None and not has_minor_third(chord):
        near = tuple(scale for scale in near if FLAT_SECOND not in scale.degrees)
    every = list(dict.fromkeys((*usual, *near)))
    for wanted in (chord_classes, chord.pitch_classes):
        holding = [scale for scale in every if wanted <= _scale_classes(chord.root, scale)]
        if holding:
            return max(holding, key=lambda s: len(key_classes & _scale_classes(chord.root, s)))
    return max(usual, key=lambda s: len(key_classes & _scale_classes(chord.root, s)))


def _scale_classes(root: SpelledPitch, scale: Scale) -> frozenset[int]:
    return frozenset((root.pitch_class + step) % 12 for step in scale.semitones)


def guide_tones(chord: Chord, after: Chord) -> tuple[GuideTone, ...]:
    """Return how a chord's third and seventh go to the nearest third, seventh or tone after."""
    found = []
    for degree in chord.degrees:
        if degree.number not in GUIDE_NUMBERS:
            continue
        note = chord.tones[chord.degrees.index(degree)]
        steps = {goal: _nearest_step(note, goal) for goal in after.tones}
        goal = min(steps, key=lambda pitch: (abs(steps[pitch]), steps[pitch] > 0))
        found.append(GuideTone(_named_note(chord, note), _named_note(after, goal), steps[goal]))
    return tuple(found)


def _nearest_step(note: SpelledPitch, goal: SpelledPitch) -> int:
    """Return the smaller way from one pitch class to another, -6 to 5 semitones."""
    return (goal.pitch_class - note.pitch_class + 6) % 12 - 6


def _approach_notes(goal: SpelledPitch, key: Key) -> tuple[SpelledPitch, ...]:
    """Return the notes that lead to a goal: a half step below and above, then the key's own."""
    classes = set(key.pitch_classes)
    wholes = (goal.up(-WHOLE_STEP), goal.up(WHOLE_STEP))
    found = [(goal.up(HALF_STEP_DOWN), True), (goal.up(HALF_STEP_UP), False)]
    found += [(pitch, True) for pitch in wholes if pitch.pitch_class in classes]
    return tuple(_plain_approach(pitch, key, rises=rises) for pitch, rises in found)


def _plain_approach(pitch: SpelledPitch, key: Key, *, rises: bool) -> SpelledPitch:
    """Return an approach as a player names it: the key's own name, else a sharp up, a flat down.

    Common practice, no source: no double signs, and a white key by its letter.
    """
    own = next((p for p in key.scale if p.pitch_class == pitch.pitch_class), None)
    if own:
        return own
    names = SHARP_NAMES if rises else _FLAT_NAMES
    return next(p for p in names if p.pitch_class == pitch.pitch_class)


def _named_tones(chord: Chord) -> tuple[SpelledPitch, ...]:
    """Return a chord's tones as they are told; above the root of a °7 by their plain names.

    Common practice, no source: C°7 is C E♭ G♭ A, though its seventh is spelled B𝄫.
    """
    return tuple(_named_note(chord, tone) for tone in chord.tones)


def _named_note(chord: Chord, note: SpelledPitch) -> SpelledPitch:
    """Return one note over a chord as it is told (see ``_named_tones``)."""
    if DIMINISHED_SEVENTH not in chord.degrees or note == chord.root:
        return note
    plain = note.simplified()
    white = next((p for p in _FLAT_NAMES if p.pitch_class == plain.pitch_class), plain)
    return plain if white.accidental else white


def _fitting_ninth(chord: Chord, key: Key, notes: tuple[SpelledPitch, ...]) -> SpelledPitch | None:
    """Return the ninth where it belongs: spelled in the chord, or a whole step in key and scale."""
    own = chord.degree(9, 2)
    if own:
        return chord.tones[chord.degrees.index(own)]
    ninth = chord.root.up(WHOLE_STEP)
    key_classes = set(key.pitch_classes)
    scale_classes = {pitch.pitch_class for pitch in notes}
    belongs = ninth.pitch_class in key_classes & scale_classes
    return ninth if belongs else None


def run_notes(chord: Chord, key: Key) -> tuple[SpelledPitch, ...]:
    """Return the notes a run over a chord draws from: the key's scale with the chord's own notes.

    A note of the chord takes the place of the key's note on its letter: over E7 in A minor G
    gives way to G♯.
    """
    by_letter = {pitch.letter: pitch for pitch in key.scale}
    for tone in chord.tones:
        by_letter[tone.letter] = tone
    return tuple(
        sorted(by_letter.values(), key=lambda p: (p.pitch_class - chord.root.pitch_class) % 12)
    )
