"""The names of chords and the note of a tempo on the engraver's page, as every viewer shows them.

The engraver takes accidentals and notes from its music font, which few viewers draw within a text.
In print a name is one text in the font of the page, so that it can be searched and copied; on a
screen it is an outline over that text, which is there, unseen, for the same reason.
"""

import re
from collections.abc import Iterator, Mapping
from xml.etree.ElementTree import Element, SubElement

from groove.sheet.drawing import (
    BLACK,
    GROUP,
    PATH,
    SPACE,
    SPAN,
    TEXT,
    first,
    letters,
    outlined,
    size_of,
    sized,
)
from groove.sheet.lead_signs import text_mm
from groove.sheet.note_signs import note_outline

BOLD = 1.2
"""How much wider bold letters are at most, in the fonts that a reader's machine may have."""
_FIGURES = str.maketrans(
    {"\uea63": "♭♭", "\uea64": "♭", "\uea65": "♮", "\uea66": "♯", "\uea67": "♯♯"}
)
"""What the engraver sets for accidentals in a chord's name (SMuFL 1.4, "Figured bass")."""
_KEEPS_BLANKS = (SPACE, "preserve")
_NOTE_GAP = 0.5
"""Between words and a note that is drawn after them, as a share of the size."""
_FONT = ("font-weight", "font-style")
_FRAMED = re.compile(r"\[([A-Z]+)\]")
_FRAME_PAD, _WIDEST_LETTER = 0.4, 0.75
"""What stays free in a frame, and the width of a letter, as shares of its size."""
_PLAIN: Mapping[str, str] = {}


def set_chord_name(name: Element, *, as_outline: bool) -> None:
    """Let a chord's name be one text, and what is seen of it an outline where that is asked for."""
    text = first(name, TEXT)
    size = next(map(size_of, sized(name)), 0.0)
    if text is None or not size:
        return
    words = "".join(text.itertext()).strip().translate(_FIGURES)
    text[:] = []
    SubElement(text, SPAN, {"font-size": f"{size:g}px"}).text = words
    path = letters(words, float(text.get("x", 0)), float(text.get("y", 0)), size)
    if as_outline and path is not None:
        text.set("fill", "none")
        name.append(path)


def draw_tempo_note(heading: Element) -> None:
    """Let the note of a tempo and the sign of a swing be paths; what comes after begins anew.

    Where that is depends on the reader's font, so there is room for a wide one.
    """
    text = first(heading, TEXT)
    if text is None:
        return
    # Some viewers take the blanks off every piece of a text that does not say so.
    text.set(*_KEEPS_BLANKS)
    runs = list(_runs(text, _PLAIN))
    if not any(note_outline(words) or letter_of(words) for words, _, _ in runs):
        return
    at, y = float(text.get("x", 0)), float(text.get("y", 0))
    holder = next((group for group in heading.iter(GROUP) if text in list(group)), heading)
    holder.remove(text)
    line: Element | None = None
    for words, size, font in runs:
        if letter := letter_of(words):
            holder.extend(_frame(letter, at, y, size, font))
            at += size * _frame_width(letter)
            line = None
            continue
        if found := note_outline(words):
            at += size * _NOTE_GAP if line is not None else 0
            holder.append(outlined(found[1], at, y, size))
            at += found[0] * size / 1000
            line = None
            continue
        if line is None:
            line = SubElement(holder, TEXT, {"x": f"{at:g}", "y": f"{y:g}", "font-size": "0px"})
            line.set(*_KEEPS_BLANKS)
        SubElement(line, SPAN, {"font-size": f"{size:g}px", **font}).text = words
        at += text_mm(words.strip(), size) * (BOLD if font.get("font-weight") == "bold" else 1)


def framed(letter: str) -> str:
    """Return how the engraver is told of a rehearsal letter, which stands in a frame."""
    return f"[{letter}]"


def letter_of(words: str) -> str:
    """Return the letter that words are, as ``framed`` says it; empty for other words."""
    found = _FRAMED.fullmatch(words)
    return found[1] if found else ""


def _frame_width(letter: str) -> float:
    """Return the width of a frame as a share of the size of its letter."""
    return _FRAME_PAD + _WIDEST_LETTER * len(letter)


def _frame(letter: str, x: float, y: float, size: float, font: Mapping[str, str]) -> list[Element]:
    """Return a letter in its frame, from a point on its base line on."""
    width = size * _frame_width(letter)
    top, bottom = y - 0.82 * size, y + 0.18 * size
    place = {"x": f"{x + width / 2:g}", "y": f"{y:g}", "font-size": "0px", "text-anchor": "middle"}
    text = Element(TEXT, place)
    SubElement(text, SPAN, {"font-size": f"{size:g}px", **font}).text = letter
    corners = f"M{x:g} {top:g}h{width:g}V{bottom:g}h{-width:g}z"
    line = {"fill": "none", "stroke": BLACK, "stroke-width": f"{0.06 * size:.0f}"}
    return [Element(PATH, {"d": corners, **line}), text]


def _runs(element: Element, font: Mapping[str, str]) -> Iterator[tuple[str, float, dict[str, str]]]:
    """Yield the words of a text with their size, and their font where it is stated."""
    own = {**font, **{name: element.attrib[name] for name in _FONT if name in element.attrib}}
    if element.text and "font-size" in element.attrib and element.tag == SPAN:
        yield element.text, size_of(element), own
    for part in element:
        yield from _runs(part, own)
