"""From the mapping of a TOML file to a cell or a feel, with the path of whatever is wrong.

Nothing here opens a file: ``groove.io.library`` hands over a mapping and the file's name.
"""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import NoReturn

from groove.cells.fit import pulse_count
from groove.cells.model import (
    FORMAT,
    Aim,
    AimKind,
    BassBar,
    BassCell,
    BassStroke,
    DrumCell,
    DrumStroke,
    Feel,
    KeysCell,
    KeysStroke,
)
from groove.errors import CellError, nearest_hint
from groove.theory.general_midi import DRUM_KEYS
from groove.timing import Meter, Swing, parse_swing

LONGEST_CELL_BARS = 8
SLOTS_PER_BEAT = range(1, 13)
BASS_GENERATORS = ("walking", "long")
KEYS_GENERATORS = ("held",)
CELL_KEYS = ("format", "name", "summary", "meter", "slots_per_beat")
METER_UNITS = (1, 2, 4, 8, 16)

DEGREE_TOKEN = re.compile(r"(s?)([b#]?)(R|10|[356789])(,?)")
NEXT_TOKEN = re.compile(r"(s?)>(R|\*|[+-][12])")
KEYS_TOKEN = re.compile(r"V|([1-4]{1,4})(o?)")


@dataclass(frozen=True, slots=True)
class Table:
    """One mapping of a file, and how to speak of what is in it."""

    values: Mapping[str, object]
    source: str
    prefix: str = ""

    def fail(self, key: str, message: str, hint: str = "") -> NoReturn:
        """Raise the error for a key of this table."""
        raise CellError(message, source=self.source, path=self.prefix + key, hint=hint)

    def refuse_unknown(self, known: Iterator[str] | tuple[str, ...]) -> None:
        """Refuse keys that this format does not have."""
        names = tuple(known)
        for key in self.values:
            if key not in names:
                expected = "expected one of: " + ", ".join(names)
                self.fail(key, "unknown key", nearest_hint(key, names) or expected)

    def text(self, key: str, default: str | None = None) -> str:
        """Return a string."""
        value = self.values.get(key, default)
        if not isinstance(value, str):
            self.fail(key, f"found {shown(value)}, expected a text in quotes")
        return value

    def whole(self, key: str, default: int | None = None, *, allowed: range) -> int:
        """Return a whole number within a range."""
        value = self.values.get(key, default)
        if not isinstance(value, int) or isinstance(value, bool) or value not in allowed:
            expected = f"expected a whole number from {allowed[0]} to {allowed[-1]}"
            self.fail(key, f"found {shown(value)}, {expected}")
        return value

    def flag(self, key: str, default: bool) -> bool:
        """Return true or false."""
        value = self.values.get(key, default)
        if not isinstance(value, bool):
            self.fail(key, f"found {shown(value)}, expected true or false")
        return value

    def wholes(self, key: str, *, allowed: range) -> tuple[int, ...]:
        """Return a list of whole numbers within a range, empty where the key is missing."""
        value = self.values.get(key, [])
        if not isinstance(value, list) or any(
            not isinstance(item, int) or isinstance(item, bool) or item not in allowed
            for item in value
        ):
            expected = f"expected whole numbers from {allowed[0]} to {allowed[-1]} in brackets"
            self.fail(key, f"found {shown(value)}, {expected}")
        return tuple(value)

    def table(self, key: str) -> "Table | None":
        """Return a table inside this one, None where the key is missing."""
        value = self.values.get(key)
        if value is None:
            return None
        if not isinstance(value, Mapping):
            self.fail(key, f"found {shown(value)}, expected a table [{key}]")
        return Table(value, self.source, f"{self.prefix}{key}.")

    def meter(self, key: str) -> Meter | None:
        """Return a meter, None for ``any``."""
        text = self.text(key)
        return None if text == "any" else self.parse_meter(key, text)

    def parse_meter(self, key: str, text: str) -> Meter:
        """Return the meter that a text spells."""
        match = re.fullmatch(r"(\d{1,2})/(\d{1,2})", text.strip())
        if not match or not 1 <= int(match[1]) <= 24 or int(match[2]) not in METER_UNITS:
            self.fail(key, f"found {text!r}, expected a meter as 4/4 or 12/8, or any")
        return Meter(int(match[1]), int(match[2]))


