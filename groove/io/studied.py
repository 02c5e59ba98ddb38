"""A file's bass part as a line that can be studied: its notes, and the bars that it lies in."""

from bisect import bisect_right
from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction
from pathlib import Path

from msgspec import Struct
from msgspec.structs import replace

from groove.chart.parse import parse_chart
from groove.chart.write import write_chart
from groove.errors import OptionError
from groove.io.audio import AUDIO_FORMATS
from groove.io.charts import read_chart
from groove.io.midi_contents import TrackName
from groove.io.midi_song import MidiSong, is_midi, read_midi_song
from groove.io.midi_track import FileNote, tracks_of
from groove.io.musicxml_file import SCORE_SUFFIXES
from groove.io.studied_score import read_score_line
from groove.pipeline import analyse_song
from groove.study.draft import UNSURE, unsure_lines
from groove.study.drafted import SoundedBar, drafted
from groove.study.frames import chart_frames
from groove.study.heard_chords import PartNote
from groove.study.heard_line import GivenBars, Hearing
from groove.study.line_start import line_start
from groove.study.studied_line import BarFrame, SoundedNote

STUDIED_SCORES = (*SCORE_SUFFIXES, ".mxl")
_NO_NAME = "untitled"


class ReadLine(Struct, frozen=True, kw_only=True):
    """The notes of a bass part, the bars that it lies in, and the text of the chart that has them.

    ``is_draft`` says that this chart was made of the file itself, ``hearing`` how sure a recording
    was heard (None for a file whose notes are written).
    """

    title: str
    part: str
    notes: tuple[SoundedNote, ...]
    frames: tuple[BarFrame, ...]
    text: str
    is_draft: bool
    hearing: Hearing | None = None


def read_line(
    name: str,
    chart: str | None,
    say: Callable[[str], None],
    part: str = "",
    given: GivenBars | None = None,
) -> ReadLine:
    """Return the bass part of a MIDI file, a MusicXML score or a recording, and its bars.

    ``part`` is the number or the name of a part, empty to choose the bass.  The bars are those of
    ``chart`` as it is played; None makes a draft of one: of a MIDI file from its meters and markers
    and what its other parts play, of a score from what stands in it, of a recording from
    its own beat.  ``given`` is where a recording has the chart's bars, where that
    is known.  Raises OptionError for what is none of them or has too many bars, MidiError,
    RecordingError, and what reading a chart does.
    """
    file, _, number = name.rpartition(":")
    if is_midi(file) and is_midi(name):
        raise OptionError(
            f"{name}: a part is chosen by --part", hint=f"expected {file} --part {number}"
        )
    if Path(name).suffix.casefold() in STUDIED_SCORES:
        return _score_line(name, chart, say, part)
    if is_midi(name):
        return _midi_line(name, chart, say, part)
    if Path(name).suffix.casefold() in AUDIO_FORMATS:
        if part:
            raise OptionError(f"--part beside {name}", hint="a recording has one part: the bass")
        return _recorded(name, chart, given)
    raise OptionError(
        f"{name} is no MIDI file, no score and no recording",
        hint=f"expected a name in .mid, .musicxml, .xml, .mxl, {', '.join(AUDIO_FORMATS)}",
    )


def _midi_line(name: str, chart: str | None, say: Callable[[str], None], part: str) -> ReadLine:
    song = read_midi_song(name, say, part=part)
    title = _title(song, name)
    if chart:
        text, frames = _given(chart)
    else:
        tempo = Fraction(song.clock.qpm(Fraction(0)))
        text, frames = drafted(title, tempo, _bars(song), list(_soundings(song)))
    notes = [_sounded(song, note) for note in song.track.notes]
    return ReadLine(
        title=title,
        part=f"track {song.track.words}: {song.track.why}",
        notes=_begun(notes, frames, name, say) if chart else tuple(notes),
        frames=frames,
        text=text,
        is_draft=not chart,
    )


def _score_line(name: str, chart: str | None, say: Callable[[str], None], part: str) -> ReadLine:
    """Return the line of a score; its draft marks where chords that were heard are unsure."""
    read = read_score_line(name, part, say)
    if chart:
        text, frames = _given(chart)
    else:
        unsure = {bisect_right(read.starts, at) for at, sure in read.sure if sure < UNSURE}
        text = "\n".join([*unsure_lines(sorted(unsure)), write_chart(read.song)])
        song = parse_chart(text, source=f"draft of {name}")
        frames = chart_frames(analyse_song(song), read.sure)
    return ReadLine(
        title=read.song.title,
        part=read.part,
        notes=_begun(read.notes, frames, name, say) if chart else read.notes,
        frames=frames,
        text=text,
        is_draft=not chart,
    )


def _recorded(name: str, chart: str | None, given: GivenBars | None) -> ReadLine:
    from groove.io.heard_lines import read_heard_line

    title = _shown(Path(name).stem)
    if chart:
        text, song = read_chart(chart)
        line = read_heard_line(name, analyse_song(song), title, given)
        title = song.title
    else:
        line = read_heard_line(name, None, title)
        text = line.draft
    return ReadLine(
        title=title,
        part="a recording, by ear",
        notes=line.notes,
        frames=line.frames,
        text=text,
        is_draft=not chart,
        hearing=line.hearing,
    )


def _begun(
    notes: Sequence[SoundedNote],
    frames: Sequence[BarFrame],
    name: str,
    say: Callable[[str], None],
) -> tuple[SoundedNote, ...]:
    """Return notes where they lie in the chart, if they have its pickup or not; which, is said."""
    shift, start = line_start(notes, frames)
    if start.value:
        say(f"{name}: {start.value}")
    return tuple(
        replace(
            note,
            start_quarters=max(Fraction(0), note.start_quarters + shift),
            end_quarters=note.end_quarters + shift,
        )
        for note in notes
    )


def _given(chart: str) -> tuple[str, tuple[BarFrame, ...]]:
    """Return the text of a chart, and its bars as they are played."""
    text, song = read_chart(chart)
    return text, chart_frames(analyse_song(song))


def _title(song: MidiSong, name: str) -> str:
    """Return the song's name: that of the file's first track, else the file's own."""
    names = (event.text for event in song.contents.tracks[0] if isinstance(event, TrackName))
    return _shown(" ".join(next(names, "").split()) or Path(name).stem)


def _shown(title: str) -> str:
    """Return a title as a chart can have it."""
    return "".join(sign for sign in title if sign.isprintable())[:60].strip() or _NO_NAME


def _sounded(song: MidiSong, note: FileNote) -> SoundedNote:
    return SoundedNote(
        start_quarters=note.start,
        end_quarters=note.end,
        length_sec=song.clock.sec(note.end) - song.clock.sec(note.start),
        pitch=note.pitch,
        velocity=note.velocity,
    )


def _bars(song: MidiSong) -> Iterator[SoundedBar]:
    for bar in song.bars():
        yield SoundedBar(start_quarters=bar.start, meter=bar.meter, section=bar.section)


def _soundings(song: MidiSong) -> Iterator[PartNote]:
    """Yield the notes of all parts but drums."""
    for track in tracks_of(song.contents):
        for note in track.notes:
            yield PartNote(
                start_quarters=note.start,
                end_quarters=note.end,
                pitch=note.pitch,
                is_bass=track.number == song.track.number,
            )
