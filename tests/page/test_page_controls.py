"""Every control works, and can be reached and used from the keyboard."""

import json

from tests.page.conftest import Made, Open, Opened, settle
from tests.page.driven import run_to, start
from tests.page.reused import real_sound
from tests.page.test_page_file import HOSTILE

SPANS = "practicePage.page.player.spans"
MESSAGE = "document.getElementById('message').textContent"
PANELS = ("tempo", "loop", "levels", "click", "key", "more")


CONTROLS = """
() => [...document.querySelectorAll("button, input, select")]
  .filter((each) => each.checkVisibility() && !each.closest("[inert]"))
  .map((each) => each.id || each.textContent)
"""
REACHED = """
() => {
  window.reached = [];
  document.addEventListener("keyup", ({ key }) => {
    const { id, textContent } = document.activeElement;
    if (key === "Tab") reached.push(id || textContent);
  });
}
"""
"""Note what has the focus after each press of the tab key."""


def test_every_control_is_reached_by_the_tab_key(short: Opened) -> None:
    opened = short
    reached: set[str] = set()
    wanted: set[str] = set()
    opened.run(REACHED)
    for panel in PANELS:
        opened.page.press(f"#{panel}-opens", "Enter")
        wanted |= set(opened.run(CONTROLS))
        for _ in range(9):
            if wanted <= reached:
                break
            for _ in range(10):
                opened.page.keyboard.press("Tab")
            reached |= set(opened.run("reached.splice(0)"))
    assert len(wanted) > 40
    assert wanted - reached == set()


def test_a_word_of_the_dock_opens_its_panel_and_escape_closes_it(short: Opened) -> None:
    page = short.page
    settle(page, 390, 900)
    for panel, control in (("tempo", "bpm"), ("loop", "bars"), ("levels", "level-drums")):
        opens = page.locator(f"#{panel}-opens")
        assert not page.is_visible(f"#{control}")
        opens.press("Enter")
        assert page.is_visible(f"#{control}")
        assert opens.get_attribute("aria-expanded") == "true"
        # One at a time, and above the words that open them.
        assert page.locator("#panels fieldset:visible").count() == 1
        box, words = (page.locator(s).bounding_box() for s in (f"#{panel}-panel", "#front"))
        assert box and words and box["y"] >= 0 and box["y"] + box["height"] <= words["y"]
        opens.press("Enter")
        assert page.locator("#panels fieldset:visible").count() == 0
        opens.press("Enter")
    page.focus("#level-drums")
    page.keyboard.press("Escape")
    assert page.locator("#panels fieldset:visible").count() == 0
    assert page.evaluate("document.activeElement.id") == "levels-opens"
    page.locator("#levels-opens").press("Enter")
    page.evaluate("document.activeElement.blur()")
    page.keyboard.press("Escape")
    assert page.locator("#panels fieldset:visible").count() == 0


def test_a_section_is_looped_from_the_dock_with_the_sheet_in_sight(short: Opened) -> None:
    page = short.page
    settle(page, 390, 844)
    page.keyboard.press("2")
    page.click("#loop-opens")
    page.click("#loop-this")
    assert page.evaluate("practicePage.page.loop") == [4, 5]
    panel, line = (page.locator(s).bounding_box() for s in ("#loop-panel", "#ahead"))
    assert panel and line and line["y"] <= panel["y"]
    page.click("#loop-none")
    assert page.evaluate("practicePage.page.loop") is None
    # On its side the phone has room for the chords over the panel.
    settle(page, 844, 390)
    panel, chord = (page.locator(s).bounding_box() for s in ("#loop-panel", "#next"))
    assert panel and chord and chord["x"] + chord["width"] <= panel["x"]


def test_the_keyboard_moves_tempo_levels_loop_and_play(short: Opened) -> None:
    opened, page = short, short.page
    page.click("#tempo-opens")
    page.focus("#bpm")
    page.keyboard.press("Shift+Tab")
    page.keyboard.press("ArrowRight")
    assert "101%" in page.inner_text("#tempo-shown")
    page.focus("#slower")
    page.keyboard.press("Enter")
    assert "96%" in page.inner_text("#tempo-shown")
    page.focus("#bpm")
    page.keyboard.press("Control+A")
    page.keyboard.type("90")
    page.keyboard.press("Enter")
    assert page.inner_text("#tempo-shown") == "♩ = 90, 75%"
    page.click("#loop-opens")
    page.focus("#bars")
    page.keyboard.type("2-3")
    page.keyboard.press("Enter")
    assert page.evaluate("practicePage.page.loop") == [1, 2]
    page.keyboard.press("Escape")
    page.focus("#faster")
    page.keyboard.press("Tab")
    page.keyboard.press("Space")
    assert page.is_checked("#bass-on")
    page.focus("#play")
    page.keyboard.press("Space")
    opened.wait("practicePage.page.player.isPlaying")
    page.keyboard.press("Space")
    opened.wait("!practicePage.page.player.isPlaying")


