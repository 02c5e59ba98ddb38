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
MUSIC_BOX = re.compile(r'class="definition-scale"[^>]* viewBox="0 0 (\d+) (\d+)"')
PAGE_MARGIN = re.compile(r'class="page-margin" transform="translate\((\d+), \d+\)"')
BAR_LINE = re.compile(r'class="barLine">\s*<path d="M(\d+) ')
STAFF_STROKE = re.compile(r'<path d="M(\d+) (\d+) L(\d+) \2"')
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
    """One printed line: its drawing, the index of its first bar, and how many bars it has.

    Its height and its bar lines, one more than it has bars, are in shares of its width.
    """

    drawing: str
    first_bar: int
    bars: int
    height: float
    bar_lines: tuple[float, ...]


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
        drawing = small_drawing(page, numbers, bar)
        systems.append(System(drawing, bar, bars, page_height(page), bar_lines(page)))
        bar += bars
    return Sheet(tuple(systems), glyphs, font_face)


def page_height(page: str) -> float:
    """Return the height of a page of the engraver in widths."""
    found = MUSIC_BOX.search(page)
    assert found, "the engraver tells the size of a page"
    return float(found[2]) / float(found[1])


def bar_lines(page: str) -> tuple[float, ...]:
    """Return where bars begin, and where the last one ends, in widths of the page.

    The strokes of a bar's staff begin at its bar line; those of the last may go on past its end,
    for a meter that is announced there.
    """
    box, margin = MUSIC_BOX.search(page), PAGE_MARGIN.search(page)
    assert box and margin, "the engraver tells the size and the margin of a page"
    bars = MEASURE_ID.split(page)[2::2]
    strokes = [stroke for bar in bars if (stroke := STAFF_STROKE.search(bar))]
    ends = BAR_LINE.findall(bars[-1]) or [stroke[3] for stroke in strokes[-1:]]
    lines = [int(stroke[1]) for stroke in strokes] + [max(map(int, ends))]
    return tuple((float(margin[1]) + line) / float(box[1]) for line in lines)


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
