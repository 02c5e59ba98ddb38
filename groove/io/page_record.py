"""A record for a practice page: the player's own file, and where it has the bars of the chart."""

from pathlib import Path

from groove.errors import RecordingError
from groove.events import Performance
from groove.io.records import heard_record, read_record, rendered_sound
from groove.page.record import PageRecord, RecordLine, every_line
from groove.record.aligned import HeardSong, align_record
from groove.record.due_sound import due_sound
from groove.record.heard_form import SURE_FROM, heard_form, heard_sections

MOST_INSIDE_MB = 60
"""A page that holds more is slow to open, and phones refuse it (common practice, no source)."""
MOST_RECORD_MINUTES = 20
"""The page decodes a record whole: 20 minutes are 420 MB of samples."""


def page_record(name: str, performance: Performance, *, font: Path, is_inside: bool) -> PageRecord:
    """Return a record with its bar lines, its sound with it where it is to be inside the page.

    Raises RecordingError for what is no sound, is too long or too large, is another song, or plays
    it in another key or form; SoundError as rendering does.
    """
    recording = read_record(name, first_sec=None)
    if recording.length_sec > 60 * MOST_RECORD_MINUTES:
        raise RecordingError(
            f"{name} has {recording.length_sec / 60:.0f} minutes",
            hint=f"a page plays {MOST_RECORD_MINUTES} at most: cut the song out of it",
        )
    size_mb = recording.path.stat().st_size / 1e6
    if is_inside and size_mb > MOST_INSIDE_MB:
        raise RecordingError(
            f"{name} has {size_mb:.0f} MB, more than a page can hold ({MOST_INSIDE_MB})",
            hint="leave it beside the page by --record-beside, or make an MP3 of it",
        )
    listened = heard_record(recording, performance.length_sec, None)
    due = due_sound(performance, rendered_sound(performance, font))
    heard = align_record(due, listened)
    refuse_other(name, heard, performance, due.line_secs.tolist())
    found = {
        each.index: RecordLine(sec=each.sec, is_sure=each.confidence >= SURE_FROM)
        for each in heard.bars
    }
    lines, end_sec = every_line(found, heard.bars[-1].end_sec, performance.bars)
    return PageRecord(
        name=recording.path.name,
        length_sec=recording.length_sec,
        tuning_cents=heard.tuning_cents,
        lines=lines,
        end_sec=end_sec,
        sound=recording.path.read_bytes() if is_inside else None,
    )


def refuse_other(
    name: str, heard: HeardSong, performance: Performance, line_secs: list[float]
) -> None:
    """Raise RecordingError where a record is not the chart's song as the chart has it.

    ``line_secs`` are the bar lines of the performance, the end of the last bar among them.
    """
    if not heard.is_song:
        raise RecordingError(
            f"{name} is not this song, as far as can be heard",
            hint="if it is, open it on the page, made without --record, and tap its bars there",
        )
    if heard.semitones:
        raise RecordingError(
            f"{name} is in another key than the chart, by {heard.semitones:+d} half steps",
            hint=f"--transpose {heard.semitones} makes the page in its key",
        )
    indices = [each.index for each in heard.bars]
    goes_on = all(each.follows for each in heard.bars[1:])
    if not goes_on or indices != list(range(indices[0], indices[-1] + 1)):
        form = heard_form(heard_sections(heard, performance.bars, line_secs))
        raise RecordingError(
            f"{name} plays another form than the chart has",
            hint=f"as it is heard: form: {form}; groove align tells where",
        )
