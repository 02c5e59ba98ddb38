"""Shipped charts' sections, and 200 bars, on every screen: what is seen, and that nothing moves.

The long one, which has the widest of everything, is seen at every size; each shipped chart on the
tablet that stands farthest away, and at one of the other sizes in turn.

The sizes are those of phones with their browser's bars shown, of a phone on its side, a tablet, a
laptop, and the laptop at 200 % (WCAG 2.2, 1.4.4): half of its size in CSS pixels.  Targets: 44 px
in the dock (WCAG 2.2, 2.5.5), 32 px elsewhere, which is ours and lies above 2.5.8's 24.
"""

from collections import Counter
from collections.abc import Sequence
from itertools import cycle
from math import atan, degrees, hypot
from typing import Any

import pytest
from playwright.sync_api import Browser

from tests.conftest import ROOT
from tests.page.conftest import Made, Opened, each_section_once, opening
from tests.page.driven import driven_page, start

SIZES = (
    (360, 640),
    (375, 553),
    (390, 664),
    (412, 732),
    (844, 390),
    (820, 1180),
    (1280, 800),
    (640, 400),
)
CHARTS = sorted((ROOT / "shared" / "charts").glob("*.txt"))
_FORM = ", ".join(
    ["verse before the chorus, chorus", *["the verse on long notes, chorus again"] * 11]
)
LONG = f"""title: Two Hundred Bars and a Rather Long Name to Carry
tempo: 132
key: Bb
feel: sixteenths

verse before the chorus:
|: Bbmaj7#11/Ab | F#m7b5 G7b9 C#m7b5 D#maj7 | Ebmaj7 | A7sus4 :|

chorus:
| Cm7 | F7 | Bb | Bb/D | Eb | Edim7 | Bb/F | G7b9 |

the verse on long notes:
bass: long notes
|: Bbmaj7#11/Ab | F#m7b5 G7b9 C#m7b5 D#maj7 | Ebmaj7 | A7sus4 :|

chorus again:
bass: long notes
| Cm7 | F7 | Bb | Bb/D | Eb | Edim7 | Bb/F | G7b9 |

form: {_FORM}, the verse on long notes
"""
"""Its first twelve bars are looked at; the others have few notes to engrave."""
BOXES = ("#title", "header label", "#form", "#now", "#next", "#beat", "#ahead", "#where")
PLAYED = {"practice": ("#sheet", "#hand"), "tab": ("#sheet",), "notes": ("#sheet",)}
PLAYED |= {"neck": ("#hand",)}
SEEN = (ROOT / "tests" / "page" / "seen.js").read_text(encoding="utf-8")


TABLET = (820, 1180)
TABLET_INCHES = 10.9
DISTANCE_MM = 2000
LEAST_ARC_MINUTES = 16
"""What a capital has to subtend to be read (ISO 9241-303, from memory)."""
CAPITAL_PX = """
(() => {
  const { fontWeight, fontSize, fontFamily } = getComputedStyle(document.getElementById("now"));
  const drawing = document.createElement("canvas").getContext("2d");
  drawing.font = `${fontWeight} ${fontSize} ${fontFamily}`;
  return drawing.measureText("E").actualBoundingBoxAscent;
})()
"""


def arc_minutes(height_px: float) -> float:
    """Return how large a height on the tablet is at two metres, in minutes of arc."""
    height_mm = height_px * 25.4 * TABLET_INCHES / hypot(*TABLET)
    return 60 * degrees(atan(height_mm / DISTANCE_MM))


def shown_faults(opened: Opened) -> list[str]:
    """Return what is wrong with the boxes of an open page."""
    view = opened.run("document.body.dataset.view")
    return list(opened.run("faults", [*BOXES, *PLAYED[view], "#controls"]))


def walked_faults(
    opened: Opened, sizes: Sequence[tuple[int, int]]
) -> tuple[int, list[Any], list[float]]:
    """Go through a song at some sizes, at rest and in play.

    Return how many bars were seen, what is wrong, and how large the chord of now is on a tablet.
    """
    found: list[Any] = []
    arcs: list[float] = []
    walked = 0
    opened.run(SEEN)
    opened.run("practicePage.page.setShare(0.4)")
    for width, height in sizes:
        opened.page.set_viewport_size({"width": width, "height": height})
        for plays, bars in ((False, [1, 5]), (True, [0, 2, 8, 9, 11])):
            if plays:
                start(opened)
            walked += len(opened.run("walk", bars))
            faults = [*shown_faults(opened), *opened.run("moved")]
            found += [(width, height, plays, fault) for fault in faults]
            if (width, height) == TABLET:
                arcs.append(arc_minutes(opened.run(CAPITAL_PX)))
        opened.page.click("#play")
    return walked, found, arcs


OTHERS = [size for size in SIZES if size != TABLET]
SEEN_AT: dict[str, tuple[tuple[int, int], ...]] = {
    chart.stem: (TABLET, other) for chart, other in zip(CHARTS, cycle(OTHERS), strict=False)
}
SEEN_AT["two-hundred"] = SIZES


@pytest.mark.parametrize("name", SEEN_AT)
def test_everything_is_seen_and_nothing_moves(browser: Browser, make_page: Made, name: str) -> None:
    sizes = SEEN_AT[name]
    text = LONG if name == "two-hundred" else each_section_once(name)
    page = make_page(f"{name}-once", text, in_one_key=True)
    with driven_page(browser, page) as opened:
        walked, found, arcs = walked_faults(opened, sizes)
    assert found == []
    assert walked >= 5 * len(sizes)
    # Chords of twelve letters, as the long song has them, are smaller: 14 minutes.
    assert len(arcs) == 2 and min(arcs) >= (LEAST_ARC_MINUTES if name != "two-hundred" else 14)


def test_every_size_is_seen_with_two_songs() -> None:
    counts = Counter(size for sizes in SEEN_AT.values() for size in sizes)
    assert set(counts) == set(SIZES) and min(counts.values()) >= 2


def test_a_planted_overlap_and_a_planted_jump_are_caught(browser: Browser, make_page: Made) -> None:
    """What could not fail would say nothing."""
    page = make_page("lantern-row-once", each_section_once("lantern-row"), in_one_key=True)
    with opening(browser) as open_file:
        opened = open_file(page)
        opened.run(SEEN)
        assert shown_faults(opened) == []
        opened.run("(document.getElementById('ahead').style.marginTop = '-40px')")
        assert "#ahead lies over #now" in shown_faults(opened)
        opened.run("(document.getElementById('ahead').style.marginTop = '')")
        opened.run("(document.getElementById('now').style.fontSize = '400px')")
        assert any(fault.startswith("#now is cut") for fault in shown_faults(opened))
        opened.run("(document.getElementById('now').style.fontSize = '12px')")
        assert any(fault.startswith("now is 12px and next") for fault in shown_faults(opened))
        opened.run(
            "document.getElementById('tempo-opens').style.cssText = 'width: 20px; min-width: 0'"
        )
        assert any(fault.startswith("#front is cut: ♩ = 88") for fault in shown_faults(opened))
        opened.run("document.querySelector('#ahead button i').remove()")
        opened.run("(document.querySelector('#ahead button:last-child').style.top = '9px')")
        faults = shown_faults(opened)
        assert "the next bars do not stand in a row" in faults
        assert sum(fault.startswith("the beats of ") for fault in faults) == 1
        opened.run("walk", [1])
        opened.run("(document.getElementById('form').style.height = '90px')")
        opened.wait("moved.length > 0")
