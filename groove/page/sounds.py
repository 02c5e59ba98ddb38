"""Which sounds a song needs: each pitch of each part once, in two layers of loudness.

The page plays every note from one of these, at another gain where the note is softer.  Velocity
becomes amplitude by its square: *SoundFont Technical Specification 2.04* (E-mu/Creative, 2006),
section 8.4.1, has a concave curve of 96 dB, which is 40 log10(127 / velocity) dB.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from groove.arrange.levels import level_velocity
from groove.bar_place import BarRef
from groove.cut import CLICK_KEYS, COUNT_IN_LEVELS, count_in_sound
from groove.events import KIT_PARTS, Note, Origin, Part, Performance, Role, note_order
from groove.timing import TICKS_PER_QUARTER, TempoChange, TempoMap

LOUD_FROM = 72
"""The velocity at which the loud layer begins (common practice, no source)."""
SLOWEST_SHARE = 0.4
"""The slowest that the page plays: a sample must last as long as its longest note does then."""
_MOVED_SPEED = 2 ** (2 / 12)
"""A sample that stands in for a pitch two semitones higher is over as much sooner; the neighbour of
a note that a song has is seldom farther."""
_LONGEST_SEC = {Part.BASS: 30.0, Part.DRUMS: 1.8, Part.KEYS: 30.0, Part.CLICK: 0.3}
"""What a sample lasts at most, and a kit's always: its strokes ring as they will."""
GAP_SEC = 0.7
"""Silence before the next sound of the same part, for the one before to die away."""


@dataclass(frozen=True, slots=True, kw_only=True, order=True)
class Sound:
    """One sound to render: a pitch of a part at a velocity, for a length in seconds."""

    part: Part
    pitch: int
    velocity: int
    length_sec: float


def _is_loud(velocity: int) -> bool:
    """Return whether a velocity is of the loud layer."""
    return velocity >= LOUD_FROM


def needed_sounds(performance: Performance) -> tuple[Sound, ...]:
    """Return the sounds of a performance, and those of count-in and click, in order."""
    loudest: dict[tuple[Part, int, bool], int] = {}
    longest: dict[tuple[Part, int, bool], float] = {}
    for note in performance.notes:
        key = (note.part, note.pitch, _is_loud(note.velocity))
        loudest[key] = max(loudest.get(key, 0), note.velocity)
        longest[key] = max(longest.get(key, 0.0), _sounding_sec(note, performance.tempo_map))
    found = [
        Sound(
            part=part,
            pitch=pitch,
            velocity=loudest[part, pitch, loud],
            length_sec=_sample_sec(part, longest[part, pitch, loud]),
        )
        for part, pitch, loud in loudest
        if part is not Part.CLICK
    ]
    return tuple(sorted([*found, *_click_sounds(performance)]))


def _click_sounds(performance: Performance) -> Iterator[Sound]:
    """Yield what is struck to count in, a bass apart, and the blocks of the click."""
    loud = level_velocity(COUNT_IN_LEVELS[0])
    part, struck = count_in_sound(performance)
    for pitch in sorted({*([struck] if part is Part.CLICK else []), *CLICK_KEYS}):
        yield Sound(
            part=Part.CLICK, pitch=pitch, velocity=loud, length_sec=_LONGEST_SEC[Part.CLICK]
        )


def _sounding_sec(note: Note, tempo_map: TempoMap) -> float:
    return tempo_map.tick_to_sec(note.end_tick) - tempo_map.tick_to_sec(note.onset_tick)


def _sample_sec(part: Part, longest_sec: float) -> float:
    """Return how long a sample must last for notes of up to a length."""
    most = _LONGEST_SEC[part]
    return most if part in KIT_PARTS else min(most, longest_sec * _MOVED_SPEED / SLOWEST_SHARE)


def sounds_in_a_row(sounds: Sequence[Sound], performance: Performance) -> Performance:
    """Return a performance that plays the sounds of every part one after another.

    One quarter lasts one second, so that ticks are 1/960 s.
    """
    ref = BarRef(section="sounds", written_bar=1, played_bar=1)
    ends: dict[Part, int] = {}
    notes = []
    for sound in sounds:
        start = ends.get(sound.part, TICKS_PER_QUARTER // 10)
        length = round(sound.length_sec * TICKS_PER_QUARTER)
        ends[sound.part] = start + length + round(GAP_SEC * TICKS_PER_QUARTER)
        origin = Origin(bar=ref, cell="", role=Role.STROKE)
        notes.append(
            Note(
                part=sound.part,
                grid_tick=start,
                length_ticks=length,
                pitch=sound.pitch,
                velocity=sound.velocity,
                origin=origin,
            )
        )
    return Performance(
        title=performance.title,
        notes=tuple(sorted(notes, key=note_order)),
        bars=(),
        tempo_map=TempoMap((TempoChange(0, 1_000_000),)),
        markers=(),
        programs=performance.programs,
        end_tick=max(ends.values()),
    )
