"""What lies where on a laptop, a phone and a phone on its side, and what axe says of it."""

from pathlib import Path
from typing import Literal

from playwright.sync_api import Page

from tests.page.conftest import Made, Open, Opened, each_section_once, settle
from tests.page.test_page_sizes import SIZES

SAID = """
(isOpen) => {
  const { panel } = practicePage.ear;
  const words = (count) => Array.from({ length: count }, (_, n) => `bars ${n} to ${n + 1}: tight`);
  const blocks = [{ head: "", points: words(2) }, { head: "What held", points: words(4) }];
  const choices = [3, 4, 5].map((bar) => ({ bar, words: `work on bar ${bar}` }));
  panel.show({ blocks, notes: words(3), choices, raised: "Not clean yet: the tempo stays." });
  panel.state("Listening: the microphone hears you.");
  panel.open(isOpen);
}
"""
"""Say as much as is ever said of a pass, with the panel open or not."""


def axe_faults(page: Page, inside: str) -> list[object]:
    """Return what axe finds serious in an element of a page that it was loaded into."""
    found = page.evaluate("(inside) => axe.run(inside)", inside)
    assert len(found["passes"]) > 8
    bad = [v for v in found["violations"] if v["impact"] in ("serious", "critical")]
    return [(v["id"], [n["html"][:100] for n in v["nodes"]][:4]) for v in bad]


def test_axe_finds_nothing_serious(short: Opened, npm_tools: Path) -> None:
    """Of a short song: it has every control, and what is long are lines of the same kind.

    Light on a phone and dark on a laptop; and the panel of the ear in both, as it is after a pass.
    """
    axe = (npm_tools / "axe-core" / "axe.min.js").read_text(encoding="utf-8")
    page = short.page
    page.evaluate(axe)
    for width, scheme in ((390, "light"), (1280, "dark")):
        settle(page, width, 900)
        page.emulate_media(color_scheme="dark" if scheme == "dark" else "light")
        page.evaluate(SAID, False)
        assert axe_faults(page, "html") == [], scheme
        page.evaluate(SAID, True)
        assert axe_faults(page, "#ear-panel") == [], scheme
    # What axe looks at it sees: words in the colour of what is behind them.
    page.evaluate("document.getElementById('ear-panel').style.color = '#888'")
    page.evaluate("document.getElementById('ear-panel').style.background = '#999'")
    assert axe_faults(page, "#ear-panel") != []


def test_tab_on_the_card_is_moved_by_the_keyboard(
    open_page: Open, make_page: Made, npm_tools: Path
) -> None:
    """What scrolls has to be reached without a mouse (WCAG 2.2, 2.1.1); axe looks for it."""
    axe = (npm_tools / "axe-core" / "axe.min.js").read_text(encoding="utf-8")
    path = make_page("slow-ferry-once", each_section_once("slow-ferry"), in_one_key=True)
    page = open_page(path, width=390).page
    page.select_option("#view", "card")
    page.evaluate(axe)
    assert axe_faults(page, "#card") == []
    assert page.locator("#card pre").count() > 0
    page.focus("#card-hides")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.tagName") == "PRE"
    page.keyboard.press("ArrowRight")
    assert page.evaluate("practicePage.page.bar") == 0


def test_a_laptop_shows_lead_two_lines_and_neck_without_scrolling(
    row: Opened, short: Opened
) -> None:
    for opened in (row, short):
        for height in (720, 800, 900):
            settle(opened.page, 1280, height)
            ends = opened.run(
                "['now', 'neck', 'hand-words', 'sheet'].map((name) =>"
                " document.getElementById(name).getBoundingClientRect().bottom)"
            )
            dock = opened.run("document.getElementById('controls').getBoundingClientRect().top")
            assert max(ends) <= dock, (height, ends, dock)


def test_a_phone_on_its_side_shows_chords_neck_and_the_line_that_plays(
    row: Opened,
) -> None:
    settle(row.page, 844, 390)
    ends = row.run(
        "['#now', '#hand-words', '#sheet .notes'].map((name) =>"
        " document.querySelector(name).getBoundingClientRect().bottom)"
    )
    assert max(ends) <= row.run("document.getElementById('controls').getBoundingClientRect().top")


def test_play_is_reached_from_every_place_of_the_page(row: Opened) -> None:
    opened = row
    for width, height in ((390, 844), (1280, 800)):
        settle(opened.page, width, height)
        for where in ("0", "document.body.scrollHeight"):
            opened.run(f"scrollTo(0, {where})")
            assert (
                opened.run(
                    "(() => { const { x, y, width, height } = document.getElementById('play')"
                    ".getBoundingClientRect();"
                    " return document.elementFromPoint(x + width / 2, y + height / 2).id; })()"
                )
                == "play"
            )


NAMED: dict[Literal["button", "slider", "spinbutton", "textbox", "combobox", "checkbox"], str] = {
    "button": "Play; Back to the start; A bar back; A bar on; Slower; Faster; Tap tempo; "
    "Print the sheet; Save the page with my log; Forget my settings and log; bar 1; Loop; "
    "Levels; Click; Key; More; "
    "Loop this section; No loop",
    "slider": "Place in the song; Percent; Master; Bass level; Drums level; Keys level; "
    "Click level",
    "spinbutton": "Beats a minute; Mute the click for, bars; of every, bars; Start, percent; "
    "Step, percent; Top, percent; Times at each tempo; "
    "Delay the picture, ms",
    "textbox": "Bars",
    "combobox": "Play; Sounding key; View",
    "checkbox": "Bass; Drums; Keys; Click; Left-handed neck; Count in, 1 bar; "
    "Bass in one time, out the next; Ladder: faster in steps",
}


