"""A recorded take by ear: its onsets, weak ones where they are due, and the drums beside them."""

from collections.abc import Sequence
from pathlib import Path

from groove.errors import RecordingError
from groove.io.recording import Recording, read_recording
from groove.take.alignment import FEWEST_ONSETS, align
from groove.take.cymbals import StrokeListener
from groove.take.due_onsets import with_due
from groove.take.heard import HeardNote, HeardTake, in_time
from groove.take.onsets import BELIEVED, WEAKEST, Onset, detect_onsets
from groove.take.reference import TakeReference
from groove.take.tuned import in_tune, tuning_semitones
from groove.take.working_rate import WORKING_RATE_HZ
from groove.text.counts import clock_text, counted

LONGEST_MINUTES = 30
"""A longer take is a rehearsal: it has more songs than one."""
MOST_ONSETS = 12_000


def read_recorded_take(name: str) -> Recording:
    """Return a recording that is not too long to be one take.  Raises RecordingError."""
    recording = read_recording(Path(name))
    if recording.length_sec > 60 * LONGEST_MINUTES:
        raise RecordingError(
            f"{name} lasts {clock_text(recording.length_sec)}",
            hint=f"a take has at most {counted(LONGEST_MINUTES, 'minute')}: "
            "cut the song out of the recording",
        )
    return recording


def heard_take(
    recording: Recording,
    reference: TakeReference,
    *,
    from_sec: float | None = None,
) -> HeardTake:
    """Return what is heard in a recording, where a reference says what to listen for.

    Raises RecordingError for silence and for what is no sound.
    """
    strokes = StrokeListener()
    onsets = detect_onsets(strokes.passed(recording.blocks()), WORKING_RATE_HZ, least=WEAKEST)
    notes = _heard([onset for onset in onsets if onset.strength >= BELIEVED])
    path = None
    apart = tuning_semitones(reference.notes, notes) if reference.is_line else 0.0
    notes = in_tune(notes, apart)
    if len(notes) >= FEWEST_ONSETS and reference.is_line:
        found = align(reference, notes, start_sec=from_sec)
        if found.fits:
            weak = _heard([onset for onset in onsets if onset.strength < BELIEVED])
            notes = with_due(notes, in_tune(weak, apart), reference, found)
            path = found.path
    return HeardTake(
        notes=notes,
        length_sec=recording.length_sec,
        click_secs=tuple(strokes.stroke_secs()),
        path=path,
        tuning_semitones=apart,
    )


def _heard(onsets: Sequence[Onset]) -> tuple[HeardNote, ...]:
    """Return onsets as notes that were heard; of too many the strongest."""
    strongest = sorted(onsets, key=lambda onset: -onset.strength)[:MOST_ONSETS]
    return in_time(
        [
            HeardNote(
                sec=onset.sec,
                error_sec=onset.error_sec,
                strength=onset.strength,
                level_db=onset.level_db,
                pitch=onset.pitch,
                pitch_confidence=onset.pitch_confidence,
                end_sec=onset.end_sec,
                is_ghost=onset.is_ghost_like,
            )
            for onset in strongest
        ]
    )
