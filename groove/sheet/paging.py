"""Lines of music shared out over pages: one long drawing of the engraver is cut into pages.

No page is left half empty or has one line alone, lines stand closer where that saves a page and
further apart where a page has room, and a page ends where a hand is free to turn it (Gould,
*Behind Bars*, 2011, "Page turns"; from memory).  Lengths are in the engraver's own units.
"""

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from xml.etree.ElementTree import Element

from groove.sheet.drawing import GROUP, PATH, groups, kinds, numbers
from groove.sheet.finishing import HEADING, WORDS_ID, music_box, music_margin
from groove.sheet.score import Measure
from groove.timing import TICKS_PER_QUARTER

APART_UNITS = 4.0
"""What the engraver leaves free between lines, in half staff spaces."""
SHRINK_UNITS = 1.5
"""How much closer lines may stand where that saves a page."""
STRETCH_UNITS, LONE_STRETCH_UNITS = 22.0, 5.0
"""How much further apart lines may stand to fill a page: on one of several, on an only one."""
LEAST_BELOW_UNITS, MOST_BELOW_UNITS = 1.0, 6.0
"""What may stand under the last staff of a page."""
HEAD_UNITS = 12.0
"""What stands over the first staff of a line with a name, under the line before."""
LONG_TICKS = 2 * TICKS_PER_QUARTER
"""A note that leaves time to turn a page: a half, and with the next bar's rest less."""
TURN_COST, SECTION_COST = 0.04, 0.01
"""What a turn without a free hand, and one within a section, cost beside unequal pages."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PageSize:
    """The height of a page, of its margin at the foot, and half a staff space.

    ``head`` is what the first page has less.
    """

    height: float
    foot: float
    unit: float
    head: float = 0.0


@dataclass(frozen=True, slots=True)
class _DrawnLine:
    """A line of music as drawn: its group, and where its first and last staff lines lie."""

    group: Element
    top: float
    bottom: float
    before: float
    """From the line before, or from the top of the drawing."""


def lets_turn(measure: Measure) -> bool:
    """Return whether a page may be turned after a measure: it ends on a rest or a long note."""
    if measure.as_before or measure.rest_bars:
        return True
    ends = [voice.events[-1] for voice in measure.voices if voice.events]
    return all(not event.heads or event.value.ticks >= LONG_TICKS for event in ends)


def paged(
    drawings: Sequence[Element], size: PageSize, turns: Collection[str]
) -> tuple[Element, ...]:
    """Return the pages of a part that is drawn as one long page, or several.

    ``turns`` are the ids of measures after which a page may be turned.
    """
    lines = [line for drawing in drawings for line in _lines(drawing)]
    margin_top = numbers(music_margin(music_box(drawings[0])).get("transform", ""))[1]
    bottom = size.height - margin_top - size.foot
    unit = size.unit
    cuts = _page_stops(lines, (bottom - size.head, bottom), unit, turns)
    edges = list(pairwise([0, *cuts]))
    most = (STRETCH_UNITS if len(edges) > 1 else LONE_STRETCH_UNITS) * unit
    for start, stop in edges:
        head = 0.0 if start else size.head
        free = bottom - head - _height(lines, start, stop, unit)
        apart = min(free / (stop - start - 1), most) if stop - start > 1 else 0.0
        _place(lines[start:stop], _above(lines, start, unit), apart)
    return tuple(
        _page(
            drawings[0],
            lines[start:stop],
            size.height - (0.0 if start else size.head),
            is_first=start == 0,
        )
        for start, stop in edges
    )


def _lines(drawing: Element) -> Iterator[_DrawnLine]:
    last = 0.0
    for group in music_margin(music_box(drawing)):
        if "system" not in kinds(group):
            continue
        staves = list(groups(next(groups(group, "measure")), "staff"))
        heights = [
            numbers(path.get("d", ""))[1] for staff in staves for path in staff.findall(PATH)
        ]
        yield _DrawnLine(group, min(heights), max(heights), min(heights) - last)
        last = max(heights)


def _above(lines: Sequence[_DrawnLine], index: int, unit: float) -> float:
    """Return what stands over the first staff of a line at the head of a page, at the most."""
    return lines[index].top if index == 0 else lines[index].before - APART_UNITS * unit


def _height(lines: Sequence[_DrawnLine], start: int, stop: int, unit: float) -> float:
    """Return how high lines are together as the engraver sets them."""
    own = sum(line.bottom - line.top for line in lines[start:stop])
    between = sum(line.before for line in lines[start + 1 : stop])
    below = lines[stop].before - HEAD_UNITS * unit if stop < len(lines) else 0.0
    below = min(max(below, LEAST_BELOW_UNITS * unit), MOST_BELOW_UNITS * unit)
    return _above(lines, start, unit) + own + between + below


def _page_stops(
    lines: Sequence[_DrawnLine], bottoms: tuple[float, float], unit: float, turns: Collection[str]
) -> list[int]:
    """Return where each page ends: as few as there can be, as even as can be.

    ``bottoms`` are how far the first page and the others reach.
    The last page of several has two lines at least where the others can spare one.
    """
    costs: list[tuple[int, float, list[int]]] = [(0, 0.0, [])]
    for stop in range(1, len(lines) + 1):
        turn = _turn_cost(lines, stop, turns)
        found: list[tuple[int, float, list[int]]] = []
        for start in range(stop - 1, -1, -1):
            height = _height(lines, start, stop, unit)
            bottom = bottoms[start > 0]
            least = height - SHRINK_UNITS * unit * (stop - start - 1)
            if least > bottom and stop - start > 1:
                break
            pages, cost, stops = costs[start]
            cost += (max(0.0, bottom - height) / bottom) ** 2 + turn
            found.append((pages + 1, cost + (stop - start == 1 < len(lines)), [*stops, stop]))
        costs.append(min(found, key=lambda each: each[:2]))
    return costs[-1][2]


def _turn_cost(lines: Sequence[_DrawnLine], stop: int, turns: Collection[str]) -> float:
    """Return what it costs to turn the page before a line."""
    if stop == len(lines):
        return 0.0
    *_, last = groups(lines[stop - 1].group, "measure")
    names = (part.get("id", "") for part in lines[stop].group.iter(GROUP))
    begins = any(name.startswith((HEADING, WORDS_ID)) for name in names)
    return TURN_COST * (last.get("id", "") not in turns) + SECTION_COST * (not begins)


def _place(lines: Sequence[_DrawnLine], top: float, apart: float) -> None:
    """Move the lines of a page to their places, by so much further apart than they are drawn."""
    for number, line in enumerate(lines):
        top += line.before + apart if number else 0.0
        shift = round(top - line.top)
        if shift:
            line.group.set("transform", f"translate(0, {shift})")
        top += line.bottom - line.top


def _page(
    drawing: Element, lines: Sequence[_DrawnLine], height: float, *, is_first: bool
) -> Element:
    """Return a page with some lines, and with what else the first has; signs are shared."""
    box = music_box(drawing)
    margin = music_margin(box)
    page = Element(drawing.tag, drawing.attrib)
    _, _, width, tall = numbers(drawing.get("viewBox", ""))
    _, _, inner_width, inner_tall = numbers(box.get("viewBox", ""))
    page.set("viewBox", f"0 0 {width:g} {height * tall / inner_tall:g}")
    own = Element(box.tag, {**box.attrib, "viewBox": f"0 0 {inner_width:g} {height:g}"})
    page[:] = [own if part is box else part for part in drawing]
    own_margin = Element(margin.tag, margin.attrib)
    own[:] = [own_margin if part is margin else part for part in box]
    others = [part for part in margin if is_first and "system" not in kinds(part)]
    own_margin[:] = [*others, *(line.group for line in lines)]
    return page