def shown(value: object) -> str:
    """Return a found value for a message, cut to a readable length."""
    if value is None:
        return "nothing"
    text = repr(value)
    return text if len(text) <= 40 else text[:37] + "…"


def check_format(table: Table) -> None:
    """Refuse a file of a later format by its number."""
    found = table.values.get("format")
    if found != FORMAT or isinstance(found, bool):
        later = isinstance(found, int) and found > FORMAT
        table.fail(
            "format",
            f"found {shown(found)}, expected {FORMAT}",
            "this file is for a later version of groove" if later else "write: format = 1",
        )


def cell_head(table: Table) -> tuple[str, str, Meter | None, int]:
    """Return what all cells have: name, summary, meter, slots per beat."""
    check_format(table)
    name = table.text("name").strip()
    if not name or name.casefold() == "out" or len(name) > 60:
        table.fail("name", f"found {shown(name)}, expected a name of up to 60 letters, not 'out'")
    return (
        name,
        table.text("summary"),
        table.meter("meter"),
        table.whole("slots_per_beat", 1, allowed=SLOTS_PER_BEAT),
    )


@dataclass(frozen=True, slots=True)
class Row:
    """A row of slots: where it stands and its tokens, bar by bar."""

    table: Table
    key: str
    bars: tuple[tuple[str, ...], ...]

    def fail(self, bar: int, slot: int, message: str, hint: str = "") -> NoReturn:
        """Raise the error for a slot, both counted from 0 here and from 1 in the message."""
        self.table.fail(f"{self.key}: bar {bar + 1}, slot {slot + 1}", message, hint)


def read_row(table: Table, key: str, slots: int) -> Row:
    """Return a row whose every bar has the number of slots that the meter asks for."""
    text = table.text(key)
    bars = tuple(tuple(part.split()) for part in text.split("|"))
    if len(bars) > LONGEST_CELL_BARS:
        table.fail(key, f"found {len(bars)} bars, expected at most {LONGEST_CELL_BARS}")
    for index, tokens in enumerate(bars):
        if len(tokens) != slots:
            table.fail(f"{key}: bar {index + 1}", f"found {len(tokens)} slots, expected {slots}")
    return Row(table, key, bars)


def read_levels(table: Table, key: str, steps: Row, slots: int) -> Row:
    """Return the row of levels under a row of steps: a digit where something is struck."""
    levels = read_row(table, key, slots)
    if len(levels.bars) != len(steps.bars):
        table.fail(key, f"found {len(levels.bars)} bars, expected {len(steps.bars)} as in steps")
    for bar, (tokens, marks) in enumerate(zip(steps.bars, levels.bars, strict=True)):
        for slot, (token, mark) in enumerate(zip(tokens, marks, strict=True)):
            struck = token not in "-."
            if struck != bool(re.fullmatch(r"[1-9]", mark)) or (not struck and mark != "."):
                expected = "a level from 1 to 9" if struck else "a point: nothing is struck there"
                levels.fail(bar, slot, f"found {mark!r} under {token!r}, expected {expected}")
    return levels


def parse_aim(row: Row, bar: int, slot: int) -> Aim:
    """Return what a bass token aims at."""
    token = row.bars[bar][slot]
    if token == "x":
        return Aim(kind=AimKind.GHOST)
    if match := NEXT_TOKEN.fullmatch(token):
        offset = {"R": 0, "*": None}.get(match[2])
        if match[2] not in "R*":
            offset = int(match[2])
        return Aim(kind=AimKind.NEXT, offset=offset, slide=bool(match[1]))
    if match := DEGREE_TOKEN.fullmatch(token):
        return Aim(
            kind=AimKind.DEGREE,
            number=1 if match[3] == "R" else int(match[3]),
            alter={"": 0, "b": -1, "#": 1}[match[2]],
            is_altered=bool(match[2]),
            octaves=-1 if match[4] else 0,
            slide=bool(match[1]),
        )
    row.fail(
        bar,
        slot,
        f"found {token!r}, expected a step",
        "R 3 5 6 7 8 9 10 (b or # before, a comma after: an octave lower), >R >-1 >+1 >-2 >+2 "
        ">* for the next chord, x ghost, s before a degree for a slide, - hold, . rest",
    )


