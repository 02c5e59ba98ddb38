"""The bass part as text tab, for the terminal and for a message.

One line a string, the highest on top, as the trade writes it: dashes, bar lines, fret digits.  The
rest is ours: `=` holds a note (over a bar line too), `x` is a ghost, `r` in the count is a beat on
which nothing sounds.  Every beat of a bar has the same number of slots, the fewest that its notes
need; the legend says what each sign in use means.
"""

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby, pairwise
from math import gcd

from groove.bar_place import BarRef
from groove.events import Bar, Note, Part, Performance, Place, Touch, placed
from groove.neck.instrument import STANDARD, Tuning
from groove.text.times import but_for, time_words, which_time
from groove.timing import TICKS_PER_QUARTER, quarters_to_ticks

LONGEST_SLOT_TICKS = TICKS_PER_QUARTER // 2
NARROWEST_SLOT = 2
WIDEST_SLOT = 8
_LABEL_WIDTH = 3
SIGN_WORDS = {
    "/": "/ slide into",
    "\\": "\\ slide down into",
    "h": "h hammer-on",
    "p": "p pull-off",
    "b": "7b9 bend to what fret 9 sounds",
    "~": "~ vibrato",
    "<": "<12> harmonic",
    "x": "x ghost",
    "=": "= held",
    "r": "r rest on that beat",
}
"""What the signs on strings and under them mean; the legend tells those that occur."""
_SLUR_SIGNS = {Touch.SLIDE: "/", Touch.HAMMER_ON: "h", Touch.PULL_OFF: "p"}


@dataclass(frozen=True, slots=True, kw_only=True)
class _TabOptions:
    """How a tab is set: ``width`` in columns (at least 40), and the extra lines."""

    width: int = 80
    show_fingers: bool = False
    show_pluck: bool = False


@dataclass(frozen=True, slots=True)
class _TabNote:
    """A note on the columns of its bar; a negative slot began before the bar."""

    slot: int
    end_slot: int
    is_tied_over: bool
    note: Note
    place: Place


@dataclass(frozen=True, slots=True)
class _TabPiece:
    """A bar, or some beats of one, as finished rows of equal width (bar line left out)."""

    bar: Bar
    rows: dict[str, str]
    closes_bar: bool
    opens_bar: bool

    @property
    def width(self) -> int:
        return len(self.rows["count"]) + 1

    @property
    def rows_with_signs(self) -> list[str]:
        """The rows whose signs the legend tells: strings and count."""
        return [row for name, row in self.rows.items() if name.startswith(("string", "count"))]

    def follows(self, other: "_TabPiece") -> bool:
        """Whether it goes on from another one in the chart as it is written."""
        bars = 1 if self.opens_bar else 0
        return self.bar.ref.written_bar == other.bar.ref.written_bar + bars


@dataclass(frozen=True, slots=True)
class _TabPass:
    """One time through the bars of a section, each bar as the page has it."""

    bars: dict[BarRef, list[_TabPiece]]

    @property
    def ref(self) -> BarRef:
        """Its first bar."""
        return next(iter(self.bars))

    @property
    def written_bars(self) -> list[int]:
        """The chart's numbers of its bars, in order: another ending has other ones."""
        return [ref.written_bar for ref in self.bars]

    def compares_with(self, other: "_TabPass") -> bool:
        """Whether it may be told by another: the same bars, more than half of them alike."""
        if (self.ref.section, self.written_bars) != (other.ref.section, other.written_bars):
            return False
        return 2 * self.others_than_count(other) < len(self.bars)

    def others_than(self, other: "_TabPass") -> list[BarRef]:
        """Return the bars that are not as another time has them."""
        pairs = zip(self.bars.items(), other.bars.values(), strict=True)
        return [
            ref
            for (ref, own), old in pairs
            if [block.rows for block in own] != [block.rows for block in old]
        ]

    def others_than_count(self, other: "_TabPass") -> int:
        """Return how many bars are not as another time has them."""
        return len(self.others_than(other))


