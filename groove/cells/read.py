"""From the mapping of a TOML file to a cell, with the path of whatever is wrong.

Nothing here opens a file: ``groove.io.library`` hands over a mapping and the file's name.  All
functions raise CellError for anything that a cell cannot be.
"""

import re
from collections.abc import Callable, Iterator, Mapping
from fractions import Fraction
from typing import TypedDict, TypeVar

from msgspec import Struct

from groove.cells.conditions import CONDITIONS, When
from groove.cells.model import (
    Aim,
    BassBar,
    BassCell,
    BassStroke,
    DrumCell,
    DrumEnding,
    DrumFill,
    DrumStroke,
    KeysCell,
    KeysStroke,
)
from groove.cells.table import (
    Row,
    Table,
    check_format,
    read_row,
    read_steps,
    shown,
    shown_key,
)
from groove.cells.tokens import (
    EXPECTED,
    REST,
    head_hold_slots,
    held_slots,
    is_struck,
    parse_token,
)
from groove.errors import nearest_hint
from groove.theory.general_midi import DRUM_KEYS, OLD_STROKES
from groove.timing import Meter

SLOTS_PER_BEAT = range(1, 13)
BASS_GENERATORS = ("walking", "long")
KEYS_GENERATORS = ("held",)
VOICE_COUNTS = range(3, 5)
_TABLE_DEPTH = 2
"""How deep rows stand in a drum cell: ``[when.chorus]``, ``[[fill]]``."""
_DRUM_TABLES = ("when", "fill", "comment", "ending")
CELL_KEYS = ("format", "name", "summary", "meter", "slots_per_beat")

_Bar = TypeVar("_Bar")

KEYS_TOKEN = re.compile(r"V|([1-4]{1,4})(O?)")

KEYS_TOKENS = "V the whole voicing, 13 the first and third voice from below (o after: in octaves)"


class _Common(TypedDict):
    """The fields of every kind of cell."""

    name: str
    summary: str
    source: str
    meter: Meter | None
    slots_per_beat: int


class _CellHead(Struct, frozen=True):
    """What all cells have."""

    name: str
    summary: str
    meter: Meter | None
    slots_per_beat: int

    def common(self, source: str) -> _Common:
        """Return what a cell of any kind is made of, first of all."""
        return {
            "name": self.name,
            "summary": self.summary,
            "source": source,
            "meter": self.meter,
            "slots_per_beat": self.slots_per_beat,
        }

    def slots(self, table: Table) -> int:
        """Return how many slots a bar of this cell has."""
        if self.meter is None:
            table.fail("meter", "found 'any', expected a meter: only a generator serves any meter")
        return self.meter.pulse_count * self.slots_per_beat


def _read_head(table: Table, own_keys: tuple[str, ...]) -> _CellHead:
    """Return what all cells have; the rest of the keys must be among ``own_keys``."""
    check_format(table)
    table.refuse_unknown((*CELL_KEYS, *own_keys))
    return _CellHead(
        table.name(),
        table.text("summary"),
        table.meter("meter"),
        table.whole("slots_per_beat", 1, allowed=SLOTS_PER_BEAT),
    )


def _read_generator(table: Table, known: tuple[str, ...], rows: tuple[str, ...]) -> str | None:
    """Return the name of a generator, None where there is none; beside it rows say nothing."""
    if "generator" not in table.values:
        return None
    name = table.text("generator")
    if name not in known:
        table.fail("generator", f"found {shown(name)}, expected one of: {', '.join(known)}")
    for key in rows:
        if key in table.values:
            table.fail(key, "found beside a generator", "leave out the rows or the generator")
    return name


def _parse_aim(row: Row, bar: int, slot: int) -> Aim:
    token = row.bars[bar][slot]
    aim = parse_token(token)
    if aim is None:
        row.fail(bar, slot, f"found {shown(token)}, expected a step", EXPECTED)
    return aim


def _read_bass_bars(table: Table, slots: int, slots_per_beat: int) -> tuple[BassBar, ...]:
    """Return the bars of ``steps`` and ``levels``."""
    steps, levels = read_steps(table, slots)
    return tuple(
        bass_bar(
            tokens,
            {slot: _parse_aim(steps, bar, slot) for slot in _struck_slots(tokens)},
            {slot: int(levels.bars[bar][slot]) for slot in _struck_slots(tokens)},
            slots_per_beat,
        )
        for bar, tokens in enumerate(steps.bars)
    )


def _struck_slots(tokens: tuple[str, ...]) -> list[int]:
    """Return the slots of a row on which something is struck."""
    return [slot for slot, token in enumerate(tokens) if is_struck(token)]


def bass_bar(
    tokens: tuple[str, ...],
    aims: Mapping[int, Aim],
    levels: Mapping[int, int],
    slots_per_beat: int,
) -> BassBar:
    """Return a bar from its tokens, what each struck slot aims at, and how loud it is."""
    return BassBar(
        strokes=tuple(
            BassStroke(
                step=slot,
                start_beats=Fraction(slot, slots_per_beat),
                length_beats=Fraction(held_slots(tokens, slot), slots_per_beat),
                level=levels[slot],
                aim=aims[slot],
            )
            for slot in sorted(aims)
        ),
        head_hold_beats=Fraction(head_hold_slots(tokens), slots_per_beat),
    )


