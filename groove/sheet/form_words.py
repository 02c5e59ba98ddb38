"""The form in words at the head of a part, and the letters by which a band finds its place.

As a player writes it down: sections in the order played, ``×2`` for twice, brackets round what
comes again together (common practice, no source).
"""

from collections.abc import Iterator, Mapping, Sequence
from itertools import groupby

from msgspec.structs import replace

from groove.events import Performance
from groove.sheet.lead_signs import READING_SHARE, text_mm
from groove.sheet.score import Measure

REHEARSAL_LETTERS = "ABCDEFGHJKLMNPQRSTUVWXYZ"
"""Rehearsal letters: I and O are left out, which are read as numbers (common practice)."""
FORM_MM = 3.2
"""The size of the form at the head: nine points."""
FORM_LINES = 2
"""The most lines that it has."""
MOST_TOGETHER = 8
"""How many different sections are looked at as one group that comes again."""


def played_sections(performance: Performance) -> tuple[str, ...]:
    """Return the sections by name in the order in which they are played."""
    written = (bar.ref for bar in performance.bars if bar.ref.is_written)
    return tuple(name for (name, _), _ in groupby(written, lambda r: (r.section, r.occurrence)))


def section_letters(names: Sequence[str]) -> dict[str, str]:
    """Return the letter of each section, in the order in which they first come: A, B, … AA."""
    first = list(dict.fromkeys(names))
    return {
        name: REHEARSAL_LETTERS[index % len(REHEARSAL_LETTERS)]
        * (1 + index // len(REHEARSAL_LETTERS))
        for index, name in enumerate(first)
    }


def lettered_measure(measure: Measure, letters: Mapping[str, str]) -> Measure:
    """Return a measure with the letter of the section that begins there, or that it stands for."""
    letter = letters.get(measure.section, "")
    if not letter:
        return measure
    if not measure.as_before:
        return replace(measure, letter=letter)
    first, *others = measure.as_before
    return replace(measure, as_before=(f"{letter}  {first}", *others))


def form_entries(names: Sequence[str], letters: Mapping[str, str]) -> tuple[str, ...]:
    """Return the form piece by piece: ``intro``, ``(verse ×2, chorus) ×2``.

    ``letters`` stand beside a section's name where it first comes, and for it later on.
    """
    pieces: list[str] = []
    known: set[str] = set()
    for name, run in groupby(names):
        letter = letters.get(name, "")
        said = letter if letter and name in known else f"{letter} {name}".strip()
        pieces.append(_times(said, len(list(run))))
        known.add(name)
    return tuple(_together(pieces))


def _times(name: str, count: int) -> str:
    """Return a name with how often it comes."""
    return f"{name} ×{count}" if count > 1 else name


def _together(pieces: list[str]) -> Iterator[str]:
    """Yield pieces, those that come again together in brackets: the widest saving first."""
    at = 0
    while at < len(pieces):
        best, size = 1, 1
        for tried in range(2, min(MOST_TOGETHER, (len(pieces) - at) // 2) + 1):
            count = _repeats(pieces, at, tried)
            if (count - 1) * tried > (best - 1) * size:
                best, size = count, tried
        group = ", ".join(pieces[at : at + size])
        yield f"({group}) ×{best}" if best > 1 else group
        at += size * best


def _repeats(pieces: Sequence[str], at: int, size: int) -> int:
    """Return how often pieces come one after another from a place on."""
    count = 1
    while pieces[at + count * size : at + (count + 1) * size] == pieces[at : at + size]:
        count += 1
    return count


def form_lines(entries: Sequence[str], width_mm: float) -> tuple[str, ...]:
    """Return the form in lines of a width: of a longer one what has room, and that it goes on."""
    if len(entries) < 2 and "×" not in "".join(entries):
        return ()
    lines = ["Form:"]
    for index, entry in enumerate(entries):
        is_last = index == len(entries) - 1
        piece = f" {entry}{'' if is_last else ','}"
        room = width_mm - (0 if is_last or len(lines) < FORM_LINES else _width(" …"))
        if _width(lines[-1] + piece) <= room:
            lines[-1] += piece
        elif len(lines) < FORM_LINES:
            lines.append(piece.strip())
        else:
            lines[-1] += " …"
            break
    return tuple(lines)


def _width(words: str) -> float:
    """Return about how wide words are at the form's size."""
    return READING_SHARE * text_mm(words, FORM_MM)
