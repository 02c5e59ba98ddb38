"""Slurs, slides, bends and vibrato as a synthesizer is told them: pitch over time, and controllers.

Pitch bend, its range (registered parameter 0) and the controllers are those of the *MIDI 1.0
Detailed Specification*: 1 modulation wheel, 68 legato footswitch, 6, 38, 100 and 101 for the
range.  How fast a finger glides is common practice, no source.
"""

from collections.abc import Iterator, Sequence
from enum import IntEnum

from msgspec import Struct

from groove.events import Note, Part, Touch
from groove.timing import TempoMap

BEND_RANGE_SEMITONES = 24
"""How far full pitch bend goes either way: as far as a slide over the whole neck."""
BEND_CENTRE = 8192
HIGHEST_BEND = 16_383
SLIDE_MS, BEND_MS = 90, 150
"""How long a finger takes to glide to its fret, and to bend a string, at most."""
STEP_MS = 4
"""A glide is told in steps of so long: finer than an ear hears."""
FROM_NOWHERE_SEMITONES = 2
"""From how far below its fret a slide comes that no note leads to."""
VIBRATO_DEPTH = 80
GHOST_SEC = 0.06
GHOST_VELOCITY_SHARE = 0.72
"""In a file without touches a note this short and soft, beside the others, is taken for a ghost.

The velocity is a share of that of the notes beside it (common practice, no source).
"""
LONGEST_GAP_TICKS = 30
"""What a hand may leave between two slurred notes: a 32nd of a quarter."""


class Controller(IntEnum):
    """Controllers by their number in MIDI 1.0."""

    MODULATION = 1
    DATA_ENTRY = 6
    DATA_ENTRY_LSB = 38
    LEGATO = 68
    PARAMETER_LSB = 100
    PARAMETER_MSB = 101


class Gesture(Struct, frozen=True, order=True):
    """One message at a tick: pitch bend to ``value`` (0-16383) where ``controller`` is None."""

    tick: int
    value: int
    controller: Controller | None = None


class SlurredPair(Struct, frozen=True):
    """Two notes on one stroke of the plucking hand, by their index among a part's notes."""

    before: int
    after: int


def set_range(tick: int = 0) -> list[Gesture]:
    """Return what sets the range of pitch bend, and then lets the parameter go."""
    controllers = (
        (Controller.PARAMETER_MSB, 0),
        (Controller.PARAMETER_LSB, 0),
        (Controller.DATA_ENTRY, BEND_RANGE_SEMITONES),
        (Controller.DATA_ENTRY_LSB, 0),
        (Controller.PARAMETER_MSB, 127),
        (Controller.PARAMETER_LSB, 127),
    )
    return [Gesture(tick, value, controller) for controller, value in controllers]


def _bend_value(semitones: float) -> int:
    """Return the value of a pitch bend of so many semitones, 8192 for none."""
    value = BEND_CENTRE + round(semitones * BEND_CENTRE / BEND_RANGE_SEMITONES)
    return max(0, min(HIGHEST_BEND, value))


def slurs(notes: Sequence[Note]) -> list[SlurredPair]:
    """Return the slurs of a part: each slurred note and the one on its string that it goes on from.

    A slurred note that nothing leads to is struck.
    """
    if not _has_slurs(notes):
        return []
    found = []
    last: dict[int | None, int] = {}
    for index, note in enumerate(notes):
        string = note.stated_place.string if note.stated_place else None
        before = last.get(string)
        if note.touch.is_slurred and before is not None:
            gap = note.onset_tick - notes[before].end_tick
            if gap <= LONGEST_GAP_TICKS and notes[before].touch is not Touch.GHOST:
                found.append(SlurredPair(before, index))
        last[string] = index
    return found


def _has_slurs(notes: Sequence[Note]) -> bool:
    """Return whether a note of a part is slurred; few parts have one."""
    return any(touch.is_slurred for touch in {note.touch for note in notes})


