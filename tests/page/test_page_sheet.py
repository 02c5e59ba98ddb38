"""The lines of music as they are drawn: bars under them, nothing cut, one after another."""

from dataclasses import dataclass
from typing import Any

import pytest
from playwright.sync_api import Browser

from groove.io import practice_page
from groove.page import moved
from tests.kept import kept
from tests.page.conftest import SHORT, Made, Open, Opened, each_section_once, opening, settle

CHARTS = ("button-drawer", "slow-ferry", "two-clocks")
"""A song with a pickup and repeats, compound time, changes of meter."""
WITHIN_PX = 3
# Bar lines as drawn: upright strokes from the first to the last line of the staff, the two of a
# double bar taken as one; staff and rings are not asked where bars are.  And words: a box of the
# text font stands a fifth of its height over the tallest letter; signs of the music font are as
# high as the whole font.
DRAWN = """
(odd) => {
  const { page } = practicePage;
  const found = [];
  const outside = [];
  let words = 0;
  const x = (svg, at) => at * svg.getScreenCTM().a + svg.getScreenCTM().e;
  for (const [index, [first, count]] of page.sheet.rows.entries()) {
    if (index % 2 !== odd) continue;
    page.sheet.show(first, -1);
    const figure = document.querySelector("#sheet figure");
    const inner = figure.querySelector(".notes svg g");
    const uprights = [];
    const across = [];
    const number = "(-?[0-9.]+)";
    const stroke = new RegExp(`M${number} ${number}L${number} ${number}`, "g");
    for (const path of figure.querySelectorAll(".notes > svg:not(.marks) path")) {
      for (const [, x1, y1, x2, y2] of path.getAttribute("d").matchAll(stroke)) {
        // Stems are thinner than bar lines.
        const isThick = Number(path.getAttribute("stroke-width")) > 20;
        if (x1 === x2 && isThick) uprights.push([Number(x1), Number(y1), Number(y2)]);
        // Ledger lines are short.
        if (y1 === y2 && x2 - x1 > 1000) across.push(Number(y1));
      }
    }
    const top = Math.min(...across);
    const isBarLine = ([, y1, y2]) => Math.min(y1, y2) <= top && Math.max(y1, y2) >= top + 700;
    const lines = new Set(uprights.filter(isBarLine).map(([each]) => each));
    const at = [...lines].sort((a, b) => a - b).map((each) => x(inner, each));
    const buttons = [...figure.querySelectorAll(".bars button")].map((button) => {
      const { left, right } = button.getBoundingClientRect();
      return [left, right];
    });
    const staff = inner.getScreenCTM().a;
    found.push([count, at, buttons, staff]);
    const svg = figure.querySelector(".notes > svg");
    const line = svg.getBoundingClientRect();
    for (const text of svg.querySelectorAll("text")) {
      const box = text.getBoundingClientRect();
      if (!box.width || /[\\ue000-\\uf8ff]/.test(text.textContent)) continue;
      words += 1;
      const inside = box.left >= line.left && box.right <= line.right + 1;
      if (!inside || box.top + 0.2 * box.height < line.top || box.bottom > line.bottom) {
        outside.push([first, text.textContent]);
      }
    }
  }
  return [found, words, outside];
}
"""
LONG_HEADING = """title: Long Headings
tempo: 100
feel: sixteenths
bridge with a long name of its own:
|: D | G | A7 | D :|
bass line:
| D | F#m |
form: bridge with a long name of its own x2, bass line, bridge with a long name of its own
"""


def merged(lines: list[float], within: float) -> list[list[float]]:
    """Return bar lines with the two of a double one together."""
    found: list[list[float]] = []
    for line in lines:
        if found and line - found[-1][-1] < within:
            found[-1].append(line)
        else:
            found.append([line])
    return found


