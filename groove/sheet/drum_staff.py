"""Where each drum stands on the staff, and with which head.

Lines and heads after N. Weinberg, *Guide to Standardized Drumset Notation* (Percussive Arts
Society, 1998): kick in the first space, snare in the third, cymbals as crosses on top, toms
between; hands stem up, feet stem down.  Drums outside the set take the places nearest to them
(common practice, no source).
"""

from dataclasses import dataclass

from groove.sheet.spelling import StaffPitch
from groove.theory.general_midi import DRUM_STROKES

HANDS, FEET = 1, 2


@dataclass(frozen=True, slots=True)
class DrumSign:
    """A place on the staff (as a note in the treble clef), a head, and the voice it belongs to."""

    pitch: StaffPitch
    notehead: str
    voice: int


def sign(place: str, notehead: str = "normal", voice: int = HANDS) -> DrumSign:
    """Return a sign at a place such as ``C5``."""
    return DrumSign(StaffPitch(place[0], 0, int(place[1])), notehead, voice)


SIGNS = {
    "low_kick": sign("E4", voice=FEET),
    "kick": sign("F4", voice=FEET),
    "pedal_hat": sign("D4", "x", FEET),
    "snare": sign("C5"),
    "electric_snare": sign("C5"),
    "rim": sign("C5", "x"),
    "clap": sign("C5", "diamond"),
    "hat": sign("G5", "x"),
    "open_hat": sign("G5", "circle-x"),
    "ride": sign("F5", "x"),
    "ride_2": sign("F5", "x"),
    "ride_bell": sign("F5", "diamond"),
    "crash": sign("A5", "x"),
    "crash_2": sign("B5", "x"),
    "splash": sign("B5", "x"),
    "china": sign("C6", "x"),
    "high_tom": sign("E5"),
    "high_mid_tom": sign("E5"),
    "mid_tom": sign("D5"),
    "low_tom": sign("B4"),
    "high_floor_tom": sign("A4"),
    "floor_tom": sign("A4"),
    "cowbell": sign("E5", "triangle"),
    "tambourine": sign("B5", "triangle"),
    "shaker": sign("B5", "diamond"),
    "maracas": sign("B5", "diamond"),
    "claves": sign("D5", "x"),
    "high_block": sign("E5", "triangle"),
    "low_block": sign("D5", "triangle"),
}
"""Signs by the drums' short names (``groove.theory.general_midi``)."""

OTHER = sign("D5", "triangle")


def drum_sign(key: int) -> DrumSign:
    """Return the sign of a General MIDI drum key."""
    return SIGNS.get(DRUM_STROKES.get(key, ""), OTHER)