def tab_text(
    performance: Performance,
    *,
    tuning: Tuning = STANDARD,
    width: int = 80,
    show_fingers: bool = False,
    show_pluck: bool = False,
) -> str:
    """Return the placed bass part of a performance as tab, no line wider than ``width``.

    A section that comes again with the same notes at the same places is told in one line; where
    less than half of its bars are others, that line names them and they alone follow.
    A bass note without a place is a bug (ValueError): run ``finger_performance`` first.
    """
    options = _TabOptions(width=max(40, width), show_fingers=show_fingers, show_pluck=show_pluck)
    notes = sorted(performance.part_notes(Part.BASS), key=_grid_tick)
    systems: list[str] = []
    signs: set[str] = set()
    shown: list[_TabPass] = []
    for _, bars in groupby(performance.bars, key=_time_through):
        time = _TabPass({bar.ref: _bar_blocks(bar, notes, tuning, options) for bar in bars})
        near = min(filter(time.compares_with, shown), key=time.others_than_count, default=None)
        shown.append(time)
        others = time.others_than(near) if near else list(time.bars)
        if near:
            systems.append(f"{time_words(time.ref)}: as {which_time(near.ref)}{but_for(others)}")
        blocks = [block for ref in others for block in time.bars[ref]]
        systems += _system_texts(blocks, tuning, options, is_named=near is None)
        signs.update(*(row for block in blocks for row in block.rows_with_signs))
    open_names = " ".join(map(tuning.string_name, reversed(tuning.strings)))
    head = f"{performance.title}  (bass: {open_names})" if performance.title else open_names
    return "\n\n".join(filter(None, [head, *systems, _legend(signs, options)])) + "\n"


def bars_tab(
    performance: Performance, bars: Sequence[Bar], *, tuning: Tuning = STANDARD, width: int = 80
) -> list[str]:
    """Return the lines of some bars of the placed bass part, without title, numbers and legend."""
    options = _TabOptions(width=max(40, width))
    notes = sorted(performance.part_notes(Part.BASS), key=_grid_tick)
    blocks = [block for bar in bars for block in _bar_blocks(bar, notes, tuning, options)]
    return [row for system in _systems(blocks, options) for row in _system_rows(system, tuning)]


def _time_through(bar: Bar) -> tuple[str, int, int]:
    """Return what tells one time through some bars from the next."""
    return (bar.ref.section, bar.ref.occurrence, bar.ref.pass_number)


