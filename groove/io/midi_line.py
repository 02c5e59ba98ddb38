"""A MIDI file's bass track under the bars of a chart, on the best even grid of each bar.

The file's first tick is the first bar that is played, a pickup too, unless its pitches speak for
another start (``study/line_start``).  Where the chart swings its
notes are looked at without the swing as well, for the band swings them again.
"""

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import pairwise

from msgspec.structs import replace

from groove.cells.model import Library
from groove.chart.form import PlayedBar, unroll
from groove.chart.model import Song
from groove.errors import SourcePlace
from groove.io.foreign_line import with_line
from groove.io.gate import Gate, Where
from groove.io.midi_contents import read_midi
from groove.io.midi_track import FileNote, Track, bass_track, taken_words
from groove.neck.line_places import LineBar, LineNote
from groove.perform import swing_share
from groove.pipeline import PerformOptions, analyse_song, perform_song
from groove.study.frames import chart_frames
from groove.study.line_start import line_start
from groove.study.slot_grid import EXACT_QUARTERS, BarGrid, BarSwing, best_grid
from groove.study.studied_line import SoundedNote
from groove.timing import microseconds_to_qpm

SHORTEST_APART = Fraction(1, 32)


def song_with_midi(
    song: Song,
    data: bytes,
    source: str,
    wanted: str,
    library: Library,
    options: PerformOptions,
) -> Song:
    """Return a song with the bass track of a MIDI file under its bars.

    ``wanted`` is a track's number or name, empty to choose it (see ``bass_track``); ``library``
    and the feel of ``options`` say where the song is swung.  What is moved and left out is told.
    Raises MidiError, OptionError.
    """
    track, others = bass_track(read_midi(data, source), wanted, source)
    gate = Gate(source)
    if not wanted:
        gate.report(taken_words(track, others, source, f"{source}:N"))
    track = _begun(track, song, gate)
    bars = unroll(song)
    lines = _Laying(track, bars, _swings(song, library, options), gate).lines()
    if any(bar.line for section in song.sections for bar in section.bars):
        gate.report("what the chart had written under its bars gives way to it")
    laid = with_line(song, lines, None, gate)
    return replace(laid, notices=(*laid.notices, *gate.notices()))


def _begun(track: Track, song: Song, gate: Gate) -> Track:
    """Return a track that begins where it lies under a chart with a pickup; where, is told."""
    if not song.pickup:
        return track
    sounded = [
        SoundedNote(
            start_quarters=note.start,
            end_quarters=note.end,
            length_sec=0.0,
            pitch=note.pitch,
            velocity=note.velocity,
        )
        for note in track.notes
    ]
    shift, start = line_start(sounded, chart_frames(analyse_song(song)))
    if start.value:
        gate.report(start.value)
    notes = tuple(
        replace(note, start=max(Fraction(0), note.start + shift), end=note.end + shift)
        for note in track.notes
    )
    return replace(track, notes=notes, end=track.end + shift)


def _swings(song: Song, library: Library, options: PerformOptions) -> list[BarSwing | None]:
    """Return how each played bar is swung, None for straight."""
    played = perform_song(song, library, PerformOptions(feel=options.feel, tight=True))
    found: list[BarSwing | None] = []
    for bar in played.bars:
        qpm = microseconds_to_qpm(played.tempo_map.microseconds_at(bar.start_tick))
        share = Fraction(swing_share(bar.swing, qpm)) if bar.swing else Fraction(1, 2)
        is_swung = bar.swing is not None and share != Fraction(1, 2)
        found.append(BarSwing(bar.swing.unit.quarters, share) if bar.swing and is_swung else None)
    return found


