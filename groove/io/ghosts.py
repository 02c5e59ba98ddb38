"""How loud ghosts are beside their neighbours, measured on the rendered bass."""

import math
from typing import TYPE_CHECKING

from groove.events import Note, Performance, Touch

if TYPE_CHECKING:
    from groove.arrays import Samples

WINDOW_SEC = 0.06


def ghost_levels_db(bass: Performance, stem: "Samples", sample_rate: int) -> tuple[float, ...]:
    """Return how many dB each ghost lies under the mean level of the notes beside it.

    ``bass`` has the bass alone; ``stem`` is its sound, (frames, 2).  A level is the RMS of the
    first 60 ms of a note; what rings on from the note before is not taken off.
    """
    levels = [_level_db(bass, note, stem, sample_rate) for note in bass.notes]
    found = []
    for index, note in enumerate(bass.notes):
        near = [
            levels[i]
            for i in (index - 1, index + 1)
            if 0 <= i < len(levels) and bass.notes[i].touch is not Touch.GHOST
        ]
        if note.touch is Touch.GHOST and near:
            found.append(sum(near) / len(near) - levels[index])
    return tuple(found)


def _level_db(bass: Performance, note: Note, stem: "Samples", sample_rate: int) -> float:
    """Return the level of a note's first 60 ms in dB of full scale."""
    start = round(bass.tempo_map.tick_to_sec(note.onset_tick) * sample_rate)
    window = stem[start : start + round(WINDOW_SEC * sample_rate)]
    power = float((window.astype("float64") ** 2).mean())
    return 10 * math.log10(power) if power > 0 else -120.0
