"""Three songs in two more engines: they load and show, nothing is cut or laid over, and one plays.

The page is opened from disk in a frame of its own size: a window of MiniBrowser is never as narrow
as a phone.
"""

import re
from collections.abc import Callable
from contextlib import AbstractContextManager
from pathlib import Path

import pytest

from tests.conftest import ROOT
from tests.page.conftest import Made
from tests.page.engines import Engine, NoAnswer, firefox, run, wait, webkit
from tests.page.test_page_sizes import BOXES, PLAYED, SEEN

SONGS = {"glass-stairs": "head", "two-clocks": "verse, bridge"}
"""A song of wide chords and one whose meter changes, and what of them is shown."""
WAITS_SEC = 40
SAID = "['play', 'trouble'].map((name) => document.getElementById(name).textContent)"
Browser = Callable[[Path], AbstractContextManager[Engine]]
FRAME = """<!DOCTYPE html><title>frame</title><style>body {{ margin: 0 }}</style>
<iframe src="{address}" width="390" height="664" style="border: 0"
></iframe>
"""


def seen_faults(engine: Engine) -> list[str]:
    """Return what is wrong with the boxes of an open page."""
    run(engine, SEEN.partition("(() =>")[2].join(("(() =>", "")).rstrip().rstrip(";"))
    view = run(engine, "document.body.dataset.view")
    return list(run(engine, f"faults({[*BOXES, *PLAYED[view], '#controls']})"))


def shown(engine: Engine, page: Path) -> list[object]:
    """Open a page as wide as the window, and return what is wrong and what it says."""
    engine.command("open", url=page.as_uri())
    wait(engine, "document.body.dataset.ready", most_sec=WAITS_SEC)
    return [seen_faults(engine), *run(engine, SAID)]


def played(engine: Engine) -> list[object]:
    """Play the page that is open, and return what is wrong and what it says meanwhile."""
    run(engine, "document.getElementById('counts-in').click()")
    engine.command("click", selector="#play")
    wait(engine, "practicePage.page.position > 0.5", most_sec=WAITS_SEC)
    found = [seen_faults(engine), *run(engine, SAID)]
    found.append(run(engine, "practicePage.page.player.dropped"))
    engine.command("click", selector="#play")
    wait(engine, "document.getElementById('play').textContent === 'Play'", most_sec=WAITS_SEC)
    return found


def framed(engine: Engine, page: Path, frame: Path) -> list[object]:
    """Open a page in a frame as wide as a phone, and return its width and what is wrong."""
    frame.write_text(FRAME.format(address=page.as_uri()), encoding="utf-8")
    engine.command("open", url=frame.as_uri())
    engine.command("enter", selector="iframe")
    wait(engine, "document.body.dataset.ready", most_sec=WAITS_SEC)
    return [run(engine, "innerWidth"), seen_faults(engine)]


def told(browser: Browser, pages: list[Path], folder: Path) -> list[list[object]]:
    """Return what a new browser shows of three pages.

    The one of wide chords is seen on a phone; the last and lightest is played too.
    """
    folder.mkdir()
    with browser(folder) as engine:
        long, wide, light = pages
        seen = [shown(engine, page) for page in (long, light)]
        heard = played(engine)
        return [*seen, heard, framed(engine, wide, folder / "frame.html")]


@pytest.fixture(scope="module")
def pages(make_page: Made, listened_row: Path) -> list[Path]:
    """The pages of a whole song and of what is shown of two others."""
    begins = []
    for name, sections in SONGS.items():
        text = (ROOT / "shared" / "charts" / f"{name}.txt").read_text(encoding="utf-8")
        shorter = re.sub("^form: .*", f"form: {sections}", text, flags=re.MULTILINE)
        begins.append(make_page(f"{name}-begins", shorter, in_one_key=True))
    return [listened_row, *begins]


@pytest.mark.parametrize("browser", [firefox, webkit])
def test_three_songs_load_and_show_and_one_plays(
    browser: Browser, pages: list[Path], tmp_path: Path
) -> None:
    try:
        found = told(browser, pages, tmp_path / "1")
    except (NoAnswer, TimeoutError):
        # A machine that is short of time may starve a browser: another one has to do it.
        found = told(browser, pages, tmp_path / "2")
    at_rest: list[object] = [[], "Play", ""]
    assert found == [*[at_rest] * 2, [[], "Pause", "", 0], [390, []]]
