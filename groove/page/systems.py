"""The engraved systems as the page keeps them: small, with the notes by number.

The engraver's ids tell a note of the performance (``bass-12-3``, and ``tab-bass-12-3`` on the
tab).  They become ``data-note``, the number of the note among the bass notes of the song; ids
would be there twice, since the part is engraved at two widths.
"""

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from xml.etree.ElementTree import Element

from groove.page.repeated_lines import PartLines
from groove.page.simplify import BAR, NOTE, simplify
from groove.sheet.drawing import (
    GROUP,
    HREF,
    INNER,
    PATH,
    POLYGON,
    SPAN,
    SVG,
    TEXT,
    USE,
    drawing_text,
    groups,
    kinds,
    numbers,
)
from groove.sheet.finishing import left_margin, music_box, page_size
from groove.sheet.score import HELD, TAB

DEFINITIONS, STYLE, DESCRIPTION = (f"{{{SVG}}}{name}" for name in ("defs", "style", "desc"))
SHARED = {DEFINITIONS, STYLE, DESCRIPTION}
"""What is the same in all lines, and stands once in the page."""
DRAWN = {INNER, GROUP, PATH, POLYGON, TEXT, SPAN, USE} | {
    f"{{{SVG}}}{name}" for name in ("ellipse", "polyline", "rect")
}
"""What a drawing is made of: none of it can run, or be fetched."""
NUMBER_SIGN = "\ue000"
"""Stands for the number of a line's first bar: a private sign, which nobody writes."""
_OWN_NUMBER = re.compile(
    rf'{BAR}="(?P<bar>\d+)"|{NOTE}="bass-(?P<note_bar>\d+)-(?P<note>\d+)"|{NUMBER_SIGN}'
)


@dataclass(frozen=True, slots=True)
class System:
    """One printed line: its drawing, the index of its first bar, and how many bars it has.

    Its height and its bar lines, one more than it has bars, are in shares of its width.
    """

    drawing: str
    first_bar: int
    bars: int
    height: float
    bar_lines: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class EngravedPart:
    """All lines of the part at one width, and the music signs that they use."""

    systems: tuple[System, ...]
    glyphs: Mapping[str, str]


def page_sheet(
    pages: Mapping[int, Element], lines: PartLines, numbers: Sequence[int], note_ids: Sequence[str]
) -> EngravedPart:
    """Return the sheet of a part, line by line.

    ``pages`` are the drawings of the lines that look like no earlier one, and are used up;
    ``numbers`` count the measures as the ids of notes do; ``note_ids`` are the bass's, in order.
    Raises AssertionError for a drawing with something in it that could run.
    """
    places = {name: index for index, name in enumerate(note_ids)}
    glyphs: dict[str, str] = {}
    models: dict[int, System] = {}
    for line, page in pages.items():
        _add_glyphs(glyphs, page)
        models[line] = _line_drawing(page)
    systems = []
    for line, like in enumerate(lines.like):
        first = lines.starts[line]
        later = numbers[first] - numbers[lines.starts[like]]
        model = models[like]
        drawing = _numbered(model.drawing, first, later, lines.printed[line], places)
        systems.append(replace(model, drawing=drawing, first_bar=first))
    return EngravedPart(tuple(systems), glyphs)


def _line_drawing(page: Element) -> System:
    """Return a page of one line whose bars count from 0, its notes by their ids."""
    box = music_box(page)
    bars = list(groups(box, "measure"))
    width, height = page_size(box)
    lines = _bar_lines(bars, left_margin(box), width)
    for number, measure in enumerate(bars):
        measure.set(BAR, str(number))
    for group in groups(box, "mNum"):
        for span in group.iter(SPAN):
            span.text = NUMBER_SIGN if (span.text or "").strip() else span.text
    return System(_small_drawing(page), 0, len(bars), height / width, lines)


