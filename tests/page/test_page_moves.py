"""Moving about: bars and the form pressed, drawn over and held; keys; settings that say why."""

from playwright.sync_api import Page as BrowserPage

from tests.page.conftest import SHORT, Made, Open, Opened
from tests.page.reused import real_sound

BAR = "practicePage.page.bar"
LOOP = "practicePage.page.loop"


def middle(page: BrowserPage, selector: str) -> tuple[float, float]:
    """Return the middle of an element."""
    box = page.locator(selector).first.bounding_box()
    assert box
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def form_x(page: BrowserPage, bar: int, bars: int) -> tuple[float, float]:
    """Return the middle of a bar on the form line."""
    box = page.locator("#form").bounding_box()
    assert box
    return box["x"] + (bar + 0.5) * box["width"] / bars, box["y"] + box["height"] / 2


def test_a_bar_that_is_pressed_is_gone_to_in_music_row_and_form(short: Opened) -> None:
    opened, page = short, short.page
    page.mouse.click(*middle(page, "#sheet [data-bar='2']"))
    assert opened.run(BAR) == 2
    page.mouse.click(*middle(page, "#ahead button:nth-child(2)"))
    assert opened.run(BAR) == 3
    page.mouse.click(*form_x(page, 5, 6))
    assert (opened.run(BAR), opened.run(LOOP)) == (5, None)
    # From the keyboard as well: a button by Enter, the form as a slider.
    page.focus("#sheet .bars button")
    page.keyboard.press("Enter")
    assert opened.run(BAR) == 4
    page.focus("#form")
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowUp")
    assert opened.run(BAR) == 5
    assert page.get_attribute("#form", "aria-valuetext") == "chorus, bar 6  ·  2 of 2"


def test_bars_are_looped_where_they_are_drawn_over_or_held(short: Opened) -> None:
    opened, page = short, short.page
    page.mouse.move(*form_x(page, 4, 6))
    page.mouse.down()
    page.mouse.move(*form_x(page, 2, 6))
    page.mouse.up()
    assert opened.run(LOOP) == [2, 4]
    assert page.inner_text("#loop-opens") == "Loop 3–5"
    page.mouse.move(*form_x(page, 5, 6))
    page.mouse.down()
    # Held: its section, which is the chorus.
    opened.wait(f"String({LOOP}) === '4,5'")
    page.mouse.up()
    assert opened.run(LOOP) == [4, 5]


def test_every_key_of_the_keyboard_moves_as_it_is_told(repeated: Opened) -> None:
    opened = repeated
    # As played: pickup; verse 1 is bars 1 to 6, chorus 1 is 7 and 8, verse 2 from 9, chorus 2 is
    # 15 and 16.
    found = []
    for key in ("2", "ArrowRight", "ArrowLeft", "PageDown", "PageUp", "PageUp", "Home", "4", "9"):
        opened.page.keyboard.press(key)
        found.append(opened.run(BAR))
    assert found == [7, 8, 7, 9, 7, 1, 0, 15, 15]


def test_in_a_loop_the_arrows_go_round_its_seam(short: Opened) -> None:
    opened = short
    opened.run("practicePage.page.setLoop([1, 2], 'bars')")
    found = []
    for key in ("Home", "ArrowRight", "ArrowRight", "ArrowLeft"):
        opened.page.keyboard.press(key)
        found.append((opened.run(BAR), opened.run(LOOP)))
    assert found == [(1, [1, 2]), (2, [1, 2]), (1, [1, 2]), (2, [1, 2])]


def test_space_plays_whatever_was_pressed_last(short: Opened) -> None:
    opened = short
    opened.tick("counts-in", on=False)
    presses = ("#slower", "#loop-opens", "label:has(#bass-on)", "#bar-on")
    for number, pressed in enumerate(presses):
        opened.page.click(pressed)
        opened.page.keyboard.press("Space")
        opened.wait(
            f"Boolean(practicePage.page.player?.isPlaying) === {str(number % 2 == 0).lower()}"
        )
    # In a field of numbers too, which has no space in it; what bars are typed into keeps it.
    opened.page.click("#tempo-opens")
    opened.page.focus("#bpm")
    opened.page.keyboard.press("Space")
    opened.wait("practicePage.page.player.isPlaying")
    opened.page.click("#loop-opens")
    opened.page.focus("#bars")
    opened.page.keyboard.press("Space")
    assert opened.run("practicePage.page.player.isPlaying")
    # What was pressed did its own thing once alone.
    assert opened.page.is_checked("#bass-on")
    assert "95%" in opened.page.inner_text("#tempo-shown")


def test_play_is_the_first_stop_of_the_tab_key(short: Opened) -> None:
    page = short.page
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.id") == "play"


def cured(opened: Opened, why: str) -> tuple[str, str]:
    """Return what is said beside a setting, and press what it offers."""
    said = opened.page.locator(f"#{why} span").text_content() or ""
    cure = opened.page.locator(f"#{why} button")
    offer = cure.text_content() or ""
    opened.run("(id) => document.querySelector(`#${id} button`).click()", why)
    return said, offer


