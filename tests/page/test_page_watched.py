"""A page made with --watch, open in a browser while its chart is edited.

The policy is read as Content Security Policy Level 3 (W3C) has it; the browser is the judge.
"""

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from lxml import html  # type: ignore[import-untyped]

from groove.cells.model import Library
from groove.chart.parse import parse_chart
from groove.io.practice_page import practice_page
from groove.neck.fingering import finger_performance
from groove.neck.instrument import STANDARD
from groove.pipeline import analyse_song, perform_analysis
from tests.cli.watched import Watched
from tests.click_font import EVERY_PRESET, click_font
from tests.page.conftest import Opened

SONG = "title: Kept Up\nkey: D\nverse:\n| D |\nchorus:\n| G | A7 |\n"
OTHER = SONG.replace("| G |", "| Em |")
NAME = "50% slower?#1.html"
"""A name that an address would be read from otherwise."""
SAYS = "document.getElementById('newer').textContent"
TOLD = f"{SAYS} === 'The chart has changed: there is a newer page. Open it'"
NOW = "document.getElementById('now').textContent"


@pytest.fixture
def watched(tmp_path: Path) -> Iterator[Watched]:
    """``groove page --watch`` on a small song with a font of clicks."""
    (tmp_path / "song.txt").write_text(SONG, encoding="utf-8")
    (tmp_path / "click.sf2").write_bytes(click_font(EVERY_PRESET))
    command = ("page", "song.txt", "-o", NAME, "--soundfont", "click.sf2", "--watch")
    with Watched(tmp_path, command) as running:
        running.line("watching song.txt")
        yield running


def wait_for_asking(opened: Opened, *, times: int = 2) -> None:
    """Wait until the page has asked so many times more which page is the newest."""
    wanted = len(opened.requests) + times
    for _ in range(100):
        if len(opened.requests) >= wanted:
            return
        opened.page.wait_for_timeout(100)
    raise AssertionError(f"asked no {times} times: {opened.requests}")


def test_an_open_page_opens_a_newer_one_where_it_was_while_the_watch_lasts(
    watched: Watched, open_page: Callable[..., Opened]
) -> None:
    opened = open_page(watched.folder / NAME, width=390)
    page = opened.page
    wait_for_asking(opened)
    assert opened.run(SAYS) == ""
    page.keyboard.press("2")
    opened.choose("offset", "40")
    page.click("#slower")
    assert opened.run(NOW) == "G"

    watched.save("song.txt", OTHER)
    opened.wait(TOLD)
    assert opened.run("document.documentElement.scrollWidth <= innerWidth")
    page.click("#newer-opens")
    page.wait_for_selector("body[data-ready]")
    opened.wait(f"{NOW} === 'Em'")
    assert page.input_value("#offset") == "40"
    assert "95%" in page.inner_text("#tempo-shown")
    wait_for_asking(opened)
    assert opened.run(SAYS) == ""
    assert opened.console == []

    # Taken back, the page that is open is the newest once more.
    watched.save("song.txt", SONG)
    opened.wait(TOLD)
    watched.save("song.txt", OTHER)
    opened.wait(f"{SAYS} === ''")

    # When the watch ends nothing is left but the page, and it asks no more.
    assert (watched.folder / f".{NAME}.svg").exists()
    assert watched.stop() == 130
    assert {file.name for file in watched.folder.iterdir()} == {"song.txt", "click.sf2", NAME}
    wait_for_asking(opened, times=1)
    before = len(opened.requests)
    page.wait_for_timeout(2500)
    assert len(opened.requests) == before
    assert opened.run(SAYS) == ""


def page_text(library: Library, folder: Path, watched_as: str) -> str:
    """The page of the small song, made to look for a newer one of a name or, without, for none."""
    font = folder / "click.sf2"
    font.write_bytes(click_font(EVERY_PRESET))
    analysis = analyse_song(parse_chart(SONG))
    placed, _ = finger_performance(perform_analysis(analysis, library), tuning=STANDARD)
    page = practice_page(placed, analysis, font=font, tuning=STANDARD, watched_as=watched_as)
    return page.html


@pytest.mark.usefixtures("one_key")
def test_only_a_page_made_with_watch_may_show_a_picture_from_disk(
    library: Library, tmp_path: Path
) -> None:
    policies = []
    texts = [page_text(library, tmp_path, watched_as) for watched_as in (NAME, "")]
    for text in texts:
        tree = html.document_fromstring(text)
        (policy,) = tree.xpath("//meta[@http-equiv='Content-Security-Policy']/@content")
        policies.append([rule.split()[0] for rule in policy.split(";")])
        assert policy.startswith("default-src 'none'; script-src 'sha256-")
    kept, plain = policies
    assert plain == [
        "default-src",
        "script-src",
        "style-src",
        # The length of a record that the player opens is read from a blob of the page's own.
        "media-src",
        "base-uri",
        "form-action",
    ]
    assert "media-src blob:; " in texts[1]
    assert [rule for rule in kept if rule not in plain] == ["img-src"]
    assert "img-src file:; " in texts[0]
