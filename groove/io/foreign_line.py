"""The bass line of a foreign file, laid under the bars of the chart that the file became."""

from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import Protocol

from msgspec.structs import replace

from groove.chart.laying import lay_line
from groove.chart.model import Song
from groove.chart.transpose import sounding_song
from groove.io.beats import JoinedBar
from groove.io.gate import Gate, Where
from groove.neck.instrument import (
    HIGHEST_FRET,
    STANDARD,
    TUNINGS,
    Tuning,
    tunings_with,
)
from groove.neck.line_places import LineBar, LineNote, place_line
from groove.timing import Meter


class HeardPart(Protocol):
    """What is asked of a bar of the file; see ``ForeignBar``."""

    where: Where
    meter: Meter
    length_quarters: Fraction | None
    line: tuple[LineNote, ...] | None


def piece_notes(
    notes: Sequence[LineNote] | None, start: Fraction, length: Fraction
) -> tuple[LineNote, ...] | None:
    """Return the notes in a piece of a bar; what goes on from before it is tied."""
    if notes is None:
        return None
    end = start + length
    return tuple(
        replace(
            note,
            start_quarters=max(note.start_quarters, start) - start,
            length_quarters=min(note.end_quarters, end) - max(note.start_quarters, start),
            is_tied=note.is_tied or note.start_quarters < start,
        )
        for note in notes
        if note.start_quarters < end and note.end_quarters > start
    )


def heard_bars(
    joined: Sequence[JoinedBar], bars: Sequence[HeardPart], gate: Gate
) -> list[LineBar | None]:
    """Return the line of each bar that is played, None where the file has none."""
    return [
        LineBar(
            notes=tuple(_joined_notes(each, bars)),
            meter=each.meter,
            name=each.where.name,
            place=gate.place(each.where),
        )
        if any(bars[index].line is not None for index in each.indices)
        else None
        for each in joined
    ]


def _joined_notes(joined: JoinedBar, bars: Sequence[HeardPart]) -> Iterator[LineNote]:
    """Yield the notes of a bar that has one or more parts."""
    start = Fraction(0)
    for index in joined.indices:
        bar = bars[index]
        for note in bar.line or ():
            yield replace(note, start_quarters=start + note.start_quarters)
        start += bar.meter.bar_quarters if bar.length_quarters is None else bar.length_quarters


def report_pickup_notes(bar: LineBar | None, gate: Gate) -> None:
    """Tell of notes that a chart has no place for before its first bar."""
    if bar and bar.notes:
        gate.report(f"{bar.name}: notes of the line in the pickup are left out")


def with_line(
    song: Song, bars: Sequence[LineBar | None], stated: Tuning | None, gate: Gate
) -> Song:
    """Return a song with a line under its bars, one for each bar played, pickup apart.

    The line is written for the chart's tuning, else for that which the file ``stated``, else for
    the first of the table that has all its notes.  What is changed is told.  A line without any
    note leaves the song as it is.
    """
    pitches = {note.pitch for bar in bars if bar for note in bar.notes if not note.is_ghost}
    if not pitches:
        return song
    tuning = _line_tuning(song, stated, sorted(pitches))
    placed = place_line(bars, tuning)
    for message, name in placed.reported:
        gate.report(message, Where(name, 1))
    return lay_line(_tuned(sounding_song(song), tuning, gate), placed.lines)


def _line_tuning(song: Song, stated: Tuning | None, pitches: Sequence[int]) -> Tuning:
    """Return the instrument that a line is written for."""
    if song.settings.tuning:
        return song.settings.tuning
    if stated:
        return stated
    having = tunings_with(pitches, HIGHEST_FRET)
    low = TUNINGS["five"] if pitches[0] < STANDARD.lowest_pitch else STANDARD
    return having[0] if having else low


def _tuned(song: Song, tuning: Tuning, gate: Gate) -> Song:
    """Return a song that states a tuning where a chart without a word would have another one."""
    if song.settings.tuning or tuning.open_pitches == STANDARD.open_pitches:
        return song
    gate.report(f"the line is written for the tuning {tuning.name}")
    return replace(song, settings=replace(song.settings, tuning=tuning))
