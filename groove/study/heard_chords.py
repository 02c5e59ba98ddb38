"""Which chords other parts play, beat by beat: by what sounds and by the bass below."""

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from math import exp
from typing import TYPE_CHECKING

from msgspec import Struct

from groove.theory.chords import Chord, Degree, build_chord
from groove.theory.pitch import SpelledPitch, semitones_to_fifths

if TYPE_CHECKING:
    from groove.arrays import Doubles, Places

CHORD_SUFFIXES = (
    *(
        "",
        "m",
        "7",
        "maj7",
        "m7",
        "m7b5",
        "dim7",
        "dim",
        "sus4",
        "7sus4",
        "6",
        "m6",
        "+",
        "mM7",
        "9",
        "m9",
        "maj9",
        "6/9",
        "7b9",
    ),
)
"""The chords that are told apart, the plainest first; which other notes they have is not told."""
OUTSIDE = 1.2
"""What a note outside a chord costs, a note inside being worth 1 (common practice, no source)."""
ABSENT = {1: 0.3, 5: 0.25}
ABSENT_ELSE = 0.6
"""What a degree of the chord costs that nobody plays; players leave out the fifth first."""
ABSENT_MARK = 0.6
"""What it costs where it is a fifth that tells the chord from another.

An altered one is a chord's mark; without its fifth a sixth chord is the triad on its sixth.
"""
RARE = {
    **{"m7b5": 0.25, "dim7": 0.5, "dim": 1.6, "+": 0.5, "mM7": 0.5},
    **{"m6": 0.5, "6": 0.25, "sus4": 0.25, "7sus4": 0.25, "9": 0.25, "m9": 0.25, "maj9": 0.5},
    **{"6/9": 0.4, "7b9": 0.4},
}
"""What a chord costs that songs have less of than triads and sevenths (common practice, no source).

It costs twice as much where the bass nowhere has its root in the bar: C♯m7♭5 over G is then A7/G.
"""
BASS_ROOT = 0.3
"""What the bass on the root is worth, for it plays the root first (common practice, no source)."""
BASS_AT_BAR, BASS_IN_BAR = 1.0, 0.8
"""What more the bass's having the root is worth on a bar line, and where a chord begins in it."""
LATE = 0.3
"""How far into a beat, as a share of it, a note may begin that is counted as on it.

One from before counts where it lasts as long into the beat: a string rings on into the next stroke.
"""
STRUCK = 3
"""A note that sounds for a third of a beat counts as much as one that is held through it."""
BASS_NOTE = 0.15
"""What a note of the bass counts beside one of a chord: it passes and approaches."""
CHANGE_IN_BAR, CHANGE_AT_BAR = 1.5, 0.2
"""What it costs to change the chord within a bar, and on a bar line."""
LEAST_HEARD = 0.05
BASS_ALONE_CONFIDENCE = 0.4
"""How sure a chord can be at most that the bass alone tells."""


class PartNote(Struct, frozen=True, kw_only=True):
    """A note of any part but drums, in quarters from the first bar; ``is_bass`` for the bass."""

    start_quarters: Fraction
    end_quarters: Fraction
    pitch: int
    is_bass: bool


class Beat(Struct, frozen=True, kw_only=True):
    """A beat in which chords are looked for, in quarters; ``is_bar`` where a bar begins."""

    start_quarters: Fraction
    length_quarters: Fraction
    is_bar: bool


class FoundChord(Struct, frozen=True, kw_only=True):
    """A chord that was heard from one beat on; ``confidence`` from 0 to 1."""

    start_quarters: Fraction
    chord: Chord | None
    confidence: float


def chords_within(
    chords: Sequence[FoundChord], start: Fraction, end: Fraction
) -> Iterator[tuple[Fraction, FoundChord]]:
    """Yield the chords of a bar and how many quarters into it; the first goes on from before."""
    first = bisect_right(chords, start, key=_start)
    if first:
        yield Fraction(0), chords[first - 1]
    for chord in chords[first : bisect_left(chords, end, key=_start)]:
        yield chord.start_quarters - start, chord


def _start(chord: FoundChord) -> Fraction:
    return chord.start_quarters


class _Template(Struct, frozen=True):
    """A root, a suffix, and what each of their pitch classes costs where nobody plays it."""

    root: int
    suffix: str
    inside: Mapping[int, float]


