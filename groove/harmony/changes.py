"""What a chord does in its key, by what stands round it, and what pulls it home.

Functions of the scale's own chords and of borrowed ones follow the handbooks' tables; how a
dominant, its related ii and a tritone substitute are told is common practice, no source:

* a dominant is that of the chord a fifth below.  Its goal is the next chord on another root; a
  chord over the dominant's own root (D7 C/D G) holds it, and one other chord may stand in between;
* the seventh on I is V7 of IV after a plain I, after its own ii, where its third or seventh is in
  the bass and steps to IV, before IVmaj7, and wherever the tonic is a plain chord, in the song and
  not in a section that has I7 and IV7; else it is a blues' home;
* a dominant a half step above its goal is the tritone substitute, spelled as the flat second of
  what it goes to;
* a minor or half-diminished chord outside the key, a fifth above a dominant that is not the key's
  own, is the ii of what that dominant is of.
"""

from enum import StrEnum
from functools import lru_cache

from msgspec import Struct
from msgspec.structs import replace

from groove.harmony.evidence import MAJORS, ChordClass, is_half_diminished, kind_of
from groove.harmony.numerals import (
    applied_name,
    degree_of,
    naming_key,
    number_name,
    numeral,
    scale_chord_name,
    triad_name,
)
from groove.theory.chords import Chord, has_minor_third
from groove.theory.keys import Key, Mode
from groove.theory.pitch import SpelledPitch

_FOURTH_UP = 5
"""Semitones by which the root of a dominant rises to its goal."""
_HALF_STEP_DOWN = 11
_FLAT_SECOND = -5
"""A minor second up, in fifths."""
_GOALS_BETWEEN = 1
"""How many chords may stand between a dominant and its goal."""
LOOK_AHEAD = 4
"""How many chords ahead are looked at: a held dominant, its ii, the dominant again, the goal."""


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

    ``of`` is the numeral that a secondary dominant, its ii, a substitute or a passing chord leads
    to, or the key that a borrowed chord comes from; empty otherwise.
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


class Surroundings(Struct, frozen=True):
    """What stands round a chord.

    ``before`` is the last other chord of the section, whatever its bass; ``ahead`` are the next
    chords on other roots, the first of those on one root.  ``home_is_seventh`` says that the tonic
    chord is at home as a seventh, as in a blues.
    """

    before: Chord | None = None
    ahead: tuple[Chord, ...] = ()
    home_is_seventh: bool = True

    @property
    def after(self) -> Chord | None:
        """The next chord on another root."""
        return self.ahead[0] if self.ahead else None


ALONE = Surroundings()


@lru_cache(maxsize=16384)
def change(chord: Chord, key: Key, around: Surroundings = ALONE) -> Change:
    """Return what a chord is in its key, between its neighbours.

    A secondary dominant is named as one (``V7/V``) where it goes there, else by its own degree.
    """
    function, of = _chord_function(chord, key, around)
    if function is Function.SUBSTITUTE:
        chord = _as_flat_second(chord, key, around.after)
    name = numeral(chord, key)
    if function is Function.SECONDARY and _resolution(chord, around.ahead):
        name = applied_name(chord, key, "V", of)
    elif function is Function.SUBDOMINANT and of:
        name = applied_name(chord, key, "ii", of)
    return Change(name, number_name(chord, key), function, of)


def _rise(chord: Chord, other: Chord | None) -> int | None:
    """Return how far the root of another chord lies above a chord's, 0-11."""
    return (other.root.pitch_class - chord.root.pitch_class) % 12 if other else None


def _held_over(chord: Chord, ahead: tuple[Chord, ...]) -> tuple[Chord, ...]:
    """Return the chords ahead without those that only hold a dominant: itself, or its own bass."""
    root = chord.root.pitch_class
    return tuple(
        other
        for other in ahead
        if _rise(chord, other) == _FOURTH_UP
        or root not in (other.root.pitch_class, other.bass_note.pitch_class)
    )


def _resolution(chord: Chord, ahead: tuple[Chord, ...]) -> Chord | None:
    """Return the chord a fifth below that a dominant comes to, None where it goes elsewhere.

    A triad must go there at once, a seventh chord may have one chord in between.
    """
    between = _GOALS_BETWEEN if kind_of(chord) is ChordClass.DOMINANT else 0
    near = _held_over(chord, ahead)[: 1 + between]
    return next((other for other in near if _rise(chord, other) == _FOURTH_UP), None)


