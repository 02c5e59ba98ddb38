"""What the words of options mean; each error names its option and its value."""

import re
from collections.abc import Iterable, Sequence
from fractions import Fraction
from typing import TYPE_CHECKING

from groove.cli.console import say
from groove.errors import OptionError, joined_hints, nearest_hint
from groove.events import Part
from groove.theory.keys import Key, parse_key

if TYPE_CHECKING:
    from groove.chart.written_for import WrittenFor

LONGEST_SHOWN = 60
BAND = (Part.BASS, Part.DRUMS, Part.KEYS)


def refused(option: str, found: object, expected: str) -> OptionError:
    """Return the error for a value that an option cannot have."""
    shown = repr(found[:LONGEST_SHOWN]) if isinstance(found, str) else found
    return OptionError(f"{option} cannot be {shown}", hint=f"expected {expected}")


def chosen(option: str, found: str, known: Iterable[str]) -> str:
    """Return a word of a fixed set.  Raises OptionError with the nearest."""
    names = [str(name) for name in known]
    if found.casefold() in names:
        return found.casefold()
    near = nearest_hint(found, names)
    hint = joined_hints(near, "expected one of: " + ", ".join(names))
    raise OptionError(f"{option} cannot be {found[:LONGEST_SHOWN]!r}", hint=hint)


def parse_tempo(
    text: str | None, option: str = "--tempo"
) -> tuple[Fraction | None, Fraction | None]:
    """Return (beats a minute, percent) of a tempo option; one of them at most is given."""
    if text is None:
        return None, None
    match = re.fullmatch(r"([0-9]{1,3}(?:\.[0-9]{1,2})?)\s*(%?)", text.strip())
    if not match or not Fraction(match[1]):
        raise refused(option, text, "beats a minute, e.g. 96, or a percentage, e.g. 70%")
    number = Fraction(match[1])
    return (None, number) if match[2] else (number, None)


def parse_bars(text: str | None) -> range | None:
    """Return the bars that ``5-8`` or ``5`` means."""
    if text is None:
        return None
    match = re.fullmatch(r"([0-9]{1,5})(?:\s*[-–]\s*([0-9]{1,5}))?", text.strip())
    first = int(match[1]) if match else 1
    last = int(match[2] or first) if match else 0
    if match and first > last:
        raise refused("--bars", text, f"the lower bar first: {last}-{first}")
    if first > last:
        raise refused("--bars", text, "bars, e.g. 5-8 or 5")
    return range(first, last + 1)


def parse_names(text: str | None, option: str, expected: str) -> tuple[str, ...]:
    """Return the names of a list with commas, none where the option was not given."""
    if text is None:
        return ()
    names = tuple(name.strip() for name in text.split(","))
    if not all(names):
        raise refused(option, text, expected)
    return names


def _parse_parts(text: str | None, option: str, known: Sequence[Part]) -> frozenset[Part]:
    """Return the parts that a list names, of those that are ``known``."""
    found = set()
    for name in parse_names(text, option, "some of: " + ", ".join(known)):
        if name.casefold() not in list(known):
            near = nearest_hint(name, known)
            hint = joined_hints(near, "expected some of: " + ", ".join(known))
            raise OptionError(f"no such part in {option}: {name!r}", hint=hint)
        found.add(Part(name.casefold()))
    return frozenset(found)


def wanted_parts(
    without: str | None, only: str | None, known: Sequence[Part] = BAND
) -> frozenset[Part]:
    """Return the parts to write, the whole band where none is named; ``known`` may be named.

    Raises OptionError for both options, or where none is left.
    """
    if without and only:
        raise OptionError("--without and --only exclude each other", hint="give one of them")
    chosen = _parse_parts(only, "--only", known) if only else frozenset(BAND)
    chosen -= _parse_parts(without, "--without", known)
    if not chosen:
        hint = "leave one in: " + ", ".join(BAND)
        raise OptionError(f"no part is left to write without {without}", hint=hint)
    return chosen


def parse_player(text: str | None) -> "WrittenFor | None":
    """Return whom ``--for`` names, None where it was not given.  Raises OptionError for nobody."""
    if text is None:
        return None
    from groove.chart.written_for import PLAYERS_EXPECTED, parse_written_for

    found = parse_written_for(text)
    if found is None:
        raise refused("--for", text, PLAYERS_EXPECTED)
    return found


def parse_wanted_key(text: str | None, option: str = "--key") -> Key | None:
    """Return the key of an option; one that no signature has is respelled, and that is said."""
    if text is None:
        return None
    try:
        wanted = parse_key(text)
    except ValueError:
        raise refused(option, text, "a key, e.g. D, F# minor, Bb or D dorian") from None
    if wanted != wanted.respelled():
        say(f"{option}: {wanted.name} is read as {wanted.respelled().name}")
    return wanted.respelled()
