"""Which chords other parts play, beat by beat: by what sounds and by the bass below."""

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from math import exp

from msgspec import Struct

from groove.theory.chords import Chord, build_chord
from groove.theory.pitch import SpelledPitch

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
    ),
)
"""The chords that are told apart, the plainest first; which other notes they have is not told."""
OUTSIDE = 1.2
"""What a note outside a chord costs, a note inside being worth 1 (common practice, no source)."""
ABSENT = {1: 0.7, 5: 0.05}
ABSENT_ELSE = 0.3
"""What a degree of the chord costs that nobody plays; players leave out the fifth first."""
RARE = {
    **{"m7b5": 0.3, "dim7": 0.6, "dim": 0.6, "+": 0.6, "mM7": 0.6},
    **{"m6": 0.6, "6": 0.3, "sus4": 0.3, "7sus4": 0.3, "9": 0.3, "m9": 0.3, "maj9": 0.3},
}
"""What a chord costs that songs have less of than triads and sevenths (common practice, no source).

It costs twice as much where the bass nowhere has its root in the bar: C♯m7♭5 over G is then A7/G.
"""
BASS_ROOT = 0.6
"""What the bass on the root is worth, for it plays the root first (common practice, no source)."""
STRUCK = 4
"""A note that sounds for a quarter of a beat counts as much as one that is held through it."""
BASS_NOTE = 0.3
"""What a note of the bass counts beside one of a chord: it passes and approaches."""
CHANGE_IN_BAR, CHANGE_AT_BAR = 1.5, 0.5
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


class _BarTones(Struct, frozen=True, kw_only=True):
    """The pitch classes that sound anywhere in a bar, and those of the bass."""

    every: frozenset[int]
    bass: frozenset[int]


class _Template(Struct, frozen=True):
    """A root, a suffix, and what each of their pitch classes costs where nobody plays it."""

    root: int
    suffix: str
    inside: Mapping[int, float]


def _templates() -> tuple[_Template, ...]:
    found = []
    for suffix in CHORD_SUFFIXES:
        chord = build_chord(SpelledPitch(0), suffix, None)
        costs = [(d.semitones, ABSENT.get(d.number, ABSENT_ELSE)) for d in chord.degrees]
        for root in range(12):
            inside = {(root + semitones) % 12: cost for semitones, cost in costs}
            found.append(_Template(root, suffix, inside))
    return tuple(found)


_TEMPLATES = _templates()


def found_chords(notes: Sequence[PartNote], beats: Sequence[Beat]) -> tuple[FoundChord, ...]:
    """Return the chords that parts play, each from the beat on which it begins.

    A beat in which nothing sounds goes on with the chord before it.
    """
    heard = list(_heard(notes, beats))
    in_bars = list(_in_bars(heard, beats))
    worths = [_worths(*beat, sounds) for beat, sounds in zip(heard, in_bars, strict=True)]
    path = _path(worths, beats)
    return tuple(_chords(path, worths, heard, beats))


_Shares = tuple[float, ...]


def _heard(notes: Sequence[PartNote], beats: Sequence[Beat]) -> Iterator[tuple[_Shares, _Shares]]:
    """Yield for each beat how long each pitch class sounds, as a share of it: all, and the bass."""
    left = sorted(notes, key=lambda note: note.start_quarters)
    at = 0
    lasting: list[PartNote] = []
    for beat in beats:
        end = beat.start_quarters + beat.length_quarters
        while at < len(left) and left[at].start_quarters < end:
            lasting.append(left[at])
            at += 1
        lasting = [note for note in lasting if note.end_quarters > beat.start_quarters]
        every, bass = [0.0] * 12, [0.0] * 12
        for note in lasting:
            inside = min(note.end_quarters, end) - max(note.start_quarters, beat.start_quarters)
            share = float(max(inside, Fraction(0)) / beat.length_quarters)
            (bass if note.is_bass else every)[note.pitch % 12] += share
        yield tuple(min(1.0, share) for share in every), tuple(min(1.0, share) for share in bass)


def _in_bars(
    heard: Sequence[tuple[_Shares, _Shares]], beats: Sequence[Beat]
) -> Iterator[_BarTones]:
    """Yield for each beat the pitch classes that sound anywhere in its bar."""
    starts = [index for index, beat in enumerate(beats) if beat.is_bar or index == 0]
    for start, end in zip(starts, [*starts[1:], len(beats)], strict=True):
        own = heard[start:end]
        bass = frozenset(t for t in range(12) if any(low[t] >= LEAST_HEARD for _, low in own))
        above = frozenset(t for t in range(12) if any(high[t] >= LEAST_HEARD for high, _ in own))
        yield from [_BarTones(every=bass | above, bass=bass)] * (end - start)