def read_bass_cell(values: Mapping[str, object], source: str) -> BassCell:
    """Return the bass cell of a TOML mapping.  Raises CellError with the path inside it."""
    table = Table(values, source)
    rows = ("steps", "levels", "when")
    head = _read_head(table, (*rows, "generator"))
    generator = _read_generator(table, BASS_GENERATORS, rows)
    slots = 0 if generator else head.slots(table)
    bars = () if generator else _read_bass_bars(table, slots, head.slots_per_beat)
    return BassCell(
        **head.common(source),
        bars=bars,
        when=_read_when(table, lambda inner: _read_bass_table(inner, head)),
        generator=generator,
    )


def _read_bass_table(table: Table, head: _CellHead) -> tuple[BassBar, ...]:
    """Return the bars of a table that takes the place of a bass cell's own."""
    table.refuse_unknown(("steps", "levels"))
    return _read_bass_bars(table, head.slots(table), head.slots_per_beat)


def _read_when(table: Table, read_bars: Callable[[Table], tuple[_Bar, ...]]) -> When[_Bar]:
    """Return the bars that take the cell's place under conditions, by their names."""
    found = []
    whens = table.table("when")
    for name in whens.values if whens else ():
        assert whens is not None
        if name not in CONDITIONS:
            hint = nearest_hint(str(name), CONDITIONS) or "expected one of: " + ", ".join(
                CONDITIONS
            )
            whens.fail(shown_key(name), "no such condition", hint)
        inner = whens.table(name)
        assert inner is not None, "the key is there"
        bars = read_bars(inner)
        if CONDITIONS[name].of_one_bar and len(bars) > 1:
            key = next(key for key, value in inner.values.items() if "|" in str(value))
            inner.fail(key, f"found {len(bars)} bars, expected one")
        found.append((name, bars))
    return tuple(found)


DrumBars = tuple[tuple[DrumStroke, ...], ...]


def _read_drum_bars(
    table: Table, rows: tuple[str, ...], slots: int, slots_per_beat: int
) -> DrumBars:
    """Return the bars of a table of drum rows, one row a stroke's name."""
    if not rows:
        table.fail("kick", "found no row, expected at least one", 'as: kick = "9 . . ."')
    found = [read_row(table, key, slots) for key in rows]
    longest = max(len(row.bars) for row in found)
    for row in found:
        if longest % len(row.bars):
            table.fail(row.key, f"found {len(row.bars)} bars beside {longest}, expected a divisor")
    return tuple(
        tuple(
            stroke
            for row in found
            for stroke in _drum_row_strokes(row, bar % len(row.bars), slots_per_beat)
        )
        for bar in range(longest)
    )


def _drum_row_strokes(row: Row, bar: int, slots_per_beat: int) -> Iterator[DrumStroke]:
    for slot, token in enumerate(row.bars[bar]):
        if re.fullmatch(r"[1-9]", token):
            start = Fraction(slot, slots_per_beat)
            yield DrumStroke(step=slot, start_beats=start, key=row.key, level=int(token))
        elif token != REST:
            row.fail(bar, slot, f"found {shown(token)}, expected a level from 1 to 9, or a point")


def _drum_rows(table: Table, others: tuple[str, ...] = ()) -> tuple[str, ...]:
    """Return the keys of a table that name strokes, refusing what names nothing."""
    table.refuse_unknown((*others, *DRUM_KEYS))
    return tuple(key for key in table.values if key not in others)


def read_drum_cell(values: Mapping[str, object], source: str) -> DrumCell:
    """Return the drum cell of a TOML mapping; no row at all in any meter is a drummer who rests.

    Raises CellError with the path inside it.
    """
    table = Table(_with_new_names(values), source)
    head = _read_head(table, (*_DRUM_TABLES, *DRUM_KEYS))
    rows = _drum_rows(table, (*CELL_KEYS, *_DRUM_TABLES))
    bars: DrumBars = ()
    if head.meter or rows:
        bars = _read_drum_bars(table, rows, head.slots(table), head.slots_per_beat)
    return DrumCell(
        **head.common(source),
        bars=bars,
        when=_read_when(table, lambda inner: _read_drum_table(inner, head)),
        fills=tuple(_read_fill(fill, table, head) for fill in table.tables("fill")),
        comments=tuple(_read_comment(own, table, head) for own in table.tables("comment")),
        ending=_read_ending(table),
    )


def _with_new_names(values: Mapping[str, object], depth: int = _TABLE_DEPTH) -> dict[str, object]:
    """Return a drum cell's table, and those in it, with the strokes as they are called now."""
    return {OLD_STROKES.get(key, key): _renamed(value, depth) for key, value in values.items()}


