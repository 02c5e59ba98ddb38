"""Takes whose every onset is known, without sound: notes of a reference as a hand strays from them.

The moves are those of a generator, and the truth is what it drew; a tempo that changes evenly is
integrated by the rule for uniform acceleration.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from random import Random

import numpy
from msgspec.structs import replace

from groove.chart.parse import parse_chart
from groove.io.library import load_library
from groove.pipeline import PerformOptions, perform_song
from groove.take.alignment import Alignment
from groove.take.heard import HeardNote, HeardTake, OffsetPath
from groove.take.pairing import Pair
from groove.take.reference import ExpectedBar, ExpectedNote, TakeReference, performed_reference
from groove.timing import Meter

FOUR = Meter(4, 4)
ALONG = OffsetPath(
    ratio=1.0, segments=(0,), offsets_sec=(0.0,), jumps=(), score=1.0, margin=1.0, way_margin=99.0
)
"""The path of a take that is known to lie where it was played."""
SLOTS = (0, 3, 4, 6, 8, 10, 12, 14)
SONG = """title: Tin Whistle Lane
tempo: {tempo}
key: {key}
feel: {feel}
verse:
| {a} | {b} / {a} / | {c} | {d} |
| {a} | {c} | {b} | {d} / {b} / |
chorus:
| {c} | {d} | {b} | {a} |
form: verse, chorus
"""


@cache
def song_reference(seed: int, tempo: int = 0) -> TakeReference:
    """Return the bass part of a made-up song of twelve bars, drawn from a seed."""
    rng = Random(f"song {seed}")
    a, b, c, d = rng.sample(["D", "G", "Em7", "A7", "Bm7", "F#m7", "C", "E7"], 4)
    text = SONG.format(
        tempo=tempo or rng.randrange(72, 126),
        key="D",
        feel=rng.choice(["sixteenths", "straight eighths", "soul", "octaves"]),
        a=a,
        b=b,
        c=c,
        d=d,
    )
    options = PerformOptions(seed=seed)
    return performed_reference(perform_song(parse_chart(text), load_library(), options))


@cache
def even_reference(bars: int = 8, tempo: float = 100.0) -> TakeReference:
    """Return bars of 4/4 with the same eight notes, exactly on the grid."""
    quarter = 60 / tempo
    return TakeReference(
        title="even",
        notes=tuple(
            ExpectedNote(
                sec=(bar * 4 + slot / 4) * quarter,
                length_sec=quarter / 4,
                pitches=(40,),
                bar=bar,
                beat=1 + slot / 4,
                slot=float(slot),
            )
            for bar in range(bars)
            for slot in SLOTS
        ),
        bars=tuple(
            ExpectedBar(
                number=bar + 1,
                section="verse",
                time=1,
                start_sec=bar * 4 * quarter,
                end_sec=(bar + 1) * 4 * quarter,
                meter=FOUR,
            )
            for bar in range(bars)
        ),
        tempo_bpm=tempo,
        beat_sec=quarter,
    )


@dataclass(frozen=True)
class Played:
    """A take without sound, and for each of its onsets the note that it is (None: an extra)."""

    take: HeardTake
    truth: tuple[int | None, ...]
    onsets: tuple[float, ...]


def drifted(due_sec: float, tempo: float, drift: float) -> float:
    """Return when a note comes whose tempo rises by ``drift`` beats a minute each minute."""
    rate = drift / 60
    if not rate:
        return due_sec
    beats = due_sec * tempo / 60
    return float((-tempo + (tempo**2 + 120 * rate * beats) ** 0.5) / rate)


def played(
    reference: TakeReference,
    seed: int,
    *,
    jitter_ms: float = 8.0,
    late_ms: float = 0.0,
    drift: float = 0.0,
    ratio: float = 1.0,
    start_sec: float = 1.0,
    missed: float = 0.0,
    extra: float = 0.0,
    wrong: float = 0.0,
) -> Played:
    """Return a reference as somebody plays it; the shares are of all notes."""
    rng = Random(f"played {seed}")
    rows: list[tuple[float, float, int | None]] = []
    for index, note in enumerate(reference.notes):
        if index and rng.random() < missed:
            continue
        sec = drifted(note.sec, reference.tempo_bpm, drift) / ratio
        sec += start_sec + (late_ms + rng.gauss(0, jitter_ms)) / 1000
        pitch = note.pitches[0] + (rng.choice((-2, -1, 1, 2)) if rng.random() < wrong else 0)
        rows.append((sec, pitch, index))
        if rng.random() < extra:
            rows.append((sec + 0.31 * reference.beat_sec, pitch + 4, None))
    rows.sort(key=lambda row: row[0])
    notes = tuple(HeardNote(sec=sec, pitch=pitch, pitch_confidence=1.0) for sec, pitch, _ in rows)
    return Played(
        take=HeardTake(notes=notes, length_sec=notes[-1].sec + 1),
        truth=tuple(index for _, _, index in rows),
        onsets=tuple(sec for sec, _, _ in rows),
    )


def right_share(alignment: Alignment, take: Played) -> float:
    """Return the share of the notes that were played whose onset was found.

    Of a note that was played twice either onset will do.
    """
    due = {index for index in take.truth if index is not None}
    found = sum(take.truth[pair.heard] == pair.expected for pair in alignment.pairs)
    return found / len(due)


def cut(take: Played, low: float, high: float) -> Played:
    """Return what was played between two moments."""
    kept = [index for index, sec in enumerate(take.onsets) if low <= sec < high]
    notes = tuple(take.take.notes[index] for index in kept)
    return Played(
        take=replace(take.take, notes=notes),
        truth=tuple(take.truth[index] for index in kept),
        onsets=tuple(take.onsets[index] for index in kept),
    )


def jumped(reference: TakeReference, take: Played, bar: int, bars: int) -> Played:
    """Return a take that starts at 1 s with bars from ``bar`` on left out or played once more.

    ``bars`` are left out where negative, repeated where positive.
    """
    begin = 1 + reference.bars[bar].start_sec - 0.08
    length = abs(bars) * reference.bars[0].end_sec
    rows = list(zip(take.take.notes, take.truth, take.onsets, strict=True))
    before = [row for row in rows if row[2] < begin + (length if bars > 0 else 0)]
    after = [row for row in rows if row[2] >= begin + (0 if bars > 0 else length)]
    move = length if bars > 0 else -length
    moved = [(replace(note, sec=note.sec + move), at, sec + move) for note, at, sec in after]
    notes, truth, onsets = zip(*before, *moved, strict=True)
    return Played(replace(take.take, notes=notes), truth, onsets)


def carried_over(
    rng: numpy.random.Generator, count: int, share: float, sd: float
) -> Sequence[float]:
    """Return deviations of which each keeps a share of the one before (AR(1)), of one SD."""
    drawn = rng.normal(0, 1, count)
    found = [float(drawn[0])]
    for value in drawn[1:]:
        found.append(share * found[-1] + (1 - share**2) ** 0.5 * float(value))
    return [sd * value for value in found]


def known_alignment(reference: TakeReference, onsets: Sequence[float]) -> Alignment:
    """Return every note paired with its own onset."""
    count = len(reference.notes)
    return Alignment(
        pairs=tuple(Pair(index, index) for index in range(count)),
        predicted_secs=tuple(onsets),
        pieces=(0,) * count,
        ratio=1.0,
        jumps=(),
        first=0,
        last=count - 1,
        path=ALONG,
    )


def heard_at(onsets: Sequence[float]) -> tuple[HeardNote, ...]:
    """Return onsets as they are heard, all of one pitch."""
    return tuple(HeardNote(sec=sec, pitch=40.0, pitch_confidence=1.0) for sec in onsets)
