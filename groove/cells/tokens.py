"""The tokens of a bass row, in one table: cell files, riffs in a chart and help all read it.

Case means nothing (after ``@`` the first letter is the note), and what a phone makes of dashes and
points is read as it was typed: a long dash is two holds, an ellipsis three rests.  A shorter dash
that stands alone is the one hold that a word processor lengthens between two blanks.
"""

import re
from collections.abc import Iterator

from msgspec import Struct

from groove.cells.model import Aim, AimKind
from groove.theory.pitch import parse_pitch, pitch_name

HOLD, REST = "-", "."
TYPED = {"—": "--", "–": "--", "‒": "-", "−": "-", "‑": "-", "‐": "-", "…": "...", "_": "."}
"""What a phone or a word processor makes of dashes and points, and what was typed."""

_LENGTHENED = "–"
"""What becomes of a hyphen between two blanks."""

DEGREE = re.compile(r"(s?)([b#♭♯]?)(r|1[013]|[2-9])(,?)")
NEXT = re.compile(r"(s?)>(r|\*|[+-][12])")
FIXED = re.compile(r"(s?)@([a-g])([b#♭♯]{0,2})(-?[0-9])")
ALTERS = {"": 0, "b": -1, "♭": -1, "#": 1, "♯": 1}
NEXT_OFFSETS: dict[str, int | None] = {"r": 0, "*": None}


class TokenRow(Struct, frozen=True):
    """A row of the table: the tokens as they are written, and what they ask for."""

    tokens: str
    meaning: str


TOKEN_TABLE = (
    TokenRow("R 8", "the chord's root (or its slash note), and the octave above"),
    TokenRow("3 5 6 7 9 10", "a degree of the sounding chord: its own, else the key's"),
    TokenRow("2 4 11 13", "major second, fourth, their like above, unless the chord alters them"),
    TokenRow("b3 #4 b7", "b or # before: counted from the root's major scale"),
    TokenRow("5, R,", "a comma after: an octave lower"),
    TokenRow("@E1 @Bb2", "this very note, whatever the chord; C4 is the middle C"),
    TokenRow(">R", "the next chord's root"),
    TokenRow(">-1 >+1 >-2 >+2", "a half or a whole step below or above the next chord's root"),
    TokenRow(">*", "the approach to the next chord that fits best"),
    TokenRow("x", "a ghost: the muted string under the hand"),
    TokenRow("s5 s@D2", "s before a note: slide into it from the note before"),
    TokenRow("-", "hold; at the head of a bar the note before is tied over"),
    TokenRow(". _", "a rest"),
    TokenRow("|", "the next bar"),
)
"""All that a row of a bass cell or riff may say."""

EXPECTED = (
    "R 2 3 4 5 6 7 8 9 10 11 13 (b or # before, a comma after: an octave lower), @E1 for a fixed "
    "note, >R >-1 >+1 >-2 >+2 >* for the next chord, x ghost, s before for a slide, - hold, . rest"
)
"""What a message expects in place of a word that is no token."""


def token_table() -> str:
    """Return the table for the terminal, one row a line."""
    width = max(len(row.tokens) for row in TOKEN_TABLE)
    return "".join(f"{row.tokens:<{width}}  {row.meaning}\n" for row in TOKEN_TABLE)


def _typed(text: str) -> str:
    """Return a text as it was typed, before a phone made it pretty."""
    return "".join(TYPED.get(mark, mark) for mark in text)


def read_tokens(text: str) -> Iterator[tuple[str, int]]:
    """Yield the tokens of a row and where each begins in the text, from 0.

    Holds and rests may touch: ``R--.`` is no token, but ``R -- ..`` has five.
    """
    for match in re.finditer(r"\S+", text):
        word = HOLD if match[0] == _LENGTHENED else _typed(match[0])
        if set(word) <= {HOLD, REST}:
            starts = [match.start() + i for i, mark in enumerate(match[0]) for _ in _typed(mark)]
            yield from zip(word, starts, strict=False)
        else:
            yield word, match.start()


def is_struck(token: str) -> bool:
    """Return whether a token of a row of steps strikes something."""
    return token not in (HOLD, REST)


def parse_token(token: str) -> Aim | None:
    """Return what a struck token asks for, None where it is no token."""
    folded = token.casefold()
    if folded == "x":
        return Aim(kind=AimKind.GHOST)
    if match := NEXT.fullmatch(folded):
        is_named = match[2] in NEXT_OFFSETS
        offset = NEXT_OFFSETS[match[2]] if is_named else int(match[2])
        return Aim(kind=AimKind.NEXT, offset=offset, slide=bool(match[1]))
    if match := FIXED.fullmatch(folded):
        return _fixed_aim(match)
    if match := DEGREE.fullmatch(folded):
        return Aim(
            kind=AimKind.DEGREE,
            number=1 if match[3] == "r" else int(match[3]),
            alter=ALTERS[match[2]],
            is_altered=bool(match[2]),
            octaves=-1 if match[4] else 0,
            slide=bool(match[1]),
        )
    return None


def _fixed_aim(match: re.Match[str]) -> Aim | None:
    """Return the aim of a fixed note, None where MIDI has no such note."""
    try:
        pitch = parse_pitch(match[2].upper() + match[3] + match[4])
    except ValueError:
        return None
    return Aim(kind=AimKind.FIXED, pitch=pitch, slide=bool(match[1]))


def token_text(aim: Aim) -> str:
    """Return the token that asks for an aim, as a cell file has it."""
    if aim.kind is AimKind.GHOST:
        return "x"
    slide = "s" if aim.slide else ""
    if aim.kind is AimKind.FIXED:
        return f"{slide}@{pitch_name(aim.pitch)}"
    if aim.kind is AimKind.NEXT:
        return slide + ">" + {None: "*", 0: "R"}.get(aim.offset, f"{aim.offset or 0:+d}")
    sign = {-1: "b", 1: "#"}.get(aim.alter, "") if aim.is_altered else ""
    degree = "R" if aim.number == 1 else str(aim.number)
    return slide + sign + degree + ("," if aim.octaves else "")


def held_slots(tokens: tuple[str, ...], slot: int) -> int:
    """Return how many slots the stroke at a slot lasts, its holds included."""
    end = slot + 1
    while end < len(tokens) and tokens[end] == HOLD:
        end += 1
    return end - slot


def head_hold_slots(tokens: tuple[str, ...]) -> int:
    """Return how many slots at the head of a bar belong to the note before."""
    return held_slots((HOLD, *tokens), 0) - 1


def lost_hold(tokens: tuple[str, ...]) -> int | None:
    """Return the first slot that holds after a rest, where there is nothing to hold."""
    for slot in range(1, len(tokens)):
        if tokens[slot] == HOLD and tokens[slot - 1] == REST:
            return slot
    return None