def held_slots(tokens: tuple[str, ...], slot: int) -> int:
    """Return how many slots the stroke at a slot lasts, its holds included."""
    end = slot + 1
    while end < len(tokens) and tokens[end] == "-":
        end += 1
    return end - slot


def head_hold_slots(tokens: tuple[str, ...]) -> int:
    """Return how many slots at the head of a bar belong to the note before."""
    return held_slots(("-", *tokens), 0) - 1


def read_bass_bars(table: Table, slots: int, slots_per_beat: int) -> tuple[BassBar, ...]:
    """Return the bars of ``steps`` and ``levels``."""
    steps = read_row(table, "steps", slots)
    levels = read_levels(table, "levels", steps, slots)
    bars = []
    for bar, tokens in enumerate(steps.bars):
        refuse_lost_holds(steps, bar)
        strokes = tuple(
            BassStroke(
                step=slot,
                start_beats=Fraction(slot, slots_per_beat),
                length_beats=Fraction(held_slots(tokens, slot), slots_per_beat),
                level=int(levels.bars[bar][slot]),
                aim=parse_aim(steps, bar, slot),
            )
            for slot, token in enumerate(tokens)
            if token not in "-."
        )
        hold = Fraction(head_hold_slots(tokens), slots_per_beat)
        bars.append(BassBar(strokes=strokes, head_hold_beats=hold))
    return tuple(bars)


def refuse_lost_holds(row: Row, bar: int) -> None:
    """Refuse a hold that follows a rest: there is nothing to hold."""
    tokens = row.bars[bar]
    for slot in range(1, len(tokens)):
        if tokens[slot] == "-" and tokens[slot - 1] == ".":
            row.fail(bar, slot, "found a hold after a rest, expected a step or a rest")


def read_bass_cell(values: Mapping[str, object], source: str) -> BassCell:
    """Return the bass cell of a TOML mapping.  Raises CellError with the path inside it."""
    table = Table(values, source)
    name, summary, meter, slots_per_beat = cell_head(table)
    table.refuse_unknown(
        (*CELL_KEYS, "steps", "levels", "phrase_end", "same_chord_bars", "generator")
    )
    if "generator" in values:
        return BassCell(
            name=name,
            summary=summary,
            source=source,
            meter=meter,
            slots_per_beat=slots_per_beat,
            bars=(),
            generator=read_generator(table, BASS_GENERATORS),
        )
    slots = slots_in_bar(table, meter, slots_per_beat)
    end = table.table("phrase_end")
    if end:
        end.refuse_unknown(("steps", "levels"))
    return BassCell(
        name=name,
        summary=summary,
        source=source,
        meter=meter,
        slots_per_beat=slots_per_beat,
        bars=read_bass_bars(table, slots, slots_per_beat),
        phrase_end=read_bass_bars(end, slots, slots_per_beat) if end else (),
        same_chord_bars=table.wholes("same_chord_bars", allowed=range(2, LONGEST_CELL_BARS + 1)),
    )


def read_generator(table: Table, known: tuple[str, ...]) -> str:
    """Return the name of a generator."""
    name = table.text("generator")
    if name not in known:
        table.fail("generator", f"found {name!r}, expected one of: {', '.join(known)}")
    return name


def slots_in_bar(table: Table, meter: Meter | None, slots_per_beat: int) -> int:
    """Return how many slots a bar of this cell has."""
    if meter is None:
        table.fail("meter", "found 'any', expected a meter: only a generator serves any meter")
    return pulse_count(meter) * slots_per_beat


