"""Rows under bars, written: tab two columns a slot and more where a sign is wider, or tokens."""

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import pairwise
from math import lcm

from groove.chart.model import Slur, TabLine, TokenLine, WrittenBar, WrittenNote
from groove.neck.instrument import Tuning

_SLUR_SIGNS = {Slur.HAMMER_ON: "h", Slur.PULL_OFF: "p", Slur.SLIDE: "/"}


def _row_kind(bar: WrittenBar) -> type | None:
    return type(bar.line) if bar.line else None


def bars_a_line(bars: Sequence[WrittenBar], most: int) -> Iterator[tuple[WrittenBar, ...]]:
    """Yield a section's bars in lines of at most so many.

    One line has rows of one kind,
    and cues stand over its first bar alone.
    """
    row: list[WrittenBar] = []
    kind: type | None = None
    for bar in bars:
        own = _row_kind(bar)
        if row and (len(row) == most or bar.cues or (own and kind and own is not kind)):
            yield tuple(row)
            row, kind = [], None
        row.append(bar)
        kind = kind or own
    if row:
        yield tuple(row)


def rows_under(bars: Sequence[WrittenBar]) -> list[str]:
    """Return the rows under a line of bars, none where nothing is written under it."""
    tabs = [bar.line for bar in bars if isinstance(bar.line, TabLine)]
    if tabs:
        tuning = Tuning("", tabs[0].open_pitches)
        columns = [
            tab_rows(bar.line, bar, tuning)
            if isinstance(bar.line, TabLine)
            else [" "] * tuning.string_count
            for bar in bars
        ]
        return [
            f"{tuning.string_name(string):<2}|{'|'.join(bar[string - 1] for bar in columns)}|"
            for string in tuning.strings
        ]
    if any(isinstance(bar.line, TokenLine) for bar in bars):
        return [f"bass | {' | '.join(token_row_text(bar) for bar in bars)} |"]
    return []


def token_row_text(bar: WrittenBar) -> str:
    """Return the tokens under a bar."""
    return (
        " ".join(slot.token for slot in bar.line.slots) if isinstance(bar.line, TokenLine) else ""
    )


def tab_rows(line: TabLine, bar: WrittenBar, tuning: Tuning) -> list[str]:
    """Return a bar of tab, one row a string from the highest."""
    beat = bar.meter.beat_quarters
    slots = _slots_a_beat(line, beat, bar.meter.bar_quarters)
    width = max([2, *(len(_sign_text(note)) + 1 for note in line.notes)])
    columns = 1 + bar.meter.beats_per_bar * slots * width
    return [
        _string_row([n for n in line.notes if n.string == string], beat / slots, width, columns)
        for string in tuning.strings
    ]


def _slots_a_beat(line: TabLine, beat: Fraction, bar_quarters: Fraction) -> int:
    """Return the fewest slots a beat on which every note begins and ends, and is read so.

    Where no note is longer than a slot no ``=`` would be written, and notes would be read as
    lasting to the next one: then each has two slots.
    """
    edges = [
        edge / beat
        for note in line.notes
        for edge in (note.start_quarters, note.start_quarters + note.length_quarters)
    ]
    slots = lcm(1, *(edge.denominator for edge in edges))
    has_holds = any(note.is_tied or note.length_quarters * slots > beat for note in line.notes)
    onsets = [*sorted({note.start_quarters for note in line.notes}), bar_quarters]
    following = dict(pairwise(onsets))
    lasts = all(
        note.start_quarters + note.length_quarters == following[note.start_quarters]
        for note in line.notes
    )
    return slots if has_holds or lasts else 2 * slots


def _sign_text(note: WrittenNote) -> str:
    """Return what stands on the string for a note."""
    if note.is_tied:
        return "="
    if note.fret is None:
        text = "x"
    elif note.is_harmonic:
        text = f"<{note.fret}>"
    else:
        bend = f"b{note.fret + note.bend_semitones}" if note.bend_semitones else ""
        text = f"{note.fret}{bend}"
    return text + ("~" if note.has_vibrato else "")


def _string_row(notes: Sequence[WrittenNote], slot: Fraction, width: int, columns: int) -> str:
    """Return one string of a bar: a margin, then so many columns a slot."""
    row = ["-"] * columns
    for note in notes:
        start = 1 + int(note.start_quarters / slot) * width
        count = int(note.length_quarters / slot)
        sign = _sign_text(note)
        begin = 0 if note.is_tied else start
        end = start + count * width - 1 if count > 1 or note.is_tied else begin
        row[begin:end] = "=" * max(0, end - begin)
        if not note.is_tied:
            row[start : start + len(sign)] = sign
        if note.slur:
            row[start - 1] = _SLUR_SIGNS[note.slur]
    return "".join(row)