class _Laying:
    """Puts the notes of a track into bars."""

    def __init__(
        self,
        track: Track,
        bars: Sequence[PlayedBar],
        swings: Sequence[BarSwing | None],
        gate: Gate,
    ) -> None:
        """``bars`` are all that are played, with how each is swung."""
        self.track = track
        self.bars = bars
        self.swings = swings
        self.gate = gate
        self.moved = 0
        self.farthest = (Fraction(0), "")

    def lines(self) -> list[LineBar | None]:
        """Return a line for each bar but a pickup; None after the end of the track."""
        left = list(self.track.notes)
        held: list[FileNote] = []
        found: list[LineBar | None] = []
        for bar, swung in zip(self.bars, self.swings, strict=True):
            end = bar.end_quarters
            own = [note for note in left if note.start < end]
            left = [note for note in left if note.start >= end]
            notes, over, late = self.bar_notes(bar, swung, own, held)
            left = [*late, *left]
            held = over
            if bar.is_pickup:
                self.report_pickup(notes)
                held = []
            elif bar.start_quarters >= self.track.end and not notes:
                found.append(None)
            else:
                found.append(_line_bar(notes, bar, self.gate.source))
        self.report_ends(left, found)
        return found

    def bar_notes(
        self, bar: PlayedBar, swung: BarSwing | None, own: list[FileNote], held: Sequence[FileNote]
    ) -> tuple[list[LineNote], list[FileNote], list[FileNote]]:
        """Return the notes of a bar, those that last over it, and those that belong to the next."""
        start, length = bar.start_quarters, bar.length_quarters
        grid = best_grid([max(Fraction(0), n.start - start) for n in own], bar.meter, swung)
        notes: list[LineNote] = []
        over: list[FileNote] = []
        late: list[FileNote] = []
        at: dict[Fraction, list[FileNote]] = {}
        for note in own:
            place = grid.snapped(max(Fraction(0), note.start - start))
            if place >= length:
                late.append(replace(note, start=start + length))
                continue
            self.count_move(grid, note, start, bar)
            at.setdefault(place, []).append(note)
        onsets = sorted(at)
        for note in held:
            at_end = onsets[0] if onsets else length
            ends = min(self.end(grid, note, start, bar), at_end)
            if ends > 0:
                notes.append(_line_note(Fraction(0), ends, note.pitch, is_tied=True))
            if note.end > start + length and not onsets:
                over.append(note)
        for place, following in pairwise([*onsets, length]):
            for note in self.kept(at[place], bar):
                ends = min(max(self.end(grid, note, start, bar), place + grid.slot), following)
                notes.append(_line_note(place, ends, note.pitch, is_tied=False))
                if ends == length and note.end > start + length:
                    over.append(note)
        return notes, over, late

    def end(self, grid: BarGrid, note: FileNote, start: Fraction, bar: PlayedBar) -> Fraction:
        """Return where a note ends in a bar: on a slot, or on half of one where they are long."""
        if note.end >= start + bar.length_quarters:
            return bar.length_quarters
        fine = grid.slot / 2 if grid.slot > bar.meter.pulse_quarters / 3 else grid.slot
        return replace(grid, slot=fine).snapped(note.end - start)

    def kept(self, notes: Sequence[FileNote], bar: PlayedBar) -> Iterator[FileNote]:
        """Yield the notes of one slot that sound together; the shorter of two in a row is lost."""
        found: list[FileNote] = []
        for note in sorted(notes, key=lambda note: note.end - note.start, reverse=True):
            is_apart = found and abs(note.start - found[0].start) > SHORTEST_APART
            if is_apart or any(other.pitch == note.pitch for other in found):
                message = "notes closer than the grid are left out"
                self.gate.report(message, Where(_bar_name(bar), 1))
                continue
            found.append(note)
        yield from found

    # --- what is told ---

    def count_move(self, grid: BarGrid, note: FileNote, start: Fraction, bar: PlayedBar) -> None:
        error = grid.error(max(Fraction(0), note.start - start))
        if error > EXACT_QUARTERS:
            self.moved += 1
            self.farthest = max(self.farthest, (error, _bar_name(bar)))

    def report_pickup(self, notes: Sequence[LineNote]) -> None:
        """Tell of notes that a chart has no bar for."""
        if notes:
            self.gate.report("notes of the line in the pickup are left out")

    def report_ends(self, left: Sequence[FileNote], found: Sequence[LineBar | None]) -> None:
        """Tell what was moved, and where the track and the song do not end together."""
        if self.moved:
            error, name = self.farthest
            count = f"{self.moved} note{'s' if self.moved > 1 else ''}"
            far = f"{float(error):.2f} of a quarter, in {name}"
            self.gate.report(f"{count} moved onto the grid, the farthest by {far}")
        drawn = sum(bar is None for bar in found)
        if drawn:
            of = f"{len(found) - drawn} of the {len(found)} bars that are played"
            self.gate.report(f"the track lasts for {of}, the others are drawn")
        if left:
            count = f"{len(left)} note{'s' if len(left) > 1 else ''}"
            message = f"the track is longer than the song: {count} after its end left out"
            self.gate.report(message)


def _line_note(start: Fraction, end: Fraction, pitch: int, *, is_tied: bool) -> LineNote:
    return LineNote(start_quarters=start, length_quarters=end - start, pitch=pitch, is_tied=is_tied)


def _line_bar(notes: Sequence[LineNote], bar: PlayedBar, source: str) -> LineBar:
    place = SourcePlace(source=source, line=1, column=1, text="")
    return LineBar(notes=tuple(notes), meter=bar.meter, name=_bar_name(bar), place=place)


def _bar_name(bar: PlayedBar) -> str:
    """Return a bar as the chart numbers it."""
    return f"bar {bar.ref.written_bar}"
