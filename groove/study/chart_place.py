"""Where in a chart a recorded line lies: the shift by which its notes serve the chords best."""

from collections.abc import Sequence
from fractions import Fraction
from math import exp
from typing import TYPE_CHECKING

from msgspec import Struct

from groove.study.first_bar import PlacedStrokes
from groove.study.studied_line import BarFrame, SoundedNote
from groove.theory.chords import Chord

if TYPE_CHECKING:
    from groove.arrays import Doubles

_AT_ONSET, _ROOT, _FIFTH, _THIRD, _INSIDE, _OUTSIDE = 0.5, 1.0, 0.4, 0.3, 0.2, -0.5
"""What a note speaks for a chord: its root, and more where the chord begins; its fifth, third,
another of its notes; one in none of the chord (common practice, no source)."""
_BEYOND = -0.3
"""What a note before or behind the chart speaks: a whole song lies on its whole chart."""
_HIGHEST_KEY = 4
"""How far over the chart's pitch a recording is looked for, in half tones, and from there an octave
down: strings are tuned down more often than up."""
_AT_START = 0.05
"""What speaks for a recording that begins where the chart does, within a beat (common practice)."""
_CLEARLY = 1.5
"""How many times better another pitch must fit than the chart's own."""
_LONGEST_BEATS = 4
_SLOT = Fraction(1, 4)  # of a quarter, for notes that have their bars
_SURE = 12.0


class ChartPlace(Struct, frozen=True, kw_only=True):
    """The slot of the strokes on which the chart begins, and how far above it they sound.

    ``fit`` is what a note speaks for its chord in the mean, at most 1.5, ``confidence`` (0 to 1)
    how sure the place is against any other.
    """

    slot: int
    semitones: int
    fit: float
    confidence: float


def find_chart_place(
    strokes: PlacedStrokes, frames: Sequence[BarFrame], beat_quarters: Fraction
) -> ChartPlace:
    """Return where a chart lies under strokes; ``beat_quarters`` is how long their beat is."""
    import numpy

    table = _table(frames, beat_quarters / strokes.slots_per_beat)
    first = int(strokes.slots[0])
    weights = _weights(strokes)
    total = weights.sum()
    if not total:
        return ChartPlace(slot=first, semitones=0, fit=0.0, confidence=0.0)
    scores = _scores(table - _BEYOND, weights) / total + _BEYOND
    bests = scores.max(axis=1)
    key = int(bests.argmax())
    if bests[key] <= _CLEARLY * max(0.1, bests[0]):
        key = 0
    # Of equal places the first: a repeated verse is taken for the first one.
    own = scores[key]
    begin = len(table) - 1
    own[begin - strokes.slots_per_beat : begin + strokes.slots_per_beat + 1] += _AT_START
    best = int(numpy.flatnonzero(own >= own.max() - 1e-9)[-1])
    others = own.copy()
    others[max(0, best - strokes.slots_per_beat + 1) : best + strokes.slots_per_beat] = -numpy.inf
    lead = float(own[best] - others.max(initial=-1.0))
    fit = float(own[best])
    sure = (1 - exp(-_SURE * max(0.0, lead))) * min(1.0, max(0.0, fit) / 0.5)
    semitones = key if key <= _HIGHEST_KEY else key - 12
    return ChartPlace(
        slot=first + best - begin,
        semitones=semitones,
        fit=round(fit, 2),
        confidence=round(sure, 2),
    )


def chart_fits(
    notes: Sequence[SoundedNote], frames: Sequence[BarFrame], shifts: Sequence[Fraction]
) -> list[float]:
    """Return for each shift in quarters what a note of a line speaks for its chord in the mean.

    A note counts as ``find_chart_place`` counts a stroke.
    """
    table = _table(frames, _SLOT)
    found = []
    for shift in shifts:
        spoken = heard = 0.0
        for note in notes:
            begin = round((note.start_quarters + shift) / _SLOT)
            end = max(begin + 1, round((note.end_quarters + shift) / _SLOT))
            for slot in range(begin, min(end, begin + int(_LONGEST_BEATS / _SLOT))):
                weight = float(_SLOT) + (slot == begin)
                is_inside = 0 <= slot < len(table)
                spoken += weight * (table[slot, note.pitch % 12] if is_inside else _BEYOND)
                heard += weight
        found.append(spoken / heard)
    return found


def _weights(strokes: PlacedStrokes) -> "Doubles":
    """Return how much each pitch class is heard in each slot from the first stroke on.

    A note counts where it is struck, and as much again for each beat that it lasts: the root that
    comes early sounds into its chord.
    """
    import numpy

    first, last = int(strokes.slots[0]), int(strokes.slots[-1])
    weights = numpy.zeros((last - first + 1, 12))
    a_beat = strokes.slots_per_beat
    rows = zip(
        (strokes.slots - first).tolist(),
        strokes.pitch_classes.tolist(),
        strokes.lengths.tolist(),
        strokes.is_plain.tolist(),
        strict=True,
    )
    for slot, pitch_class, length, is_plain in rows:
        if pitch_class >= 0 and is_plain:
            weights[slot, pitch_class] += 1
            weights[slot : slot + min(length, _LONGEST_BEATS * a_beat), pitch_class] += 1 / a_beat
    return weights


def _scores(table: "Doubles", weights: "Doubles") -> "Doubles":
    """Return for each transposition and shift what the strokes speak for the chords, by FFT."""
    import numpy

    count = len(table) + len(weights) - 1
    size = 1 << count.bit_length()
    chords = numpy.fft.rfft(table[::-1], size, axis=0)
    heard = numpy.fft.rfft(weights, size, axis=0)
    found = [
        numpy.fft.irfft((chords * numpy.roll(heard, -key, axis=1)).sum(axis=1), size)[:count]
        for key in range(12)
    ]
    return numpy.array(found)


def _table(frames: Sequence[BarFrame], slot: Fraction) -> "Doubles":
    """Return for each slot of a chart what each pitch class speaks for it."""
    import numpy

    end = frames[-1].end_quarters
    found = numpy.zeros((max(1, int(end / slot)), 12))
    before: Chord | None = None
    for frame in frames:
        bar_end = frame.end_quarters
        starts = [frame.start_quarters + each.start_quarters for each in frame.chords]
        for each, start, stop in zip(frame.chords, starts, [*starts[1:], bar_end], strict=True):
            if each.chord is None:
                continue
            rows = slice(-int(-start // slot), -int(-stop // slot))
            found[rows] = _spoken(each.chord)
            if each.chord != before and rows.start < len(found):
                found[rows.start, each.chord.bass_note.pitch_class] += _AT_ONSET
            before = each.chord
    return found


def _spoken(chord: Chord) -> list[float]:
    """Return what each pitch class speaks for a chord."""
    found = [_OUTSIDE] * 12
    for degree in chord.degrees:
        worth = {5: _FIFTH, 3: _THIRD}.get(degree.number, _INSIDE)
        found[(chord.root.pitch_class + degree.semitones) % 12] = worth
    found[chord.root.pitch_class] = _ROOT
    found[chord.bass_note.pitch_class] = _ROOT
    return found
