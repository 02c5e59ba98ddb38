"""What the device keeps: its settings for all pages, a song's by section, and the log."""

from pathlib import Path

from tests.page.conftest import REPEATED, SHORT, Made, Open, Opened
from tests.page.driven import run_to, start
from tests.page.reused import real_sound


def reload(opened: Opened) -> None:
    """Open the page anew."""
    opened.page.reload()
    opened.page.wait_for_selector("body[data-ready]")


def test_a_changed_chord_loses_neither_loop_nor_log(open_page: Open, make_page: Made) -> None:
    opened = open_page(make_page("short", SHORT))
    opened.run("practicePage.page.setLoop([4, 5], 'bars')")
    opened.run("practicePage.page.setShare(0.7)")
    opened.run("(practicePage.page.log.bars['chorus | 1'] = { seconds: 90, clean: 0.6 })")
    opened.run("practicePage.page.goTo(practicePage.song.bars[5].start)")
    opened.run("practicePage.page.remember()")
    # A bar more in the verse, another chord in the chorus: the same song of the same title.
    changed = SHORT.replace("A7 | D |", "A7 | D | D |").replace("| G | A |", "| G | Asus4 |")
    opened.page.goto(make_page("short-changed", changed, in_one_key=True).as_uri())
    opened.page.wait_for_selector("body[data-ready]")
    assert opened.run("practicePage.page.loop") == [5, 6]
    assert "70%" in opened.page.inner_text("#tempo-shown")
    assert opened.run("practicePage.page.log.bars['chorus | 1'].clean") == 0.6
    # The place is offered, not taken.
    assert opened.page.locator("#go-on").text_content() == (
        "Go on where I was: chorus, bar 7  ·  2 of 2"
    )
    opened.run("document.getElementById('go-on').click()")
    assert opened.run("practicePage.page.bar") == 6


def test_another_page_has_the_settings_of_the_device_and_the_sound(
    short: Opened, make_page: Made
) -> None:
    opened = short
    opened.tick("left-handed")
    opened.choose("offset", "120")
    opened.tick("bass-on")
    start(opened)
    other = opened.page.context.new_page()
    other.goto(make_page("repeated", REPEATED).as_uri())
    other.wait_for_selector("body[data-ready]")
    assert other.is_checked("#left-handed")
    assert other.input_value("#offset") == "120"
    assert not other.is_checked("#bass-on")
    # Two pages do not play at once.
    assert opened.run("practicePage.page.player.isPlaying")
    other.click("#play")
    opened.wait("!practicePage.page.player.isPlaying")
    assert opened.page.locator("#message").text_content() == "Paused: another page plays."
    other.close()


def test_play_is_logged_by_bar_and_forgotten_on_request(short: Opened) -> None:
    opened, page = short, short.page
    assert page.locator("#log-says").text_content() == "Nothing has been played here yet."
    page.check("#bass-on")
    run_to(opened, start(opened) + 1)
    page.click("#play")
    reload(opened)
    assert opened.run("localStorage.length") == 2 and page.is_checked("#bass-on")
    log = opened.run("practicePage.page.log")
    assert list(log["bars"]) == ["verse | 1"]
    assert 0.9 < log["seconds"] < 1.1
    assert "0 minutes of play, the last on 2" in (page.locator("#log-says").text_content() or "")
    page.click("#more-opens")
    with page.expect_navigation():
        page.click("#forget")
    page.wait_for_selector("body[data-ready]")
    assert opened.run("[localStorage.length, practicePage.page.log.seconds]") == [0, 0]
    assert not page.is_checked("#bass-on")


def saved_page(opened: Opened, folder: Path) -> Path:
    """Save the page with its log, and return where it lies."""
    with opened.page.expect_download() as download:
        opened.run("document.getElementById('save-log').click()")
    assert download.value.suggested_filename == "Short, with my log.html"
    saved = folder / "saved.html"
    download.value.save_as(saved)
    return saved


MINUTES = "practicePage.page.log.seconds / 60"


def test_a_page_with_the_log_inside_runs_and_is_not_mixed_with_the_readers_own(
    short: Opened, make_page: Made, tmp_path: Path
) -> None:
    """A teacher plays the same song: the pupil's file shows the pupil's minutes, and keeps them."""
    opened, page = short, short.page
    # What a section is called may look like markup.
    opened.run("(practicePage.page.log.bars['</script> | 1'] = { seconds: 180, clean: 0.8 })")
    opened.run("Object.assign(practicePage.page.log, { seconds: 180, last: '2026-01-02' })")
    saved = saved_page(opened, tmp_path)
    opened.run("(practicePage.page.log.seconds = 300)")
    opened.run("practicePage.page.remember()")
    page.goto(saved.as_uri())
    page.wait_for_selector("body[data-ready]")
    assert page.locator("#log-says").text_content() == (
        "3 minutes of play, the last on 2026-01-02, 1 bar with a clean tempo."
    )
    # The policy still names the script, and a file saved from the saved one has one log.
    real_sound(opened)
    opened.play()
    opened.wait("practicePage.page.position > 0.1")
    page.click("#play")
    assert opened.console == []
    assert saved.read_text(encoding="utf-8").count('id="log"') == 1
    assert 3 < opened.run(MINUTES) < 3.2
    opened.tick("bass-on")
    reload(opened)
    assert 3 < opened.run(MINUTES) < 3.2 and page.is_checked("#bass-on")
    # Forgotten here is forgotten, though the file has it for good.
    with page.expect_navigation():
        opened.run("document.getElementById('forget').click()")
    page.wait_for_selector("body[data-ready]")
    assert opened.run(MINUTES) == 0
    assert "Nothing has been played" in (page.locator("#log-says").text_content() or "")
    page.goto(make_page("short", SHORT).as_uri())
    page.wait_for_selector("body[data-ready]")
    assert opened.run(MINUTES) == 5 and not page.is_checked("#bass-on")


def test_a_clean_pass_is_kept_told_and_worked_on_at_its_tempo(short: Opened) -> None:
    opened = short
    assert opened.page.locator("#log-bars").is_hidden()
    for clean, bar in (("true", 4), ("false", 5)):
        judged = f"{{ isClean: {clean}, bars: [{{ bar: {bar} }}] }}"
        opened.run(f"practicePage.ear.raise({judged}, {{ spans: [{{ share: 0.7 }}] }})")
    played = {"chorus | 1": {"seconds": 90, "when": "2026-01-02"}, "verse | 2": {"seconds": 30}}
    opened.run(
        "(played) => { for (const [name, bar] of Object.entries(played))"
        " Object.assign((practicePage.page.log.bars[name] ??= {}), bar);"
        " practicePage.page.remember(); }",
        played,
    )
    reload(opened)
    bars = opened.run("practicePage.page.log.bars")
    assert [(name, bar["clean"]) for name, bar in bars.items() if "clean" in bar] == [
        ("chorus | 1", 0.7)
    ]
    opened.page.click("#more-opens")
    opened.page.press("#log-bars summary", "Enter")
    assert opened.page.locator("#log-bars li").all_inner_texts() == [
        "verse, bar 2 · 2 of 4: 0.5 minutes",
        "chorus, bar 5 · 1 of 2: 1.5 minutes, clean at 70% on 2026-01-02",
    ]
    opened.run("practicePage.ear.workOn(4)")
    assert opened.run("practicePage.page.share") == 0.7
    opened.run("practicePage.ear.workOn(5)")
    assert opened.run("practicePage.page.share") == 0.6  # 60 % where no pass was clean yet