def test_every_letter_key_does_what_the_page_says(short: Opened) -> None:
    opened, page = short, short.page
    told = page.locator("label:has(#letters)").text_content() or ""
    for words in ("space plays", "s and f slower and faster", "b bass", "l loops this section"):
        assert words in told
    page.keyboard.press("s")
    assert "95%" in page.inner_text("#tempo-shown")
    page.keyboard.press("f")
    page.keyboard.press("f")
    assert "105%" in page.inner_text("#tempo-shown")
    page.keyboard.press("b")
    assert page.is_checked("#bass-on")
    page.keyboard.press("l")
    assert opened.run("practicePage.page.loop") == [0, 3]
    page.keyboard.press("l")
    assert opened.run("practicePage.page.loop") is None
    page.keyboard.press("Space")
    opened.wait("practicePage.page.player?.isPlaying")
    page.keyboard.press("Space")
    opened.wait("!practicePage.page.player.isPlaying")


def test_letter_keys_can_be_switched_off(short: Opened) -> None:
    # WCAG 2.2, success criterion 2.1.4.
    opened, page = short, short.page
    opened.tick("letters", on=False)
    for key in ("f", "s", "b", "l", "Space"):
        page.keyboard.press(key)
    assert "100%" in page.inner_text("#tempo-shown")
    assert not page.is_checked("#bass-on")
    assert opened.run("[practicePage.page.loop, practicePage.page.player]") == [None, None]


def near_levels(wanted: dict[str, float]) -> str:
    """Return a condition: the level of each part is what is wanted, within 0.0001."""
    near = "Math.abs(practicePage.page.mixer.outputs.get(part).gain.value - level) < 1e-4"
    return f"Object.entries({json.dumps(wanted)}).every(([part, level]) => {near})"


def test_levels_and_mutes_reach_the_sound(short: Opened) -> None:
    opened, page = short, short.page
    real_sound(opened)
    # Muted before the first play counts as well; the bass is out until it is asked for.
    opened.tick("keys-on", on=False)
    opened.choose("level-drums", "-12")
    opened.play()
    # Decibels of amplitude, 10 ** (dB / 20); they fade to it.
    opened.wait(
        near_levels({"bass": 0, "drums": 0.251189, "keys": 0, "click": 0, "count": 0.707946})
    )
    assert opened.run("practicePage.page.mixer.outputs.size") == 5
    opened.tick("bass-on")
    opened.tick("click-on")
    opened.choose("level-all", "-40")
    opened.tick("drums-on", on=False)
    opened.wait(near_levels({"bass": 1, "drums": 0, "keys": 0, "click": 0.707946}))
    opened.wait("practicePage.page.mixer.all.gain.value < 1e-4")
    told = [page.locator(f"#told-{name}").text_content() for name in ("all", "drums", "bass")]
    assert told == ["silent", "−12 dB, quiet", "0 dB, full"]


def test_it_starts_quietly_and_speaks_of_breaks(short: Opened) -> None:
    opened = short
    assert opened.page.locator("#told-all").text_content() == "−12 dB, quiet"
    opened.page.click("#levels-opens")
    assert "break after twenty minutes" in opened.page.inner_text("#levels-panel")


def test_tapping_sets_the_tempo(short: Opened) -> None:
    opened = short
    # Four taps 600 ms apart, by a clock that is wound by hand: 100 a minute.
    opened.run("let at = 0; performance.now = () => (at += 600);")
    opened.page.click("#tempo-opens")
    for _ in range(4):
        opened.page.press("#tap", "Enter")
    assert opened.page.inner_text("#tempo-shown") == "♩ = 100, 83%"


def test_bars_drawn_over_are_looped(short: Opened) -> None:
    page = short.page
    start, end = (page.locator(f"#sheet .bars [data-bar='{bar}']").bounding_box() for bar in (3, 1))
    assert start and end
    for box, does in ((start, "down"), (end, "up")):
        page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
        getattr(page.mouse, does)()
    assert page.evaluate("practicePage.page.loop") == [1, 3]
    assert page.input_value("#bars") == "2-4"
    pressed = page.locator('#sheet figure:not(.later) button[aria-pressed="true"]')
    assert pressed.all_inner_texts() == ["bar 2", "bar 3", "bar 4"]
    assert page.inner_text("#loop-opens") == "Loop 2–4"
    page.click("#loop-opens")
    page.select_option("#loop", label="chorus")
    assert page.evaluate("practicePage.page.loop") == [4, 5]
    page.fill("#bars", "7-9")
    page.keyboard.press("Enter")
    assert "from 1 to 6" in page.inner_text("#message")
    assert page.get_attribute("#bars", "aria-invalid") == "true"


def followed(opened: Opened, seconds: int) -> dict[int, float]:
    """Play for so long, and return the tempo of each pass that was planned."""
    begins = start(opened)
    seen: dict[int, float] = {}
    for half_seconds in range(2 * seconds):
        run_to(opened, begins + half_seconds / 2)
        seen |= dict(opened.run(f"{SPANS}.map((span) => [span.pass, span.share])"))
    return seen