def test_every_control_has_its_role_and_name(short: Opened) -> None:
    # The accessibility tree as the browser computes it (WAI-ARIA 1.2, Accessible Name 1.1).
    page = short.page
    found = 0
    # All panels at once, which a player never has.
    page.evaluate(
        "document.querySelectorAll('#panels fieldset').forEach((e) => (e.hidden = false))"
    )
    for role, names in NAMED.items():
        for name in names.split("; "):
            assert page.get_by_role(role, name=name, exact=True).count() == 1, (role, name)
            found += 1
    assert found == 18 + 7 + 8 + 1 + 3 + 8
    # What is said, and where it stands; those that are empty are not there.
    assert page.get_by_role("status").count() >= 1
    for name in ("Form", "Practice", "Chords", "The next bars", "Sheet", "Neck", "Controls"):
        assert page.get_by_label(name, exact=True).count() == 1


def test_nothing_is_wider_than_a_phone(short: Opened, open_page: Open, make_page: Made) -> None:
    long = "title: " + "A very long title without an end " * 4 + "\nverse:\n| Dm7b5 | G7b9/Ab |\n"
    settle(short.page, 390, 900)
    for opened in (short, open_page(make_page("long", long, in_one_key=True), width=390)):
        assert opened.run("document.documentElement.scrollWidth") <= 390


UNDER_THE_DOCK = """
() => {
  const dock = document.getElementById("controls");
  const found = [];
  for (const element of document.querySelectorAll("a[href], button, input, select, [tabindex]")) {
    if (dock.contains(element) || element.tabIndex < 0) continue;
    element.focus();
    if (document.activeElement !== element) continue;
    const { top, bottom } = element.getBoundingClientRect();
    const edge = dock.getBoundingClientRect().top;
    // Not entirely hidden: WCAG 2.2, success criterion 2.4.11.
    found.push([element.id || element.textContent, top >= edge || bottom <= 0]);
  }
  return found;
}
"""


def test_what_has_the_focus_is_not_hidden_by_the_dock(short: Opened) -> None:
    page = short.page
    for width, height in ((390, 844), (844, 390), (1280, 800)):
        settle(page, width, height)
        for panel in ("", "levels"):
            page.press(f"#{panel}-opens", "Enter") if panel else page.keyboard.press("Escape")
            seen = page.evaluate(UNDER_THE_DOCK)
            assert len({name for name, _ in seen}) >= 6
            assert [name for name, hidden in seen if hidden] == []
    page.evaluate("document.getElementById('controls').style.height = '100vh'")
    assert any(hidden for _, hidden in page.evaluate(UNDER_THE_DOCK))


EAR_FAULTS = """
() => {
  const panel = document.getElementById("ear-panel").getBoundingClientRect();
  const front = document.getElementById("front").getBoundingClientRect();
  const now = document.getElementById("now").getBoundingClientRect();
  const faults = [];
  if (panel.width < 200 || panel.height < 100) faults.push("no room");
  if (panel.left < 0 || panel.top < 0 || panel.right > innerWidth) faults.push("outside");
  if (panel.bottom > front.top + .5) faults.push("over the dock");
  const isBeside = panel.left >= now.right || panel.top >= now.bottom;
  if (!isBeside) faults.push("over the chord of now");
  if (document.documentElement.scrollHeight > innerHeight) faults.push("the page scrolls");
  const { scrollWidth, clientWidth } = document.getElementById("ear-panel");
  if (scrollWidth > clientWidth) faults.push("wider than itself");
  const promise = document.querySelector("#ear-panel .hint");
  if (!promise.checkVisibility()) faults.push("the promise is hidden");
  for (const element of document.querySelectorAll("#ear-panel :is(button, select, input)")) {
    const target = element.type === "checkbox" ? element.closest("label") : element;
    const { width, height } = target.getBoundingClientRect();
    if (width < 31.5 || height < 31.5) faults.push(`${element.id} is ${width} by ${height}`);
  }
  return faults;
}
"""


def test_the_panel_of_the_ear_has_its_place_at_every_size(short: Opened) -> None:
    """In the window, over the dock, off the chord of now, with targets of 32 px (ours)."""
    page = short.page
    page.evaluate(SAID, True)
    for width, height in SIZES:
        settle(page, width, height)
        assert page.evaluate(EAR_FAULTS) == [], (width, height)
    assert len(SIZES) == 8
    page.evaluate("document.getElementById('ear-panel').style.minHeight = '95vh'")
    assert page.evaluate(EAR_FAULTS) != []


def test_panels_leave_the_music_in_sight(short: Opened) -> None:
    page = short.page
    for width, height, sight in (
        (390, 844, "#now"),
        (844, 390, "#now"),
        (1280, 800, "#where"),
    ):
        settle(page, width, height)
        for panel in ("tempo", "loop", "levels"):
            page.click(f"#{panel}-opens")
            settle(page)
            box, music = (page.locator(s).bounding_box() for s in (f"#{panel}-panel", sight))
            # Under the chords, and beside them where the phone lies on its side.
            assert box and music
            is_beside = music["x"] + music["width"] <= box["x"]
            assert is_beside or music["y"] + music["height"] <= box["y"], (width, panel)
            # Nothing of a panel has to be scrolled to.
            assert page.evaluate(
                "(id) => { const e = document.getElementById(id);"
                " return e.scrollHeight <= e.clientHeight; }",
                f"{panel}-panel",
            ), (width, panel)
