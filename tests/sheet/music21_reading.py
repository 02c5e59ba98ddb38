"""What music21 10.5.1 reads in our MusicXML, and what the performance says of the same notes."""

from fractions import Fraction
from functools import lru_cache
from typing import Any

import music21

from groove.events import Part, Performance, Touch


@lru_cache(maxsize=4)
def read(text: str) -> Any:
    """Return a file as music21 has it; nobody changes it, so the last few are kept."""
    return music21.converter.parseData(text, format="musicxml")


def struck(stream: Any) -> list[tuple[int, int, str]]:
    """Return (tick, written pitch, notehead) of what is struck, as music21 has it."""
    return [
        (round(Fraction(n.offset) * 960), n.pitch.midi, n.notehead)
        for n in stream.flatten().notes
        if type(n) is music21.note.Note and (n.tie is None or n.tie.type == "start")
    ]


def expected(performance: Performance) -> list[tuple[int, int, str]]:
    """Return the same of the performance, an octave up as a bass is written."""
    return [
        (n.grid_tick, n.pitch + 12, "x" if n.touch is Touch.GHOST else "normal")
        for n in sorted(performance.part_notes(Part.BASS), key=lambda n: n.grid_tick)
    ]
