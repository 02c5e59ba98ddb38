"""A line of the sheet with as few elements as will draw it: a browser's work grows with each.

What is told from the rest stays (the groups of notes and bars, signs, texts); strokes of one width
become one path, beams another, and groups that say nothing are opened.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from xml.etree.ElementTree import Element

from groove.sheet.drawing import GROUP, PATH, POLYGON, TEXT

STROKE = re.compile(r"M-?[\d.]+ -?[\d.]+ ?L-?[\d.]+ -?[\d.]+")
NOTE, BAR = "data-note", "data-bar"


@dataclass(slots=True)
class _Ink:
    """What was taken out of its groups: strokes by their width, and filled corners."""

    strokes: dict[str, list[str]] = field(default_factory=dict)
    beams: list[str] = field(default_factory=list)

    def takes(self, element: Element) -> bool:
        """Return whether an element is of the kind that is drawn together, and take it."""
        attributes = element.attrib
        if element.tag == PATH and attributes.keys() == {"d", "stroke-width"}:
            if STROKE.fullmatch(attributes["d"]):
                self.strokes.setdefault(attributes["stroke-width"], []).append(attributes["d"])
                return True
        elif element.tag == POLYGON and attributes.keys() == {"points"}:
            self.beams.append(f"M{attributes['points'].strip().replace(' ', 'L')}Z")
            return True
        return False

    def paths(self) -> Iterator[Element]:
        """Yield one path for each width, and one for the beams."""
        for width, strokes in self.strokes.items():
            d = "".join(strokes).replace(" L", "L")
            yield Element(PATH, {"d": d, "stroke-width": width})
        if self.beams:
            yield Element(PATH, {"d": "".join(self.beams)})


def simplify(root: Element) -> None:
    """Let a drawing look the same with fewer elements."""
    for group in root.iter(GROUP):
        if "transform" in group.attrib:
            ink = _Ink()
            group[:] = [*_opened(group, ink), *ink.paths()]
            break
    for words in root.iter(TEXT):
        _simplify_text(words)


def _opened(group: Element, ink: _Ink) -> list[Element]:
    """Return what stays of a group's children: plain groups give up theirs, strokes go to ink."""
    stays: list[Element] = []
    for child in list(group):
        if child.tag != GROUP:
            stays += [] if ink.takes(child) else [child]
        elif not child.attrib.keys() - {NOTE, BAR}:
            within = _opened(child, ink)
            child[:] = within
            stays += [child] if child.attrib else within
        else:
            stays.append(child)
    return stays


def _simplify_text(words: Element) -> None:
    """Let a text of one size and one place be one element."""
    inner = words
    attributes: dict[str, str] = dict(words.attrib)
    while len(inner) == 1 and not (inner.text or "").strip():
        inner = inner[0]
        attributes |= inner.attrib
    if inner is words or len(inner):
        return
    words[:] = []
    words.text = inner.text
    words.attrib.clear()
    words.attrib.update(attributes)
