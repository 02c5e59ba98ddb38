"""Words over the staff that are many or long: they stay on the page and do not meet.

Boxes are read from the SVG, in the engraver's units: a text reaches from its base up by its size,
and is at least 0.3 times its size wide a letter (the narrow letters of a Times, from memory).
"""

import re
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import matplotlib
import pytest
from PIL import ImageFont

from groove.cells.model import Library
from groove.io.engrave import engraved, scored, sheet_svg
from groove.sheet.finishing import Lacking, finish_page
from groove.sheet.options import DEFAULT_SHEET, SheetOptions, Staves
from tests.sheet.parts import example, played

SVG = "{http://www.w3.org/2000/svg}"
TRANSLATE = re.compile(r"translate\(([-\d.]+),\s*([-\d.]+)\)")
NARROW = 0.3


Words = tuple[str, float, float, float]
"""What a text says, where it begins, its base, its size."""


def pages_of(library: Library, text: str) -> list[tuple[float, list[Words]]]:
    """Return each page's width and the texts over its staves."""
    song, performance, tuning = played(text, library)
    svgs = sheet_svg(performance, song, SheetOptions(staves=Staves.NOTATION), tuning=tuning)
    return [words_on(ElementTree.fromstring(svg)) for svg in svgs]


def words_on(page: Any) -> tuple[float, list[Words]]:
    box: Any = next(
        each for each in page.iter(f"{SVG}svg") if each.get("viewBox") and each is not page
    )
    margin: Any = next(g for g in box.iter(f"{SVG}g") if "page-margin" in (g.get("class") or ""))
    moved = TRANSLATE.search(margin.get("transform"))
    assert moved
    left, top = map(float, moved.groups())
    found = []
    for group in box.iter(f"{SVG}g"):
        if "reh" not in (group.get("class") or "").split():
            continue
        text_element = next(group.iter(f"{SVG}text"))
        sized = [(s.text or "", s.get("font-size", "0px")) for s in group.iter(f"{SVG}tspan")]
        spans = [(t, float(size[:-2])) for t, size in sized if t.strip() and size != "0px"]
        if spans:
            words = "".join(word for word, _ in spans)
            at = float(text_element.get("x", 0)) + left, float(text_element.get("y", 0)) + top
            found.append((words, *at, max(size for _, size in spans)))
    return float(box.get("viewBox").split()[2]), found


def test_words_over_a_pages_first_line_stand_one_above_the_other_below_its_edge(
    library: Library,
) -> None:
    """A line of four bars or so, each with words as long as three of them; no title on page 2."""
    head = "title: Moss\nkey: D\nfeel: long notes\nverse:\n"
    cue = "  cue: {} this is what is told here and it is rather long for one bar\n"
    bars = "".join(f"{cue.format(name)}  | {name} |\n" for name in "ABCDEFGA" * 12)
    pages = pages_of(library, head + bars)
    assert len(pages) >= 2
    for _, told in pages:
        cues = [each for each in told if "this is what is told" in each[0]]
        assert len(cues) >= 8
        assert min(base - size for _, _, base, size in told) >= 0


@pytest.mark.parametrize("repeats", [1, 3, 5])
def test_long_words_at_the_lines_end_are_set_smaller_and_stay_on_the_page(
    library: Library, repeats: int
) -> None:
    words = "everybody sings this with the hands up " * repeats
    text = (
        "title: Moss\nkey: D\nfeel: sixteenths\nverse:\n  | D | G | A |\n"
        f"  cue: {words}\n  | D |\n  | D | G | A | D |\n"
    )
    ((width, told),) = pages_of(library, text)
    long = [each for each in told if each[0].startswith("everybody")]
    assert len(long) == 1
    for shown, left, _, size in long:
        assert left >= 0
        assert left + NARROW * size * len(shown) <= width


def test_music_moves_down_where_words_would_stand_over_the_pages_edge() -> None:
    """Counted by hand: words of 400 with their base 600 over a margin of 300 lack 700."""
    text = '<text x="900" y="-600"><tspan font-size="400px">told here</tspan></text>'
    words = f'<g class="reh" id="w1">{text}</g>'
    staff = '<g class="staff"><path d="M0 0 L9 0"/></g>'
    for over, wanted in ((words, "translate(500, 1000)"), ("", "translate(500, 300)")):
        system = f'<g class="system">{staff}{over}</g>'
        margin = f'<g class="page-margin" transform="translate(500, 300)">{system}</g>'
        inner = f'<svg class="definition-scale" viewBox="0 0 21000 29700">{margin}</svg>'
        page = ElementTree.fromstring(f'<svg xmlns="http://www.w3.org/2000/svg">{inner}</svg>')
        finish_page(
            page, Lacking(ghosts=set(), harmonics=set(), triangles=set(), slides={}, words={})
        )
        moved = next(g for g in page.iter(f"{SVG}g") if g.get("class") == "page-margin")
        assert moved.get("transform") == wanted


FONTS = Path(matplotlib.get_data_path(), "fonts", "ttf")


@pytest.mark.parametrize(
    ("for_print", "bold", "italic"),
    [
        (False, "DejaVuSerif-Bold", "DejaVuSerif-Italic"),
        (True, "STIXGeneralBol", "STIXGeneralItalic"),
    ],
)
def test_words_in_the_place_of_notes_end_before_the_next_bar(
    library: Library, *, for_print: bool, bold: str, italic: str
) -> None:
    """As wide as in fonts that matplotlib brings: in DejaVu Serif, the widest that viewers take for
    a serif font where they have none; in print as in STIX, which is as wide as a Times, and half
    a letter is left free."""
    song, performance, tuning = example("turnip-field-waltz", library)
    score = scored(performance, song, DEFAULT_SHEET, tuning, on_paper=True)
    free = 0.5 if for_print else 0.0
    seen = 0
    for page in map(ElementTree.fromstring, engraved(score, DEFAULT_SHEET, for_print=for_print)):
        measures = [g for g in page.iter(f"{SVG}g") if g.get("class") == "measure"]
        edges = [starts_at(measure) for measure in measures]
        for measure, right in zip(measures, edges[1:], strict=False):
            for words in (g for g in measure.iter(f"{SVG}g") if g.get("class") == "words"):
                for text in words.iter(f"{SVG}text"):
                    span = next(text.iter(f"{SVG}tspan"))
                    name = bold if span.get("font-weight") == "bold" else italic
                    font = ImageFont.truetype(FONTS / f"{name}.ttf", 1000)
                    ems = font.getlength(span.text or "") / 1000 + free
                    size = float((span.get("font-size") or "")[:-2])
                    assert float(text.get("x", 0)) + size * ems < right
                    seen += 1
    assert seen == 2 * 2


def starts_at(measure: Any) -> float:
    """Return where the lines of a measure's staff begin."""
    staff = next(g for g in measure.iter(f"{SVG}g") if g.get("class") == "staff")
    return float(re.findall(r"-?[\d.]+", next(staff.iter(f"{SVG}path")).get("d", ""))[0])
