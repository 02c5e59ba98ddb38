"""A sheet says the same wherever it is opened: names of chords drawn, and as text in a PDF.

Judges: librsvg (``rsvg-convert``) and Chromium draw the SVG, poppler (``pdftotext``) reads the PDF,
typst is asked for the letters of its own font.
"""

import re
import subprocess
from pathlib import Path
from xml.etree import ElementTree

import pytest
from PIL import Image
from playwright.sync_api import Page

from groove.cells.model import Library
from groove.io.engrave import sheet_pdf, sheet_svg
from groove.sheet.kinds import printed_suffix
from groove.sheet.options import SheetOptions, Size, Staves
from groove.sheet.outlines import HALF_NOTE, outline
from groove.theory.chords import QUALITIES
from tests.sheet.outlined import LETTERS, typst_outlines
from tests.sheet.parts import played

SVG = "{http://www.w3.org/2000/svg}"
SYMBOLS = ("Eb", "Bb7b9", "Abmaj7#11", "F#m7b5/C", "C6/9", "G°7")
PRINTED = ["E♭", "B♭7♭9", "A♭maj7♯11", "F♯m7♭5/C", "C6/9", "G°7"]
CHART = f"title: Alder Lock\ntempo: 84\nkey: Eb\na:\n  | {' | '.join(SYMBOLS)} |\n"
WIDTH_PX = 1400
PHONE = SheetOptions(size=Size.PHONE, staves=Staves.NOTATION)
CHORDS = SheetOptions(chart=True)
Box = tuple[int, int, int, int]


def test_outlines_are_those_of_the_font_in_the_pdf(tmp_path: Path) -> None:
    found = typst_outlines(LETTERS, tmp_path)
    assert len(found) == len(set(LETTERS)) >= 69
    for letter, (width, path) in found.items():
        assert outline(letter) == (width, f"M0 0{path}"), letter


def test_every_way_to_write_a_quality_has_an_outline() -> None:
    spellings = [spelling for quality in QUALITIES for spelling in quality.spellings]
    assert len(spellings) > 200
    for spelling in spellings:
        assert outline(f"F♯{printed_suffix(spelling)}/B𝄫"), spelling
    assert outline(HALF_NOTE) and outline("♩.") and outline("Ж") is None


def marked(svg: str) -> str:
    """Return a drawing of nothing but the outlines of its chords, each in a color of its own."""
    root = ElementTree.fromstring(svg)
    paths = [path for path in root.iter(f"{SVG}path") if path.get("stroke-width") == "0"]
    texts = [text for text in root.iter(f"{SVG}text") if text.get("fill") == "none"]
    names = ["".join(text.itertext()) for text in texts]
    # A chord chart has the note of its tempo before them.
    assert names[-len(PRINTED) :] == PRINTED and set(names[: -len(PRINTED)]) <= {"♩"}
    chords = paths[-len(PRINTED) :]
    for parent in list(root.iter()):
        for part in list(parent):
            if part.tag != f"{SVG}svg" and not any(each in chords for each in part.iter()):
                parent.remove(part)
    for path, color in zip(chords, COLORS, strict=True):
        path.set("fill", color)
    return ElementTree.tostring(root, encoding="unicode")


COLORS = ("#f00", "#0c0", "#00f", "#c0c", "#0cc", "#cc0")


def boxes(picture: Path, heights: list[int]) -> list[Box]:
    """Return where the ink of each color lies in each drawing of so many pixels, one by one."""
    image = Image.open(picture).convert("RGBA")
    white = Image.new("RGBA", image.size, "white")
    white.alpha_composite(image)
    whole = white.convert("RGB")
    found, top = [], 0
    for height in heights:
        found += colored(whole.crop((0, top, whole.width, top + height)))
        top += height
    return found


