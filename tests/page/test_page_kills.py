"""What was being written when its command was stopped opens in Debian's Chromium with its bars.

The stops are those of ``tests.kills``: as it is written and renamed, and at random moments.
"""

import hashlib
import os
import random
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page
from playwright.sync_api import Error as BrowserError

from tests.conftest import ROOT
from tests.kills import KINDS, OLD, killed
from tests.stop_points import FEW

BARS = 2
"""Of ``tests.kills.CHART``."""
WAIT_MS = 20_000
SHORT_WAIT_MS = 3_000
SHOWN = {
    ".html": "body[data-ready] #sheet [data-bar]",
    ".svg": "g.measure",
}
"""What there is for each bar in a page that is ready, and in a drawing."""


@pytest.fixture(scope="module")
def window(browser: Browser) -> Iterator[Page]:
    """A window without a network."""
    context = browser.new_context(offline=True)
    yield context.new_page()
    context.close()


def shown_bars(window: Page, path: Path, wait_ms: int = WAIT_MS) -> int:
    """Return how many bars a browser shows of a file: none of a torn one."""
    try:
        window.goto(path.as_uri())
        window.wait_for_selector(SHOWN[path.suffix], state="attached", timeout=wait_ms)
        if window.locator("parsererror").count():
            return 0
        # A page has the next line ready too, which may be the same one.
        count = "(all) => new Set(all.map((bar) => bar.dataset.bar ?? bar.id)).size"
        return int(window.locator(SHOWN[path.suffix]).evaluate_all(count))
    except BrowserError:
        return 0


@pytest.mark.parametrize("kind", ["html", "svg"])
def test_what_is_whole_after_a_stop_in_writing_opens_in_a_browser(
    kind: str, tmp_path: Path, window: Page
) -> None:
    subprocess.run(
        [sys.executable, "-m", "tests.stop_points", kind, *FEW],
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(ROOT), "PYTHONWARNINGS": "ignore"},
        capture_output=True,
        check=True,
    )
    old = hashlib.sha256(OLD).hexdigest()
    left = [path for path in (tmp_path / "seen").glob(f"*.{kind}") if path.stem != old]
    assert [shown_bars(window, path) for path in left] == [BARS]
    (whole,) = left
    torn = whole.with_name(f"torn.{kind}")
    torn.write_bytes(whole.read_bytes()[: whole.stat().st_size // 2])
    assert shown_bars(window, torn, SHORT_WAIT_MS) == 0


def test_pages_killed_at_random_moments_open_in_a_browser(tmp_path: Path, window: Page) -> None:
    """One as it is made, one when it may have been written: what is not the old one is whole."""
    rng = random.Random(11)
    left = 0
    for number in range(2):
        own = tmp_path / f"{number}"
        own.mkdir()
        how = rng.choice((signal.SIGINT, signal.SIGTERM, signal.SIGHUP, signal.SIGKILL))
        kill = killed(own, KINDS["html"], how, 0.8 + 2 * number)
        assert list(kill.faults()) == []
        is_old = kill.files["song.html"] == OLD
        left += is_old or shown_bars(window, own / "song.html") == BARS
    assert left == 2
