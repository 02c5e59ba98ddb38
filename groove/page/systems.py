"""The engraved systems as the page keeps them: small, with the notes by number.

The engraver's ids tell a note of the performance (``bass-12-3``, and ``tab-bass-12-3`` on the
tab).  They become ``data-note``, the number of the note among the bass notes of the song; ids
would be there twice, since the part is engraved at two widths.
"""

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import count

from groove.page.drawing import simple_drawing

NOTE_ID = re.compile(r'<g id="(?:tab-)?(bass-\d+-\d+)(?:-held\d+)?" class="note">')
MEASURE_ID = re.compile(r'<g id="measure-(\d+)" class="measure">')
GLYPH = re.compile(r'<g id="(E[0-9A-F]+)-\w+">(.*?)</g>', re.S)
GLYPH_USE = re.compile(r'xlink:href="#(E[0-9A-F]+)-\w+"')
SPACES = re.compile(r"\s*\n\s*")
OTHER_ID = re.compile(r' (?:id|xml:id)="[^"]*"')
STYLE = re.compile(r"<style.*?</style>", re.S)
FONT_FACE = re.compile(r"@font-face\s*\{[^}]*\}", re.S)
DESCRIPTION = re.compile(r"<desc>.*?</desc>", re.S)
DEFINITIONS = re.compile(r"<defs>.*?</defs>", re.S)
CLASS = re.compile(r' class="[^"]*"')
EMPTY_GROUP = re.compile(r"<g>\s*</g>")
PLACEHOLDER = re.compile(r'<g[^>]* class="[^"]*placeholder[^"]*">.*?</g>', re.S)
SCRIPTS = re.compile(r"<(?:script|foreignObject|a|image|animate)\b|<[^>]*\s(?:on\w+|style)=", re.I)


@dataclass(frozen=True, slots=True)
class System:
    """One printed line: its drawing, the index of its first bar, and how many bars it has."""

    drawing: str
    first_bar: int
    bars: int


@dataclass(frozen=True, slots=True)
class Sheet:
    """All lines of the part at one width, and the music signs that they use."""

    systems: tuple[System, ...]
    glyphs: Mapping[str, str]
    font_face: str


def page_sheet(pages: Sequence[str], note_ids: Sequence[str]) -> Sheet:
    """Return the sheet of pages with one line each; ``note_ids`` are the bass's, in order.

    Raises AssertionError for a drawing with something in it that could run.
    """
    numbers = {name: index for index, name in enumerate(note_ids)}
    systems: list[System] = []
    glyphs: dict[str, str] = {}
    font_face = ""
    bar = 0
    for page in pages:
        glyphs |= dict(GLYPH.findall(page))
        face = FONT_FACE.search(page)
        font_face = font_face or (face[0] if face else "")
        bars = len(MEASURE_ID.findall(page))
        systems.append(System(small_drawing(page, numbers, bar), bar, bars))
        bar += bars
    return Sheet(tuple(systems), glyphs, font_face)


def small_drawing(page: str, numbers: Mapping[str, int], first_bar: int) -> str:
    """Return a page of the engraver without what is the same in all, notes and bars by number."""
    bars = count(first_bar)
    text = page[page.index("<svg") :]
    for pattern in (STYLE, DESCRIPTION, DEFINITIONS, PLACEHOLDER):
        text = pattern.sub("", text)
    text = MEASURE_ID.sub(lambda _: f'<g data-bar="{next(bars)}">', text)
    text = NOTE_ID.sub(lambda found: f'<g data-note="{numbers[found[1]]}">', text)
    text = GLYPH_USE.sub(r'href="#\1"', OTHER_ID.sub("", text))
    text = SPACES.sub("", CLASS.sub("", text))
    text = EMPTY_GROUP.sub("", EMPTY_GROUP.sub("", text))
    for same in (' color="black"', ' xmlns:xlink="http://www.w3.org/1999/xlink"'):
        text = text.replace(same, "")
    text = simple_drawing(text)
    assert not SCRIPTS.search(text), "nothing in a drawing may run"
    return text


def glyph_definitions(sheets: Iterable[Sheet]) -> str:
    """Return the music signs of all sheets as one block of SVG definitions."""
    every: dict[str, str] = {}
    for sheet in sheets:
        every |= sheet.glyphs
    signs = "".join(f'<g id="{name}">{drawing}</g>' for name, drawing in sorted(every.items()))
    return SPACES.sub("", signs)