@dataclass(frozen=True, kw_only=True)
class Drawn:
    """What a page has on every second line, shown in turn; how wide its sheet and lines are."""

    name: str
    width: int
    rows: list[Any]
    words: int
    outside: list[Any]
    sheet_px: float
    lines_px: list[float]


@pytest.fixture(scope="module")
def drawn(browser: Browser, make_page: Made) -> list[Drawn]:
    """The lines of some charts' sections, and of one with long headings, on a phone and a laptop.

    Every second line: the odd ones of a phone, the even ones of a laptop.  Looked at once a run.
    """
    return kept("drawn lines", lambda: drawn_lines(browser, make_page))


def drawn_lines(browser: Browser, make_page: Made) -> list[Drawn]:
    """Return what each page has at both sizes."""
    charts = [(f"{name}-once", each_section_once(name)) for name in CHARTS]
    found = []
    for name, text in [*charts, ("long-heading", LONG_HEADING)]:
        path = make_page(name, text, in_one_key=True)
        with opening(browser) as open_file:
            opened = open_file(path)
            found += [drawn_at(opened, name, *size) for size in ((390, 844), (1280, 800))]
    return found


def drawn_at(opened: Opened, name: str, width: int, height: int) -> Drawn:
    """Return what a page has at a size of the window."""
    opened.page.select_option("#view", "practice")
    settle(opened.page, width, height)
    lines = opened.page.locator("#sheet figure:not(.later)").all()
    boxes = [box for line in lines if (box := line.bounding_box())]
    sheet = opened.page.locator("#sheet").bounding_box()
    assert sheet
    settle(opened.page, width, 900)
    opened.page.select_option("#view", "notes")
    rows, words, outside = opened.run(DRAWN, int(width == 390))
    return Drawn(
        name=name,
        width=width,
        rows=rows,
        words=words,
        outside=outside,
        sheet_px=sheet["width"],
        lines_px=[box["width"] for box in boxes],
    )


@pytest.mark.parametrize("width", [390, 1280])
def test_every_button_lies_under_its_bar(drawn: list[Drawn], width: int) -> None:
    compared = 0
    pages = [page for page in drawn if page.width == width]
    for page in pages:
        for count, lines, buttons, _ in page.rows:
            edges = merged(lines, 9)
            assert len(edges) == count + 1, (page.name, lines)
            assert len(buttons) == count
            for index, (left, right) in enumerate(buttons):
                assert min(abs(left - x) for x in edges[index]) <= WITHIN_PX
                assert min(abs(right - x) for x in edges[index + 1]) <= WITHIN_PX
                compared += 1
        # One staff size, whatever the line holds.
        sizes = [size for *_, size in page.rows]
        assert max(sizes) < 1.0005 * min(sizes)
    assert len(pages) == 4
    assert compared > 55


def test_no_word_on_the_sheet_is_cut(drawn: list[Drawn]) -> None:
    assert [(page.name, page.outside) for page in drawn if page.outside] == []
    assert sum(page.words for page in drawn) > 1100


def test_lines_are_as_wide_as_the_page(drawn: list[Drawn]) -> None:
    compared = 0
    for page in drawn:
        if page.name == "long-heading":
            continue
        # On a phone two lines, chords and neck share the height: a long form takes some.
        least = 0.75 if page.width == 390 else 0.8
        assert len(page.lines_px) == 2
        for line in page.lines_px:
            assert line >= least * page.sheet_px > 0.9 * least * page.width
            compared += 1
    assert compared == 12


LONG_NAMES = """title: Long Names
verse before the chorus:
| C | Bbmaj7#11/Ab | F#m7b5 G7b9 C#m7b5 D#maj7 | Ebmaj7 |
the second chorus with the high part:
| Abmaj7#11 | C |
"""
OVER_THE_SONG = """
() => practicePage.shown.chords.map(([at]) => {
  practicePage.page.goTo(at);
  const fits = ["now", "next"].map((id) => {
    const { scrollWidth, clientWidth } = document.getElementById(id);
    return scrollWidth <= clientWidth;
  });
  return [document.getElementById("sheet").getBoundingClientRect().top, fits];
})
"""