def colored(image: Image.Image) -> list[Box]:
    """Return where the ink of each color lies: left, top, right, bottom."""
    found = []
    for color in COLORS:
        wanted = [int(digit, 16) * 17 for digit in color[1:]]
        near = Image.new("L", image.size, 255)
        for band, share in zip(image.split(), wanted, strict=True):
            off = band.point([abs(level - share) for level in range(256)])
            near = Image.composite(near, Image.new("L", image.size, 0), off.point(SOLID))
        box = near.getbbox()
        assert box is not None, color
        found.append(box)
    return found


SOLID = [255 if off < 100 else 0 for off in range(256)]


def on_one_sheet(svgs: list[str]) -> tuple[str, list[int]]:
    """Return drawings one under another as one, and how many pixels each is high."""
    inner, heights = "", []
    for svg in svgs:
        root = ElementTree.fromstring(marked(svg))
        _, _, width, height = map(float, root.get("viewBox", "").split())
        heights.append(round(WIDTH_PX * height / width))
        place = {"x": 0, "y": sum(heights[:-1]), "width": WIDTH_PX, "height": heights[-1]}
        for name, pixels in place.items():
            root.set(name, str(pixels))
        inner += ElementTree.tostring(root, encoding="unicode")
    size = f'width="{WIDTH_PX}" height="{sum(heights)}"'
    return f'<svg xmlns="http://www.w3.org/2000/svg" {size}>{inner}</svg>', heights


def test_two_viewers_draw_the_names_of_chords_in_the_same_places(
    library: Library, tmp_path: Path, window: Page
) -> None:
    """Whatever fonts they have: boxes differ by no more than what antialiasing makes of an edge.

    A part and a chord chart on one sheet.
    """
    song, performance, tuning = played(CHART, library)
    svgs = [sheet_svg(performance, song, way, tuning=tuning)[0] for way in (PHONE, CHORDS)]
    text, heights = on_one_sheet(svgs)
    drawing = tmp_path / "page.svg"
    drawing.write_text(text, encoding="utf-8")
    one, other = tmp_path / "librsvg.png", tmp_path / "chromium.png"
    subprocess.run(["rsvg-convert", drawing, "-o", one], check=True)
    window.set_viewport_size({"width": WIDTH_PX, "height": sum(heights) + 100})
    window.goto(drawing.as_uri())
    window.screenshot(path=other)
    found = list(zip(boxes(one, heights), boxes(other, heights), strict=True))
    assert len(found) == 2 * len(PRINTED)
    for ours, theirs in found:
        assert max(abs(a - b) for a, b in zip(ours, theirs, strict=True)) <= 1
        assert ours[2] - ours[0] > 10


@pytest.mark.parametrize("options", [SheetOptions(), CHORDS], ids=["part", "chart"])
def test_the_text_of_a_pdf_has_the_chords_in_order(
    library: Library, tmp_path: Path, options: SheetOptions
) -> None:
    song, performance, tuning = played(CHART, library)
    path = tmp_path / "page.pdf"
    path.write_bytes(sheet_pdf(performance, song, options, tuning=tuning))
    done = subprocess.run(["pdftotext", "-raw", path, "-"], check=True, capture_output=True)
    words = [word for word in done.stdout.decode().split() if re.match(r"[A-G][♭♯m0-9°]", word)]
    # The head of a page names the key.
    assert words == ["E♭", *PRINTED]


def test_a_half_note_is_drawn_where_the_font_has_none(library: Library, tmp_path: Path) -> None:
    """The tempo of 2/2 counts halves; no box of a missing letter stands in its place."""
    text = "title: Alder Lock\nmeter: 2/2\ntempo: 90\na:\n  | C | F |\n"
    song, performance, tuning = played(text, library)
    path = tmp_path / "page.pdf"
    path.write_bytes(sheet_pdf(performance, song, tuning=tuning))
    done = subprocess.run(["pdftotext", "-raw", path, "-"], check=True, capture_output=True)
    (line,) = [line for line in done.stdout.decode().splitlines() if "= 90" in line]
    assert not set(line) & {HALF_NOTE, *"𝅗𝅥", "�"}
    (svg,) = sheet_svg(performance, song, PHONE, tuning=tuning)
    assert svg.count(outline(HALF_NOTE)[1]) == 1  # type: ignore[index]