def test_a_setting_that_cannot_act_says_why_and_is_cured(short: Opened) -> None:
    opened = short
    opened.tick("ladder-on")
    # Without a loop the ladder does nothing, and the tempo shown is the one that would be heard.
    assert "100%" in opened.page.inner_text("#tempo-shown")
    said, offer = cured(opened, "ladder-why")
    assert "needs a loop" in said and offer == "Loop this section"
    assert opened.run(LOOP) == [0, 3]
    assert "60%" in opened.page.inner_text("#tempo-shown")
    opened.page.click("#faster")
    assert not opened.page.is_checked("#ladder-on")
    assert "105%" in opened.page.inner_text("#tempo-shown")
    assert "ladder is off" in opened.page.inner_text("#message")

    opened.tick("turns")
    assert cured(opened, "turns-why") == ("The bass is off, so it comes in no time.", "Bass on")
    assert opened.page.is_checked("#bass-on")
    opened.choose("click-out", "2")
    assert cured(opened, "click-why") == ("The click is off already.", "Click on")
    assert opened.page.locator(".why:not(:empty)").count() == 0


def test_numbers_out_of_range_are_put_right_and_said(short: Opened) -> None:
    opened = short
    found = []
    for field, typed in (
        ("ladder-start", "10"),
        ("ladder-passes", "99"),
        ("click-of", "0"),
        ("offset", "-999"),
    ):
        opened.choose(field, typed)
        found.append((opened.page.input_value(f"#{field}"), opened.page.inner_text("#message")))
    assert found == [
        ("40", "From 40 to 160: put to 40."),
        ("20", "From 1 to 20: put to 20."),
        ("1", "From 1 to 32: put to 1."),
        ("-300", "From -300 to 500: put to -300."),
    ]
    # More silent bars than there are: the other number gives way, which is said.
    found = []
    for field, typed, other in (
        ("click-out", "3", "click-of"),
        ("click-of", "2", "click-out"),
        ("ladder-start", "120", "ladder-top"),
        ("ladder-top", "90", "ladder-start"),
    ):
        opened.choose(field, typed)
        found.append((opened.page.input_value(f"#{other}"), opened.page.inner_text("#message")))
    assert found == [
        ("4", "The click comes back after them: of every 4 bars."),
        ("1", "The click comes back within them: muted for 1."),
        ("120", "The ladder climbs: its top is put to 120."),
        ("90", "The ladder climbs: its start is put to 90."),
    ]


RAMP = """title: Ramp
tempo: 60
a:
| C | C |
b:
tempo: 120
| C | C |
"""


def test_the_tempo_of_a_place_is_shown_where_it_moves(open_page: Open, make_page: Made) -> None:
    opened = open_page(make_page("two-tempi", RAMP, in_one_key=True))
    assert opened.page.inner_text("#tempo-shown") == "♩ = 60, 100%"
    opened.page.keyboard.press("2")
    assert opened.page.inner_text("#tempo-shown") == "♩ = 120, 100%"
    # What moves by itself is not read out at every step; what the player changes is.
    live = [opened.page.get_attribute("#tempo-shown", "aria-live")]
    opened.page.keyboard.press("s")
    live.append(opened.page.get_attribute("#tempo-shown", "aria-live"))
    assert live == ["off", "polite"]


def test_the_device_taking_the_sound_is_said_and_one_press_goes_on(short: Opened) -> None:
    opened = short
    real_sound(opened)
    opened.play()
    opened.wait("practicePage.page.position > 0.1")
    opened.run("practicePage.page.mixer.context.suspend()")
    opened.wait("document.getElementById('play').textContent === 'Play'")
    assert opened.page.inner_text("#trouble").startswith("The device has stopped the sound")
    at = opened.run("practicePage.page.position")
    opened.page.click("#play")
    opened.wait(f"practicePage.page.position > {at} + 0.05")
    assert not opened.page.is_visible("#trouble")


NEVER = """
() => {
  window.AudioContext = class extends AudioContext {
    get state() {
      return "suspended";
    }
    resume() {
      return new Promise(() => 0);
    }
  };
  // A clock that is wound by hand: a tenth of a second at each look.
  window.wound = 0;
  performance.now = () => (wound += 100);
}
"""


def test_a_sound_that_does_not_start_is_said_after_two_seconds(short: Opened) -> None:
    short.run(NEVER)
    # Nothing but the page looks at the clock: a click from outside might.
    short.run("document.getElementById('play').click()")
    short.wait("!document.getElementById('trouble').hidden")
    assert 2000 <= short.run("wound") <= 2300
    assert short.page.inner_text("#trouble").startswith("No sound has started.")
    assert short.page.inner_text("#play") == "Play"


def test_a_browser_without_what_it_needs_says_so(make_page: Made, browser: "object") -> None:
    path = make_page("short", SHORT)
    for script, said in (
        ("delete window.DecompressionStream", "It lacks DecompressionStream."),
        (None, "scripts are off here"),
    ):
        context = browser.new_context(offline=True, java_script_enabled=script is not None)  # type: ignore[attr-defined]
        page = context.new_page()
        if script:
            page.add_init_script(script)
        page.goto(path.as_uri())
        page.locator("#closed", has_text=said).wait_for()
        assert not page.is_visible("#front")
        context.close()
    assert said