def _slot_ticks_of(bar: Bar, onset_ticks: Sequence[int]) -> int:
    """Return the longest slot (at most an eighth) on which a bar's beats and onsets all fall.

    ``onset_ticks`` count from the bar line.
    """
    beat_ticks = quarters_to_ticks(bar.meter.beat_quarters)
    common = gcd(beat_ticks, *onset_ticks)
    parts = -(-common // LONGEST_SLOT_TICKS)
    while common % parts:
        parts += 1
    return common // parts


def _bar_notes(bar: Bar, notes: Sequence[Note]) -> list[Note]:
    """Return the notes that begin in a bar, and the one before, which may be tied over."""
    first = bisect_left(notes, bar.start_tick, key=_grid_tick)
    last = bisect_left(notes, bar.end_tick, key=_grid_tick)
    if first:
        # Two strings that are struck at once are both held over.
        first = bisect_left(notes, notes[first - 1].grid_tick, key=_grid_tick)
    return list(notes[first:last])


def _grid_tick(note: Note) -> int:
    return note.grid_tick


def _bar_events(bar: Bar, notes: Sequence[Note], slot_ticks: int) -> list[_TabNote]:
    events = []
    slots = bar.length_ticks // slot_ticks
    for note in notes:
        slot = (note.grid_tick - bar.start_tick) // slot_ticks
        end_tick = note.grid_tick + note.written_ticks - bar.start_tick
        end_slot = max(slot + 1, round(end_tick / slot_ticks))
        tied = end_slot > slots
        events.append(_TabNote(slot, min(end_slot, slots), tied, note, placed(note)))
    return [event for event in events if event.end_slot > 0]


def _bar_blocks(
    bar: Bar, notes: Sequence[Note], tuning: Tuning, options: _TabOptions
) -> list[_TabPiece]:
    """Return a bar's blocks: one, or several where it is too wide for the page."""
    notes = _bar_notes(bar, notes)
    onsets = [note.grid_tick - bar.start_tick for note in notes]
    slot_ticks = _slot_ticks_of(bar, [onset for onset in onsets if onset >= 0])
    events = _bar_events(bar, notes, slot_ticks)
    slot_width = _slot_width(bar, events, slot_ticks)
    rows = _bar_rows(bar, events, slot_ticks, slot_width, tuning, options)
    beat_width = quarters_to_ticks(bar.meter.beat_quarters) // slot_ticks * slot_width
    cuts = _cuts(len(rows["count"]), beat_width, options.width - _LABEL_WIDTH - 1)
    return [
        _TabPiece(
            bar=bar,
            rows={name: row[start:end] for name, row in rows.items()},
            closes_bar=end == cuts[-1],
            opens_bar=start == 0,
        )
        for start, end in pairwise(cuts)
    ]


def _cuts(row_width: int, beat_width: int, room: int) -> list[int]:
    """Return where a row of a bar is cut, at beats, so that each piece fits the room."""
    cuts = [0]
    while row_width - cuts[-1] > room:
        lead = 1 if cuts[-1] == 0 else 0
        beats = max(1, (room - lead) // beat_width)
        cuts.append(cuts[-1] + lead + beats * beat_width)
    return [*cuts, row_width]


def _slot_width(bar: Bar, events: Sequence[_TabNote], slot_ticks: int) -> int:
    """Return the columns a slot needs: its digits and a dash, and room for the chord names."""
    digits = max((len(_sign(event)) for event in events), default=1)
    width = max(NARROWEST_SLOT, digits + 1)
    ends = [onset.tick for onset in bar.chords[1:]] + [bar.length_ticks]
    for onset, end in zip(bar.chords, ends, strict=True):
        slots = max(1, (end - onset.tick) // slot_ticks)
        width = max(width, min(WIDEST_SLOT, -(-(len(onset.symbol) + 1) // slots)))
    return width


def _sign(event: _TabNote) -> str:
    """Return what stands on the string: the fret, ``x``, ``<12>``, with its bend and vibrato."""
    note, fret = event.note, event.place.fret
    if note.touch is Touch.GHOST:
        return "x"
    text = f"<{fret}>" if note.touch is Touch.HARMONIC else str(fret)
    bend = f"b{fret + note.bend_semitones}" if note.bend_semitones else ""
    return text + bend + "~" * note.has_vibrato


def _slur_sign(event: _TabNote, before: _TabNote | None) -> str:
    """Return what stands before a sign that is reached without a stroke, empty for a stroke."""
    if event.note.touch is Touch.SLIDE and before and before.place.fret > event.place.fret:
        return "\\"
    return _SLUR_SIGNS.get(event.note.touch, "")


def _bar_rows(
    bar: Bar,
    events: Sequence[_TabNote],
    slot_ticks: int,
    slot_width: int,
    tuning: Tuning,
    options: _TabOptions,
) -> dict[str, str]:
    """Return the rows of a bar, each one column (after the bar line) and its slots wide."""
    slots = bar.length_ticks // slot_ticks
    columns = 1 + slots * slot_width
    rows = {"chords": _chord_row(bar, slot_ticks, slot_width, columns)}
    for string in tuning.strings:
        on_string = [event for event in events if event.place.string == string]
        rows[f"string {string}"] = _string_row(on_string, slot_width, columns)
    rows["count"] = _count_row(bar, events, slot_ticks, slot_width, columns)
    starts = [event for event in events if event.slot >= 0]
    if options.show_fingers:
        fingers = {event.slot: str(event.place.finger) for event in starts}
        rows["fingers"] = _sparse_row(fingers, slot_width, columns)
    if options.show_pluck:
        plucks = {event.slot: event.place.pluck for event in starts}
        rows["pluck"] = _sparse_row(plucks, slot_width, columns)
    return rows


def _chord_row(bar: Bar, slot_ticks: int, slot_width: int, columns: int) -> str:
    row = ""
    for onset in bar.chords:
        column = 1 + onset.tick // slot_ticks * slot_width
        row = (row + " " if row else row).ljust(column) + onset.symbol
    return row[:columns].ljust(columns)


def _string_row(events: Sequence[_TabNote], slot_width: int, columns: int) -> str:
    row = ["-"] * columns
    before: _TabNote | None = None
    for event in events:
        start = 1 + event.slot * slot_width if event.slot >= 0 else 0
        end = columns if event.is_tied_over else event.end_slot * slot_width
        row[start:end] = "=" * (end - start)
        if event.slot >= 0:
            column = 1 + event.slot * slot_width
            _write(row, column, event, slot_width)
            row[column - 1] = _slur_sign(event, before) or row[column - 1]
        before = event
    return "".join(row)


def _write(row: list[str], column: int, event: _TabNote, slot_width: int) -> None:
    """Put a fret or an ``x`` at a column, and what is left of a single slot as dashes."""
    sign = _sign(event)
    row[column : column + len(sign)] = sign
    if event.end_slot - event.slot == 1 and not event.is_tied_over:
        row[column + len(sign) : column + slot_width] = "-" * (slot_width - len(sign))


def _count_row(
    bar: Bar, events: Sequence[_TabNote], slot_ticks: int, slot_width: int, columns: int
) -> str:
    per_beat = quarters_to_ticks(bar.meter.beat_quarters) // slot_ticks
    slots = bar.length_ticks // slot_ticks
    sounding = {slot for event in events for slot in range(event.slot, event.end_slot)}
    marks = {}
    for beat, slot in enumerate(range(0, slots, per_beat), start=1):
        silent = sounding.isdisjoint(range(slot, slot + per_beat))
        marks[slot] = "r" if silent else str(beat)
    return _sparse_row(marks, slot_width, columns)


def _sparse_row(marks: dict[int, str], slot_width: int, columns: int) -> str:
    row = [" "] * columns
    for slot, mark in marks.items():
        column = 1 + slot * slot_width
        row[column : column + len(mark)] = list(mark)
    return "".join(row)[:columns]


def _system_texts(
    blocks: Sequence[_TabPiece], tuning: Tuning, options: _TabOptions, *, is_named: bool
) -> list[str]:
    """Return a section's blocks as systems, as many blocks to a line as the width takes.

    ``is_named`` is whether the first one tells which section it is and which time.
    """
    systems = _systems(blocks, options)
    return [
        _system_text(system, is_named and index == 0, tuning)
        for index, system in enumerate(systems)
    ]


def _systems(blocks: Sequence[_TabPiece], options: _TabOptions) -> list[list[_TabPiece]]:
    """Return blocks as systems.

    Where an ending is left out a new system begins, so that a line's bars are counted on.
    """
    systems: list[list[_TabPiece]] = []
    room = 0
    for block in blocks:
        if not systems or block.width > room or not block.follows(systems[-1][-1]):
            systems.append([])
            room = options.width - _LABEL_WIDTH
        systems[-1].append(block)
        room -= block.width
    return systems


def _system_text(system: Sequence[_TabPiece], is_first: bool, tuning: Tuning) -> str:
    ref = system[0].bar.ref
    name = time_words(ref) if is_first or ref.is_pickup else ""
    number = f"bar {ref.written_bar}" if ref.is_written else ""
    heading = ", ".join(filter(None, [name, number]))
    return "\n".join(filter(None, [heading, *_system_rows(system, tuning)]))


def _system_rows(system: Sequence[_TabPiece], tuning: Tuning) -> list[str]:
    """Return the lines of a system: chords, strings, count, and what else was asked for."""
    lines = [_open_line(system, "chords", "")]
    for string in tuning.strings:
        label = f"{tuning.string_name(string):<2}"
        lines.append(_string_line(system, string, label))
    lines.append(_open_line(system, "count", ""))
    for name, label in (("fingers", "fi"), ("pluck", "pl")):
        if name in system[0].rows:
            lines.append(_open_line(system, name, label))
    return [line for line in lines if line]


def _open_line(system: Sequence[_TabPiece], name: str, label: str) -> str:
    body = " ".join(block.rows[name] for block in system)
    return (label.ljust(_LABEL_WIDTH) + body).rstrip()


def _string_line(system: Sequence[_TabPiece], string: int, label: str) -> str:
    """Return one string's line; a bar that goes on in the next line ends and begins with ``:``."""
    line = label + ("|" if system[0].opens_bar else ":")
    for block in system:
        line += block.rows[f"string {string}"] + ("|" if block.closes_bar else ":")
    return line


def _legend(signs: set[str], options: _TabOptions) -> str:
    parts = [words for sign, words in SIGN_WORDS.items() if sign in signs]
    if options.show_fingers:
        parts.append("fi fretting finger, 0 open")
    if options.show_pluck:
        parts.append("pl pluck: i index, m middle, p thumb")
    lines = [""]
    for part in parts:
        joined = f"{lines[-1]}   {part}" if lines[-1] else part
        lines = [*lines[:-1], joined] if len(joined) <= options.width else [*lines, part]
    return "\n".join(lines)
