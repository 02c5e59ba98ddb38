"""What the notes of a line are in their chords, and by which step of a cell each is asked for."""

from collections import Counter
from collections.abc import Sequence
from enum import StrEnum
from fractions import Fraction

from msgspec import Struct

from groove.arrange.degree_tones import aim_semitones, heard_role
from groove.cells.model import Aim, AimKind
from groove.events import Role
from groove.neck.instrument import root_pitch
from groove.study.studied_line import StudyBar, StudyNote
from groove.theory.chords import Chord
from groove.theory.keys import Key
from groove.theory.pitch import OCTAVE


class NoteKind(StrEnum):
    """What a note is counted as."""

    ROOT = "root"
    FIFTH = "fifth"
    OCTAVE = "octave"
    THIRD = "third"
    SEVENTH = "seventh"
    NINTH = "ninth"
    CHORD = "other chord note"
    SCALE = "scale"
    CHROMATIC = "chromatic"
    NO_CHORD = "without a chord"


_KINDS = {
    Role.ROOT: NoteKind.ROOT,
    Role.SLASH: NoteKind.ROOT,
    Role.THIRD: NoteKind.THIRD,
    Role.FIFTH: NoteKind.FIFTH,
    Role.SEVENTH: NoteKind.SEVENTH,
    Role.NINTH: NoteKind.NINTH,
    Role.SECOND: NoteKind.NINTH,
}


class PlacedNote(Struct, frozen=True, kw_only=True):
    """A note where it stands: its bar, what it is counted as, what a cell would ask for.

    ``kind`` is None for a ghost.  ``leads`` is how many semitones it lies from the root of the
    chord that begins with the next note, None where it leads to none.
    """

    bar: StudyBar
    note: StudyNote
    chord: Chord | None
    kind: NoteKind | None
    aim: Aim
    leads: int | None = None

    @property
    def start_quarters(self) -> Fraction:
        """Where its slot is, in quarters from the first bar."""
        return self.bar.frame.start_quarters + self.note.slot * self.bar.slot_quarters

    @property
    def end_quarters(self) -> Fraction:
        """Where it ends, in quarters from the first bar."""
        return self.start_quarters + self.note.slots * self.bar.slot_quarters

    @property
    def beat(self) -> Fraction:
        """The beat of its bar that it stands on, from 1."""
        beat = self.bar.frame.meter.beat_quarters
        return 1 + self.note.slot * self.bar.slot_quarters / beat


def placed_notes(bars: Sequence[StudyBar]) -> tuple[PlacedNote, ...]:
    """Return every note of a line with what it is in its chord."""
    places = [(bar, note, bar.chord_at(note.slot)) for bar in bars for note in bar.notes]
    bases = _bases(places)
    afters = [*places[1:], None]
    return tuple(
        _placed(bar, note, chord, base, after)
        for (bar, note, chord), base, after in zip(places, bases, afters, strict=True)
    )


_Place = tuple[StudyBar, StudyNote, Chord | None]


def _bases(places: Sequence[_Place]) -> list[int]:
    """Return for each note the pitch of the root below it, in the register of its chord.

    It is the lowest root played while that chord lasts, else the one an instrument has lowest.
    """
    found: list[int] = []
    run: list[_Place] = []

    def close() -> None:
        chord = run[0][2]
        if chord is None:
            found.extend(note.pitch for _, note, _ in run)
            return
        root = chord.bass_note.pitch_class
        played = [n.pitch for _, n, _ in run if n.pitch % OCTAVE == root and not n.is_ghost]
        found.extend([min(played, default=root_pitch(root))] * len(run))

    for place in places:
        if run and (place[2] != run[0][2] or place[0] is not run[0][0]):
            close()
            run = []
        run.append(place)
    if run:
        close()
    return found


def _placed(
    bar: StudyBar, note: StudyNote, chord: Chord | None, base: int, after: _Place | None
) -> PlacedNote:
    """Return a note with what it is; ``after`` is the note that follows."""
    if note.is_ghost:
        aim = Aim(kind=AimKind.GHOST)
        return PlacedNote(bar=bar, note=note, chord=chord, kind=None, aim=aim)
    leads = _leads(note, chord, after)
    return PlacedNote(
        bar=bar,
        note=note,
        chord=chord,
        kind=_kind(note.pitch, chord, bar.frame.key, base),
        aim=_aim(note.pitch, chord, bar.frame.key, base, leads),
        leads=leads,
    )


def _kind(pitch: int, chord: Chord | None, key: Key, base: int) -> NoteKind:
    """Return what a pitch is counted as over a chord."""
    if chord is None:
        return NoteKind.NO_CHORD
    pitch_class = pitch % OCTAVE
    if pitch_class == chord.bass_note.pitch_class:
        return NoteKind.OCTAVE if pitch - base >= OCTAVE else NoteKind.ROOT
    if pitch_class in chord.pitch_classes:
        return _KINDS.get(heard_role(pitch, chord), NoteKind.CHORD)
    if pitch_class not in key.pitch_classes:
        return NoteKind.CHROMATIC
    is_second = (pitch_class - chord.root.pitch_class) % OCTAVE == 2
    return NoteKind.NINTH if is_second else NoteKind.SCALE


def _leads(note: StudyNote, chord: Chord | None, after: _Place | None) -> int | None:
    """Return how far a note lies from the root that it leads to, at most a whole step."""
    if after is None or after[2] is None or after[2] == chord or after[1].is_ghost:
        return None
    goal, upcoming = after[1], after[2]
    if goal.pitch % OCTAVE != upcoming.bass_note.pitch_class:
        return None
    step = note.pitch - goal.pitch
    return step if 0 < abs(step) <= 2 else None


DEGREE_AIMS = (
    *(Aim(kind=AimKind.DEGREE, number=number) for number in (1, 5, 8, 3, 7, 9, 10, 6, 2, 4)),
    *(Aim(kind=AimKind.DEGREE, number=number, octaves=-1) for number in (5, 7, 6, 3, 1, 2, 4)),
    *(
        Aim(kind=AimKind.DEGREE, number=number, alter=alter, is_altered=True, octaves=octaves)
        for octaves in (0, -1)
        for number, alter in ((3, -1), (7, -1), (5, -1), (4, 1), (2, -1), (6, -1), (3, 0), (7, 0))
        if alter
    ),
)
"""The steps of a cell that ask for a degree, the plainest first: the first that fits is taken."""


def _aim(pitch: int, chord: Chord | None, key: Key, base: int, leads: int | None) -> Aim:
    """Return the step of a cell that asks for a pitch: a degree, an approach, else the note."""
    fixed = Aim(kind=AimKind.FIXED, pitch=pitch)
    if chord is None:
        return fixed
    is_inside = pitch % OCTAVE in chord.pitch_classes
    if leads is not None and not is_inside:
        return Aim(kind=AimKind.NEXT, offset=leads)
    wanted = pitch - base
    return next((aim for aim in DEGREE_AIMS if aim_semitones(aim, chord, key) == wanted), fixed)


def kind_shares(notes: Sequence[PlacedNote]) -> dict[NoteKind, float]:
    """Return which share of the plain notes each kind has, 0 to 1; they sum to 1."""
    counts = Counter(each.kind for each in notes if each.kind)
    total = sum(counts.values())
    return {kind: counts[kind] / total if total else 0.0 for kind in NoteKind}
