"""Where each drum stands on the staff, and with which head.

Lines and heads after N. Weinberg, *Guide to Standardized Drumset Notation* (Percussive Arts
Society, 1998): kick in the first space, snare in the third, cymbals as crosses on top, toms
between; hands stem up, feet stem down.  Drums outside the set take the places nearest to them
(common practice, no source).
"""

from dataclasses import dataclass

from groove.sheet.signs import Articulation, Notehead
from groove.sheet.spelling import StaffPitch
from groove.theory.general_midi import DRUM_STROKES

HANDS, FEET = 1, 2


@dataclass(frozen=True, slots=True)
class DrumSign:
    """A place on the staff (as a note in the treble clef), head, voice, and what stands over it."""

    pitch: StaffPitch
    notehead: Notehead
    voice: int
    articulation: Articulation | None = None


def sign(
    place: str,
    notehead: Notehead = Notehead.NORMAL,
    voice: int = HANDS,
    articulation: Articulation | None = None,
) -> DrumSign:
    """Return a sign at a place such as ``C5``."""
    return DrumSign(StaffPitch(place[0], 0, int(place[1])), notehead, voice, articulation)


_SIGNS = {
    "low_kick": sign("E4", voice=FEET),
    "kick": sign("F4", voice=FEET),
    "pedal_hat": sign("D4", Notehead.X, FEET),
    "snare": sign("C5"),
    "electric_snare": sign("C5"),
    "side_stick": sign("C5", Notehead.X),
    "clap": sign("C5", Notehead.DIAMOND),
    "hat": sign("G5", Notehead.X),
    "open_hat": sign("G5", Notehead.X, articulation=Articulation.OPEN),
    "ride": sign("F5", Notehead.X),
    "ride_2": sign("F5", Notehead.X),
    "ride_bell": sign("F5", Notehead.DIAMOND),
    "crash": sign("A5", Notehead.X),
    "crash_2": sign("B5", Notehead.X),
    "splash": sign("B5", Notehead.X),
    "china": sign("C6", Notehead.X),
    "high_tom": sign("E5"),
    "high_mid_tom": sign("E5"),
    "mid_tom": sign("D5"),
    "low_tom": sign("B4"),
    "high_floor_tom": sign("A4"),
    "floor_tom": sign("A4"),
    "cowbell": sign("E5", Notehead.TRIANGLE),
    "tambourine": sign("B5", Notehead.TRIANGLE),
    "cabasa": sign("B5", Notehead.DIAMOND),
    "maracas": sign("B5", Notehead.DIAMOND),
    "claves": sign("D5", Notehead.X),
    "high_block": sign("E5", Notehead.TRIANGLE),
    "low_block": sign("D5", Notehead.TRIANGLE),
}
"""Signs by the drums' short names (``groove.theory.general_midi``)."""

OTHER = sign("D5", Notehead.TRIANGLE)


def drum_sign(key: int) -> DrumSign:
    """Return the sign of a General MIDI drum key."""
    return _SIGNS.get(DRUM_STROKES.get(key, ""), OTHER)
