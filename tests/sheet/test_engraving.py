"""Engraved pages: what can be checked of a picture in its SVG, and what a PDF holds (pypdf).

A tab number stands on the line of its string; what a ghost is, on both staves; nothing overlaps
and nothing lies outside the page.  Text widths are overestimated here from Times' own metrics
(Adobe AFM: no letter of a chord symbol is wider than 0.722 of the size, a digit is 0.5).
"""

import io
import re
from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from typing import Any
from xml.etree import ElementTree

import pytest
from pypdf import PdfReader

from groove.cells.model import Library
from groove.events import Part, Touch
from groove.io.engrave import sheet_pdf, sheet_png, sheet_svg
from groove.sheet.options import SheetOptions, Size, Staves
from tests.sheet.parts import SIXTEENTHS, UNLIKE_NAMES, drawn_pages, played, sections_once

SVG = "{http://www.w3.org/2000/svg}"
HREF = "{http://www.w3.org/1999/xlink}href"
TRANSLATE = re.compile(r"translate\(([-\d.]+),\s*([-\d.]+)\)")
HEAD_X = "E0A9"
"""The glyph of an x notehead, SMuFL 1.4: noteheadXBlack."""


@dataclass(frozen=True)
class Text:
    """A text of a page with its place, in the units of the drawing."""

    x: float
    y: float
    size: float
    text: str

    @property
    def width(self) -> float:
        """At the most: a digit, s and u are 0.5 of the size, else a capital (Times, Adobe AFM)."""
        return sum(0.5 if mark in "0123456789su" else 0.722 for mark in self.text) * self.size


Pages = Callable[[str], tuple[Any, ...]]


@pytest.fixture
def pages(library: Library) -> Pages:
    """Return a function that gives the pages of an example chart's sections, drawn once."""
    return lambda name: drawn_pages(sections_once(name), library)


def groups(page: Any, kind: str) -> list[Any]:
    return [g for g in page.iter(f"{SVG}g") if kind in (g.get("class") or "").split()]


def texts(group: Any) -> list[Text]:
    """Return the texts of a group, each at the place of its first part."""
    found = []
    for element in group.iter(f"{SVG}text"):
        spans = [s for s in element.iter(f"{SVG}tspan") if s.text and s.text.strip()]
        if not spans:
            continue
        size = float(spans[0].get("font-size", "0px").removesuffix("px"))
        text = "".join(s.text.strip() for s in spans)
        found.append(Text(float(element.get("x", 0)), float(element.get("y", 0)), size, text))
    return found


def overlaps(found: list[Text]) -> int:
    """Return how many neighbours on one height run into each other."""
    by_height: dict[int, list[Text]] = {}
    for text in found:
        by_height.setdefault(round(text.y), []).append(text)
    count = 0
    for row in by_height.values():
        row.sort(key=lambda text: text.x)
        count += sum(a.x + a.width > b.x for a, b in pairwise(row))
    return count


@pytest.mark.parametrize("name", UNLIKE_NAMES)
def test_no_chord_symbol_overlaps_another(pages: Pages, name: str) -> None:
    chords = [[t for g in groups(page, "harm") for t in texts(g)] for page in pages(name)]
    assert sum(map(len, chords)) > 20
    assert [overlaps(page) for page in chords] == [0] * len(chords)


def test_an_overlap_would_be_seen() -> None:
    first = Text(0, 10, 10, "Bm7")
    assert overlaps([first, Text(15, 10, 10, "E7")]) == 1
    assert overlaps([first, Text(25, 10, 10, "E7")]) == 0


