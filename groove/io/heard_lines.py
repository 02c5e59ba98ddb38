"""A recording of a bass alone by ear, as strokes that a study makes a line of."""

from pathlib import Path

from groove.errors import RecordingError
from groove.harmony.analysis import Analysis
from groove.io.recording import read_recording
from groove.study.heard_line import GivenBars, HeardLine, heard_line
from groove.study.heard_strokes import HeardStroke, told_apart
from groove.take.onsets import Onset, detect_onsets
from groove.take.working_rate import WORKING_RATE_HZ

MOST_STROKES = 120_000
"""Three hours of sixteenths; what has more is no bass."""


def read_heard_line(
    name: str, chart: Analysis | None, title: str, given: GivenBars | None = None
) -> HeardLine:
    """Return the line of a recording on a chart's bars, or on those of its own steady beat.

    ``given`` is where the chart's bars are in it, where that is known.

    Raises RecordingError for what is no sound, silence, and what has no beat.
    """
    recording = read_recording(Path(name))
    onsets = detect_onsets(recording.blocks(), WORKING_RATE_HZ)
    if len(onsets) > MOST_STROKES:
        raise RecordingError(
            f"{len(onsets):,} strokes were heard in {name}", hint="expected a bass alone"
        )
    strokes = told_apart([_stroke(onset) for onset in onsets])
    return heard_line(strokes, recording.length_sec, chart, title, given)


def _stroke(onset: Onset) -> HeardStroke:
    return HeardStroke(
        sec=onset.sec,
        end_sec=onset.end_sec,
        pitch=onset.pitch,
        pitch_confidence=onset.pitch_confidence,
        strength=onset.strength,
        level_db=onset.level_db,
        is_soft=onset.is_ghost_like,
    )
