"""Where lines of music are cut into pages: lines of made heights on made pages, counted by hand.

Fewest pages first, then evenly filled ones, then a free hand at the turn (Gould, *Behind Bars*,
2011, "Page turns"; from memory).
"""

from collections.abc import Collection, Sequence
from xml.etree import ElementTree
from xml.etree.ElementTree import Element

import pytest

from groove.sheet.paging import PageSize, paged

SVG = "http://www.w3.org/2000/svg"
LINE, GAP, UNIT = 100, 40, 1.0
"""A line is 100 high, 40 under the one before, and half a staff space is 1."""


def drawing(names: Sequence[str], last: float = LINE) -> Element:
    """Return a drawing of lines, each of one measure; those that begin a section have a heading.

    ``last`` is how high the last one is.
    """
    systems = ""
    for number, name in enumerate(names):
        top = GAP + number * (LINE + GAP)
        high = last if number == len(names) - 1 else LINE
        staff = "".join(f'<path d="M0 {y} L500 {y}"/>' for y in (top, top + high))
        head = f'<g class="reh" id="heading-{number}"/>' if name else ""
        systems += (
            f'<g class="system"><g class="measure" id="measure-{number}">'
            f'<g class="staff">{staff}</g>{head}</g></g>'
        )
    margin = f'<g class="page-margin" transform="translate(0, 0)">{systems}</g>'
    inner = f'<svg class="definition-scale" viewBox="0 0 500 9999">{margin}</svg>'
    return ElementTree.fromstring(f'<svg xmlns="{SVG}" viewBox="0 0 500 9999">{inner}</svg>')


def lines_a_page(
    count: int,
    height: float,
    turns: Collection[int] = (),
    heads: Collection[int] = (),
    last: float = LINE,
    **more: float,
) -> list[int]:
    """Return how many lines each page has."""
    names = ["name" if number in heads else "" for number in range(count)]
    size = PageSize(height=height, foot=0, unit=UNIT, **more)
    found = paged([drawing(names, last)], size, {f"measure-{number}" for number in turns})
    return [
        sum(group.get("class") == "system" for group in page.iter(f"{{{SVG}}}g")) for page in found
    ]


def page_of(lines: int) -> float:
    """Return the height of a page that just holds so many lines, and what stands under the last."""
    return GAP + lines * LINE + (lines - 1) * GAP + 6


@pytest.mark.parametrize(
    ("count", "most", "pages"),
    [
        (4, 4, [4]),
        (5, 4, [3, 2]),
        (6, 4, [3, 3]),
        (7, 4, [4, 3]),
        (9, 4, [3, 3, 3]),
        (1, 4, [1]),
    ],
)
def test_as_few_pages_as_there_can_be_filled_evenly(
    count: int, most: int, pages: list[int]
) -> None:
    found = lines_a_page(count, page_of(most))
    assert sorted(found) == sorted(pages) and len(found) == len(pages)


def test_no_page_has_one_line_alone_where_another_can_spare_one() -> None:
    """A last line three times as high fills a page nearly: three and one would be more even."""
    assert lines_a_page(4, page_of(3) + 60, last=3 * LINE) == [2, 2]


def test_lines_stand_closer_where_that_saves_a_page() -> None:
    """Four lines may be three times one and a half closer: 4.5 less high, and no more.

    Under the last line of all there is 1 in the place of 6.
    """
    assert lines_a_page(4, page_of(4) - 5 - 4) == [4]
    assert len(lines_a_page(4, page_of(4) - 5 - 5)) == 2


def test_the_first_page_has_room_for_its_head() -> None:
    assert len(lines_a_page(4, page_of(4), head=0)) == 1
    assert len(lines_a_page(4, page_of(4), head=50)) == 2
    # Of eight lines four still fit on the second page.
    assert lines_a_page(7, page_of(4), head=130) == [3, 4]


def test_a_page_ends_where_a_hand_is_free() -> None:
    """Five lines: after the second or the third, whichever lets turn; with both, evenly."""
    assert lines_a_page(5, page_of(4), turns=[1]) == [2, 3]
    assert lines_a_page(5, page_of(4), turns=[2]) == [3, 2]


def test_a_page_begins_with_a_section_where_nothing_else_speaks() -> None:
    assert lines_a_page(5, page_of(4), heads=[2]) == [2, 3]
    assert lines_a_page(5, page_of(4), heads=[3]) == [3, 2]
    # A free hand weighs more than the name of a section.
    assert lines_a_page(5, page_of(4), turns=[2], heads=[2]) == [3, 2]


def test_lines_fill_a_page_of_several_and_not_an_only_one() -> None:
    """On one of several each gap grows by up to 22 half spaces, on an only one by up to 5."""
    for count, most, wide in ((2, 4, 5), (5, 4, 22)):
        size = PageSize(height=page_of(most), foot=0, unit=UNIT)
        page = paged([drawing([""] * count)], size, ())[0]
        shifts = [
            float((group.get("transform") or "translate(0, 0)")[:-1].split(", ")[1])
            for group in page.iter(f"{{{SVG}}}g")
            if group.get("class") == "system"
        ]
        assert shifts[0] == 0
        assert shifts[1] == wide
