"""A record from its file, and our own rendering of its chart, both as they are heard."""

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from groove.errors import RecordingError
from groove.events import Performance
from groove.io.midi import midi_bytes
from groove.io.recording import Recording, read_recording
from groove.io.synth import audio_samples
from groove.record.listened import Listened, listen
from groove.take.working_rate import WORKING_RATE_HZ, at_working_rate
from groove.text.counts import clock_text, counted

if TYPE_CHECKING:
    from groove.arrays import Samples

LONGEST_RECORD_MINUTES = 90
"""A set recorded whole; what is heard of a longer file would not stay within 600 MB."""
_BEFORE_SEC = 20.0
_AFTER_SEC = 60.0
_SLOWEST = 2.2


def read_record(name: str, *, first_sec: float | None) -> Recording:
    """Return a record's file.  Raises RecordingError for one too long to look for a song in."""
    recording = read_recording(Path(name))
    if first_sec is not None:
        if first_sec >= recording.length_sec:
            raise RecordingError(
                f"{name} has no second {first_sec:g}: it is {recording.length_sec:.1f} s long",
                hint="--first is where bar 1 begins in it",
            )
    elif recording.length_sec > 60 * LONGEST_RECORD_MINUTES:
        raise RecordingError(
            f"{name} lasts {clock_text(recording.length_sec)}: too long to look for one song",
            hint=f"say where it begins, e.g. --first 95, or cut it to "
            f"{counted(LONGEST_RECORD_MINUTES, 'minute')}",
        )
    return recording


def heard_record(recording: Recording, song_sec: float, first_sec: float | None) -> Listened:
    """Return what is heard of a record; of the song alone where it is known where it begins.

    ``song_sec`` is how long the song is by its chart.  Raises RecordingError as reading does.
    """
    if first_sec is None:
        return listen(recording.blocks())
    start = int(max(0.0, first_sec - _BEFORE_SEC) * WORKING_RATE_HZ)
    end = int((first_sec + _SLOWEST * song_sec + _AFTER_SEC) * WORKING_RATE_HZ)
    heard = listen(_between(recording.blocks(), start, end))
    return heard.later_by(start / WORKING_RATE_HZ)


def _between(blocks: "Iterator[Samples]", start: int, end: int) -> "Iterator[Samples]":
    """Yield the samples from one place up to another."""
    at = 0
    for block in blocks:
        yield block[max(0, start - at) : max(0, end - at)]
        at += len(block)
        if at >= end:
            return


def rendered_sound(performance: Performance, font: Path) -> Listened:
    """Return a performance as it sounds with a soundfont.  Raises SoundError as rendering does."""
    rendered = audio_samples(
        performance,
        font=font,
        part_midi=lambda part: midi_bytes(performance, parts=(part,)),
        sample_rate=WORKING_RATE_HZ,
        with_stems=False,
    )
    mono = rendered.mix.mean(axis=1)
    return listen(at_working_rate([mono], rendered.sample_rate))