def _is_bent(note: Note) -> bool:
    """Return whether a note's pitch does not stay where it is."""
    return note.bend_semitones > 0 or note.has_vibrato


def gestures(notes: Sequence[Note], tempo_map: TempoMap, *, strikes_slurs: bool) -> list[Gesture]:
    """Return what is told between the notes of a bass part, in order of time; mostly nothing.

    ``strikes_slurs`` is whether every slurred note has a start of its own, softer and legato, as a
    file has it; else one stroke sounds on and is bent to each note that is slurred to it.  Pitch is
    back at the centre before the next stroke.
    """
    if not _has_slurs(notes) and not any(map(_is_bent, notes)):
        return []
    assert all(note.part is Part.BASS for note in notes)
    return sorted(
        _gestures(notes, tempo_map, strikes_slurs=strikes_slurs), key=lambda one: one.tick
    )


def _gestures(
    notes: Sequence[Note], tempo_map: TempoMap, *, strikes_slurs: bool
) -> Iterator[Gesture]:
    found = slurs(notes)
    following = {slur.before: slur.after for slur in found}
    leading = {slur.after: slur.before for slur in found}
    offsets = [0.0] * len(notes)
    bent = False
    for index, note in enumerate(notes):
        before = leading.get(index)
        if before is not None and not strikes_slurs:
            offsets[index] = offsets[before] + note.pitch - notes[before].pitch
        if before is not None and strikes_slurs:
            yield Gesture(note.onset_tick, 127, Controller.LEGATO)
            yield Gesture(note.onset_tick + 1, 0, Controller.LEGATO)
        if bent or offsets[index]:
            yield Gesture(note.onset_tick, _bend_value(offsets[index]))
        curve = list(_curve(notes, index, following.get(index), before, tempo_map))
        for tick, semitones in curve:
            yield Gesture(tick, _bend_value(offsets[index] + semitones))
        bent = bool(offsets[index] or (curve and curve[-1][1]))
        if note.has_vibrato:
            yield Gesture(note.onset_tick, VIBRATO_DEPTH, Controller.MODULATION)
            yield Gesture(note.end_tick, 0, Controller.MODULATION)
    if bent:
        yield Gesture(notes[-1].end_tick, BEND_CENTRE)


def _curve(
    notes: Sequence[Note], index: int, after: int | None, before: int | None, tempo_map: TempoMap
) -> Iterator[tuple[int, float]]:
    """Yield the glides of one note: ticks, and semitones from its pitch."""
    note = notes[index]
    half = note.length_ticks // 2
    start = note.onset_tick
    if note.touch is Touch.SLIDE and before is None:
        ticks = min(half, tempo_map.ms_to_ticks(SLIDE_MS, at_tick=start))
        yield from _glide(start, ticks, -FROM_NOWHERE_SEMITONES, 0, tempo_map)
    reached = 0
    if note.bend_semitones:
        ticks = min(half, tempo_map.ms_to_ticks(BEND_MS, at_tick=start))
        yield from _glide(start, ticks, 0, note.bend_semitones, tempo_map)
        reached = note.bend_semitones
    if after is not None and notes[after].touch is Touch.SLIDE:
        end = notes[after].onset_tick
        ticks = min(half, tempo_map.ms_to_ticks(SLIDE_MS, at_tick=start))
        yield from _glide(end - ticks, ticks, reached, notes[after].pitch - note.pitch, tempo_map)


def _glide(
    start: int, ticks: int, first: float, last: float, tempo_map: TempoMap
) -> Iterator[tuple[int, float]]:
    """Yield a straight glide in steps, its end included."""
    step = max(1, tempo_map.ms_to_ticks(STEP_MS, at_tick=start))
    count = max(1, ticks // step)
    for number in range(count + 1):
        share = number / count
        yield start + round(ticks * share), first + (last - first) * share
