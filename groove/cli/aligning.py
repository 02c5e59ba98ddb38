"""A chart beside a record, from their files; imported only when a record is listened to."""

import os

from groove.chart.model import Song
from groove.cli.options import Answer, Played
from groove.cli.performing import perform_options, play_chart, print_reading
from groove.errors import RecordingError
from groove.events import Performance
from groove.io.config import read_config
from groove.io.records import heard_record, read_record, rendered_sound
from groove.io.soundfont import choose_soundfont
from groove.record.aligned import HeardSong, align_record
from groove.record.due_sound import due_sound


def play_beside(chart: str, played: Played, answer: Answer) -> tuple[Song, Performance]:
    """Return a chart's song and what the band plays of it.  Raises as ``play_chart`` does."""
    options = perform_options(read_config(), played.choices())
    analysis, performance = play_chart(chart, options, answer.patterns, answer.line)
    print_reading(analysis.song, performance.notices)
    return analysis.song, performance


def record_beside(
    performance: Performance, file: str, *, first_sec: float | None, keeps_tempo: bool
) -> tuple[HeardSong, list[float]]:
    """Return how a record has a song, and the bar lines of what it was held against, in seconds.

    ``first_sec`` is where bar 1 begins in the record, ``keeps_tempo`` whether its tempo is the
    performance's.  Raises RecordingError where the file cannot be read or is not this song.
    """
    recording = read_record(file, first_sec=first_sec)
    font = choose_soundfont(None, os.environ, read_config().soundfont).path
    listened = heard_record(recording, performance.length_sec, first_sec)
    due = due_sound(performance, rendered_sound(performance, font))
    heard = align_record(due, listened, begins_sec=first_sec, keeps_tempo=keeps_tempo)
    if not heard.is_song:
        raise RecordingError(
            f"{file} is not this song, as far as can be heard",
            hint="if it is, --first SECONDS and --tempo BPM help to find it",
        )
    return heard, due.line_secs.tolist()
