"""A recorded take by ear: its onsets, listened to twice, and the drums beside them."""

from collections.abc import Sequence
from pathlib import Path

from groove.errors import RecordingError
from groove.io.recording import Recording, read_recording
from groove.take.alignment import Alignment, align
from groove.take.cymbals import stroke_secs
from groove.take.heard import HeardNote, HeardTake, in_time
from groove.take.onsets import Onset, detect_onsets, look_again
from groove.take.reference import TakeReference
from groove.take.working_rate import WORKING_RATE_HZ

LONGEST_MINUTES = 30
"""A longer take is a rehearsal: it has more songs than one."""
AGAIN_SEC = 0.05
"""How far around its place a note that was not heard is listened for once more."""
MOST_ONSETS = 12_000


def read_recorded_take(name: str) -> Recording:
    """Return a recording that is not too long to be one take.  Raises RecordingError."""
    recording = read_recording(Path(name))
    if recording.length_sec > 60 * LONGEST_MINUTES:
        raise RecordingError(
            f"{name} is {recording.length_sec / 60:.0f} minutes long",
            hint=f"a take has at most {LONGEST_MINUTES}: cut the song out of the recording",
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
    onsets = detect_onsets(recording.blocks(), WORKING_RATE_HZ)
    notes = _heard(onsets)
    if len(notes) >= 4 and reference.is_line:
        found = align(reference, notes, start_sec=from_sec)
        if found.fits:
            notes = _with_more(notes, recording, reference, found)
    return HeardTake(
        notes=notes,
        length_sec=recording.length_sec,
        click_secs=tuple(stroke_secs(recording.blocks())),
    )


def _with_more(
    notes: tuple[HeardNote, ...],
    recording: Recording,
    reference: TakeReference,
    alignment: Alignment,
) -> tuple[HeardNote, ...]:
    """Return onsets with those that are heard where notes are due and none was found."""
    paired = {pair.expected for pair in alignment.pairs}
    windows = [
        (sec - AGAIN_SEC, sec + AGAIN_SEC)
        for index, sec in enumerate(alignment.predicted_secs)
        if index not in paired
        and alignment.first < index < alignment.last
        and alignment.pieces[index] >= 0
    ]
    if not windows:
        return notes
    more = look_again(recording.blocks(), WORKING_RATE_HZ, windows)
    known = [note.sec for note in notes]
    new = [each for each in more if min(abs(each.sec - sec) for sec in known) > AGAIN_SEC / 2]
    return in_time([*notes, *_heard(new)])


def _heard(onsets: Sequence[Onset]) -> tuple[HeardNote, ...]:
    """Return onsets as notes that were heard; of too many the strongest."""
    strongest = sorted(onsets, key=lambda onset: -onset.strength)[:MOST_ONSETS]
    return in_time(
        [
            HeardNote(
                sec=onset.sec,
                strength=onset.strength,
                level_db=onset.level_db,
                pitch=onset.pitch,
                pitch_confidence=onset.pitch_confidence if onset.pitch is not None else 0.0,
                is_ghost=onset.is_ghost_like,
            )
            for onset in strongest
        ]
    )
