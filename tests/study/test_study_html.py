"""The report as one HTML file: well-formed, asking for nothing, each cell drawn to its slots."""

import re
from html.parser import HTMLParser
from pathlib import Path
from xml.etree.ElementTree import fromstring

import pytest
from msgspec.structs import replace

from groove.study.cell_picture import BAR_MM, cell_svg
from groove.study.study_html import study_html
from tests.cli.command import Command
from tests.study.hand_made import C2, C3, midi_file, studied

SVG = "{http://www.w3.org/2000/svg}"
VOID = {"meta", "br", "img", "hr", "link", "input"}
"""Elements without an end: HTML Living Standard 13.1.2."""


class Outline(HTMLParser):
    """Notes what is open, and every address that a browser would ask for."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.asked: list[str] = []
        self.count = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.count += 1
        if tag not in VOID:
            self.open.append(tag)
        self.asked += [value or "" for name, value in attrs if name in ("src", "href", "srcset")]

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.count += 1

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag


GHOSTLY = [
    (4 * bar + at, length, pitch, velocity)
    for bar in range(4)
    for at, length, pitch, velocity in (
        (0, 1.9, C2, 108), (2, 0.1, C2, 20), (2.5, 0.45, C3, 88), (3, 0.9, C2, 58),
    )
]  # fmt: skip
"""By hand: a half note at level 9, a ghost, an eighth at 7, a quarter at 4, in eighths."""


def test_a_cell_is_drawn_as_long_as_it_is_held_and_as_high_as_it_is_loud(tmp_path: Path) -> None:
    study = studied(midi_file(tmp_path, GHOSTLY), None)
    [cell] = study.cells
    assert cell.patterns[0].steps == ("R", "-", "-", "-", "x", "8", "R", "-")
    root = fromstring(cell_svg(cell))
    boxes = [
        (float(box.get("x", "")), float(box.get("width", "")), float(box.get("height", "")))
        for box in root.iter(f"{SVG}rect")
    ]
    slot = BAR_MM / 8
    assert len(boxes) == 4
    starts = [x - boxes[0][0] for x, _, _ in boxes]
    assert starts == pytest.approx([0, 4 * slot, 5 * slot, 6 * slot], abs=0.02)
    lengths = [(width - boxes[1][1]) / slot + 1 for _, width, _ in boxes]
    assert lengths == pytest.approx([4, 1, 1, 2], abs=0.01)
    heights = [height / boxes[0][2] * 9 for _, _, height in boxes]
    assert heights == pytest.approx([9, 1, 7, 4], abs=0.01)
    filled = [box.get("fill") for box in root.iter(f"{SVG}rect")]
    assert [fill == "none" for fill in filled] == [False, True, False, False]
    words = [text.text for text in root.iter(f"{SVG}text")]
    assert words == ["1", "2", "3", "4", "R", "x", "8", "R"]
    left, top, wide, high = map(float, root.get("viewBox", "").split())
    inside = [
        left <= x and x + width <= left + wide and height <= high - top
        for x, width, height in boxes
    ]
    assert len(inside) == 4
    assert all(inside)


def test_the_document_is_whole_and_asks_for_nothing(tmp_path: Path) -> None:
    study = studied(midi_file(tmp_path, GHOSTLY), None)
    text = study_html(study, practise=["  groove render <x>.txt"])
    outline = Outline()
    outline.feed(text)
    outline.close()
    assert outline.count >= 40
    assert (outline.open, outline.asked) == ([], [])
    assert "default-src 'none'" in text
    assert not re.search(r"url\(|@import|<script", text)
    assert text.count("<svg") == len(study.cells) == 1
    assert "groove render &lt;x&gt;.txt" in text
    for words in ("notes by chord", "Its cells", "How it is played", "Worth practising", "R: root"):
        assert words in text, words


def test_a_title_is_text_and_no_markup(tmp_path: Path) -> None:
    study = replace(studied(midi_file(tmp_path, GHOSTLY), None), title="<b>Tin & Lid</b>")
    text = study_html(study)
    assert "<b>" not in text
    assert text.count("&lt;b&gt;Tin &amp; Lid&lt;/b&gt;") == 2


def test_it_is_written_where_it_is_asked_for(groove: Command) -> None:
    midi_file(groove.folder, GHOSTLY)
    said = groove("study", "line.mid", "-o", "line.html")
    assert (said.code, said.out) == (0, "")
    assert "wrote line.html" in said.err
    page = (groove.folder / "line.html").read_text(encoding="utf-8")
    assert page.startswith("<!DOCTYPE html>")
    assert groove("study", "line.mid", "-o", "line.txt").code == 0
    printed = groove("study", "line.mid").out
    assert (groove.folder / "line.txt").read_text(encoding="utf-8") == printed
    both = groove("study", "line.mid", "-o", "again.html", "--json")
    assert both.json[0]["bars"] == 4
    assert (groove.folder / "again.html").read_text(encoding="utf-8") == page


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("-o", "line.pdf"), "cannot write a .pdf"),
        (("-o", "line.html", "--riffs"), "--riffs makes a text, line.html is a page"),
        (("-o", "line.html", "--as-chart"), "--as-chart makes a text, line.html is a page"),
        (("-o", "none/line.html"), "there is no folder none"),
    ],
)
def test_what_cannot_be_written_is_refused_before_any_work(
    groove: Command, words: tuple[str, ...], told: str
) -> None:
    midi_file(groove.folder, GHOSTLY)
    said = groove("study", "line.mid", *words)
    assert (said.code, said.out) == (2, "")
    assert told in said.err
    assert groove.files() == {"line.mid"}
