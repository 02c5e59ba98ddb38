"""What was heard of a take, whether a microphone or a keyboard told it."""

from collections.abc import Sequence

from msgspec import Struct


class HeardNote(Struct, frozen=True, kw_only=True):
    """An onset: ``sec`` in the file; ``pitch`` a MIDI number with half tones parted, or None.

    ``pitch_confidence`` and ``strength`` lie between 0 and 1; ``level_db`` is relative to the
    loudest of the take; ``end_sec`` is where it stops sounding, None where that is not known;
    ``error_sec`` is how far ``sec`` strays from the truth (SD), 0 for an event of a file.
    """

    sec: float
    error_sec: float = 0.0
    strength: float = 1.0
    level_db: float = 0.0
    pitch: float | None = None
    pitch_confidence: float = 0.0
    end_sec: float | None = None
    is_ghost: bool = False


class OffsetPath(Struct, frozen=True, kw_only=True):
    """How a take lies against its reference.

    An expected note at ``sec`` sounds at ``sec / ratio`` plus the offset of its segment.
    ``margin`` is how much better this path is than the next best one that lies elsewhere
    throughout, as a share of the onsets; under ``AMBIGUOUS_UNDER`` nobody can tell.
    ``way_margin`` is how much better, in notes, than the next best that lies elsewhere for some
    seconds, as where a bar is left out or repeated and here is not, or the other way round.
    ``score`` is the share of the onsets that it explains.
    """

    ratio: float
    segments: tuple[int, ...]
    offsets_sec: tuple[float, ...]
    jumps: tuple[int, ...]
    score: float
    margin: float
    way_margin: float


class HeardTake(Struct, frozen=True, kw_only=True):
    """All that was heard of a take.

    ``length_sec`` is that of the file.  ``click_secs`` are the strokes of a click or of drums that
    sound beside the bass, where there are any.  ``path`` is where it lies against its reference,
    where the ear had to know that to listen; ``tuning_semitones`` how much higher than its part it
    sounded, which is taken off the pitches.
    """

    notes: tuple[HeardNote, ...]
    length_sec: float
    click_secs: tuple[float, ...] = ()
    path: OffsetPath | None = None
    tuning_semitones: float = 0.0

    @property
    def secs(self) -> list[float]:
        """Where the onsets are."""
        return [note.sec for note in self.notes]


def in_time(notes: Sequence[HeardNote]) -> tuple[HeardNote, ...]:
    """Return notes in the order in which they begin."""
    return tuple(sorted(notes, key=lambda note: note.sec))
