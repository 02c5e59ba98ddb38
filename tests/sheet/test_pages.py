"""How lines and pages are filled, and where their headings stand.

Common practice, no source, but where a rule names one: no line alone on the last of several pages,
two bars not stretched over a line, names of sections in one column, a tempo said once.
"""

import re
from functools import lru_cache
from statistics import median
from typing import Any
from xml.etree import ElementTree

import pytest

from groove.cells.model import Library
from groove.io.engrave import engraved, scored
from groove.io.library import load_library
from groove.sheet.options import SheetOptions, Size
from groove.sheet.outlines import outline
from tests.sheet.parts import NAMES, example, played

SVG = "{http://www.w3.org/2000/svg}"
SHORT = """
title: Low Gate
tempo: 100
key: A
feel: octaves
bass: beats
riff beats:
  R - 8 - R - 8 - R - 8 - R - 8 -
verse:
  |: A | D | E | A | D | E |1. A | E :|2. A | D |
chorus:
  | D | E | A | D | E | A |
end:
  | A | (hold) A |
form: verse, chorus, verse, end
"""


def groups(parent: Any, kind: str) -> list[Any]:
    return [g for g in parent.iter(f"{SVG}g") if kind in (g.get("class") or "").split()]


@lru_cache(maxsize=1)
def short_pages() -> list[Any]:
    """Return the pages of a song of our own, drawn once."""
    return printed(load_library(), SHORT, Size.A4)


def printed(library: Library, text: str, size: Size) -> list[Any]:
    song, performance, tuning = example(text, library) if text in NAMES else played(text, library)
    options = SheetOptions(size=size)
    # A song of our own has its verse again in notes, for the lines that it makes.
    score = scored(performance, song, options, tuning, on_paper=text in NAMES)
    pages = engraved(score, options, for_print=True)
    return [ElementTree.fromstring(page) for page in pages]


def staff_edges(group: Any) -> tuple[float, float]:
    """Return where the staff lines of a measure or a line of music begin and end."""
    paths = [path.get("d", "") for staff in groups(group, "staff") for path in staff]
    ends = [re.fullmatch(r"M([\d.]+) ([\d.]+) L([\d.]+) \2", path) for path in paths]
    flat = [end for end in ends if end]
    return min(float(end[1]) for end in flat), max(float(end[3]) for end in flat)


PRINTED = {
    f"{name}-{size}": (name, size)
    for size, names in {
        Size.A4: ("slow-ferry",),
        Size.STAND: ("button-drawer", "two-clocks"),
        Size.LANDSCAPE: ("glass-stairs",),
        Size.LETTER: ("turnip-field-waltz",),
    }.items()
    for name in names
}
"""Songs unlike each other, each of two pages or more, and every paper.

The first and the last have one line more than their first page holds.
"""


@pytest.fixture(scope="module", params=PRINTED.values(), ids=list(PRINTED))
def pages(request: pytest.FixtureRequest, library: Library) -> list[Any]:
    """The printed pages of an example chart on one size of paper, drawn once."""
    name, size = request.param
    return printed(library, name, size)


def test_every_paper_is_printed() -> None:
    assert {size for _, size in PRINTED.values()} == {*Size} - {Size.PHONE}


def test_no_page_has_one_line_alone(pages: list[Any]) -> None:
    lines = [len(groups(page, "system")) for page in pages]
    assert len(lines) == 1 or min(lines) >= 2


def test_no_bar_has_a_line_of_its_own(pages: list[Any]) -> None:
    """No section of the examples has one bar, so no line has."""
    lines = [
        [bar.get("id") for bar in groups(system, "measure")]
        for page in pages
        for system in groups(page, "system")
    ]
    # Words for bars as before may be too long to share a line.
    found = [len(line) for line in lines if any("measure" in each for each in line)]
    assert len(found) >= 7 and min(found) >= 2


def test_nothing_is_cut_off_at_the_top(pages: list[Any]) -> None:
    """The number of a page's first bar stands over its staff; a digit is 0.676 high (Adobe AFM)."""
    seen = 0
    for page in pages:
        (margin,) = (g for g in page.iter(f"{SVG}g") if g.get("class") == "page-margin")
        top = float(re.findall(r"-?[\d.]+", margin.get("transform", ""))[1])
        for system in groups(page, "system"):
            moved = re.findall(r"-?[\d.]+", system.get("transform", "0 0"))[1]
            for text in system.iter(f"{SVG}text"):
                size_px = max(
                    float((t.get("font-size") or "0px").removesuffix("px"))
                    for t in text.iter(f"{SVG}tspan")
                )
                place = float(text.get("y", "0")) + float(moved) + top
                assert place - 0.676 * size_px >= 0
                seen += 1
    assert seen > 30


def test_two_bars_at_the_end_of_a_section_are_as_wide_as_others() -> None:
    """Within a quarter: key signs and chords take a part of a line of their own."""
    (page, *others) = short_pages()
    systems = [s for each in (page, *others) for s in groups(each, "system")]
    full: list[tuple[float, int]] = []
    short: list[tuple[float, int]] = []
    for system in systems:
        bars = groups(system, "measure")
        left, right = staff_edges(system)
        (full if len(bars) == 4 else short).append((right - left, len(bars)))
    assert len(full) >= 5 and len(short) == 4
    usual = median(width for width, _ in full) / 4
    assert all(bars == 2 and 0.75 < width / bars / usual < 1.35 for width, bars in short)
    for each in (page, *others):
        assert not [g for g in each.iter(f"{SVG}g") if (g.get("id") or "").startswith("filler")]


def test_names_of_sections_stand_at_the_left_edge(pages: list[Any]) -> None:
    """Over the chord symbols and the number of their line, whatever stands in its first bar."""
    seen = 0
    for page in pages:
        for system in groups(page, "system"):
            left, _ = staff_edges(system)
            for heading in groups(system, "reh"):
                if not (heading.get("id") or "").startswith("heading-"):
                    continue
                # A tempo after the name has a text of its own.
                text = heading.findall(f"{SVG}text")[0]
                assert float(text.get("x", "-1")) == left
                below = [t for kind in ("harm", "mNum") for g in groups(system, kind) for t in g]
                assert below
                # A line of text: its size, 360 hundredths of the page's unit.
                assert all(float(t.get("y", 0)) - float(text.get("y", 0)) >= 360 for t in below)
                seen += 1
    assert seen >= 2


def test_the_tempo_under_the_title_is_not_said_again(library: Library) -> None:
    """A quarter is drawn where a tempo is; a drawing has no subtitle."""
    text = SHORT.replace("end:\n", "end:\n  tempo: 80\n").replace("verse, chorus, verse", "chorus")
    song, performance, tuning = played(text, library)
    score = scored(performance, song, SheetOptions(), tuning)
    quarter = outline("♩")
    assert quarter
    marks = [
        "".join(engraved(score, SheetOptions(), for_print=for_print)).count(quarter[1])
        for for_print in (True, False)
    ]
    assert marks == [1, 2]


def test_bar_one_has_its_number_when_it_comes_again() -> None:
    shown = [
        "".join(number.itertext()).strip()
        for page in short_pages()
        for number in groups(page, "mNum")
    ]
    # Lines of four: verse 1 5 9, chorus 11 15, verse 1 5 9, end 17; the first line has none.
    assert shown == ["5", "9", "11", "15", "1", "5", "9", "17"]
