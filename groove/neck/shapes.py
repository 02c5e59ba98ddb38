"""Shapes: on which string each degree of a cell lies when seen from its root.

A cell that returns on another root keeps its shape.  "The same cell" and "time-keeping" are read
from a note's origin.
"""

from collections.abc import Sequence
from typing import NamedTuple

from groove.events import ROOTS, FretPlace, Maker, Note, Role, Touch

STRINGS_UP = {
    -12: -2, -7: -1, -6: -1, -5: -1, -4: -1, -2: 0, -1: 0,
    0: 0, 1: 0, 2: 0, 3: 0,
    4: 1, 5: 1, 6: 1, 7: 1, 8: 1,
    9: 2, 10: 2, 11: 2, 12: 2, 13: 2, 14: 2,
    15: 3, 16: 3,
}  # fmt: skip
"""Semitones above a cell's root, and how many strings higher the note lies.

The fret follows from the tuning: with strings a fourth apart the fifth is one string up and two
frets up, the octave two and two, the ninth two frets above the octave on its string, the fifth
below one string down at the same fret (common practice, no source)."""

_DEGREES = frozenset(
    {
        Role.ROOT, Role.SLASH, Role.THIRD, Role.FOURTH, Role.FIFTH, Role.SIXTH, Role.SEVENTH,
        Role.OCTAVE, Role.NINTH, Role.TENTH, Role.GHOST,
    }
)  # fmt: skip
OCTAVES = (0, 12)
"""The shape of a cell that has a root and its octave alone."""
_FEWEST_OCTAVES = 3
"""Every third note at least is the octave where root and octave are played in turn."""


class Shape(NamedTuple):
    """A cell on its root: the root's MIDI pitch, the semitones above it, and if it is muted.

    The fretting hand mutes a cell with ghosts, and one of root and octave in turn, whose lower note
    would ring on under the upper one (common practice, no source).
    """

    root_pitch: int
    intervals: tuple[int, ...]
    is_muted: bool = False


Hold = tuple[int, int, int]
"""String, fret and finger, without the hand's position."""


class HandTask(NamedTuple):
    """What the line asks of one note, as far as the fretting hand is concerned.

    ``shape`` and ``above_root`` are None outside of a cell's run; ``forced_fret`` is the fret that
    the player wants, or None; ``approaches`` is true for a note that leads to the next one;
    ``known`` is how the bar has held the note already, ``in_position`` the (string, fret) under the
    hand with which the player begins, ``fixed`` the one that the player wrote, ``beside`` the frets
    that are held with it.
    """

    pitch: int
    touch: Touch
    time_keeping: bool
    shape: Shape | None
    above_root: int | None
    forced_fret: int | None = None
    approaches: bool = False
    known: Hold | None = None
    in_position: tuple[int, int] | None = None
    fixed: FretPlace | None = None
    beside: tuple[int, ...] = ()


def _cell_runs(notes: Sequence[Note]) -> list[int | None]:
    """Return for each note the number of its run: one cell on one chord, fills left out."""
    runs: list[int | None] = []
    number, before = -1, None
    for note in notes:
        origin = note.origin
        # Tokens under a bar are a cell of their own; tab says where it lies.
        in_cell = origin.cell or (origin.maker is Maker.WRITTEN and not note.stated_place)
        if not origin.time_keeping or origin.role not in _DEGREES or not in_cell:
            runs.append(None)
            continue
        key = (origin.chord, origin.cell)
        number += key != before
        before = key
        runs.append(number)
    return runs


def _run_shapes(notes: Sequence[Note], runs: Sequence[int | None]) -> dict[int, Shape]:
    """Return the shape of each run that has a root."""
    members: dict[int, list[Note]] = {}
    for note, run in zip(notes, runs, strict=True):
        if run is not None:
            members.setdefault(run, []).append(note)
    return {run: shape for run, group in members.items() if (shape := _shape(group))}


def _without_leads(notes: Sequence[Note], runs: Sequence[int | None]) -> list[int | None]:
    """Return the runs without the degrees that were taken below their root to lead somewhere."""
    shapes = _run_shapes(notes, runs)
    return [
        None
        if run in shapes
        and note.origin.target_pitch is not None
        and note.pitch < shapes[run].root_pitch
        else run
        for note, run in zip(notes, runs, strict=True)
    ]


def _shape(group: Sequence[Note]) -> Shape | None:
    roots = [note.pitch for note in group if note.origin.role in ROOTS]
    if not roots:
        return None
    root = min(roots)
    intervals = tuple(sorted({note.pitch - root for note in group} & STRINGS_UP.keys()))
    has_ghosts = any(note.touch is Touch.GHOST for note in group)
    octaves = sum(note.pitch - root == OCTAVES[1] for note in group)
    in_turn = intervals == OCTAVES and _FEWEST_OCTAVES * octaves >= len(group)
    return Shape(root, intervals, has_ghosts or in_turn)


def hand_tasks(notes: Sequence[Note], start_fret: int | None) -> tuple[list[HandTask], list[bool]]:
    """Return what each note asks, and whether it continues the run of the note before."""
    runs = _without_leads(notes, _cell_runs(notes))
    shapes = _run_shapes(notes, runs)
    first = first_root(notes)
    tasks = []
    for index, (note, run) in enumerate(zip(notes, runs, strict=True)):
        shape = shapes.get(run) if run is not None else None
        above = note.pitch - shape.root_pitch if shape else None
        if shape and above not in shape.intervals:
            shape = above = None
        forced = start_fret if index == first else None
        tasks.append(
            HandTask(
                pitch=note.pitch,
                touch=note.touch,
                time_keeping=note.origin.time_keeping,
                shape=shape,
                above_root=above,
                forced_fret=forced,
                approaches=note.origin.role in (Role.APPROACH, Role.FILL),
                fixed=note.stated_place,
            )
        )
    same = [run is not None and run == before for run, before in zip(runs[1:], runs, strict=False)]
    return tasks, [False, *same] if notes else []


def first_root(notes: Sequence[Note]) -> int:
    """Return the index of the first root (0 if the line has none)."""
    return next((i for i, note in enumerate(notes) if note.origin.role in ROOTS), 0)
