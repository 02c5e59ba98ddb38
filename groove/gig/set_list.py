"""A set list, typed on a phone or written as TOML: charts in order, with overrides and breaks.

title: Friday at the Mill
pear-ladder.txt
heron-road.txt, key Eb, tempo 96
break 20
button-drawer.txt, feel octaves
"""

import re
import tomllib
from collections.abc import Iterator, Mapping

from msgspec import Struct

from groove.errors import OptionError, joined_hints, nearest_hint

USUAL_BREAK_MINUTES = 15
MOST_BREAK_MINUTES = 240
"""Common practice, no source; a longer one is a slip of the thumb."""
MOST_ENTRIES = 500
_FORMAT = 1
_OVERRIDES = ("key", "tempo", "feel", "record")
_EXPECTED = "expected a chart, e.g. song.txt, key Eb, tempo 96, feel octaves, or break 15"


class SetSong(Struct, frozen=True, kw_only=True):
    """A song of the set: its chart as the list names it, and what is asked for in its place.

    ``record`` is the player's own copy of the song, for its page, as the list names it.
    """

    chart: str
    key: str | None = None
    tempo: str | None = None
    feel: str | None = None
    record: str | None = None


class SetBreak(Struct, frozen=True):
    """A break of some minutes."""

    minutes: int


SetEntry = SetSong | SetBreak


class SetList(Struct, frozen=True, kw_only=True):
    """A set: its title, empty where none is given, and what comes in which order."""

    title: str
    entries: tuple[SetEntry, ...]

    @property
    def songs(self) -> tuple[SetSong, ...]:
        """The songs in order."""
        return tuple(entry for entry in self.entries if isinstance(entry, SetSong))


def parse_set_list(text: str, *, source: str) -> SetList:
    """Return the set that a text means: TOML where ``source`` ends in ``.toml``, else plain lines.

    Raises OptionError with the line, what was found and what was expected.
    """
    is_toml = source.casefold().endswith(".toml")
    found = _from_toml(text, source) if is_toml else _from_lines(text, source)
    if not found.songs:
        raise OptionError(f"{source}: there is no song in this set", hint=_EXPECTED)
    if len(found.entries) > MOST_ENTRIES:
        raise OptionError(
            f"{source}: {len(found.entries)} songs and breaks in one set",
            hint=f"expected at most {MOST_ENTRIES}",
        )
    return found


def _from_lines(text: str, source: str) -> SetList:
    title = ""
    entries: list[SetEntry] = []
    for place, line in _told_lines(text, source):
        if match := re.fullmatch(r"title\s*:\s*(.+)", line, re.IGNORECASE):
            title = match[1]
        elif match := re.fullmatch(
            r"break\b\s*:?\s*(\d{1,3})?\s*(?:min(?:ute)?s?)?", line, re.IGNORECASE
        ):
            entries.append(_break(int(match[1] or USUAL_BREAK_MINUTES), place))
        else:
            entries.append(_song(line, place))
    return SetList(title=title, entries=tuple(entries))


def _told_lines(text: str, source: str) -> Iterator[tuple[str, str]]:
    """Yield where each line stands and what is on it, comments and empty lines left out."""
    for number, line in enumerate(text.lstrip("\ufeff").splitlines(), start=1):
        told = re.sub(r"(?:^|\s)#(?:\s.*)?$", "", line).strip()
        if told:
            yield f"{source}:{number}", told


def _song(line: str, place: str) -> SetSong:
    """Return the song of a line: a chart, then what is asked for, parted by commas."""
    if line.startswith("|"):
        raise OptionError(f"{place}: found bars, as in a chart", hint=f"a set list: {_EXPECTED}")
    chart, *rest = (piece.strip() for piece in line.split(","))
    asked: dict[str, str] = {}
    for piece in rest:
        match = re.fullmatch(r"(\w+)\s*:?\s+(\S.*)|(\w+)\s*:\s*(\S.*)", piece)
        name, value = (match[1] or match[3], match[2] or match[4]) if match else (piece, "")
        if name.casefold() not in _OVERRIDES or not value:
            raise _unread(place, piece, name)
        asked[name.casefold()] = value
    if not chart:
        raise _unread(place, line, "")
    return SetSong(chart=chart, **asked)


def _unread(place: str, found: str, name: str) -> OptionError:
    near = nearest_hint(name, _OVERRIDES) if name else ""
    hint = joined_hints(near, _EXPECTED)
    return OptionError(f"{place}: cannot read {found[:60]!r}", hint=hint)


def _break(minutes: object, place: str) -> SetBreak:
    """Return a break.  Raises OptionError for one that none can be."""
    is_whole = isinstance(minutes, int) and not isinstance(minutes, bool)
    if not is_whole or not 1 <= minutes <= MOST_BREAK_MINUTES:  # type: ignore[operator]
        raise OptionError(
            f"{place}: a break of {minutes!r} minutes",
            hint=f"expected a whole number from 1 to {MOST_BREAK_MINUTES}",
        )
    return SetBreak(int(minutes))  # type: ignore[call-overload]


def _from_toml(text: str, source: str) -> SetList:
    """Return the set of a TOML file: ``title``, and ``[[set]]`` with ``chart`` or ``break``."""
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise OptionError(f"{source}: {error}", hint="expected TOML") from None
    if data.get("format") != _FORMAT:
        raise OptionError(
            f"{source}: format: found {data.get('format')!r}", hint=f"expected format = {_FORMAT}"
        )
    _refuse_unknown(data, ("format", "title", "set"), source)
    rows = data.get("set", [])
    if not isinstance(rows, list) or not all(isinstance(row, Mapping) for row in rows):
        raise OptionError(f"{source}: set is no list of tables", hint="expected [[set]]")
    entries = [_toml_entry(row, f"{source}: set[{n}]") for n, row in enumerate(rows, start=1)]
    return SetList(title=str(data.get("title", "")), entries=tuple(entries))


def _toml_entry(row: Mapping[str, object], place: str) -> SetEntry:
    if "break" in row:
        _refuse_unknown(row, ("break",), place)
        return _break(row["break"], place)
    _refuse_unknown(row, ("chart", *_OVERRIDES), place)
    if not row.get("chart"):
        raise OptionError(
            f"{place}: neither a chart nor a break", hint='expected chart = "song.txt"'
        )
    return SetSong(**{name: str(value) for name, value in row.items()})


def _refuse_unknown(row: Mapping[str, object], known: tuple[str, ...], place: str) -> None:
    for name in row:
        if name not in known:
            near = nearest_hint(name, known)
            expected = "expected one of: " + ", ".join(known)
            hint = joined_hints(near, expected)
            raise OptionError(f"{place}: there is no {name!r} here", hint=hint)
