"""What an ear heard of a bass alone, before it has a beat: strokes, which of them are sure."""

from collections.abc import Sequence
from math import cos, pi, sin
from statistics import median

from msgspec import Struct
from msgspec.structs import replace

SURE_STRENGTH = 0.7
"""How sure a stroke is that is one; a string that is stopped looks a little like one struck.

On rendered parts 99 % of the strokes are surer, and nearly all that nobody struck are less sure.
"""
FAINT_STRENGTH = 0.6
"""How sure a stroke is at least that is not faint."""
PITCH_BELIEVED = 0.45
"""How periodic a note sounds, from 0 to 1, whose pitch is believed (found on rendered parts)."""
LOUD_VELOCITY = 100
SAME_PITCH = 0.6


class HeardStroke(Struct, frozen=True, kw_only=True):
    """Something that was struck, by ear.

    ``sec`` is where in the recording, ``end_sec`` where it stops (None where that is not heard),
    ``pitch`` a MIDI number with its fraction, or None; ``pitch_confidence`` and ``strength`` lie
    between 0 and 1; ``level_db`` is relative to anything.  ``is_soft`` says that it is much softer
    than its neighbours, as a ghost is; ``is_unsure`` that it may have been no stroke.
    """

    sec: float
    end_sec: float | None
    pitch: float | None
    pitch_confidence: float
    strength: float
    level_db: float
    is_soft: bool = False
    is_unsure: bool = False

    @property
    def is_pitched(self) -> bool:
        """Whether a pitch was heard that can be believed."""
        return self.pitch is not None and self.pitch_confidence >= PITCH_BELIEVED


def told_apart(strokes: Sequence[HeardStroke]) -> tuple[HeardStroke, ...]:
    """Return strokes in tune with a piano, those marked unsure that look like a string stopped."""
    away = _out_of_tune(strokes)
    found: list[HeardStroke] = []
    for stroke in strokes:
        pitch = None if stroke.pitch is None else stroke.pitch - away
        before = found[-1] if found else None
        rings_on = before is not None and _is_same(before.pitch, pitch)
        is_unsure = stroke.strength < SURE_STRENGTH and (stroke.is_soft and rings_on)
        found.append(replace(stroke, pitch=pitch, is_unsure=is_unsure))
    return tuple(found)


def _is_same(before: float | None, pitch: float | None) -> bool:
    return before is not None and pitch is not None and abs(before - pitch) < SAME_PITCH


def _out_of_tune(strokes: Sequence[HeardStroke]) -> float:
    """Return by how much of a half tone the whole recording is sharp, from -0.5 to 0.5."""
    from math import atan2

    turns = [
        (stroke.pitch_confidence, 2 * pi * stroke.pitch)
        for stroke in strokes
        if stroke.pitch is not None and stroke.is_pitched
    ]
    east = sum(weight * cos(turn) for weight, turn in turns)
    north = sum(weight * sin(turn) for weight, turn in turns)
    return atan2(north, east) / (2 * pi)


def velocities(strokes: Sequence[HeardStroke]) -> list[int]:
    """Return how hard each was struck, 1 to 127, where the loud ones are 100.

    A synthesizer's level goes with the square of the velocity: 40 dB a decade (SoundFont 2.04,
    8.4.1, from memory).
    """
    levels = sorted(stroke.level_db for stroke in strokes)
    loud = median(levels[len(levels) // 2 :]) if levels else 0.0
    return [
        max(1, min(127, round(LOUD_VELOCITY * 10 ** ((stroke.level_db - loud) / 40))))
        for stroke in strokes
    ]
