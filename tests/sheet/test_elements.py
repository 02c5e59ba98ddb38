"""Trees of XML are written as the standard library writes them (``xml.etree``), byte for byte."""

from xml.etree import ElementTree
from xml.etree.ElementTree import Element

import pytest
from hypothesis import given
from hypothesis import strategies as st

from groove.sheet.drawing import SVG, drawing_text, read_drawing
from groove.sheet.elements import element_text
from tests.strategies_text import any_text

XLINK = "http://www.w3.org/1999/xlink"
WORDS = any_text(8)
NAMES = st.sampled_from(["a", "b", "xml:id", "tab.fret", "key.sig"])


@st.composite
def trees(draw: st.DrawFn, depth: int = 2) -> Element:
    """Draw an element with attributes, text, tail and elements within."""
    root = Element(draw(NAMES), draw(st.dictionaries(NAMES, WORDS, max_size=3)))
    root.text, root.tail = draw(st.none() | WORDS), draw(st.none() | WORDS)
    if depth:
        root.extend(draw(st.lists(trees(depth - 1), max_size=3)))
    return root


@given(trees())
def test_any_tree_is_written_as_by_the_standard_library(root: Element) -> None:
    assert element_text(root) == ElementTree.tostring(root, encoding="unicode")


LINKED = "<use xlink:href='#E0A4' x='1'>&amp;</use>"
TEXTS = "<g><text y='&quot;'>1 &lt; 2</text>tail</g>"


@pytest.mark.parametrize("content", ["", LINKED, TEXTS, TEXTS + LINKED])
def test_a_drawing_is_written_as_by_the_standard_library(
    content: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """In the name space of SVG, with that of links where there are any."""
    named = {SVG: "", XLINK: "xlink"}
    monkeypatch.setattr(ElementTree, "_namespace_map", ElementTree._namespace_map | named)  # type: ignore[attr-defined]
    root = read_drawing(f"<svg xmlns='{SVG}' xmlns:xlink='{XLINK}'>{content}</svg>")
    assert drawing_text(root) == ElementTree.tostring(root, encoding="unicode")