def _renamed(value: object, depth: int) -> object:
    """Return what a table holds; of the tables in it so many levels have rows."""
    if not depth:
        return value
    if isinstance(value, Mapping):
        return _with_new_names(value, depth - 1)
    if isinstance(value, list):
        return [_renamed(item, depth - 1) for item in value]
    return value


def _read_drum_table(table: Table, head: _CellHead) -> DrumBars:
    """Return the bars of a table that takes the place of a drum cell's own."""
    return _read_drum_bars(table, _drum_rows(table), head.slots(table), head.slots_per_beat)


def _read_fill(fill: Table, cell: Table, head: _CellHead) -> DrumFill:
    """Return one fill of a cell: whole slots, at most a bar of them."""
    bar_beats = head.slots(cell) // head.slots_per_beat
    grid = fill.whole("slots_per_beat", head.slots_per_beat, allowed=SLOTS_PER_BEAT)
    beats = fill.beats("beats", most=bar_beats)
    slots = beats * grid
    if slots.denominator > 1:
        fill.fail("beats", f"found {shown(fill.values['beats'])}, expected whole slots of 1/{grid}")
    rows = _drum_rows(fill, ("beats", "slots_per_beat"))
    strokes = _only_bar(fill, _read_drum_bars(fill, rows, int(slots), grid))[0]
    return DrumFill(beats=beats, slots_per_beat=grid, strokes=strokes)


def _read_comment(comment: Table, cell: Table, head: _CellHead) -> tuple[DrumStroke, ...]:
    """Return the strokes of one comment, a bar that is laid over the cell's own."""
    rows = _drum_rows(comment)
    slots = head.slots(cell)
    return _only_bar(comment, _read_drum_bars(comment, rows, slots, head.slots_per_beat))[0]


def _read_ending(table: Table) -> DrumEnding:
    name = table.text("ending", DrumEnding.HIT)
    if name not in tuple(DrumEnding):
        table.fail("ending", f"found {shown(name)}, expected one of: {', '.join(DrumEnding)}")
    return DrumEnding(name)


def _only_bar(table: Table, bars: DrumBars) -> DrumBars:
    """Refuse more than one bar of rows, where the table takes the place of one bar or less."""
    if len(bars) > 1:
        table.fail(next(iter(_drum_rows_of(table))), f"found {len(bars)} bars, expected one")
    return bars


def _drum_rows_of(table: Table) -> Iterator[str]:
    """Yield the rows of a table that have more than one bar."""
    for key, value in table.values.items():
        if key in DRUM_KEYS and "|" in str(value):
            yield key


def read_keys_cell(values: Mapping[str, object], source: str) -> KeysCell:
    """Return the keys cell of a TOML mapping.  Raises CellError with the path inside it."""
    table = Table(values, source)
    head = _read_head(table, ("steps", "levels", "when", "voices", "high", "drawn", "generator"))
    generator = _read_generator(table, KEYS_GENERATORS, ("steps", "levels", "when"))
    voice_count = table.whole("voices", 4, allowed=VOICE_COUNTS)
    return KeysCell(
        **head.common(source),
        bars=() if generator else _read_keys_bars(table, head, voice_count),
        when=_read_when(table, lambda inner: _read_keys_table(inner, head, voice_count)),
        voice_count=voice_count,
        is_high=table.flag("high", False),
        is_drawn=table.flag("drawn", False),
        generator=generator,
    )


def _read_keys_bars(
    table: Table, head: _CellHead, voice_count: int
) -> tuple[tuple[KeysStroke, ...], ...]:
    """Return the bars of a keys cell's ``steps`` and ``levels``."""
    steps, levels = read_steps(table, head.slots(table))
    return tuple(
        tuple(
            KeysStroke(
                step=slot,
                start_beats=Fraction(slot, head.slots_per_beat),
                length_beats=Fraction(held_slots(tokens, slot), head.slots_per_beat),
                level=int(levels.bars[bar][slot]),
                voices=_parse_voices(steps, bar, slot, voice_count),
                octaves=token.upper().endswith("O"),
            )
            for slot, token in enumerate(tokens)
            if is_struck(token)
        )
        for bar, tokens in enumerate(steps.bars)
    )


def _read_keys_table(
    table: Table, head: _CellHead, voice_count: int
) -> tuple[tuple[KeysStroke, ...], ...]:
    """Return the bars of a table that takes the place of a keys cell's own."""
    table.refuse_unknown(("steps", "levels"))
    return _read_keys_bars(table, head, voice_count)


def _parse_voices(row: Row, bar: int, slot: int, voice_count: int) -> tuple[int, ...]:
    """Return the voices that a keys token strikes, from below; empty for the whole voicing."""
    token = row.bars[bar][slot]
    match = KEYS_TOKEN.fullmatch(token.upper())
    voices = tuple(int(digit) for digit in match[1] or "") if match else ()
    if not match or list(voices) != sorted(set(voices)) or max(voices, default=1) > voice_count:
        expected = f"expected V, or rising voices from 1 to {voice_count}"
        row.fail(bar, slot, f"found {shown(token)}, {expected}", KEYS_TOKENS)
    return voices
