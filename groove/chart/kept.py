"""A placed bass part as written bars: what a chart would have to say to get the same notes."""

from bisect import bisect_right
from collections.abc import Mapping
from fractions import Fraction

from groove.chart.model import Slur, Song, TabLine, WrittenNote
from groove.chart.written import moved_line
from groove.errors import ChartError, OptionError, SourcePlace
from groove.events import Bar, Note, Part, Performance, Touch
from groove.neck.instrument import Tuning
from groove.timing import TICKS_PER_QUARTER

NOWHERE = SourcePlace(source="", line=1, column=1, text="")
_SLURS = {
    Touch.SLIDE: Slur.SLIDE,
    Touch.HAMMER_ON: Slur.HAMMER_ON,
    Touch.PULL_OFF: Slur.PULL_OFF,
}


def written_lines(performance: Performance, song: Song, tuning: Tuning) -> Mapping[int, TabLine]:
    """Return the tab of every bar by its played number, in the key that the chart is written in.

    A note over a bar line is tied into the bars that it reaches.  A bass note without a place is a
    bug (ValueError): run ``finger_performance`` first.
    """
    starts = [bar.start_tick for bar in performance.bars]
    notes: dict[int, list[WrittenNote]] = {bar.ref.played_bar: [] for bar in performance.bars}
    for note in performance.part_notes(Part.BASS):
        index = bisect_right(starts, note.grid_tick) - 1
        is_tied = False
        while index < len(starts) and starts[index] < note.grid_tick + note.written_ticks:
            bar = performance.bars[index]
            notes[bar.ref.played_bar].append(_written_note(note, bar, is_tied=is_tied))
            index, is_tied = index + 1, True
    lines = {}
    for bar in performance.bars:
        own = sorted(notes[bar.ref.played_bar], key=lambda n: (n.start_quarters, n.string))
        line = TabLine(open_pitches=tuning.open_pitches, notes=tuple(own))
        lines[bar.ref.played_bar] = _as_charted(line, bar, song)
    return lines


def _as_charted(line: TabLine, bar: Bar, song: Song) -> TabLine:
    """Return a line where the chart has it, whose own ``transpose`` will move it.

    Raises OptionError for a note that the neck has not there.
    """
    own = song.section(bar.ref.section).settings if bar.ref.is_written else song.settings
    semitones = own.over(song.settings).transpose or 0
    try:
        moved = moved_line(line, -semitones)
    except ChartError:
        message = (
            f"bar {bar.ref.written_bar} sounds {semitones:+d} half steps from where its chart is "
            "written, and the neck has not all of its notes there"
        )
        hint = "expected a chart in the key that sounds, without transpose:, or another tuning"
        raise OptionError(message, hint=hint) from None
    assert isinstance(moved, TabLine)
    return moved


def _written_note(note: Note, bar: Bar, *, is_tied: bool) -> WrittenNote:
    """Return the part of a note that lies in a bar."""
    if note.place is None:
        raise ValueError(f"not placed: {note}")
    start = max(note.grid_tick, bar.start_tick)
    end = min(note.grid_tick + note.written_ticks, bar.end_tick)
    is_ghost = note.touch is Touch.GHOST
    return WrittenNote(
        start_quarters=Fraction(start - bar.start_tick, TICKS_PER_QUARTER),
        length_quarters=Fraction(end - start, TICKS_PER_QUARTER),
        string=note.place.string,
        fret=None if is_ghost else note.place.fret,
        pitch=None if is_ghost else note.pitch,
        slur=None if is_tied else _SLURS.get(note.touch),
        bend_semitones=note.bend_semitones,
        is_harmonic=note.touch is Touch.HARMONIC,
        has_vibrato=note.has_vibrato,
        is_tied=is_tied,
        place=NOWHERE,
    )