def _as_flat_second(chord: Chord, key: Key, goal: Chord | None) -> Chord:
    """Return a tritone substitute spelled as the flat second of its goal: D♭7 before C, not C♯7."""
    falls = _rise(chord, goal) == _HALF_STEP_DOWN
    root = goal.root if goal and falls else key.tonic
    return replace(chord, root=root.up(_FLAT_SECOND))


def _chord_function(chord: Chord, key: Key, around: Surroundings) -> tuple[Function, str]:
    """Return a chord's function and what it leads to, or where it is borrowed."""
    known = FUNCTIONS[naming_key(key).mode].get(triad_name(chord, key))
    moving = _moving_function(chord, key, around, known)
    if moving:
        return moving
    if known:
        return (Function.DOMINANT if _is_suspended(chord, key) else known), ""
    return _foreign_function(chord, key)


def _moving_function(
    chord: Chord, key: Key, around: Surroundings, known: Function | None
) -> tuple[Function, str] | None:
    """Return the function of a chord by where it goes; None where it has its degree's own."""
    after = around.after
    if after and known is None and _passes(chord, after, around.before):
        return Function.PASSING, triad_name(after, key)
    if _substitutes(chord, key, around):
        assert after
        return Function.SUBSTITUTE, "V" if _is_tonic(after, key) else f"V/{triad_name(after, key)}"
    applied = _applied_target(chord, key, around, known)
    if applied:
        return Function.SECONDARY, applied
    target = _related_target(chord, key, around, known)
    return (Function.SUBDOMINANT, target) if target else None


def _foreign_function(chord: Chord, key: Key) -> tuple[Function, str]:
    """Return the function of a chord that is none of the key's own and leads nowhere.

    A chord without a third is told by its degree alone, and so is a chord of a mode.
    """
    kind = kind_of(chord)
    if chord.pitch_classes <= set(key.pitch_classes):
        return _function_by_degree(chord, key), ""
    lent = _lending_key(key)
    is_open = kind is ChordClass.OPEN
    if is_open and chord.root.pitch_class in key.pitch_classes:
        return _function_by_degree(chord, key), ""
    is_lent = chord.root.pitch_class in lent.pitch_classes if is_open else False
    if is_lent or triad_name(chord, lent) in FUNCTIONS[lent.mode]:
        return Function.BORROWED, lender_name(key)
    if kind is ChordClass.DOMINANT and chord.root.pitch_class == (key.tonic.pitch_class + 1) % 12:
        return Function.SUBSTITUTE, "V"
    return Function.CHROMATIC, ""


def _lending_key(key: Key) -> Key:
    """Return the key on one tonic that chords are borrowed from: minor of major, else major."""
    return Key(key.tonic, Mode.MAJOR if key.is_minor else Mode.MINOR)


def lender_name(key: Key) -> str:
    """Return the name of the key that a key's borrowed chords come from: ``C minor``."""
    return f"{key.tonic.pretty} {_lending_key(key).mode}"


def _passes(chord: Chord, after: Chord, before: Chord | None) -> bool:
    """Return whether a diminished chord moves by step into the next, or out of the one before.

    By its root or by its bass: C C♯°7 G/D steps up to D, F7 F♯°7 C7 steps up from F.
    """
    if kind_of(chord) is not ChordClass.DIMINISHED:
        return False
    by_bass = (after.bass_note.pitch_class - chord.bass_note.pitch_class) % 12
    from_before = before is not None and _rise(before, chord) == 1
    return _rise(chord, after) in (1, 2, 11) or by_bass in (1, 11) or from_before


def _is_suspended(chord: Chord, key: Key) -> bool:
    """Return whether a chord stands over the key's fifth degree, as F/G and Dm7/G do in C."""
    fifth = key.tonic.up(1).pitch_class
    is_above = (chord.root.pitch_class - fifth) % 12 in (7, 10)
    return is_above and chord.bass_note.pitch_class == fifth


def _is_tonic(chord: Chord, key: Key) -> bool:
    return chord.root.pitch_class == key.tonic.pitch_class