def read_drum_bars(
    table: Table, rows: tuple[str, ...], slots: int, slots_per_beat: int
) -> tuple[tuple[DrumStroke, ...], ...]:
    """Return the bars of a table of drum rows, one row a stroke's name."""
    found = [read_row(table, key, slots) for key in rows]
    counts = {len(row.bars) for row in found}
    if not found:
        table.fail("kick", "found no row, expected at least one", 'as: kick = "9 . . ."')
    longest = max(counts)
    for row in found:
        if longest % len(row.bars):
            table.fail(row.key, f"found {len(row.bars)} bars beside {longest}, expected a divisor")
    return tuple(
        tuple(
            stroke
            for row in found
            for stroke in drum_row_strokes(row, bar % len(row.bars), slots_per_beat)
        )
        for bar in range(longest)
    )


def drum_row_strokes(row: Row, bar: int, slots_per_beat: int) -> Iterator[DrumStroke]:
    """Yield the strokes of one bar of one row."""
    for slot, token in enumerate(row.bars[bar]):
        if re.fullmatch(r"[1-9]", token):
            start = Fraction(slot, slots_per_beat)
            yield DrumStroke(step=slot, start_beats=start, key=row.key, level=int(token))
        elif token != ".":
            row.fail(bar, slot, f"found {token!r}, expected a level from 1 to 9, or a point")


def drum_rows(table: Table, others: tuple[str, ...]) -> tuple[str, ...]:
    """Return the keys of a table that name strokes, refusing what names nothing."""
    rows = tuple(key for key in table.values if key not in others)
    table.refuse_unknown((*others, *DRUM_KEYS))
    return rows


def read_drum_cell(values: Mapping[str, object], source: str) -> DrumCell:
    """Return the drum cell of a TOML mapping.  Raises CellError with the path inside it."""
    table = Table(values, source)
    name, summary, meter, slots_per_beat = cell_head(table)
    own = (*CELL_KEYS, "phrase_end", "fill")
    rows = drum_rows(table, own)
    is_silent = meter is None and not rows
    slots = 1 if is_silent else slots_in_bar(table, meter, slots_per_beat)
    end, fill = table.table("phrase_end"), table.table("fill")
    fill_beats, fill_slots, fill_strokes = read_fill(fill, slots_per_beat, meter)
    return DrumCell(
        name=name,
        summary=summary,
        source=source,
        meter=meter,
        slots_per_beat=slots_per_beat,
        bars=() if is_silent else read_drum_bars(table, rows, slots, slots_per_beat),
        phrase_end=read_drum_bars(end, drum_rows(end, ()), slots, slots_per_beat) if end else (),
        fill=fill_strokes,
        fill_beats=fill_beats,
        fill_slots_per_beat=fill_slots,
    )


def read_fill(
    fill: Table | None, slots_per_beat: int, meter: Meter | None
) -> tuple[int, int, tuple[DrumStroke, ...]]:
    """Return the fill's beats, its slots per beat and its strokes; nothing where there is none."""
    if fill is None or meter is None:
        return 0, slots_per_beat, ()
    own = ("beats", "slots_per_beat")
    beats = fill.whole("beats", allowed=range(1, pulse_count(meter) + 1))
    grid = fill.whole("slots_per_beat", slots_per_beat, allowed=SLOTS_PER_BEAT)
    bars = read_drum_bars(fill, drum_rows(fill, own), beats * grid, grid)
    return beats, grid, bars[0]


def read_keys_cell(values: Mapping[str, object], source: str) -> KeysCell:
    """Return the keys cell of a TOML mapping.  Raises CellError with the path inside it."""
    table = Table(values, source)
    name, summary, meter, slots_per_beat = cell_head(table)
    table.refuse_unknown((*CELL_KEYS, "steps", "levels", "voices", "generator"))
    generator = read_generator(table, KEYS_GENERATORS) if "generator" in values else None
    bars: tuple[tuple[KeysStroke, ...], ...] = ()
    if generator is None:
        slots = slots_in_bar(table, meter, slots_per_beat)
        bars = read_keys_bars(table, slots, slots_per_beat)
    return KeysCell(
        name=name,
        summary=summary,
        source=source,
        meter=meter,
        slots_per_beat=slots_per_beat,
        bars=bars,
        voice_count=table.whole("voices", 4, allowed=range(3, 5)),
        generator=generator,
    )


