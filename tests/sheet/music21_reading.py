"""What music21 10.5.1 reads in our MusicXML, and what the performance says of the same notes."""

import re
from collections.abc import Callable
from fractions import Fraction
from functools import lru_cache
from typing import Any

import music21

from groove.events import Bar, Part, Performance, Touch
from groove.timing import STRAIGHT, SwingUnit


@lru_cache(maxsize=4)
def read(text: str) -> Any:
    """Return a file as music21 has it; nobody changes it, so the last few are kept."""
    return music21.converter.parseData(text, format="musicxml")


def read_notes(text: str) -> Any:
    """Return the same without the chord symbols, with which music21 takes twice as long.

    For those who ask for notes alone: what it reads of chords, ``test_musicxml_writing`` asks.
    """
    return read(re.sub(r"<harmony\b.*?</harmony>", "", text, flags=re.S))


def struck(stream: Any) -> list[tuple[int, int, str]]:
    """Return (tick, written pitch, notehead) of what is struck, as music21 has it."""
    return [
        (round(Fraction(n.offset) * 960), n.pitch.midi, n.notehead)
        for n in stream.flatten().notes
        if type(n) is music21.note.Note and (n.tie is None or n.tie.type == "start")
    ]


def swings_eighths(bar: Bar) -> bool:
    """Return whether eighths that are written alike are long and short in a bar."""
    is_swung = bar.swing is not None and bar.swing.unit is SwingUnit.EIGHTHS
    return bar.meter.unit == 4 and (bar.in_triplets or (is_swung and bar.swing != STRAIGHT))


def written_places(performance: Performance) -> Callable[[int], int]:
    """Return what tells where the bass is written by where it stands on the grid.

    A swung pair is written as two eighths: what is on the second or the third of a beat's triplets,
    320 and 640 ticks after it, stands on its half, unless something is struck on the second.
    """
    struck = {n.grid_tick for n in performance.part_notes(Part.BASS)}
    halves = {
        beat + place: beat + 480
        for bar in filter(swings_eighths, performance.bars)
        for beat in range(bar.start_tick, bar.end_tick, 960)
        for place in (320, 640)
        if beat + 320 not in struck
    }
    return lambda tick: halves.get(tick, tick)


def expected(performance: Performance) -> list[tuple[int, int, str]]:
    """Return the same of the performance, an octave up as a bass is written."""
    written = written_places(performance)
    return [
        (written(n.grid_tick), n.pitch + 12, "x" if n.touch is Touch.GHOST else "normal")
        for n in sorted(performance.part_notes(Part.BASS), key=lambda n: n.grid_tick)
    ]
