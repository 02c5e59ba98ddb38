"""What a dynamic or a section adds to the velocity of the whole band."""

from fractions import Fraction

from groove.bar_place import SectionKind
from groove.chart.form import PlayedBar
from groove.chart.model import Loudness
from groove.notices import Notice, NoticeKind

_LOUDNESS_VELOCITY = {
    Loudness.PP: -34,
    Loudness.P: -22,
    Loudness.MP: -10,
    Loudness.MF: 0,
    Loudness.F: 8,
    Loudness.FF: 16,
}
"""Velocity that a dynamic adds (common practice, no source)."""

_SECTION_VELOCITY = {
    SectionKind.INTRO: -6,
    SectionKind.VERSE: 0,
    SectionKind.PRE_CHORUS: 4,
    SectionKind.CHORUS: 8,
    SectionKind.BREAKDOWN: -18,
    SectionKind.OTHER: 0,
}
"""Velocity that a section's kind adds (common practice, no source)."""

_LAST_CHORUS_VELOCITY = 3


def level_offset(level: Fraction) -> int:
    """Return the velocity that a dynamic between pp (0) and ff (5) adds."""
    offsets = list(_LOUDNESS_VELOCITY.values())
    below = int(level)
    above = offsets[min(below + 1, len(offsets) - 1)]
    return round(offsets[below] + (above - offsets[below]) * (level - below))


class SectionLoudness:
    """What each section adds to the velocity, and the rule that says so."""

    def __init__(self) -> None:
        """Begin with nothing told."""
        self.changes: dict[str, str | int] = {}

    @property
    def notices(self) -> tuple[Notice, ...]:
        """What is told of it, at once: a player may wonder why the chorus is louder."""
        if not self.changes:
            return ()
        return (Notice(kind=NoticeKind.LOUDNESS, values=tuple(self.changes.items())),)

    def offset(self, bar: PlayedBar) -> int:
        """Return the velocity that a bar's section adds."""
        name = bar.ref.section
        if bar.level is not None:
            dynamics = bar.settings.dynamics
            if dynamics:
                self.changes[name] = str(dynamics)
            return level_offset(bar.level)
        place = bar.place
        offset = _SECTION_VELOCITY[place.kind]
        if offset:
            self.changes[name] = offset
        return offset + (_LAST_CHORUS_VELOCITY if place.is_last_chorus else 0)
