"""Whether a whole take sounds in another tuning than its part: strings tuned down, another pitch.

Found before anything is aligned, by the pitches alone: how often each is heard, against how often
each is due.
"""

from collections.abc import Sequence

from msgspec.structs import replace

from groove.take.heard import HeardNote
from groove.take.reference import ExpectedNote

FARTHEST_SEMITONES = 7
SURE_PITCH = 0.6
"""How sure a pitch must be for a note to be called another one."""
FEWEST_NOTES = 16
"""As many notes, weighed by how sure their pitches are."""
CLEARLY = 1.5
"""How many times better another tuning must fit than the part's own."""
_STEPS = 2  # half a half tone
_RANGE = (10, 90)


def tuning_semitones(expected: Sequence[ExpectedNote], heard: Sequence[HeardNote]) -> float:
    """Return how much higher a take sounds than its part, 0 for in tune or too few pitches.

    Fractions count, as of a string that is nowhere near its pitch; up to seven semitones.
    """
    import numpy

    due = numpy.array([note.pitches[0] for note in expected if note.pitches and not note.is_ghost])
    known = [note for note in heard if note.pitch is not None]
    found = numpy.array([note.pitch for note in known], float)
    sure = numpy.array([note.pitch_confidence for note in known])
    if sure.sum() < FEWEST_NOTES or len(due) < FEWEST_NOTES:
        return 0.0
    count = (_RANGE[1] - _RANGE[0]) * _STEPS
    wanted, _ = numpy.histogram(due, count, _RANGE)
    sounded, _ = numpy.histogram(found, count, _RANGE, weights=sure)
    near = numpy.convolve(sounded, (0.5, 1.0, 0.5), "same")
    shifts = range(-FARTHEST_SEMITONES * _STEPS, FARTHEST_SEMITONES * _STEPS + 1)
    fits = {shift: float((wanted * numpy.roll(near, -shift)).sum()) for shift in shifts}
    best = max(fits, key=lambda shift: (fits[shift], -abs(shift)))
    if abs(best) < _STEPS or fits[best] <= CLEARLY * fits[0]:
        return 0.0
    shift = best / _STEPS
    pitches = numpy.unique(due)
    away = (found - shift)[:, None] - pitches[None, :]
    nearest = away[numpy.arange(len(found)), numpy.abs(away).argmin(axis=1)]
    return shift + float(numpy.median(nearest[numpy.abs(nearest) < 1]))


def in_tune(heard: Sequence[HeardNote], semitones: float) -> tuple[HeardNote, ...]:
    """Return notes as they would sound in the part's tuning."""
    return tuple(
        replace(note, pitch=note.pitch - semitones) if note.pitch and semitones else note
        for note in heard
    )
