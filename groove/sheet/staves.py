"""The staves of a part, with their clefs and strings."""

from functools import lru_cache

from groove.events import Part
from groove.neck.instrument import Tuning
from groove.sheet.score import Staff
from groove.sheet.signs import Clef
from groove.sheet.spelling import StaffPitch, staff_pitch
from groove.theory.pitch import SpelledPitch


def part_staves(part: Part, tuning: Tuning | None) -> tuple[Staff, ...]:
    """Return the staves of a part; with a tuning the bass has its tab under it."""
    if part is Part.DRUMS:
        return (Staff(clef=Clef.PERCUSSION),)
    if part is Part.KEYS:
        return Staff(clef=Clef.TREBLE), Staff(clef=Clef.BASS)
    notation = Staff(clef=Clef.BASS, octaves_up=1)
    if tuning is None:
        return (notation,)
    strings = tuple(open_string(pitch) for pitch in tuning.open_pitches)
    return notation, Staff(clef=Clef.TAB, lines=len(strings), strings=strings)


@lru_cache(maxsize=128)
def open_string(pitch: int) -> StaffPitch:
    """Return an open string's note, named as players of flat tunings say it."""
    fifths = pitch * 7 % 12
    return staff_pitch(pitch, SpelledPitch(fifths - 12 if fifths > 5 else fifths))