def _function_by_degree(chord: Chord, key: Key) -> Function:
    """Return the function of a chord on a note of the key, by its degree alone."""
    by_degree = {4: Function.SUBDOMINANT, 5: Function.DOMINANT}
    by_degree |= {2: Function.SUBDOMINANT, 7: Function.DOMINANT}
    return by_degree.get(degree_of(chord.root, key)[1], Function.TONIC)


def _substitutes(chord: Chord, key: Key, around: Surroundings) -> bool:
    """Return whether a dominant stands for the one a tritone away: a half step above its goal.

    The seventh chords of I and V are themselves; that of IV is at home in a blues.
    """
    if kind_of(chord) is not ChordClass.DOMINANT or _rise(chord, around.after) != _HALF_STEP_DOWN:
        return False
    name = triad_name(chord, key)
    return name not in ("I", "V") and not (name == "IV" and around.home_is_seventh)


def _applied_target(chord: Chord, key: Key, around: Surroundings, known: Function | None) -> str:
    """Return the numeral whose dominant a chord is; empty where it is none.

    A major triad must go there; a seventh chord on a degree where the scale has none may also
    go elsewhere.
    """
    kind = kind_of(chord)
    if kind not in (ChordClass.MAJOR, ChordClass.DOMINANT) or known is Function.DOMINANT:
        return ""
    goal = _resolution(chord, around.ahead)
    if known and not (goal and kind is ChordClass.DOMINANT and _leaves_home(chord, key, around)):
        return ""
    sign, number = degree_of(chord.root.up(-1), key)
    if sign:
        direct = kind is ChordClass.DOMINANT and goal is not None and goal is around.after
        return triad_name(goal, key) if goal and direct and sign == "♭" else ""
    target = scale_chord_name(number, key)
    if target.endswith("°"):
        return ""
    if target == "v" and not (goal and has_minor_third(goal)):
        target = "V"
    return target if goal or kind is ChordClass.DOMINANT else ""


def _leaves_home(chord: Chord, key: Key, around: Surroundings) -> bool:
    """Return whether a seventh on one of the scale's own triads makes it lead away.

    On I and IV of a major key by the rules at the head of this module; on III of a minor key,
    whose own seventh is major, always.
    """
    if key.is_minor:
        return True
    if not _is_tonic(chord, key):
        return not around.home_is_seventh
    before, goal = around.before, around.after
    if before and before.root == chord.root and kind_of(before) in MAJORS:
        return True
    if goal is None or _rise(chord, goal) != _FOURTH_UP:
        return False
    if not around.home_is_seventh or (before and _is_related(before, chord)):
        return True
    goal_kind = kind_of(goal)
    leads = _leads_by_bass(chord, goal) and goal_kind is not ChordClass.DOMINANT
    return leads or goal_kind is ChordClass.MAJOR_SEVENTH


def _leads_by_bass(chord: Chord, goal: Chord) -> bool:
    """Return whether a seventh's bass goes where its note must: third up to root, seventh down."""
    bass = (chord.bass_note.pitch_class - chord.root.pitch_class) % 12
    step = (goal.bass_note.pitch_class - chord.bass_note.pitch_class) % 12
    return (bass, step) in ((4, 1), (10, 11))


def _is_related(chord: Chord, dominant: Chord) -> bool:
    """Return whether a chord is the minor or half-diminished one a fifth above a dominant."""
    kind = kind_of(chord)
    by_kind = kind in (ChordClass.MINOR, ChordClass.MINOR_SEVENTH) or is_half_diminished(chord)
    return by_kind and _rise(chord, dominant) == _FOURTH_UP


def _related_target(chord: Chord, key: Key, around: Surroundings, known: Function | None) -> str:
    """Return the numeral whose ii a chord is, before the dominant of it; empty where it is none.

    The key's own chords keep their names, but for the half-diminished one on vii of a major key
    (that on ii of a minor one comes before the key's own V).
    """
    dominant = around.after
    if dominant is None or not _is_related(chord, dominant):
        return ""
    if known and not is_half_diminished(chord):
        return ""
    there = Surroundings(chord, around.ahead[1:], around.home_is_seventh)
    dominant_known = FUNCTIONS[naming_key(key).mode].get(triad_name(dominant, key))
    if kind_of(dominant) is not ChordClass.DOMINANT or not _resolution(dominant, there.ahead):
        return ""
    return _applied_target(dominant, key, there, dominant_known)


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
