"""A file's bass part as a line that can be studied: its notes, and the bars that it lies in."""

from collections.abc import Callable, Iterator
from fractions import Fraction
from pathlib import Path

from msgspec import Struct

from groove.errors import OptionError
from groove.io.charts import read_song
from groove.io.midi_contents import TrackName
from groove.io.midi_song import MidiSong, is_midi, read_midi_song
from groove.io.midi_track import FileNote, tracks_of
from groove.pipeline import analyse_song
from groove.study.drafted import SoundedBar, drafted
from groove.study.frames import chart_frames
from groove.study.heard_chords import PartNote
from groove.study.studied_line import BarFrame, SoundedNote

_NO_NAME = "untitled"


class ReadLine(Struct, frozen=True, kw_only=True):
    """The notes of a bass part, its bars, and the chart that was drafted (empty: one was given)."""

    title: str
    part: str
    notes: tuple[SoundedNote, ...]
    frames: tuple[BarFrame, ...]
    draft: str


def read_line(name: str, chart: str | None, say: Callable[[str], None]) -> ReadLine:
    """Return the bass part of a MIDI file (``song.mid``, ``song.mid:2``) and its bars.

    They are those of ``chart`` as it is played; None makes a draft of one from the file's meters
    and markers and what its other parts play.  Raises OptionError for what is no MIDI file or has
    too many bars, MidiError, and what reading a chart does.
    """
    if not is_midi(name):
        raise OptionError(f"{name} is no MIDI file", hint="expected a name that ends in .mid")
    song = read_midi_song(name, say)
    title = _title(song, name)
    if chart:
        analysis = analyse_song(read_song(chart))
        frames, draft = chart_frames(analysis), ""
    else:
        tempo = Fraction(song.clock.qpm(Fraction(0)))
        draft, frames = drafted(title, tempo, _bars(song), list(_soundings(song)))
    return ReadLine(
        title=title,
        part=f"track {song.track.words}: {song.track.why}",
        notes=tuple(_sounded(song, note) for note in song.track.notes),
        frames=frames,
        draft=draft,
    )


def _title(song: MidiSong, name: str) -> str:
    """Return the song's name: that of the file's first track, else the file's own."""
    names = (event.text for event in song.contents.tracks[0] if isinstance(event, TrackName))
    stem = Path(name.rpartition(":")[0] or name).stem
    shown = " ".join(next(names, "").split()) or stem or _NO_NAME
    return "".join(sign for sign in shown if sign.isprintable())[:60].strip() or _NO_NAME


def _sounded(song: MidiSong, note: FileNote) -> SoundedNote:
    return SoundedNote(
        start_quarters=note.start,
        end_quarters=note.end,
        length_sec=song.clock.sec(note.end) - song.clock.sec(note.start),
        pitch=note.pitch,
        velocity=note.velocity,
    )


def _bars(song: MidiSong) -> Iterator[SoundedBar]:
    """Yield the bars of a file."""
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