@pytest.mark.parametrize("name", UNLIKE_NAMES)
def test_every_stroke_has_its_number_on_the_line_of_its_string(
    library: Library, pages: Pages, name: str
) -> None:
    _, performance, tuning = played(sections_once(name), library)
    by_id = dict(zip(performance.note_ids, performance.notes, strict=True))
    seen = 0
    for page in pages(name):
        heads = {g.get("id") for g in groups(page, "note")}
        for staff in groups(page, "staff"):
            lines = [p.get("d") for p in staff.findall(f"{SVG}path")]
            heights = sorted({float(re.findall(r"[\d.]+", d)[1]) for d in lines if d})
            numbers = [g for g in groups(staff, "note") if g.get("id", "").startswith("tab-")]
            for group in numbers:
                name_of_note = group.get("id").removeprefix("tab-")
                note = by_id[name_of_note]
                assert note.place and name_of_note in heads
                assert len(heights) == tuning.string_count
                number = texts(group)[0]
                line = heights[note.place.string - 1]
                assert line < number.y < line + number.size
                sign = "x" if note.touch is Touch.GHOST else str(note.place.fret)
                assert number.text == sign
                seen += 1
    assert seen > 45


def test_ghosts_are_crosses_on_the_staff_and_others_are_not(library: Library) -> None:
    song, performance, tuning = played(SIXTEENTHS, library)
    by_id = dict(zip(performance.note_ids, performance.notes, strict=True))
    counts = {True: 0, False: 0}
    for page in map(ElementTree.fromstring, sheet_svg(performance, song, tuning=tuning)):
        for group in groups(page, "note"):
            note = by_id.get(group.get("id", ""))
            if note is None:
                continue
            glyphs = [u.get(HREF, "") for u in group.iter(f"{SVG}use")]
            ghost = note.touch is Touch.GHOST
            assert any(HEAD_X in glyph for glyph in glyphs) == ghost
            counts[ghost] += 1
    assert counts[True] >= 8 and counts[False] > 40


@pytest.mark.parametrize("name", UNLIKE_NAMES)
def test_nothing_lies_outside_the_page(pages: Pages, name: str) -> None:
    seen = 0
    for page in pages(name):
        box = page.find(f"{SVG}svg")
        _, _, width, height = map(float, box.get("viewBox").split())
        margin = box.find(f"{SVG}g[@class='page-margin']").get("transform")
        left, top = map(float, re.findall(r"-?[\d.]+", margin))
        for system in groups(page, "system"):
            # Lines are moved up and down as they are shared out over pages.
            moved = TRANSLATE.findall(system.get("transform", "translate(0, 0)"))[0]
            line_top = top + float(moved[1])
            for use in system.iter(f"{SVG}use"):
                x, y = map(float, TRANSLATE.findall(use.get("transform"))[0])
                assert 0 <= x + left <= width and 0 <= y + line_top <= height
                seen += 1
            for text in texts(system):
                assert 0 <= text.x + left <= width and 0 <= text.y + line_top <= height
    assert seen > 100


def fonts_of(page: Any) -> list[Any]:
    return [font.get_object() for font in page["/Resources"]["/Font"].values()]


STAND = SheetOptions(size=Size.STAND, written_out=True)
TWO_PAGES = "title: Button Drawer\nkey: Bb\nfeel: long notes\nverse:\n"
TWO_PAGES += "  | Bb | Gm7 | Cm7/F | F7 |\n" * 7


def test_a_pdf_has_title_page_numbers_and_embedded_fonts(library: Library) -> None:
    song, performance, tuning = played(TWO_PAGES, library)
    pdf = sheet_pdf(performance, song, STAND, tuning=tuning)
    reader = PdfReader(io.BytesIO(pdf))
    count = len(reader.pages)
    assert count >= 2
    assert reader.metadata and reader.metadata.title == "Button Drawer"
    fonts = 0
    for number, page in enumerate(reader.pages, start=1):
        text = page.extract_text()
        assert "Button Drawer" in text
        assert f"page {number} of {count}" in text
        assert "\N{REPLACEMENT CHARACTER}" not in text
        for font in fonts_of(page):
            descendants = font.get("/DescendantFonts", [font])
            descriptor = descendants[0].get_object()["/FontDescriptor"].get_object()
            assert any(key in descriptor for key in ("/FontFile2", "/FontFile3"))
            fonts += 1
    assert fonts >= count


