"""The drawing of the neck, measured in its SVG."""

from itertools import combinations
from xml.etree.ElementTree import Element, fromstring

import pytest

from groove.neck.instrument import STANDARD, TUNINGS
from groove.neck.line_figures import RootPlace
from groove.sheet.neck_svg import neck_svg

SVG = "{http://www.w3.org/2000/svg}"


def root(number: int, name: str, string: int, fret: int) -> RootPlace:
    return RootPlace(number=number, name=name, pitch=40, string=string, fret=fret, count=1)


PLACES = [
    root(1, "B", 3, 2),
    root(2, "G", 4, 3),
    root(3, "D", 3, 5),
    root(4, "E", 4, 0),
    root(5, "Bb", 4, 18),
]


def discs(svg: Element) -> list[tuple[float, float, float]]:
    return [
        (float(c.attrib["cx"]), float(c.attrib["cy"]), float(c.attrib["r"]))
        for c in svg.iter(f"{SVG}circle")
    ]


def wires(svg: Element) -> list[float]:
    return [
        float(e.attrib["x1"]) for e in svg.iter(f"{SVG}line") if e.attrib["x1"] == e.attrib["x2"]
    ]


def test_discs_stand_between_their_wires() -> None:
    svg = fromstring(neck_svg(PLACES, STANDARD, title="Lantern & Row"))
    found = discs(svg)
    assert len(found) == len(PLACES)
    x = wires(svg)
    for (cx, _, r), place in zip(found, PLACES, strict=True):
        if place.fret:
            assert x[place.fret - 1] < cx - r
            assert cx + r < x[place.fret]
        else:
            assert cx + r < x[0]


def test_wires_keep_the_proportions_of_a_neck() -> None:
    # Equal temperament: the twelfth fret halves the string, so 0-12 is twice 12-24's length.
    x = wires(fromstring(neck_svg([root(1, "G", 1, 23)], STANDARD)))
    assert len(x) == 25
    assert (x[12] - x[0]) / (x[24] - x[12]) == pytest.approx(2, abs=0.01)


@pytest.mark.parametrize("name", list(TUNINGS))
def test_discs_do_not_overlap_and_stay_on_the_page(name: str) -> None:
    tuning = TUNINGS[name]
    places = [root(s * 25 + f, "Bb", s, f) for s in tuning.strings for f in range(24)]
    svg = fromstring(neck_svg(places, tuning))
    found = discs(svg)
    assert len(found) == 24 * len(tuning.open_pitches)
    for (ax, ay, ar), (bx, by, br) in combinations(found, 2):
        assert (ax - bx) ** 2 + (ay - by) ** 2 >= (ar + br) ** 2
    width, height = float(svg.attrib["width"]), float(svg.attrib["height"])
    assert all(cx - r > 0 and cx + r < width and 0 < cy - r < height for cx, cy, r in found)


def test_names_are_text_and_shared_places_share_a_disc() -> None:
    svg = fromstring(neck_svg([root(1, "F#", 4, 2), root(2, "Gb", 4, 2)], STANDARD))
    assert len(discs(svg)) == 1
    texts = [element.text for element in svg.iter(f"{SVG}text")]
    assert "F#/Gb" in texts
    assert "1,2" in texts
