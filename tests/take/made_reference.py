"""What a made take was to be, as a reference; and the take's own truth as an alignment."""

from msgspec.structs import replace

from groove.take.alignment import Alignment, align
from groove.take.heard import HeardNote
from groove.take.pairing import Pair
from groove.take.reference import ExpectedBar, ExpectedNote, TakeReference
from groove.timing import Meter
from tests.take.made_takes import MadeTake


def reference_of(take: MadeTake) -> TakeReference:
    """Return what was to be played: whole bars of 4/4 up to that of the last note."""
    quarter = 60 / take.tempo_bpm
    bars = int(take.wanted[-1].due_sec / (4 * quarter) + 1e-6) + 1
    return TakeReference(
        title="made",
        notes=tuple(
            ExpectedNote(
                sec=note.due_sec,
                length_sec=note.length_sec,
                pitches=(note.pitch,),
                bar=int(note.due_sec / (4 * quarter) + 1e-6),
                beat=1 + note.slot / 4,
                slot=float(note.slot),
                velocity=note.velocity,
                is_ghost=note.is_ghost,
                is_slurred=note.is_slurred,
            )
            for note in take.wanted
        ),
        bars=tuple(
            ExpectedBar(
                number=bar + 1,
                section="",
                time=1,
                start_sec=bar * 4 * quarter,
                end_sec=(bar + 1) * 4 * quarter,
                meter=Meter(4, 4),
            )
            for bar in range(bars)
        ),
        tempo_bpm=take.tempo_bpm,
        beat_sec=quarter,
    )


def true_alignment(
    take: MadeTake, reference: TakeReference
) -> tuple[tuple[HeardNote, ...], Alignment]:
    """Return what was played, each note exactly where it began, and which note each is.

    Where notes are due by the player's own pace is what the alignment finds of exact onsets.
    """
    notes = tuple(
        HeardNote(sec=note.onset_sec, pitch=float(note.pitch), pitch_confidence=1.0)
        for note in take.played
    )
    pairs = tuple(
        Pair(note.wanted, index)
        for index, note in enumerate(take.played)
        if note.wanted is not None
    )
    found = align(reference, notes, start_sec=take.start_sec)
    first, last = pairs[0].expected, pairs[-1].expected
    return notes, replace(found, pairs=pairs, first=first, last=last)