def _worths(every: _Shares, bass: _Shares, in_bar: _BarTones) -> list[float]:
    """Return what each chord is worth in a beat, 0 for one in which nothing sounds.

    ``in_bar`` are the pitch classes of the whole bar: a root that is struck once serves it all.
    """
    low = sum(bass)
    if sum(every) + low < LEAST_HEARD:
        return [0.0] * len(_TEMPLATES)
    struck = [min(1.0, STRUCK * share) for share in every]
    is_bass_alone = sum(every) < LEAST_HEARD
    heard = [max(own, BASS_NOTE * beneath) for own, beneath in zip(struck, bass, strict=True)]
    found = []
    for template in _TEMPLATES:
        inside = sum(heard[pitch_class] for pitch_class in template.inside)
        outside = sum(heard) - inside
        root = BASS_ROOT * bass[template.root] / low if low else 0.0
        worth = inside - OUTSIDE * outside + root
        found.append(worth if is_bass_alone else worth - _absent(template, in_bar))
    return found


def _absent(template: _Template, in_bar: _BarTones) -> float:
    """Return what the notes of a chord cost that nobody plays, and how rare it is."""
    missing = sum(cost for tone, cost in template.inside.items() if tone not in in_bar.every)
    rare = RARE.get(template.suffix, 0.0)
    return missing + (rare if template.root in in_bar.bass else 2 * rare)


def _path(worths: Sequence[Sequence[float]], beats: Sequence[Beat]) -> list[int]:
    """Return the chord of each beat, where together they are worth most and change least."""
    totals = [0.0] * len(_TEMPLATES)
    came: list[list[int]] = []
    for index, (beat, own) in enumerate(zip(beats, worths, strict=True)):
        cost = 0.0 if index == 0 else CHANGE_AT_BAR if beat.is_bar else CHANGE_IN_BAR
        best = max(range(len(totals)), key=totals.__getitem__)
        changed = totals[best] - cost
        came.append([s if total >= changed else best for s, total in enumerate(totals)])
        totals = [max(t, changed) + worth for t, worth in zip(totals, own, strict=True)]
    state = max(range(len(totals)), key=totals.__getitem__)
    path: list[int] = []
    for row in reversed(came):
        path.append(state)
        state = row[state]
    return path[::-1]


def _chords(
    path: Sequence[int],
    worths: Sequence[Sequence[float]],
    heard: Sequence[tuple[_Shares, _Shares]],
    beats: Sequence[Beat],
) -> Iterator[FoundChord]:
    """Yield the chords of a path, each once."""
    starts = [i for i, state in enumerate(path) if i == 0 or state != path[i - 1]]
    for start, end in zip(starts, [*starts[1:], len(path)], strict=True):
        template = _TEMPLATES[path[start]]
        span = range(start, end)
        sounds = [index for index in span if sum(map(sum, heard[index])) >= LEAST_HEARD]
        chord = build_chord(_spelled(template.root), template.suffix, _bass(template, heard, span))
        yield FoundChord(
            start_quarters=beats[start].start_quarters,
            chord=chord if sounds else None,
            confidence=_confidence(path[start], worths, heard, sounds),
        )


def _bass(
    template: _Template, heard: Sequence[tuple[_Shares, _Shares]], span: range
) -> SpelledPitch | None:
    """Return the slash note: what the bass plays for most of a chord, where it is not the root."""
    low = [sum(heard[index][1][pitch_class] for index in span) for pitch_class in range(12)]
    most = max(range(12), key=low.__getitem__)
    first = heard[span[0]][1]
    is_led = first[most] == max(first) and low[most] > sum(low) / 2
    is_slash = is_led and low[template.root] < LEAST_HEARD
    return _spelled(most) if is_slash and low[most] >= LEAST_HEARD else None


def _confidence(
    state: int,
    worths: Sequence[Sequence[float]],
    heard: Sequence[tuple[_Shares, _Shares]],
    sounds: Sequence[int],
) -> float:
    """Return how sure a chord is, by how much more it is worth than the next of another root."""
    if not sounds:
        return 0.0
    totals = [sum(worths[index][s] for index in sounds) for s in range(len(_TEMPLATES))]
    others = [
        total for s, total in enumerate(totals) if _TEMPLATES[s].root != _TEMPLATES[state].root
    ]
    sure = 1 - exp(-2 * max(0.0, totals[state] - max(others)) / len(sounds))
    is_bass_alone = all(sum(heard[index][0]) < LEAST_HEARD for index in sounds)
    return round(min(sure, BASS_ALONE_CONFIDENCE) if is_bass_alone else sure, 2)


def _spelled(pitch_class: int) -> SpelledPitch:
    """Return a pitch class by its usual name, five flats to six sharps at most."""
    return SpelledPitch((pitch_class * 7 + 5) % 12 - 5)
