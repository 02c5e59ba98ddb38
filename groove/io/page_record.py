"""A record for a practice page: the player's own file, and where it has the bars of the chart."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from msgspec.structs import replace

from groove.chart.model import FormEntry, Song
from groove.errors import RecordingError
from groove.events import Bar, Performance
from groove.io.recording import Recording
from groove.io.records import heard_record, read_record, rendered_sound
from groove.page.record import PageRecord, RecordLine, every_line
from groove.record.aligned import HeardSong, align_record
from groove.record.due_sound import due_sound
from groove.record.heard_form import SURE_FROM, HeardSection, heard_form, heard_sections
from groove.text.counts import clock_text, counted

MOST_INSIDE_MB = 60
"""A page that holds more is slow to open, and phones refuse it (common practice, no source)."""
MOST_RECORD_MINUTES = 20
"""The page decodes a record whole: 20 minutes are 420 MB of samples."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordHeld:
    """A record held against a chart: its file, its bars, and its sections in its own order.

    ``bars`` are those of the performance that it was held against.
    """

    recording: Recording
    heard: HeardSong
    bars: tuple[Bar, ...]
    sections: tuple[HeardSection, ...]

    @property
    def form(self) -> str:
        """The record's form, as a form line has it."""
        return heard_form(self.sections)

    def index_in(self, bars: Sequence[Bar]) -> int | None:
        """Return which bar of a performance the record begins with, None where it goes another way.

        It may lack bars before and after, as one that is faded out; none between.
        """
        heard = self.heard.bars
        if not all(each.follows for each in heard[1:]):
            return None
        own = [self.bars[each.index].ref.written_bar for each in heard]
        written = [bar.ref.written_bar for bar in bars]
        fitting = [
            at for at in range(len(written) - len(own) + 1) if written[at : at + len(own)] == own
        ]
        return min(fitting, key=lambda at: abs(at - heard[0].index), default=None)


def hold_record(name: str, performance: Performance, *, font: Path, is_inside: bool) -> RecordHeld:
    """Return a record held against a chart; ``is_inside`` says that the page is to have its sound.

    Raises RecordingError for what is no sound, is too long or too large, is another song, or is in
    another key; SoundError as rendering does.
    """
    recording = read_record(name, first_sec=None)
    if recording.length_sec > 60 * MOST_RECORD_MINUTES:
        raise RecordingError(
            f"{name} lasts {clock_text(recording.length_sec)}",
            hint=f"a page plays {counted(MOST_RECORD_MINUTES, 'minute')} at most: "
            "cut the song out of it",
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
    _refuse_other(name, heard)
    return RecordHeld(
        recording=recording,
        heard=heard,
        bars=performance.bars,
        sections=heard_sections(heard, performance.bars, due.line_secs.tolist()),
    )


def song_as_heard(song: Song, held: RecordHeld) -> Song | None:
    """Return a song in the form that its record has; None where that is the chart's."""
    if held.index_in(held.bars) is not None:
        return None
    return replace(song, form=tuple(FormEntry(section=each.name) for each in held.sections))


def page_record(held: RecordHeld, bars: Sequence[Bar], *, is_inside: bool) -> PageRecord:
    """Return a record with the lines of a page's bars, its sound with it where it is to be inside.

    Raises RecordingError where it goes another way than they do.
    """
    recording, heard = held.recording, held.heard
    first = held.index_in(bars)
    if first is None:
        raise RecordingError(
            f"{recording.path} goes another way than any form of the chart's",
            hint=f"as it is heard: form: {held.form}; groove align tells where it leaves that",
        )
    found = {
        first + place: RecordLine(sec=each.sec, is_sure=each.confidence >= SURE_FROM)
        for place, each in enumerate(heard.bars)
    }
    lines, end_sec = every_line(found, heard.bars[-1].end_sec, bars)
    return PageRecord(
        name=recording.path.name,
        length_sec=recording.length_sec,
        tuning_cents=heard.tuning_cents,
        lines=lines,
        end_sec=end_sec,
        sound=recording.path.read_bytes() if is_inside else None,
    )


def _refuse_other(name: str, heard: HeardSong) -> None:
    """Raise RecordingError where a record is another song than the chart's, or in another key."""
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
