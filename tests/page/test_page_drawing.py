"""A drawing with fewer elements looks the same: the browser paints both, pixel by pixel."""

import re
from xml.etree import ElementTree

import pytest
from playwright.sync_api import Page

from groove.cells.model import Library
from groove.chart.parse import parse_chart
from groove.io.systems import WIDE, engraved_systems
from groove.neck.fingering import finger_performance
from groove.neck.instrument import STANDARD
from groove.page import systems
from groove.page.simplify import simplify
from groove.page.systems import EngravedPart, glyph_definitions
from groove.pipeline import perform_song
from groove.sheet.build import build_score
from groove.sheet.drawing import drawing_text, read_drawing
from tests.conftest import ROOT

CHARTS = {
    "lantern-row": "intro, verse, chorus",
    "turnip-field-waltz": "first strain, second strain",
    "two-clocks": "verse, chorus, bridge",
}
"""Shipped songs, each as long as its first lines are the whole song's."""
LINES = 4
PAINT = """
async ([first, second]) => {
  const painted = async (text) => {
    const image = new Image();
    image.src = "data:image/svg+xml;charset=utf-8," + encodeURIComponent(text);
    await image.decode();
    const canvas = new OffscreenCanvas(1600, 400);
    const context = canvas.getContext("2d");
    context.drawImage(image, 0, 0, 1600, 400);
    return context.getImageData(0, 0, 1600, 400).data;
  };
  const [one, other] = [await painted(first), await painted(second)];
  let [inked, different] = [0, 0];
  for (let at = 3; at < one.length; at += 4) {
    inked += one[at] > 128;
    different += Math.abs(one[at] - other[at]) > 64;
  }
  return [inked, different];
}
"""


def plain_sheet(name: str, library: Library, monkeypatch: pytest.MonkeyPatch) -> EngravedPart:
    """The lines of a shipped song as the engraver groups them."""
    text = (ROOT / "shared" / "charts" / f"{name}.txt").read_text(encoding="utf-8")
    song = parse_chart(re.sub("(?m)^form:.*$", f"form: {CHARTS[name]}", text))
    performance, _ = finger_performance(perform_song(song, library))
    monkeypatch.setattr(systems, "simplify", lambda root: None)
    score = build_score(performance, song, tuning=STANDARD, written_out=True)
    return engraved_systems(performance, score, WIDE)


def simplified(text: str) -> str:
    root = read_drawing(text)
    simplify(root)
    return drawing_text(root)


def with_signs(drawing: str, sheet: EngravedPart) -> str:
    """A drawing that stands alone: its signs within, black, of a known size."""
    start = '<svg xmlns="http://www.w3.org/2000/svg" width="1600" height="400" '
    text = drawing.replace('xmlns="http://www.w3.org/2000/svg"', "", 1)
    text = text.replace("<svg ", start, 1)
    style = "path, polygon, rect { stroke: black }"
    head = f"<style>{style}</style><defs>{glyph_definitions([sheet])}</defs>"
    return re.sub(r"^(<svg[^>]*>)", lambda found: found[1] + head, text)


@pytest.mark.parametrize("name", CHARTS)
def test_fewer_elements_paint_the_same_picture(
    name: str, window: Page, library: Library, monkeypatch: pytest.MonkeyPatch
) -> None:
    sheet = plain_sheet(name, library, monkeypatch)
    compared = 0
    for system in sheet.systems[:LINES]:
        simple = simplified(system.drawing)
        inked, different = window.evaluate(
            PAINT, [with_signs(text, sheet) for text in (system.drawing, simple)]
        )
        assert inked > 5000
        # Where two strokes touch, their edges are blended once instead of twice.
        assert different <= inked / 200
        before, after = (
            len(list(ElementTree.fromstring(t).iter())) for t in (system.drawing, simple)
        )
        assert after < before / 2
        compared += 1
    assert compared == LINES


def test_what_has_a_meaning_of_its_own_stays() -> None:
    drawing = (
        '<svg xmlns="http://www.w3.org/2000/svg"><g transform="translate(1, 2)"><g><g>'
        '<path d="M0 1 L5 1" stroke-width="2"/></g><path d="M0 3 L5 3" stroke-width="2"/>'
        '<path d="M0 4 L5 4" stroke-width="9"/><path d="M1,2 C3,4 5,6 7,8" stroke-width="2"/>'
        '<path d="M0 6 L5 6" stroke-width="2" stroke-dasharray="1"/></g>'
        '<g fill="none"><path d="M0 7 L5 7" stroke-width="2"/></g>'
        '<g data-note="4"><polygon points="1,1 2,2 3,1"/><text x="1"><tspan>'
        '<tspan font-size="9px">7</tspan></tspan></text></g></g></svg>'
    )
    # By hand: two strokes of width 2 are one, the one of width 9 its own; curve, dashes and the
    # group with a fill stay as they are.
    assert simplified(drawing) == (
        '<svg xmlns="http://www.w3.org/2000/svg"><g transform="translate(1, 2)">'
        '<path d="M1,2 C3,4 5,6 7,8" stroke-width="2" />'
        '<path d="M0 6 L5 6" stroke-width="2" stroke-dasharray="1" />'
        '<g fill="none"><path d="M0 7 L5 7" stroke-width="2" /></g>'
        '<g data-note="4"><text x="1" font-size="9px">7</text></g>'
        '<path d="M0 1L5 1M0 3L5 3" stroke-width="2" /><path d="M0 4L5 4" stroke-width="9" />'
        '<path d="M1,1L2,2L3,1Z" /></g></svg>'
    )


def test_what_only_marks_a_place_is_not_drawn(
    library: Library, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The engraver marks breaks by dots at the left edge, and hides them by a style of its own."""
    sheet = plain_sheet("lantern-row", library, monkeypatch)
    dots = [
        dot
        for system in sheet.systems
        for dot in ElementTree.fromstring(system.drawing).iter(
            "{http://www.w3.org/2000/svg}ellipse"
        )
    ]
    assert [dot for dot in dots if dot.get("cx") == "0"] == []
    assert len(sheet.systems) > 4
