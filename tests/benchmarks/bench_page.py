"""What the practice page costs, beside its limits: a song of nearly five minutes.

Run: ``python -m tests.benchmarks.bench_page [--smoke]``.  It needs Debian's Chromium.  The page is
built by the command in a fresh process, opened from disk with the network cut, once as the machine
is and once with the processor slowed four times (by the browser's own protocol), and played.

Figures are the best of some rounds, taken ahead of all else that runs where that is allowed: other
work only makes them worse.
*Ready* is from the start of navigation until play can be pressed, *sounds* until a press is heard
at once, for they are unpacked meanwhile; *turn* is the longest that the
page keeps its thread busy at a stretch while it plays, in that thread's own processor time as the
browser traces it, so that other work on the machine does not count (the look-ahead is half a
second); *playing* and *listening* (to the browser's fake microphone, with live marks) are the
processor time of the page's process, its sound included, as a part of a core.  ``--smoke`` takes
one round of half a second on four bars, to show that the script runs.
"""

import argparse
import json
import os
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from subprocess import run

from playwright.sync_api import Browser, Page, sync_playwright

from tests.page.conftest import CHROMIUM, FLAGS

ROOT = Path(__file__).parents[2]
CHART = ROOT / "shared" / "charts" / "lantern-row.txt"
SMOKE_CHART = "title: Smoke\ntempo: 120\nverse:\n| D | G | A7 | D |\n"
SLOWED = 4
PRIORITY = 10
LIMITS = {
    "size": (2.5, "MB"),
    "built": (4.0, "s"),
    "ready": (0.7, "s"),
    "sounds": (1.0, "s"),
    f"ready, slowed {SLOWED}": (2.0, "s"),
    f"sounds, slowed {SLOWED}": (2.0, "s"),
    f"turn, slowed {SLOWED}": (60.0, "ms"),
    "playing": (15.0, "% of a core"),
    "listening": (15.0, "% of a core"),
}
MICROPHONE = ("--use-fake-device-for-media-stream", "--use-fake-ui-for-media-stream")
NOTE_READY = """
new MutationObserver(() => {
  if (!document.body?.dataset.ready || window.readyMs) return;
  window.readyMs = performance.now();
  practicePage.page.sounds.then(() => (window.soundsMs = performance.now()));
}).observe(document, { attributes: true, childList: true, subtree: true });
"""
PAGE_THREAD = "CrRendererMain"
BEGUN_MS = 1000
"""After so long pressing play is done, and what is left is playing."""


def built_sec(chart: Path, target: Path) -> float:
    """Wall seconds of the command that makes the page."""
    command = [sys.executable, "-m", "groove", "page", str(chart), "-o", str(target)]
    start = time.perf_counter()
    run(command, cwd=ROOT, check=True, capture_output=True)
    return time.perf_counter() - start


def opened(browser: Browser, path: Path, slowed: int) -> Page:
    """Return the page, opened without a network on a processor slowed some times."""
    context = browser.new_context(offline=True, viewport={"width": 1280, "height": 800})
    page = context.new_page()
    page.add_init_script(NOTE_READY)
    devtools = context.new_cdp_session(page)
    devtools.send("Emulation.setCPUThrottlingRate", {"rate": slowed})
    page.goto(path.as_uri())
    page.wait_for_selector("body[data-ready]")
    page.evaluate("practicePage.page.sounds.then(() => null)")
    return page


def ready_sec(browser: Browser, path: Path, slowed: int) -> tuple[float, float]:
    """Seconds from the start of navigation until play can be pressed, and until it is heard."""
    page = opened(browser, path, slowed)
    ready_ms, sounds_ms = page.evaluate("[window.readyMs, window.soundsMs]")
    page.context.close()
    return ready_ms / 1000, sounds_ms / 1000