def test_a_tempo_between_two_numbers_is_told_as_it_is(library: Library) -> None:
    song, performance, tuning = played("title: Fir\ntempo: 92.5\na:\n  | D | G |\n", library)
    pdf = PdfReader(io.BytesIO(sheet_pdf(performance, song, tuning=tuning)))
    assert "= 92.5" in pdf.pages[0].extract_text()


def test_sharps_and_flats_are_real_glyphs(library: Library) -> None:
    """The text of a chord symbol holds its sign, in a font that is in the file."""
    text = "title: Fir\nkey: Db\na:\n  | Db | F#m7 | Bb7/Ab | Ebm |\n"
    song, performance, tuning = played(text, library)
    pdf = PdfReader(io.BytesIO(sheet_pdf(performance, song, tuning=tuning)))
    found = pdf.pages[0].extract_text()
    # The key in the head is a name with a flat too.
    assert [found.count("♭"), found.count("♯")] == [4 + 1, 1]
    names = {str(f["/BaseFont"]) for f in fonts_of(pdf.pages[0])}
    assert names and all("LibertinusSerif" in name for name in names)


def test_the_same_sheet_gives_the_same_bytes(library: Library) -> None:
    """So has a PDF, in two processes: see ``tests/io/test_pdf``."""
    song, performance, tuning = played(SIXTEENTHS, library)
    one = sheet_svg(performance, song, tuning=tuning)
    assert one == sheet_svg(performance, song, tuning=tuning)


@pytest.mark.parametrize("staves", [Staves.NOTATION, Staves.TAB])
def test_one_staff_alone(library: Library, staves: Staves) -> None:
    song, performance, tuning = played(SIXTEENTHS, library)
    svgs = sheet_svg(performance, song, SheetOptions(staves=staves), tuning=tuning)
    notes = [g.get("id", "") for svg in svgs for g in groups(ElementTree.fromstring(svg), "note")]
    on_tab = [name.startswith("tab-") for name in notes]
    assert len(notes) > 50
    assert all(on_tab) if staves is Staves.TAB else not any(on_tab)


@pytest.mark.parametrize("part", [Part.DRUMS, Part.KEYS])
def test_the_other_players_have_pages(library: Library, part: Part) -> None:
    song, performance, _ = played(SIXTEENTHS, library)
    svgs = sheet_svg(performance, song, SheetOptions(part=part, written_out=True))
    drawn = {g.get("id") for svg in svgs for g in groups(ElementTree.fromstring(svg), "note")}
    named = zip(performance.note_ids, performance.notes, strict=True)
    wanted = {name for name, note in named if note.part is part}
    assert len(wanted) > 50
    assert wanted <= drawn


def test_a_phone_has_one_page_as_wide_as_it_is(library: Library) -> None:
    song, performance, tuning = played(SIXTEENTHS, library)
    svgs = sheet_svg(performance, song, SheetOptions(size=Size.PHONE), tuning=tuning)
    assert len(svgs) == 1
    box = [float(v) for v in ElementTree.fromstring(svgs[0]).get("viewBox", "").split()]
    assert box[3] > 1.5 * box[2]
    pdf = sheet_pdf(performance, song, SheetOptions(size=Size.PHONE), tuning=tuning)
    (page,) = PdfReader(io.BytesIO(pdf)).pages
    music = box[3] / box[2] * float(page.mediabox.width)
    assert music * 0.9 < float(page.mediabox.height) < music * 1.2


def test_a_png_is_a_png(library: Library) -> None:
    """The signature of PNG (W3C, second edition, 5.2)."""
    song, performance, tuning = played(TWO_PAGES, library)
    found = sheet_png(performance, song, STAND, tuning=tuning, pixels_per_inch=50)
    assert len(found) >= 2
    assert all(page[:8] == b"\x89PNG\r\n\x1a\n" for page in found)
