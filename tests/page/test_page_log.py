"""What the device keeps: its settings for all pages, a song's by section, and the log."""

from pathlib import Path

from tests.page.conftest import REPEATED, SHORT, Made, Open, Opened


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
    opened.page.goto(make_page("short-changed", changed).as_uri())
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


def test_the_device_keeps_its_own_settings_for_all_pages(open_page: Open, make_page: Made) -> None:
    opened = open_page(make_page("short", SHORT))
    opened.tick("left-handed")
    opened.choose("offset", "120")
    opened.tick("bass-on")
    opened.page.goto(make_page("repeated", REPEATED).as_uri())
    opened.page.wait_for_selector("body[data-ready]")
    assert opened.page.is_checked("#left-handed")
    assert opened.page.input_value("#offset") == "120"
    assert not opened.page.is_checked("#bass-on")


def test_play_is_logged_by_bar_and_forgotten_on_request(open_page: Open, make_page: Made) -> None:
    opened = open_page(make_page("short", SHORT))
    assert opened.page.locator("#log-says").text_content() == "Nothing has been played here yet."
    opened.play()
    opened.wait("practicePage.page.position > 0.8")
    opened.page.click("#play")
    reload(opened)
    log = opened.run("practicePage.page.log")
    assert list(log["bars"]) == ["verse | 1"]
    assert 0.4 < log["seconds"] < 8
    assert "0 minutes of play, the last on 2" in (
        opened.page.locator("#log-says").text_content() or ""
    )
    opened.run("document.getElementById('forget').click()")
    opened.page.wait_for_selector("body[data-ready]")
    opened.wait("localStorage.length === 0")
    reload(opened)
    assert opened.run("[localStorage.length, practicePage.page.log.seconds]") == [0, 0]


def test_the_page_is_saved_with_the_log_inside_and_runs(
    open_page: Open, make_page: Made, tmp_path: Path
) -> None:
    opened = open_page(make_page("short", SHORT))
    # What a section is called may look like markup.
    opened.run("(practicePage.page.log.bars['</script> | 1'] = { seconds: 60, clean: 0.8 })")
    opened.run("(practicePage.page.log.seconds = 60, practicePage.page.log.last = '2026-01-02')")
    with opened.page.expect_download() as download:
        opened.run("document.getElementById('save-log').click()")
    saved = tmp_path / "saved.html"
    download.value.save_as(saved)
    assert download.value.suggested_filename == "Short, with my log.html"
    sent = open_page(saved)
    assert sent.page.locator("#log-says").text_content() == (
        "1 minute of play, the last on 2026-01-02, 1 bar with a clean tempo."
    )
    sent.play()
    sent.wait("practicePage.page.position > 0.2")
    # The policy still names the script, and a file saved from the saved one has one log.
    assert sent.console == []
    assert saved.read_text(encoding="utf-8").count('id="log"') == 1


def test_the_log_is_told_bar_by_bar(open_page: Open, make_page: Made) -> None:
    opened = open_page(make_page("short", SHORT))
    assert opened.page.locator("#log-bars").is_hidden()
    opened.run("(practicePage.page.log.bars['chorus | 2'] = { seconds: 30 })")
    opened.run(
        "(practicePage.page.log.bars['verse | 1'] ="
        " { seconds: 90, clean: 0.6, when: '2026-01-02' })"
    )
    opened.run("practicePage.page.remember()")
    reload(opened)
    opened.page.click("#more-opens")
    opened.page.press("#log-bars summary", "Enter")
    assert opened.page.locator("#log-bars li").all_inner_texts() == [
        "verse, bar 1 · 1 of 4: 1.5 minutes, clean at 60% on 2026-01-02",
        "chorus, bar 6 · 2 of 2: 0.5 minutes",
    ]


MINUTES = "practicePage.page.log.seconds / 60"


def test_a_log_that_was_sent_is_not_mixed_with_the_readers_own(
    open_page: Open, make_page: Made, tmp_path: Path
) -> None:
    """A teacher plays the same song: the pupil's file shows the pupil's minutes, and keeps them."""
    opened = open_page(make_page("short", SHORT))
    page = opened.page
    opened.run("Object.assign(practicePage.page.log, { seconds: 180, last: '2026-01-02' })")
    with page.expect_download() as download:
        opened.run("document.getElementById('save-log').click()")
    saved = tmp_path / "saved.html"
    download.value.save_as(saved)
    opened.run("(practicePage.page.log.seconds = 300)")
    opened.run("practicePage.page.remember()")
    page.goto(saved.as_uri())
    page.wait_for_selector("body[data-ready]")
    assert opened.run(MINUTES) == 3
    opened.tick("bass-on")
    reload(opened)
    assert opened.run(MINUTES) == 3 and page.is_checked("#bass-on")
    # Forgotten here is forgotten, though the file has it for good.
    with page.expect_navigation():
        opened.run("document.getElementById('forget').click()")
    page.wait_for_selector("body[data-ready]")
    assert opened.run(MINUTES) == 0
    assert "Nothing has been played" in (page.locator("#log-says").text_content() or "")
    page.goto(make_page("short", SHORT).as_uri())
    page.wait_for_selector("body[data-ready]")
    assert opened.run(MINUTES) == 5 and not page.is_checked("#bass-on")


def test_a_clean_pass_is_kept_and_worked_on_at_its_tempo(open_page: Open, make_page: Made) -> None:
    opened = open_page(make_page("short", SHORT))
    for clean, bar in (("true", 4), ("false", 5)):
        judged = f"{{ isClean: {clean}, bars: [{{ bar: {bar} }}] }}"
        opened.run(f"practicePage.ear.raise({judged}, {{ spans: [{{ share: 0.7 }}] }})")
    reload(opened)
    bars = opened.run("practicePage.page.log.bars")
    assert [(name, bar["clean"]) for name, bar in bars.items() if "clean" in bar] == [
        ("chorus | 1", 0.7)
    ]
    opened.run("practicePage.ear.workOn(4)")
    assert opened.run("practicePage.page.share") == 0.7
    opened.run("practicePage.ear.workOn(5)")
    assert opened.run("practicePage.page.share") == 0.6  # 60 % where no pass was clean yet
