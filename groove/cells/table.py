"""One mapping of a TOML file, the rows of slots in it, and how to speak of what is wrong there.

Every error names the file, the path inside it (``when.chorus.steps: bar 2, slot 5``), what was
found and what was expected.  Bars and slots count from 1 in messages and from 0 in the code.
"""

import re
from collections.abc import Iterable, Mapping
from fractions import Fraction
from math import isfinite
from reprlib import Repr
from typing import NoReturn, TypeGuard

from msgspec import Struct

from groove.cells.model import FORMAT
from groove.cells.tokens import is_struck, lost_hold, read_tokens
from groove.errors import CellError, nearest_hint
from groove.naming import OUT_WORDS, fold_name
from groove.timing import METER_COUNTS, METER_UNITS, Meter

LONGEST_CELL_BARS = 8
_LONGEST_NAME = 60
LONGEST_INTEGER_BITS = 128

BRIEF = Repr()
BRIEF.maxstring = 40
BRIEF.maxother = 40


class Table(Struct, frozen=True):
    """One mapping: its values, the file's name, and the path of the tables that it stands in."""

    values: Mapping[str, object]
    source: str
    prefix: str = ""

    def fail(self, key: str, message: str, hint: str = "") -> NoReturn:
        """Raise the CellError for a key of this table."""
        raise CellError(message, source=self.source, path=self.prefix + key, hint=hint)

    def refuse_unknown(self, known: Iterable[str]) -> None:
        """Refuse keys that this format does not have."""
        names = tuple(known)
        for key in self.values:
            if key not in names:
                expected = "expected one of: " + ", ".join(names)
                found = shown_key(key)
                self.fail(found, "unknown key", nearest_hint(found, names) or expected)

    def text(self, key: str, default: str | None = None) -> str:
        """Return a string."""
        value = self.values.get(key, default)
        if not isinstance(value, str):
            self.fail(key, f"found {shown(value)}, expected a text in quotes")
        return value

    def name(self, key: str = "name") -> str:
        """Return a name that a chart can use: one line of up to sixty characters."""
        return self._checked_name(key, self.text(key))

    def names(self, key: str) -> tuple[str, ...]:
        """Return a list of names, each once, empty where the key is missing."""
        value = self.values.get(key, [])
        if not isinstance(value, list) or not all(isinstance(item, str) for item in value):
            self.fail(key, f"found {shown(value)}, expected names in quotes, in brackets")
        names = tuple(self._checked_name(key, item) for item in value)
        for index, name in enumerate(names):
            if fold_name(name) in map(fold_name, names[:index]):
                self.fail(key, f"found {shown(name)} twice, expected it once")
        return names

    def _checked_name(self, key: str, text: str) -> str:
        """Return a name with single blanks, refusing what a chart cannot use as one."""
        name = " ".join(text.split())
        if not name or name.casefold() in OUT_WORDS or len(name) > _LONGEST_NAME:
            others = ", ".join(OUT_WORDS)
            expected = f"expected a name of up to {_LONGEST_NAME} letters, and none of: {others}"
            self.fail(key, f"found {shown(name)}, {expected}")
        return name

    def whole(self, key: str, default: int | None = None, *, allowed: range) -> int:
        """Return a whole number within a range."""
        value = self.values.get(key, default)
        if not _is_whole(value, allowed):
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
        if not isinstance(value, list) or not all(_is_whole(item, allowed) for item in value):
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

    def tables(self, key: str) -> "tuple[Table, ...]":
        """Return one table ``[key]``, or all that stand as ``[[key]]``; none where it is missing.

        The second of several is ``key 2`` in a path.
        """
        value = self.values.get(key)
        if not isinstance(value, list):
            only = self.table(key)
            return (only,) if only else ()
        found = []
        for number, item in enumerate(value, 1):
            if not isinstance(item, Mapping):
                self.fail(f"{key} {number}", f"found {shown(item)}, expected a table [[{key}]]")
            found.append(Table(item, self.source, f"{self.prefix}{key} {number}."))
        return tuple(found)

    def beats(self, key: str, *, most: int) -> Fraction:
        """Return a length in beats above 0: ``2``, ``0.5``, or ``"2/3"``, which no point says."""
        value = self.values.get(key)
        beats = _fraction(value)
        if beats is None or not 0 < beats <= most:
            expected = f'expected beats up to {most}, e.g. 2, 0.5 or "2/3"'
            self.fail(key, f"found {shown(value)}, {expected}")
        return beats

    def meter(self, key: str) -> Meter | None:
        """Return a meter, None for ``any``."""
        text = self.text(key)
        return None if text == "any" else self.parse_meter(key, text, "or any")

    def parse_meter(self, key: str, text: object, otherwise: str = "in quotes") -> Meter:
        """Return the meter that a text spells."""
        match = isinstance(text, str) and re.fullmatch(r"([0-9]{1,2})/([0-9]{1,2})", text.strip())
        if not match or int(match[1]) not in METER_COUNTS or int(match[2]) not in (1, *METER_UNITS):
            self.fail(key, f"found {shown(text)}, expected a meter, e.g. 4/4 or 12/8, {otherwise}")
        return Meter(int(match[1]), int(match[2]))


