"""How loud and where in the stereo picture each part stands: the one table for MIDI and audio.

Common practice, no source: bass, kit and click in the middle, keys under the bass and a little to
the left, so that the low end stays mono and the bass is heard first.
"""

from types import MappingProxyType

from msgspec import Struct

from groove.events import Part


class PartMix(Struct, frozen=True, kw_only=True):
    """One fader: ``level`` is MIDI controller 7, ``pan`` controller 10 (0 left, 64 middle)."""

    level: int
    pan: int


PART_MIX = MappingProxyType(
    {
        Part.BASS: PartMix(level=104, pan=64),
        Part.DRUMS: PartMix(level=100, pan=64),
        Part.KEYS: PartMix(level=92, pan=52),
        Part.CLICK: PartMix(level=96, pan=64),
    }
)