def test_the_ladder_climbs_pass_by_pass(short: Opened) -> None:
    opened, page = short, short.page
    page.click("#loop-opens")
    page.fill("#bars", "5")
    page.keyboard.press("Enter")
    for name, value in (("start", "120"), ("step", "20"), ("top", "150"), ("passes", "1")):
        opened.choose(f"ladder-{name}", value)
    opened.tick("ladder-on")
    # A bar of two seconds at 120 %, 140 % and then twice at 150 % is over after 5.76.
    assert followed(opened, 6) == {1: 1.2, 2: 1.4, 3: 1.5, 4: 1.5, 5: 1.5}


def test_the_bass_takes_turns_and_the_click_drops_out(short: Opened) -> None:
    opened, page = short, short.page
    opened.choose("loop", "song")
    for box in ("turns", "click-on", "bass-on"):
        opened.tick(box)
    opened.choose("click-of", "4")
    opened.choose("click-out", "1")
    opened.tick("counts-in", on=False)
    # What is played is written down instead of sounding, so that two passes are had at once.
    played = page.evaluate(
        """() => {
        const { page, Player, song } = practicePage;
        const context = new OfflineAudioContext(1, 1, 48000);
        const player = new Player(context, song, page.rows, new Map());
        const found = [];
        player.play = (note, time) => found.push([note.part, time, note.grid]);
        player.wishes = page.wishes();
        player.start(0, 0);
        player.pump(23.9);
        return found;
        }"""
    )
    # Six bars of two seconds a pass: two passes are 24 seconds.
    bass = [time for part, time, _ in played if part == "bass"]
    click_bars = {int(time // 2) for part, time, _ in played if part == "click"}
    assert len(bass) > 5 and max(bass) < 12
    assert click_bars == {0, 1, 2, 4, 5, 6, 8, 9, 10}
    assert len([part for part, _, _ in played if part == "click"]) == 9 * 4


def test_the_count_in_is_one_bar_of_sticks(short: Opened) -> None:
    opened, page = short, short.page
    page.click("#play")
    opened.wait("document.querySelector('#place').textContent === 'count-in'")
    count, song = page.evaluate(
        f"{SPANS}.slice(0, 2).map((s) => [s.counts, s.time, s.notes.length])"
    )
    assert count[0] and not song[0]
    assert count[2] == 4
    assert abs(song[1] - count[1] - 2.0) < 1e-6


def test_the_neck_shows_the_next_pass_at_the_end_of_a_loop(short: Opened) -> None:
    opened = short
    opened.page.click("#loop-opens")
    opened.page.fill("#bars", "2-3")
    opened.page.keyboard.press("Enter")
    opened.run("practicePage.page.goTo(practicePage.song.bars[2].end - 0.01)")
    # Bar 2 begins on G: E string, fret 3, which the A of bar 3 is not.
    grid = opened.run("practicePage.shown.bass[practicePage.page.neck.next].grid")
    assert abs(grid - opened.run("practicePage.song.bars[1].start")) < 0.001


def test_the_card_is_a_second_view_with_its_chords_hidden_on_request(short: Opened) -> None:
    page = short.page
    page.select_option("#view", "card")
    assert page.is_visible("#card table") and not page.is_visible("#sheet")
    assert page.is_visible("#card td b >> nth=0")
    page.check("#card-hides")
    assert not page.is_visible("#card td b >> nth=0")


def test_the_neck_is_mirrored_for_the_left_hand(short: Opened) -> None:
    opened, page = short, short.page
    nut = "Number(document.querySelector('#neck line[stroke-width=\"5\"]').getAttribute('x1'))"
    width = page.evaluate("practicePage.page.neck.width")
    right = page.evaluate(nut)
    opened.tick("left-handed")
    assert page.evaluate(nut) == width - right
    assert page.inner_text("#hand-words").startswith("next D string open")


def test_a_chart_full_of_markup_runs_nothing(open_page: Open, make_page: Made) -> None:
    opened = open_page(make_page("hostile", HOSTILE))
    opened.play()
    opened.wait("practicePage.page.position > 0.1")
    assert opened.run("'ran' in window") is False
    assert opened.page.locator("img").count() == 0
    assert "<img src=x" in opened.page.inner_text("#place")
    assert opened.console == []


def test_the_policy_stops_what_is_injected(short: Opened) -> None:
    opened = short
    opened.run(
        """() => {
        const script = document.createElement('script');
        script.textContent = 'window.ran = 1';
        document.body.append(script);
        document.body.insertAdjacentHTML('beforeend', '<img src="x" onerror="window.ran = 2">');
        fetch('https://example.org/').catch(() => { window.refused = true; });
        }"""
    )
    opened.wait("window.refused")
    assert opened.run("'ran' in window") is False
    assert all(url.startswith("file:") for url in opened.requests)
    assert any("Content Security Policy" in line for line in opened.console)
    opened.run("document.querySelector('img').remove()")


def test_a_break_is_proposed_after_twenty_minutes(short: Opened) -> None:
    begins = start(short)
    short.run("(practicePage.page.playedSec = 20 * 60 - 2)")
    run_to(short, begins + 1)
    assert short.run(MESSAGE) == ""
    run_to(short, begins + 3)
    assert short.run(MESSAGE).startswith("Twenty minutes of play: a good time for a break")