def _numbered(
    drawing: str, first_bar: int, later: int, printed: str, places: Mapping[str, int]
) -> str:
    """Return a line's drawing with its bars and notes by number.

    It is ``later`` bars after the line that was drawn; ``printed`` is the number of its first bar.
    """

    def number(found: re.Match[str]) -> str:
        if found["bar"]:
            return f'{BAR}="{first_bar + int(found["bar"])}"'
        if found["note_bar"]:
            name = f"bass-{int(found['note_bar']) + later}-{found['note']}"
            return f'{NOTE}="{places[name]}"'
        return printed

    return _OWN_NUMBER.sub(number, drawing)


def _add_glyphs(glyphs: dict[str, str], page: Element) -> None:
    """Add the music signs of a page that are not known yet, by their names in SMuFL."""
    for definitions in page.iter(DEFINITIONS):
        for sign in definitions:
            name = _glyph_name(sign.get("id", ""))
            if name not in glyphs:
                glyphs[name] = "".join(_plain_text(part) for part in sign)


def _plain_text(element: Element) -> str:
    """Return an element as SVG that stands within a drawing, whose name space it shares."""
    return drawing_text(element).replace(f' xmlns="{SVG}"', "").strip()


def _glyph_name(name: str) -> str:
    """Return a sign's name in SMuFL from what the engraver calls it, as in ``#E0A4-xyz``."""
    return name.removeprefix("#").partition("-")[0]


def _bar_lines(bars: Sequence[Element], left: float, width: float) -> tuple[float, ...]:
    """Return where bars begin, and where the last one ends, in shares of the page's ``width``.

    The strokes of a bar's staff begin at its bar line; those of the last may go on past its end,
    for a meter that is announced there.  ``left`` is the page's margin.
    """
    strokes = [_staff_stroke(bar) for bar in bars]
    ends = [
        numbers(path.get("d", ""))[0]
        for line in groups(bars[-1], "barLine")
        if (path := line.find(PATH)) is not None
    ]
    lines = [start for start, _ in strokes] + [max(ends, default=strokes[-1][1])]
    return tuple((left + line) / width for line in lines)


def _staff_stroke(bar: Element) -> tuple[float, float]:
    """Return where the lines of a bar's first staff begin and end."""
    path = next(groups(bar, "staff")).find(PATH)
    assert path is not None, "the engraver draws the lines of a staff first"
    x1, _, x2, _ = numbers(path.get("d", ""))
    return x1, x2


def _small_drawing(page: Element) -> str:
    """Return a page of the engraver without what is the same in all, notes by their ids."""
    page[:] = [part for part in page if part.tag not in SHARED]
    for element in page.iter():
        if len(element):
            element[:] = [part for part in element if not _is_idle(part)]
        _mark_note(element)
    simplify(page)
    for element in page.iter():
        assert element.tag in DRAWN, "nothing in a drawing may run"
        for name in element.attrib:
            assert name != "style" and not name.startswith("on"), "nothing in a drawing may run"
    return drawing_text(page)


def _is_idle(element: Element) -> bool:
    """Return whether a group draws nothing: what only marks a place, and what is empty."""
    return element.tag == GROUP and ("placeholder" in kinds(element) or not len(element))


def _mark_note(element: Element) -> None:
    """Let an element say which note it is, if it is one, and drop what says nothing."""
    attributes = element.attrib
    name = attributes.pop("id", "")
    if "note" in attributes.pop("class", "").split():
        attributes[NOTE] = name.removeprefix(TAB).partition(HELD)[0]
    if HREF in attributes:
        attributes["href"] = f"#{_glyph_name(attributes.pop(HREF))}"
    if attributes.get("color") == "black":
        del attributes["color"]


def glyph_definitions(sheets: Iterable[EngravedPart]) -> str:
    """Return the music signs of all sheets as one block of SVG definitions."""
    every: dict[str, str] = {}
    for sheet in sheets:
        every |= sheet.glyphs
    return "".join(f'<g id="{name}">{drawing}</g>' for name, drawing in sorted(every.items()))
