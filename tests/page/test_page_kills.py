"""What was being written when its command was stopped opens in Debian's Chromium with its bars.

The stops are those of ``tests.kills``: at every point of writing, and at random moments.
"""

import hashlib
import os
import random
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from playwright.sync_api import Browser
from playwright.sync_api import Error as BrowserError

from tests.conftest import ROOT
from tests.kills import KINDS, OLD, killed

BARS = 2
"""Of ``tests.kills.CHART``."""
WAIT_MS = 20_000
SHORT_WAIT_MS = 3_000
SHOWN = {
    ".html": "body[data-ready] #sheet [data-bar]",
    ".svg": "g.measure",
}
"""What there is for each bar in a page that is ready, and in a drawing."""


def shown_bars(browser: Browser, path: Path, wait_ms: int = WAIT_MS) -> int:
    """Return how many bars a browser without a network shows of a file: none of a torn one."""
    context = browser.new_context(offline=True)
    page = context.new_page()
    try:
        page.goto(path.as_uri())
        page.wait_for_selector(SHOWN[path.suffix], state="attached", timeout=wait_ms)
        if page.locator("parsererror").count():
            return 0
        # A page has the next line ready too, which may be the same one.
        count = "(all) => new Set(all.map((bar) => bar.dataset.bar ?? bar.id)).size"
        return int(page.locator(SHOWN[path.suffix]).evaluate_all(count))
    except BrowserError:
        return 0
    finally:
        context.close()


@pytest.mark.parametrize("kind", ["html", "svg"])
def test_what_is_whole_after_a_stop_at_any_point_opens_in_a_browser(
    kind: str, tmp_path: Path, browser: Browser
) -> None:
    subprocess.run(
        [sys.executable, "-m", "tests.stop_points", kind],
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(ROOT), "PYTHONWARNINGS": "ignore"},
        capture_output=True,
        check=True,
    )
    old = hashlib.sha256(OLD).hexdigest()
    left = [path for path in (tmp_path / "seen").glob(f"*.{kind}") if path.stem != old]
    assert [shown_bars(browser, path) for path in left] == [BARS]
    (whole,) = left
    torn = whole.with_name(f"torn.{kind}")
    torn.write_bytes(whole.read_bytes()[: whole.stat().st_size // 2])
    assert shown_bars(browser, torn, SHORT_WAIT_MS) == 0


def test_pages_killed_at_random_moments_open_in_a_browser(tmp_path: Path, browser: Browser) -> None:
    """Late ones, so that some have written."""
    rng = random.Random(11)
    whole = 0
    for number in range(5):
        own = tmp_path / f"{number}"
        own.mkdir()
        how = rng.choice((signal.SIGINT, signal.SIGTERM, signal.SIGHUP, signal.SIGKILL))
        kill = killed(own, KINDS["html"], how, 0.5 + 0.8 * number)
        assert list(kill.faults()) == []
        if kill.files["song.html"] != OLD:
            assert shown_bars(browser, own / "song.html") == BARS
            whole += 1
    assert whole >= 1
