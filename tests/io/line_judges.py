"""What a bass line sounds like: ours from the bars played, another's as music21 reads it."""

from fractions import Fraction
from typing import Any

from music21.harmony import Harmony

from groove.chart.form import unroll
from groove.chart.model import Song, TabLine

Sound = tuple[Any, int, Any]
"""Onset and length in quarters, exact, with the MIDI pitch between them."""


def sounds(song: Song) -> list[Sound]:
    """Return the notes of a song's written bars in the order played, ties as one note.

    Time counts from the first full bar; ghosts have no pitch and are left out.
    """
    bars = [bar for bar in unroll(song) if not bar.is_pickup]
    found: list[Sound] = []
    for bar in bars:
        start = bar.start_quarters - bars[0].start_quarters
        for note in bar.line.notes if isinstance(bar.line, TabLine) else ():
            if note.pitch is None:
                continue
            at = start + note.start_quarters
            held = [i for i, (o, p, n) in enumerate(found) if p == note.pitch and o + n == at]
            if note.is_tied and held:
                onset, pitch, length = found[held[-1]]
                found[held[-1]] = (onset, pitch, length + note.length_quarters)
            else:
                found.append((at, note.pitch, note.length_quarters))
    return sorted(found)


def music21_sounds(part: Any, pickup: Fraction) -> list[Sound]:
    """Return the same of a part of music21, repeats played; ``pickup`` is what goes before."""
    played = part.expandRepeats().toSoundingPitch().stripTies()
    found = []
    for note in played.flatten().notes:
        if note.duration.isGrace or isinstance(note, Harmony):
            continue
        onset = exact(note.offset) - pickup
        found += [(onset, pitch.midi, exact(note.quarterLength)) for pitch in note.pitches]
    return sorted(each for each in found if each[0] >= 0)


def exact(quarters: Any) -> Fraction:
    """Return a time of music21, which counts in floats where they are exact."""
    return Fraction(quarters).limit_denominator(1000)