def _absent(chord: Chord, degree: Degree) -> float:
    """Return what a degree of a chord costs that nobody plays."""
    has_sixth = any(other.number == 6 for other in chord.degrees)
    if degree.number == 5 and (degree.alter or has_sixth):
        return ABSENT_MARK
    return ABSENT.get(degree.number, ABSENT_ELSE)


def _templates() -> tuple[_Template, ...]:
    found = []
    for suffix in CHORD_SUFFIXES:
        chord = build_chord(SpelledPitch(0), suffix, None)
        costs = [(degree.semitones, _absent(chord, degree)) for degree in chord.degrees]
        for root in range(12):
            inside = {(root + semitones) % 12: cost for semitones, cost in costs}
            found.append(_Template(root, suffix, inside))
    return tuple(found)


_TEMPLATES = _templates()


def found_chords(notes: Sequence[PartNote], beats: Sequence[Beat]) -> tuple[FoundChord, ...]:
    """Return the chords that parts play, each from the beat on which it begins.

    A beat in which nothing sounds goes on with the chord before it.
    """
    heard = _heard(notes, beats)
    worths, begun = _worths(heard, beats)
    path = _path(worths, begun, beats)
    return tuple(_chords(path, worths, heard, beats))


class _BeatShares(Struct, frozen=True, kw_only=True):
    """How long each pitch class sounds in each beat, as a share of it, from 0 to 1.

    ``every`` is of all parts but the bass, ``bass`` of that; ``lead`` has 1 for what the bass has
    on the beat, held or struck a little late.
    """

    every: "Doubles"
    bass: "Doubles"
    lead: "Doubles"


def _heard(notes: Sequence[PartNote], beats: Sequence[Beat]) -> _BeatShares:
    import numpy

    every, bass, lead = (numpy.zeros((len(beats), 12)) for _ in range(3))
    starts = [float(beat.start_quarters) for beat in beats]
    lengths = [float(beat.length_quarters) for beat in beats]
    ends = [start + length for start, length in zip(starts, lengths, strict=True)]
    for note in sorted(notes, key=lambda note: note.start_quarters):
        begin, end = float(note.start_quarters), float(note.end_quarters)
        pitch_class = note.pitch % 12
        rows = every if not note.is_bass else bass
        first = max(0, bisect_right(starts, begin) - 1)
        for row in range(first, min(bisect_left(starts, end), len(beats))):
            inside = min(end, ends[row]) - max(begin, starts[row])
            if inside > 0:
                rows[row, pitch_class] += inside / lengths[row]
            late = (begin - starts[row]) / lengths[row]
            is_held = late >= 0 or inside >= LATE * lengths[row]
            if note.is_bass and late < LATE and is_held and not lead[row].any():
                lead[row, pitch_class] = 1
    return _BeatShares(every=every.clip(max=1), bass=bass.clip(max=1), lead=lead)


def _in_bars(shares: "Doubles", beats: Sequence[Beat]) -> "Doubles":
    """Return for each beat which pitch classes sound anywhere in its bar, as 1 and 0."""
    import numpy

    heads = [index for index, beat in enumerate(beats) if beat.is_bar or index == 0]
    sounding = numpy.maximum.reduceat(shares, heads, axis=0) >= LEAST_HEARD
    return numpy.repeat(sounding, numpy.diff([*heads, len(beats)]), axis=0).astype(float)


def _worths(heard: _BeatShares, beats: Sequence[Beat]) -> "tuple[Doubles, Doubles]":
    """Return what each chord is worth in each beat, and what more where it begins there.

    Nothing is worth anything in a beat of silence.  A root that is struck once in a bar serves all
    of it.
    """
    import numpy

    tones, costs, roots, rare = _tables()
    low = heard.bass.sum(axis=1)
    is_silent = heard.every.sum(axis=1) + low < LEAST_HEARD
    is_bass_alone = heard.every.sum(axis=1) < LEAST_HEARD
    weights = numpy.maximum((STRUCK * heard.every).clip(max=1), BASS_NOTE * heard.bass)
    inside = weights @ tones.T
    outside = weights.sum(axis=1)[:, None] - inside
    shares = heard.bass / numpy.where(low > 0, low, 1)[:, None]
    worths = inside - OUTSIDE * outside + BASS_ROOT * shares[:, roots]
    in_bar, bass_in_bar = _in_bars(heard.every + heard.bass, beats), _in_bars(heard.bass, beats)
    absent = (1 - in_bar) @ costs.T + rare * (2 - bass_in_bar[:, roots])
    worths -= numpy.where(is_bass_alone[:, None], 0, absent)
    heads = numpy.array([beat.is_bar for beat in beats])[:, None]
    lead = heard.lead[:, roots]
    worths += BASS_AT_BAR * numpy.where(heads, lead, 0)
    begun = BASS_IN_BAR * numpy.where(heads, 0, lead)
    worths[is_silent], begun[is_silent] = 0, 0
    return worths, begun


