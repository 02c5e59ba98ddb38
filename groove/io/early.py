"""Chords that come early, from the notes of the bass that strike them.

A file has a pushed chord's symbol on its beat, and the note that strikes it before that, held or
tied over.  Where the bass so strikes a bass note that the chord before did not have, an eighth or a
sixteenth early, the band is early with it (common practice, no source).
"""

from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import Protocol

from groove.events import NO_CHORD
from groove.io.beats import READ_PUSHES, Chords
from groove.io.playing import Signs
from groove.neck.line_places import LineNote
from groove.theory.chords import parse_chord
from groove.timing import Meter


class EarlyPart(Protocol):
    """What is asked of a bar of the file; see ``ForeignBar``."""

    meter: Meter
    chords: Chords
    length_quarters: Fraction | None
    opens_repeat: bool
    closes_repeat: bool
    endings: tuple[int, ...]
    signs: Signs
    line: tuple[LineNote, ...] | None

    @property
    def is_short(self) -> bool: ...  # noqa: D102


def put_early(bars: Sequence[EarlyPart]) -> None:
    """Move the symbols of chords that the bass strikes early to where it strikes them."""
    sounding = NO_CHORD
    before: EarlyPart | None = None
    for bar in bars:
        chords = sorted(bar.chords, key=lambda pair: pair[0])
        stays: Chords = []
        for at, symbol in chords:
            early = next(_early_by(bar, before, at, symbol, sounding), None)
            sounding = symbol
            if early is None:
                stays.append((at, symbol))
            elif at:
                stays.append((at - early, symbol))
            elif before:
                before.chords.append((before.meter.bar_quarters - early, symbol))
        bar.chords = stays
        before = bar


def _early_by(
    bar: EarlyPart, before: EarlyPart | None, at: Fraction, symbol: str, sounding: str
) -> Iterator[Fraction]:
    """Yield by how much the bass is early with a chord, if it is."""
    wanted = _bass_class(symbol)
    if wanted is None or wanted == _bass_class(sounding) or at % bar.meter.beat_quarters:
        return
    if at == 0 and (before is None or not _follows(before, bar)):
        return
    for push in READ_PUSHES:
        early = push.quarters
        start = (at or bar.meter.bar_quarters) - early
        if start % bar.meter.beat_quarters == 0:
            continue
        struck = (before.line or ()) if at == 0 and before else (bar.line or ())
        is_struck = any(
            note.start_quarters == start and not note.is_ghost and note.pitch % 12 == wanted
            for note in struck
        )
        if is_struck and _is_held(bar, at, wanted):
            yield early


def _is_held(bar: EarlyPart, at: Fraction, wanted: int) -> bool:
    """Return whether a note goes on where a chord stands, and nothing is struck there."""
    there = [note for note in bar.line or () if note.start_quarters <= at < note.end_quarters]
    struck = [note for note in there if note.start_quarters == at and not note.is_tied]
    return not struck and any(note.pitch % 12 == wanted for note in there)


def _follows(before: EarlyPart, bar: EarlyPart) -> bool:
    """Return whether a bar is only ever played after the one before it, which is a whole one."""
    jumps = bar.signs.segno, bar.signs.coda, before.signs.to_coda, before.signs.jump
    turns = bar.opens_repeat or before.closes_repeat or before.signs.fine
    is_other = before.endings != bar.endings or before.meter != bar.meter or before.is_short
    return not turns and not is_other and all(sign is None for sign in jumps)


def _bass_class(symbol: str) -> int | None:
    """Return the pitch class that the bass of a chord has, None for no chord."""
    return None if symbol == NO_CHORD else parse_chord(symbol).bass_note.pitch_class
