"""A chart beside a record, from their files; imported only when a record is listened to."""

import os
from fractions import Fraction
from pathlib import Path

from groove.chart.model import Song
from groove.cli.console import say
from groove.cli.options import Answer, Played
from groove.cli.performing import perform_options, play_chart, print_reading
from groove.cut import with_click
from groove.errors import RecordingError
from groove.events import Performance
from groove.io.config import read_config
from groove.io.midi import midi_bytes
from groove.io.records import heard_record, read_record, rendered_sound
from groove.io.soundfont import choose_soundfont
from groove.io.taps import read_taps
from groove.record.aligned import HeardSong, align_record
from groove.record.due_sound import due_sound
from groove.record.like_record import like_record
from groove.record.listened import Listened
from groove.record.record_report import time_lines
from groove.record.tapped import tapped_lines, tapped_song
from groove.study.heard_line import GivenBars
from groove.timing import TICKS_PER_QUARTER


def play_beside(chart: str, played: Played, answer: Answer) -> tuple[Song, Performance]:
    """Return a chart's song and what the band plays of it.  Raises as ``play_chart`` does."""
    options = perform_options(read_config(), played.choices())
    analysis, performance = play_chart(chart, options, answer.patterns, answer.line)
    print_reading(analysis.song, performance.notices)
    return analysis.song, performance


def record_beside(
    performance: Performance,
    file: str,
    *,
    first_sec: float | None,
    taps: Path | None,
    keeps_tempo: bool,
) -> tuple[HeardSong, list[float]]:
    """Return how a record has a song, and the bar lines of what it was held against, in seconds.

    ``first_sec`` is where bar 1 begins in the record, ``taps`` a file of seconds tapped with it,
    ``keeps_tempo`` whether its tempo is the performance's.  Raises RecordingError where the record
    cannot be read or is not this song, OptionError for taps that are none.
    """
    second = performance.tempo_map.tick_to_sec
    due_secs = [second(bar.start_tick) for bar in performance.bars]
    due_secs.append(second(performance.bars[-1].end_tick))
    tapped = tapped_lines(read_taps(taps), performance) if taps else ()
    first_sec = tapped[0] if tapped else first_sec
    recording = read_record(file, first_sec=first_sec)
    listened = heard_record(recording, performance.length_sec, first_sec)
    heard = None
    if len(tapped) <= len(performance.bars):
        heard = _heard(performance, listened, file, first_sec, keeps_tempo)
    if tapped:
        heard = tapped_song(
            tapped[: len(due_secs)],
            heard,
            tuning_cents=listened.tuning_cents,
            length_sec=recording.length_sec,
        )
    assert heard is not None
    return heard, due_secs


def _heard(
    performance: Performance,
    listened: Listened,
    file: str,
    first_sec: float | None,
    keeps_tempo: bool,
) -> HeardSong:
    """Return how a record has a song by ear.  Raises RecordingError where it is not this song."""
    font = choose_soundfont(None, os.environ, read_config().soundfont).path
    due = due_sound(performance, rendered_sound(performance, font))
    heard = align_record(due, listened, begins_sec=first_sec, keeps_tempo=keeps_tempo)
    if not heard.is_song:
        raise RecordingError(
            f"{file} is not this song, as far as can be heard",
            hint="if it is, groove align with --first SECONDS or --tempo BPM may find it",
        )
    return heard


def told_record(performance: Performance, file: str, *, keeps_tempo: bool) -> HeardSong:
    """Return how a record has a song, and say where it is.

    Raises RecordingError where the record cannot be read or is not this song.
    """
    heard, _ = record_beside(performance, file, first_sec=None, taps=None, keeps_tempo=keeps_tempo)
    for line in time_lines(heard, performance.bars, file):
        say(line)
    return heard


def bars_of_record(chart: str, file: str, patterns: Path | None) -> GivenBars:
    """Return where a record has the bars of a chart, and say it.

    Raises RecordingError where the record cannot be read, is not this song, or goes another way.
    """
    _, performance = play_chart(chart, perform_options(read_config()), patterns, None)
    heard, _ = record_beside(performance, file, first_sec=None, taps=None, keeps_tempo=False)
    indices = [one.index for one in heard.bars]
    goes_on = all(one.follows for one in heard.bars[1:])
    if not goes_on or indices != list(range(indices[0], indices[-1] + 1)):
        raise RecordingError(
            f"{file} plays another form than the chart has",
            hint="give the chart the form that groove align tells",
        )
    say(next(time_lines(heard, performance.bars, file)))
    own = [performance.bars[index] for index in indices]
    ticks = [*(bar.start_tick for bar in own), own[-1].end_tick]
    return GivenBars(
        secs=(*(one.sec for one in heard.bars), heard.bars[-1].end_sec),
        quarters=tuple(Fraction(tick, TICKS_PER_QUARTER) for tick in ticks),
        semitones=heard.semitones,
    )


def like_midi(performance: Performance, heard: HeardSong, *, with_clicks: bool) -> bytes:
    """Return the band on a record's time as a MIDI file that begins with the record."""
    laid = like_record(performance, heard)
    return midi_bytes(with_click(laid) if with_clicks else laid)
