"""Levels of the cells as MIDI velocities: one table for all parts."""

LEVEL_VELOCITIES = (22, 34, 46, 58, 68, 78, 88, 98, 108)
"""Velocity of levels 1 to 9 (common practice, no source)."""


def level_velocity(level: int) -> int:
    """Return the velocity of a level from 1 to 9."""
    return LEVEL_VELOCITIES[level - 1]
