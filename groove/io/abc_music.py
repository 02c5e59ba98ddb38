"""Things in a line of ABC music: bar lines, lengths, tuplets, chord symbols.

*The ABC music standard 2.1* (December 2011), section 4.
"""

import re
from collections.abc import Iterator
from fractions import Fraction

from msgspec import Struct

from groove.events import NO_CHORD
from groove.io.gate import Gate, Where
from groove.theory.chords import parse_chord

LENGTH = r"(?P<{0}_n>[0-9]*+)(?P<{0}_d>/*+[0-9]*+)"
TOKEN = re.compile(
    r'"(?P<quoted>[^"]{0,400}+)"'
    r"|\[(?P<field>[A-Za-z]):(?P<value>[^\]]{0,200}+)\]"
    r"|\[(?P<ending>[0-9][0-9,.\-]{0,200}+)"
    r"|(?P<bar>:{0,64}\.?\[?\|{1,64}+[:\]|]{0,64}+|:{2,64}+|:(?=\s*$))"
    r"(?:[ \t]{0,8}\[?(?P<after>[0-9][0-9,.\-]{0,200}+))?"
    r"|\((?P<tuplet>[2-9])(?::(?P<normal>[0-9]{0,2}))?(?::(?P<count>[0-9]{0,2}))?"
    r"|\[(?P<stack>[^\]|\"]{0,100}+)\]"
    + LENGTH.format("stack")
    + r"|[_^=]{0,2}+(?P<note>[A-Ga-g])[,']{0,8}+"
    + LENGTH.format("note")
    + r"|(?P<rest>[zx])"
    + LENGTH.format("rest")
    + r"|(?P<bars_rest>[ZX])(?P<rested>[0-9]*+)"
    r"|(?P<broken>>++|<++)"
    r"|(?P<overlay>&)"
    r"|(?P<decoration>![^!|\s]{0,30}+!|\+[^+|\s]{0,30}+\+)"
    r"|(?P<ignored>\{[^}|]{0,100}+\}"
    r"|(?:[\s\-)~.HIJKLMNOPQRSTUVWhijklmnopqrstuvwY\\`*;?@#$y0-9/,'\]]|\((?![2-9]))++|!)"
)
"""One thing in a line of music; what has no bearing on lengths is ``ignored``.

What may be long is bounded, so that no line takes more than a time in proportion to its length.
"""
TUPLET_NORMALS = {2: 3, 3: 2, 4: 3, 6: 2, 8: 3}
PART = re.compile(
    r"[\s.]|(?P<open>\()|(?P<close>\))|(?P<name>[A-Za-z])|(?P<times>[0-9]{1,2})|(?P<odd>.)"
)
MOST_SLASHES = 10
MOST_BROKEN = 3
MOST_ENDINGS = 64


class AbcBarLine(Struct, frozen=True):
    """What a bar line says: how often the bars before it are played, what it opens, its ending."""

    passes: int
    opens: bool
    ends_endings: bool


def read_bar_line(signs: str) -> AbcBarLine:
    """Return what the signs of a bar line say; ``|::`` and ``::|`` are for three times (4.8)."""
    closing = len(signs) - len(signs.lstrip(":"))
    opening = len(signs) - len(signs.rstrip(":"))
    if closing == len(signs):  # a run of colons alone: they close and open
        closing, opening = (closing + 1) // 2, closing // 2
    passes = closing + 1 if closing else 0
    return AbcBarLine(
        passes=min(passes, MOST_ENDINGS),
        opens=opening > 0,
        ends_endings=bool(closing or opening or "||" in signs or "]" in signs),
    )


def length_factor(numerator: str, divisor: str, gate: Gate, where: Where) -> Fraction:
    """Return a length as a share of the unit: ``3/2``, ``/`` a half, ``//`` a quarter."""
    count = gate.bounded(numerator, "length", where)
    factor = Fraction(1) if count is None else count
    if not divisor:
        return factor
    digits = divisor.lstrip("/")
    if digits:
        return factor / (gate.bounded(digits, "divisor", where) or 1)
    return factor * Fraction(1, 2 ** min(divisor.count("/"), MOST_SLASHES))


def tuplet_ratio(match: re.Match[str], *, is_compound: bool) -> tuple[Fraction, int]:
    """Return what a tuplet multiplies lengths with, and for how many notes: ``(p:q:r`` (4.13)."""
    actual = int(match["tuplet"])
    usual = TUPLET_NORMALS.get(actual, 3 if is_compound else 2)
    return Fraction(int(match["normal"] or 0) or usual, actual), int(match["count"] or 0) or actual


def ending_numbers(text: str, gate: Gate, where: Where) -> tuple[int, ...]:
    """Return the passes of an ending: ``1``, ``1,3``, ``1-3``."""
    found: list[int] = []
    for part in re.split(r"[,.]", text)[:MOST_ENDINGS]:
        low, dash, high = part.partition("-")
        first = gate.whole(low, "ending", where)
        last = gate.whole(high, "ending", where) if dash else first
        if first and last:
            found += range(first, last + 1)
    return tuple(dict.fromkeys(found))


def abc_symbol(text: str) -> str | None:
    """Return the chord of a quoted text as a chart has it, None where it is none.

    What stands in brackets belongs to the chord if that makes one, ``Dm(maj7)``; else it is
    another chord to play, ``G(Em)``, and is left out (4.18).
    """
    whole = text.strip()
    if whole.casefold() in ("n.c.", "nc", "n.c"):
        return NO_CHORD
    for name in _spellings(whole):
        head, slash, bass = name.partition("/")
        if slash and bass[:1].isalpha():
            name = f"{head}/{bass[0].upper()}{bass[1:].replace('+', '#')}"
        for candidate in (name, name.replace(" ", "")):
            if not _is_symbol(candidate):
                continue
            return candidate
    return None


def _spellings(text: str) -> Iterator[str]:
    yield text
    if text.startswith("(") and text.endswith(")"):
        yield text[1:-1].strip()
    else:
        yield text.partition("(")[0].strip()


def _is_symbol(text: str) -> bool:
    """Return whether a text is a chord that can stand in a bar as one word."""
    if re.search(r"[\s|:<%]", text):
        return False
    try:
        parse_chord(text)
    except ValueError:
        return False
    return True


def part_order(text: str, known: set[str], most: int) -> list[str] | None:
    """Return the parts that ``P:`` in a head asks for: ``ABA``, ``(AB)3``, ``A(AB)2.C`` (3.1.9).

    None where it cannot be read, names a part that is not ``known``, or is longer than ``most``.
    """
    order: list[list[str]] = [[]]
    last: list[str] = []
    for match in PART.finditer(text):
        if match["odd"] or (match["name"] and match["name"] not in known):
            return None
        if match["open"]:
            order.append([])
        elif match["close"]:
            if len(order) < 2:
                return None
            last = order.pop()
            order[-1] += last
        elif match["name"]:
            last = [match["name"]]
            order[-1] += last
        elif match["times"] and last:
            if len(order[-1]) + len(last) * int(match["times"]) > most:
                return None
            order[-1] += last * (int(match["times"]) - 1)
            last = []
    return order[0] if len(order) == 1 and len(order[0]) <= most else None
