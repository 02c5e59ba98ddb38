"""Three songs in two more engines: they load, play and show, and nothing is cut or laid over.

The page is opened from disk in a frame of its own size: a window of MiniBrowser is never as narrow
as a phone.
"""

from collections.abc import Callable
from contextlib import AbstractContextManager
from pathlib import Path

import pytest

from tests.conftest import ROOT
from tests.page.conftest import Made
from tests.page.engines import Engine, firefox, run, wait, webkit
from tests.page.test_page_sizes import BOXES, PLAYED, SEEN

SONGS = ("lantern-row", "glass-stairs", "two-clocks")
"""One of every width of chord, a dense one, and one whose meter changes."""
FRAME = """<!DOCTYPE html><title>frame</title><style>body {{ margin: 0 }}</style>
<iframe src="{address}" width="390" height="664" style="border: 0"
></iframe>
"""


def seen_faults(engine: Engine) -> list[str]:
    """Return what is wrong with the boxes of an open page."""
    run(engine, SEEN.partition("(() =>")[2].join(("(() =>", "")).rstrip().rstrip(";"))
    view = run(engine, "document.body.dataset.view")
    return list(run(engine, f"faults({[*BOXES, *PLAYED[view], '#controls']})"))


def shown_and_played(engine: Engine, page: Path) -> list[object]:
    """Open a page as wide as the window, play it, and return what it says."""
    engine.command("open", url=page.as_uri())
    wait(engine, "document.body.dataset.ready")
    run(engine, "document.getElementById('counts-in').click()")
    engine.command("click", selector="#play")
    wait(engine, "practicePage.page.position > 0.5")
    found = seen_faults(engine)
    told = run(
        engine,
        "[practicePage.page.player.dropped,"
        " document.getElementById('play').textContent,"
        " document.getElementById('trouble').textContent]",
    )
    engine.command("click", selector="#play")
    wait(engine, "document.getElementById('play').textContent === 'Play'")
    return [found, *told]


@pytest.mark.parametrize("browser", [firefox, webkit])
def test_three_songs_load_play_and_show(
    browser: Callable[[Path], AbstractContextManager[Engine]], make_page: Made, tmp_path: Path
) -> None:
    charts = [ROOT / "shared" / "charts" / f"{name}.txt" for name in SONGS]
    pages = [make_page(chart.stem, chart.read_text(encoding="utf-8")) for chart in charts]
    with browser(tmp_path) as engine:
        found = [shown_and_played(engine, page) for page in pages]
        frame = tmp_path / "frame.html"
        frame.write_text(FRAME.format(address=pages[0].as_uri()), encoding="utf-8")
        engine.command("open", url=frame.as_uri())
        engine.command("enter", selector="iframe")
        wait(engine, "document.body.dataset.ready")
        assert run(engine, "innerWidth") == 390
        assert seen_faults(engine) == []
    assert found == [[[], 0, "Pause", ""]] * 3