def read_keys_bars(
    table: Table, slots: int, slots_per_beat: int
) -> tuple[tuple[KeysStroke, ...], ...]:
    """Return the bars of a keys cell's ``steps`` and ``levels``."""
    steps = read_row(table, "steps", slots)
    levels = read_levels(table, "levels", steps, slots)
    bars = []
    for bar, tokens in enumerate(steps.bars):
        refuse_lost_holds(steps, bar)
        strokes = []
        for slot, token in enumerate(tokens):
            if token in "-.":
                continue
            match = KEYS_TOKEN.fullmatch(token)
            if not match:
                hint = "V the whole voicing, 1 to 4 single voices (13: two), o after: in octaves"
                steps.fail(bar, slot, f"found {token!r}, expected a keys step", hint)
            strokes.append(
                KeysStroke(
                    step=slot,
                    start_beats=Fraction(slot, slots_per_beat),
                    length_beats=Fraction(held_slots(tokens, slot), slots_per_beat),
                    level=int(levels.bars[bar][slot]),
                    voices=tuple(int(digit) for digit in match[1] or ""),
                    octaves=bool(match[2]),
                )
            )
        bars.append(tuple(strokes))
    return tuple(bars)


FEEL_KEYS = (
    *("format", "name", "summary", "meter", "tempo", "bass", "drums", "keys", "length_percent"),
    *("swing", "softer_by", "locks", "crash", "phrase_bars", "default_for", "fast"),
    *("bass_program", "drum_kit", "keys_program"),
)


def read_feel(values: Mapping[str, object], source: str) -> Feel:
    """Return the feel of a TOML mapping.  Raises CellError with the path inside it."""
    table = Table(values, source)
    check_format(table)
    table.refuse_unknown(FEEL_KEYS)
    tempo = table.wholes("tempo", allowed=range(20, 401))
    if len(tempo) != 2 or tempo[0] > tempo[1]:
        table.fail("tempo", f"found {shown(values.get('tempo'))}, expected [slowest, fastest]")
    return Feel(
        name=table.text("name"),
        summary=table.text("summary"),
        source=source,
        meter=table.meter("meter"),
        tempo_beats=(tempo[0], tempo[1]),
        bass=table.text("bass"),
        drums=table.text("drums"),
        keys=table.text("keys"),
        length_percent=table.whole("length_percent", allowed=range(20, 101)),
        swing=read_feel_swing(table),
        softer_by=table.whole("softer_by", 0, allowed=range(0, 61)),
        locks=table.flag("locks", True),
        crash=table.flag("crash", True),
        phrase_bars=table.whole("phrase_bars", 4, allowed=range(2, 17)),
        default_for=read_default_for(table),
        fast=read_fast(table),
        bass_program=table.whole("bass_program", 33, allowed=range(128)),
        drum_kit=table.whole("drum_kit", 0, allowed=range(128)),
        keys_program=table.whole("keys_program", 4, allowed=range(128)),
    )


def read_feel_swing(table: Table) -> Swing | None:
    """Return a feel's own swing."""
    try:
        return parse_swing(table.text("swing", "none"))
    except ValueError as error:
        table.fail("swing", f"found {shown(table.values['swing'])}, {error}")


def read_default_for(table: Table) -> tuple[Meter, ...]:
    """Return the meters that take this feel when a chart names none."""
    value = table.values.get("default_for", [])
    if not isinstance(value, list):
        table.fail("default_for", f"found {shown(value)}, expected meters in brackets")
    return tuple(table.parse_meter("default_for", str(item)) for item in value)


def read_fast(table: Table) -> tuple[int, str] | None:
    """Return the tempo above which another drum cell takes over, and its name."""
    fast = table.table("fast")
    if fast is None:
        return None
    fast.refuse_unknown(("above", "drums"))
    return fast.whole("above", allowed=range(20, 401)), fast.text("drums")