def test_long_names_move_nothing_and_chords_are_shown_whole(
    open_page: Open, make_page: Made
) -> None:
    opened = open_page(make_page("long-names", LONG_NAMES, in_one_key=True))
    for width, height in ((390, 844), (844, 390), (1280, 800)):
        settle(opened.page, width, height)
        found = opened.run(OVER_THE_SONG)
        assert len(found) == 9
        assert len({top for top, _ in found}) == 1, (width, height)
        assert [fits for _, fits in found] == [[True, True]] * 9, (width, height)


def test_the_sheet_is_there_when_the_card_was_left_open(repeated: Opened) -> None:
    opened = repeated
    # So low that two lines have less than the page's width.
    settle(opened.page, 1280, 640)
    whole = opened.page.locator("#sheet figure").first.bounding_box()
    opened.page.select_option("#view", "card")
    opened.page.reload()
    opened.page.wait_for_selector("body[data-ready]")
    opened.page.select_option("#view", "practice")
    settle(opened.page)
    line = opened.page.locator("#sheet figure").first.bounding_box()
    assert line and whole and line["width"] == whole["width"] < 1100


def test_the_line_after_a_loops_last_is_its_first(row: Opened) -> None:
    opened = row
    settle(opened.page, 390, 900)
    lines = (
        "[...document.querySelectorAll('#sheet figure:not(.later)')]"
        ".map((line) => [...line.querySelectorAll('button')].map((b) => Number(b.dataset.bar)))"
    )
    opened.run("practicePage.page.setLoop([20, 27], 'bars')")
    opened.run("practicePage.page.goTo(practicePage.song.bars[27].start)")
    now, then = opened.run(lines)
    assert 27 in now and 20 in then
    opened.run("practicePage.page.setLoop(null, 'once')")
    now, then = opened.run(lines)
    assert 27 in now and then[0] == now[-1] + 1
    # After the song's last line, its first.
    opened.run("practicePage.page.goTo(practicePage.song.bars[103].start)")
    now, then = opened.run(lines)
    assert 103 in now and 0 in then


def test_print_holds_the_whole_sheet_and_no_controls(row: Opened) -> None:
    page = row.page
    page.evaluate("dispatchEvent(new Event('beforeprint'))")
    page.emulate_media(media="print")
    lines = page.evaluate("practicePage.page.sheet.sheets.wide.rows.length")
    assert page.locator("#print > svg").count() == lines > 30
    assert page.is_visible("#print") and not page.is_visible("#controls")


def test_a_very_long_song_is_narrow_and_in_its_own_key_alone(
    make_page: Made, open_page: Open, monkeypatch: pytest.MonkeyPatch
) -> None:
    # What a laptop shows is what a phone does; how long is very long is ours.
    monkeypatch.setattr(practice_page, "MOST_BARS_AT_TWO_WIDTHS", 5)
    monkeypatch.setattr(moved, "MOST_BARS_IN_EVERY_KEY", 5)
    opened = open_page(make_page("narrow-alone", SHORT.replace("Short", "Narrow Alone")))
    assert opened.run("Object.keys(practicePage.page.sheet.sheets)") == ["narrow"]
    rows = opened.run("practicePage.page.sheet.rows.map((row) => row.slice(0, 2))")
    assert sum(count for _, count in rows) == 6
    keys = opened.run("[...document.getElementById('transpose').options].map((one) => one.value)")
    assert keys == ["0"]
    assert "--transpose" in opened.run("document.getElementById('key-hint').textContent")
    assert opened.run("document.querySelectorAll('#card-page > *').length") > 0
    opened.run("dispatchEvent(new Event('beforeprint'))")
    assert opened.page.locator("#print > :not(p)").count() == len(rows)
    assert opened.console == []