def turn_ms(browser: Browser, path: Path, play_sec: float) -> float:
    """Return the longest turn of the page's thread during play, slowed, in processor time."""
    page = opened(browser, path, SLOWED)
    page.evaluate("document.getElementById('counts-in').click()")  # in a panel that is closed
    page.click("#play")
    page.wait_for_timeout(BEGUN_MS)
    browser.start_tracing(page=page, categories=["toplevel"])
    page.wait_for_timeout(1000 * play_sec)
    events = json.loads(browser.stop_tracing())["traceEvents"]
    assert page.evaluate("practicePage.page.player.isPlaying")
    page.context.close()
    named = (event for event in events if event["name"] == "thread_name")
    threads = {(e["pid"], e["tid"]) for e in named if e["args"]["name"] == PAGE_THREAD}
    turns = [e.get("tdur", 0) for e in events if (e["pid"], e["tid"]) in threads]
    assert len(turns) > 10 * play_sec, "the page has no turns in the trace"
    return float(max(turns)) / 1000


def page_sec(browser: Browser) -> float:
    """Return the processor time that the processes of pages have taken so far, in seconds."""
    session = browser.new_browser_cdp_session()
    processes = session.send("SystemInfo.getProcessInfo")["processInfo"]
    session.detach()
    return sum(float(each["cpuTime"]) for each in processes if each["type"] == "renderer")


def busy_percent(browser: Browser, path: Path, play_sec: float, *, listens: bool) -> float:
    """Return how much of a core the page takes while it plays, and listens if it is to."""
    page = opened(browser, path, 1)
    page.evaluate("document.getElementById('counts-in').click()")
    if listens:
        for box in ("ear-on", "ear-live"):
            page.evaluate(f"document.getElementById('{box}').click()")
        while not page.evaluate("practicePage.ear.microphone !== null"):
            page.wait_for_timeout(20)
    page.click("#play")
    page.wait_for_timeout(BEGUN_MS)
    begun, before = time.perf_counter(), page_sec(browser)
    page.wait_for_timeout(1000 * play_sec)
    share = (page_sec(browser) - before) / (time.perf_counter() - begun)
    assert page.evaluate("practicePage.page.player.isPlaying")
    page.context.close()
    return 100 * share


def go_first() -> None:
    """Let this process and its children run before others, where the system allows it."""
    if hasattr(os, "sched_setscheduler"):
        with suppress(PermissionError):
            os.sched_setscheduler(0, os.SCHED_RR, os.sched_param(PRIORITY))


def measured(chart: Path, rounds: int, play_sec: float, folder: Path) -> dict[str, float]:
    """Return the best figure of each kind."""
    path = folder / "song.html"
    best = {"built": min(built_sec(chart, path) for _ in range(rounds))}
    best["size"] = path.stat().st_size / 1e6
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=[*FLAGS, *MICROPHONE])

        def least(work: Callable[[], float]) -> float:
            return min(work() for _ in range(rounds))

        for slowed, name in ((1, ""), (SLOWED, f", slowed {SLOWED}")):
            opened_sec = [ready_sec(browser, path, slowed) for _ in range(rounds)]
            best[f"ready{name}"] = min(ready for ready, _ in opened_sec)
            best[f"sounds{name}"] = min(sounds for _, sounds in opened_sec)
        best[f"turn, slowed {SLOWED}"] = least(lambda: turn_ms(browser, path, play_sec))
        for name, listens in (("playing", False), ("listening", True)):
            best[name] = min(
                busy_percent(browser, path, play_sec, listens=listens) for _ in range(rounds)
            )
        browser.close()
    return best


def table(best: dict[str, float]) -> str:
    """Return the figures beside their limits, one a line."""
    return "\n".join(
        f"{name:<16}{best[name]:8.2f} {unit:<3} limit {limit}"
        for name, (limit, unit) in LIMITS.items()
    )


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--smoke", action="store_true", help="one round on four bars")
    smoke = parser.parse_args().smoke
    go_first()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        if smoke:
            chart = folder / "smoke.txt"
            chart.write_text(SMOKE_CHART, encoding="utf-8")
            best = measured(chart, 1, 0.5, folder)
        else:
            best = measured(CHART, 5, 30, folder)
    print(table(best))


if __name__ == "__main__":
    main()