def _tables() -> "tuple[Doubles, Doubles, Places, Doubles]":
    """Return of each chord its notes as 1, what each costs that is absent, its root, its rarity."""
    import numpy

    tones, costs = numpy.zeros((len(_TEMPLATES), 12)), numpy.zeros((len(_TEMPLATES), 12))
    for row, template in enumerate(_TEMPLATES):
        for pitch_class, cost in template.inside.items():
            tones[row, pitch_class], costs[row, pitch_class] = 1, cost
    roots = numpy.array([template.root for template in _TEMPLATES])
    rare = numpy.array([RARE.get(template.suffix, 0.0) for template in _TEMPLATES])
    return tones, costs, roots, rare


def _path(worths: "Doubles", begun: "Doubles", beats: Sequence[Beat]) -> list[int]:
    """Return the chord of each beat, where together they are worth most and change least."""
    import numpy

    totals = numpy.zeros(len(_TEMPLATES))
    came = numpy.zeros(worths.shape, int)
    states = numpy.arange(len(_TEMPLATES))
    for row, beat in enumerate(beats):
        cost = 0.0 if row == 0 else CHANGE_AT_BAR if beat.is_bar else CHANGE_IN_BAR
        best = int(totals.argmax())
        changed = totals[best] - cost + begun[row]
        is_held = totals >= changed
        came[row] = numpy.where(is_held, states, best)
        totals = numpy.where(is_held, totals, changed) + worths[row]
    state = int(totals.argmax())
    path: list[int] = []
    for row in range(len(beats) - 1, -1, -1):
        path.append(state)
        state = int(came[row, state])
    return path[::-1]


def _chords(
    path: Sequence[int],
    worths: "Doubles",
    heard: _BeatShares,
    beats: Sequence[Beat],
) -> Iterator[FoundChord]:
    """Yield the chords of a path, each once."""
    is_heard = (heard.every.sum(axis=1) + heard.bass.sum(axis=1)) >= LEAST_HEARD
    starts = [i for i, state in enumerate(path) if i == 0 or state != path[i - 1]]
    for start, end in zip(starts, [*starts[1:], len(path)], strict=True):
        template = _TEMPLATES[path[start]]
        sounds = [index for index in range(start, end) if is_heard[index]]
        slash = _bass(template, heard.bass[start:end])
        chord = build_chord(_spelled(template.root), template.suffix, slash)
        yield FoundChord(
            start_quarters=beats[start].start_quarters,
            chord=chord if sounds else None,
            confidence=_confidence(path[start], worths, heard, sounds),
        )


def _bass(template: _Template, bass: "Doubles") -> SpelledPitch | None:
    """Return the slash note: what the bass plays for most of a chord, where it is not the root."""
    low = bass.sum(axis=0)
    most = int(low.argmax())
    is_led = bass[0, most] == bass[0].max() and low[most] > low.sum() / 2
    is_slash = is_led and low[template.root] < LEAST_HEARD
    return _spelled(most) if is_slash and low[most] >= LEAST_HEARD else None


def _confidence(state: int, worths: "Doubles", heard: _BeatShares, sounds: Sequence[int]) -> float:
    """Return how sure a chord is, by how much more it is worth than the next of another root."""
    if not sounds:
        return 0.0
    totals = worths[sounds].sum(axis=0)
    others = [
        total
        for total, template in zip(totals.tolist(), _TEMPLATES, strict=True)
        if template.root != _TEMPLATES[state].root
    ]
    sure = 1 - exp(-2 * max(0.0, float(totals[state]) - max(others)) / len(sounds))
    is_bass_alone = bool((heard.every[sounds].sum(axis=1) < LEAST_HEARD).all())
    return round(min(sure, BASS_ALONE_CONFIDENCE) if is_bass_alone else sure, 2)


def _spelled(pitch_class: int) -> SpelledPitch:
    """Return a pitch class by its usual name, five flats to six sharps at most."""
    return SpelledPitch(semitones_to_fifths(pitch_class))
