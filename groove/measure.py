"""How a feel comes out when it is played: the figures by which it is judged.

The bass's ghosts are counted against all its strokes; kick and bass agree where both strike the
same place of the grid.  What the figures should be is common practice, no source.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from groove.cells.model import Feel, Library
from groove.events import Note, Part, Performance, Touch
from groove.neck.instrument import STANDARD
from groove.pipeline import PerformOptions, perform_chart
from groove.theory.general_midi import DRUM_KEYS
from groove.timing import Meter

MEASURED_BARS = 8
LARGEST_LEAP = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class FeelFigures:
    """What eight bars over two chords a fourth apart give.

    Shares are 0 to 1; ``kick_agreement`` is None without a kick; ``sounding_share`` is the part of
    the time in which the bass sounds; ``_highest_fret`` is on a four-string, each note on the
    string where it lies lowest within reach of the first twelve frets.
    """

    feel: str
    tempo_bpm: int
    kick_agreement: float | None
    sounding_share: float
    ghost_share: float
    wide_leaps: int
    highest_fret: int


def _measure_chart(meter: Meter, tempo_bpm: int) -> str:
    """Return the chart that every feel is measured on; the ninth bar ends it."""
    bars = "| A | A | D | D |\n| A | D | A | D |\n"
    head = f"title: Measure\ntempo: {tempo_bpm}\nmeter: {meter}\nkey: A\nfills: none\n"
    return f"{head}line:\n{bars}end:\n| A |\n"


def measured_tempos(feel: Feel) -> tuple[int, int, int]:
    """Return the low, middle and high tempo of a feel."""
    low, high = feel.tempo_beats
    return low, (low + high) // 2, high


def measured_performance(library: Library, feel: Feel, tempo_bpm: int) -> Performance:
    """Return the performance that a feel is measured on."""
    text = _measure_chart(feel.meter or Meter(4, 4), tempo_bpm)
    return perform_chart(text, library, PerformOptions(feel=feel.name))


def measure(library: Library, feel: Feel, tempo_bpm: int) -> FeelFigures:
    """Return the figures of a feel at one tempo."""
    performance = measured_performance(library, feel, tempo_bpm)
    end = performance.bars[MEASURED_BARS].start_tick
    notes = [note for note in performance.notes if note.grid_tick < end]
    bass = [note for note in notes if note.part is Part.BASS]
    kicks = {note.grid_tick for note in notes if _is_kick(note)}
    struck = {note.grid_tick for note in bass if note.touch is not Touch.GHOST}
    ghosts = sum(1 for note in bass if note.touch is Touch.GHOST)
    leaps = [abs(b.pitch - a.pitch) for a, b in pairwise(bass)]
    return FeelFigures(
        feel=feel.name,
        tempo_bpm=tempo_bpm,
        kick_agreement=len(kicks & struck) / len(kicks) if kicks else None,
        sounding_share=sum(note.length_ticks for note in bass) / end,
        ghost_share=ghosts / len(bass),
        wide_leaps=sum(1 for leap in leaps if leap > LARGEST_LEAP),
        highest_fret=_highest_fret(bass),
    )


def _is_kick(note: Note) -> bool:
    return note.part is Part.DRUMS and note.pitch == DRUM_KEYS["kick"]


def _highest_fret(notes: Sequence[Note]) -> int:
    """Return the highest fret that any of the notes needs."""
    return max(min(fret for _, fret in STANDARD.places(note.pitch, max_fret=24)) for note in notes)