def _is_whole(value: object, allowed: range) -> TypeGuard[int]:
    """Return whether a value is a whole number of a range (true and false are none)."""
    return isinstance(value, int) and not isinstance(value, bool) and value in allowed


def _fraction(value: object) -> Fraction | None:
    """Return the fraction that a number or a text as ``2/3`` is, None for anything else."""
    if isinstance(value, str):
        match = re.fullmatch(r"([0-9]{1,2})/([0-9]{1,2})", value.strip())
        return Fraction(int(match[1]), int(match[2])) if match and int(match[2]) else None
    if isinstance(value, bool) or not isinstance(value, int | float) or not isfinite(value):
        return None
    return Fraction(value)


def shown(value: object) -> str:
    """Return a found value for a message, cut to a readable length and depth."""
    if value is None:
        return "nothing"
    if isinstance(value, int) and value.bit_length() > LONGEST_INTEGER_BITS:
        return "a very long number"
    if isinstance(value, Mapping):
        return f"a table of {len(value)}"
    if isinstance(value, list) and not all(_is_plain(item) for item in value):
        return f"a list of {len(value)}"
    return BRIEF.repr(value)


def _is_plain(value: object) -> bool:
    """Return whether a value inside a list is one that a reader takes in at a glance."""
    if isinstance(value, int):
        return value.bit_length() <= LONGEST_INTEGER_BITS
    return isinstance(value, str | float)


def shown_key(key: object) -> str:
    """Return an unknown key for a path: as it is where it is short and printable."""
    if isinstance(key, str) and key.isprintable() and 0 < len(key) <= 40:
        return key
    return shown(key)


def check_format(table: Table) -> None:
    """Refuse a file that states no format, or that of a later version, by its number."""
    found = table.values.get("format")
    if not _is_whole(found, range(FORMAT, FORMAT + 1)):
        later = isinstance(found, int) and found > FORMAT
        table.fail(
            "format",
            f"found {shown(found)}, expected {FORMAT}",
            "this file is for a later version of groove" if later else f"write: format = {FORMAT}",
        )


class Row(Struct, frozen=True):
    """A row of slots: where it stands and its tokens, bar by bar."""

    table: Table
    key: str
    bars: tuple[tuple[str, ...], ...]

    def fail(self, bar: int, slot: int, message: str, hint: str = "") -> NoReturn:
        """Raise the CellError for a slot."""
        self.table.fail(f"{self.key}: bar {bar + 1}, slot {slot + 1}", message, hint)


def read_row(table: Table, key: str, slots: int) -> Row:
    """Return a row whose every bar has the number of slots that the meter asks for."""
    text = table.text(key)
    bars = tuple(tuple(token for token, _ in read_tokens(part)) for part in text.split("|"))
    if len(bars) > LONGEST_CELL_BARS:
        table.fail(key, f"found {len(bars)} bars, expected at most {LONGEST_CELL_BARS}")
    for index, tokens in enumerate(bars):
        if len(tokens) != slots:
            table.fail(
                f"{key}: bar {index + 1}",
                f"found {len(tokens)} slots, expected {slots}",
                "a bar has slots_per_beat tokens to every pulse of the meter; '|' parts bars",
            )
    return Row(table, key, bars)


def read_steps(table: Table, slots: int) -> tuple[Row, Row]:
    """Return the rows ``steps`` and ``levels``: a digit under every step that is struck."""
    steps, levels = read_row(table, "steps", slots), read_row(table, "levels", slots)
    if len(levels.bars) != len(steps.bars):
        expected = f"expected {len(steps.bars)} as in steps"
        table.fail("levels", f"found {len(levels.bars)} bars, {expected}")
    for bar, (tokens, marks) in enumerate(zip(steps.bars, levels.bars, strict=True)):
        _refuse_lost_holds(steps, bar)
        for slot, (token, mark) in enumerate(zip(tokens, marks, strict=True)):
            if not re.fullmatch(r"[1-9]" if is_struck(token) else r"\.", mark):
                expected = "a level from 1 to 9" if is_struck(token) else "a point"
                found = f"found {shown(mark)} under {shown(token)}"
                levels.fail(bar, slot, f"{found}, expected {expected}")
    return steps, levels


def _refuse_lost_holds(row: Row, bar: int) -> None:
    """Refuse a hold that follows a rest: there is nothing to hold."""
    slot = lost_hold(row.bars[bar])
    if slot is not None:
        row.fail(bar, slot, "found a hold after a rest, expected a step or a rest")
