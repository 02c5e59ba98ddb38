"""Drawings as trees of SVG: what is drawn by us, and what the engraver drew and is worked over.

The one place that knows SVG's names.  A drawing of ours is made by ``Drawing``; one of the
engraver's is read once, changed as a tree by those who need it, and written once.
"""

import re
from collections.abc import Iterable, Iterator, Mapping
from xml.etree.ElementTree import Element, SubElement, fromstring

from groove.sheet.elements import element_text
from groove.sheet.outlines import outline

SVG = "http://www.w3.org/2000/svg"
HREF = "{http://www.w3.org/1999/xlink}href"
SPACE = "{http://www.w3.org/XML/1998/namespace}space"
GROUP, TEXT, SPAN, PATH, USE, POLYGON, INNER = (
    f"{{{SVG}}}{name}" for name in ("g", "text", "tspan", "path", "use", "polygon", "svg")
)
BLACK = "#000"
DRAWN_NUMBER = re.compile(r"-?\d+(?:\.\d+)?")
_NONE: Mapping[str, str] = {}
_IN_SVG = f"{{{SVG}}}"
_SPACE, _LINK_SPACE = f' xmlns="{SVG}"', ' xmlns:xlink="http://www.w3.org/1999/xlink"'
_PREFIXED = {HREF: "xlink:href", SPACE: "xml:space"}


def read_drawing(text: str) -> Element:
    """Return a drawing of the engraver as a tree."""
    return fromstring(text)


def drawing_text(root: Element) -> str:
    """Return a drawing as SVG."""
    has_links = any(HREF in element.attrib for element in root.iter(USE))
    stated = _SPACE + _LINK_SPACE if has_links else _SPACE
    return element_text(root, space=_IN_SVG, stated=stated, names=_PREFIXED)


def kinds(element: Element) -> list[str]:
    """Return the classes of an element, by which the engraver tells what it has drawn."""
    return element.get("class", "").split()


def groups(root: Element, kind: str) -> Iterator[Element]:
    """Yield the groups of one kind, in order."""
    return (group for group in root.iter(GROUP) if kind in kinds(group))


def groups_by_kind(root: Element) -> dict[str, list[Element]]:
    """Return all groups by their kinds, in order: one walk for whoever asks for several."""
    found: dict[str, list[Element]] = {}
    for group in root.iter(GROUP):
        for kind in kinds(group):
            found.setdefault(kind, []).append(group)
    return found


def first(root: Element, tag: str) -> Element | None:
    """Return the first element with a tag, None where there is none."""
    return next(root.iter(tag), None)


def sized(root: Element) -> Iterator[Element]:
    """Yield the texts of a drawing as the engraver sizes them: spans in pixels."""
    return (span for span in root.iter(SPAN) if "font-size" in span.attrib)


def size_of(span: Element) -> float:
    """Return the size of a text in units of the drawing."""
    return float(span.get("font-size", "0").removesuffix("px"))


def numbers(text: str) -> list[float]:
    """Return the numbers of a path, a box or a transformation."""
    return [float(found) for found in DRAWN_NUMBER.findall(text)]


def letters(words: str, x: float, y: float, size: float) -> Element | None:
    """Return a text as a path that begins at a point; None where a letter has no outline."""
    found = outline(words)
    return None if found is None else outlined(found[1], x, y, size)


def outlined(path: str, x: float, y: float, size: float) -> Element:
    """Return an outline in thousandths of a size, drawn from a point on."""
    scale = size / 1000
    place = f"translate({x:g}, {y:g}) scale({scale:.5g}, {-scale:.5g})"
    # The engraver's style draws a line round every path that does not say otherwise.
    return Element(PATH, {"d": path, "transform": place, "stroke-width": "0"})


def _decimal(value: float) -> str:
    """Return a length with at most two digits after the point."""
    return f"{value:.2f}".rstrip("0").rstrip(".")


class Drawing:
    """A drawing of our own: texts, strokes and circles on a page, in the order they are added."""

    def __init__(self, box: Iterable[float] = (), **attributes: str) -> None:
        """Begin a page; ``box`` is its left, top, width and height, which may be set later."""
        self.root = Element(INNER, _hyphened(attributes))
        if box:
            self.set_box(box)

    def set_box(self, box: Iterable[float]) -> None:
        """Set the page's left, top, width and height."""
        self.root.set("viewBox", " ".join(map(_decimal, box)))

    def text(self, x: float, y: float, text: str, size: float, **attributes: str) -> None:
        """Add a text whose baseline begins at a point; ``font_weight`` is ``font-weight``."""
        place = {"x": _decimal(x), "y": _decimal(y), "font-size": _decimal(size)}
        self._add(TEXT, place, attributes).text = text

    def letters(self, x: float, y: float, text: str, size: float, **attributes: str) -> None:
        """Add a text that looks the same in every viewer: an outline, over the text, unseen."""
        path = letters(text, x, y, size)
        self.text(x, y, text, size, **attributes, **({} if path is None else {"fill": "none"}))
        if path is not None:
            self.root.append(path)

    def line(self, x1: float, y1: float, x2: float, y2: float, width: float = 0.25) -> None:
        """Add a stroke."""
        ends = {"x1": x1, "y1": y1, "x2": x2, "y2": y2}
        place = {name: _decimal(value) for name, value in ends.items()}
        self._add(f"{{{SVG}}}line", place | {"stroke": BLACK, "stroke-width": _decimal(width)})

    def circle(self, x: float, y: float, radius: float = 0.55, **attributes: str) -> None:
        """Add a circle, filled black where nothing else is asked for."""
        place = {"cx": _decimal(x), "cy": _decimal(y), "r": _decimal(radius)}
        self._add(f"{{{SVG}}}circle", place, attributes)

    def rectangle(self, width: float, height: float, **attributes: str) -> None:
        """Add a rectangle from the origin."""
        place = {"width": _decimal(width), "height": _decimal(height)}
        self._add(f"{{{SVG}}}rect", place, attributes)

    def title(self, text: str) -> None:
        """Add the name of the drawing, which a reader of the screen says."""
        self._add(f"{{{SVG}}}title", {}).text = text

    def svg(self) -> str:
        """Return the page."""
        return drawing_text(self.root) + "\n"

    def _add(
        self, tag: str, place: dict[str, str], attributes: Mapping[str, str] = _NONE
    ) -> Element:
        return SubElement(self.root, tag, place | _hyphened(attributes))


def _hyphened(attributes: Mapping[str, str]) -> dict[str, str]:
    return {name.replace("_", "-"): value for name, value in attributes.items()}
