"""A file's bass part as a line that can be studied: its notes, and the bars that it lies in."""

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction
from pathlib import Path

from msgspec import Struct

from groove.chart.parse import parse_chart
from groove.errors import OptionError
from groove.harmony.analysis import Analysis
from groove.io.charts import read_song
from groove.io.midi_contents import TrackName
from groove.io.midi_song import MidiSong, is_midi, read_midi_song
from groove.io.midi_track import FileNote, tracks_of
from groove.pipeline import analyse_song
from groove.study.draft import DraftBar, draft_chart
from groove.study.frames import chart_frames
from groove.study.heard_chords import Beat, FoundChord, PartNote, found_chords
from groove.study.studied_line import BarFrame, SoundedNote

MOST_STUDIED_BARS = 5_000
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
        draft, sure = _draft(song, title)
        frames = chart_frames(analyse_song(parse_chart(draft, source=f"draft of {name}")), sure)
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


def _draft(song: MidiSong, title: str) -> tuple[str, list[tuple[Fraction, float]]]:
    """Return a chart of what a file plays, and how sure its chords are from which place on."""
    bars = []
    for bar in song.bars():
        bars.append(bar)
        if len(bars) > MOST_STUDIED_BARS:
            raise OptionError(
                f"the file has more than {MOST_STUDIED_BARS} bars", hint="expected one song"
            )
    beats = [
        Beat(
            start_quarters=bar.start + beat * bar.meter.beat_quarters,
            length_quarters=bar.meter.beat_quarters,
            is_bar=beat == 0,
        )
        for bar in bars
        for beat in range(bar.meter.beats_per_bar)
    ]
    chords = found_chords(list(_soundings(song)), beats)
    first = bars[0].meter
    tempo = Fraction(song.clock.qpm(Fraction(0))) / first.tempo_unit_quarters
    made = [
        DraftBar(
            meter=bar.meter,
            section=bar.section,
            chords=tuple(
                _in_bar(chords, bar.start, bar.meter.bar_quarters, bar.meter.beat_quarters)
            ),
        )
        for bar in bars
    ]
    plain = analyse_song(parse_chart(draft_chart(title, tempo, made, 0), source="draft"))
    fifths = _signature(plain)
    return draft_chart(title, tempo, made, fifths), [
        (chord.start_quarters, chord.confidence) for chord in chords
    ]


def _signature(analysis: Analysis) -> int:
    """Return the signature of the key that the chords say."""
    return analysis.key.nearest.respelled().signature_fifths


def _in_bar(
    chords: Sequence[FoundChord], start: Fraction, length: Fraction, beat: Fraction
) -> Iterator[tuple[int, FoundChord]]:
    """Yield the chords of a bar by beat, from 0; the first is the one that goes on from before."""
    first = bisect_right(chords, start, key=_start)
    if first:
        yield 0, chords[first - 1]
    for chord in chords[first : bisect_left(chords, start + length, key=_start)]:
        yield int((chord.start_quarters - start) / beat), chord


def _start(chord: FoundChord) -> Fraction:
    return chord.start_quarters


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
