"""A browser without a network, pages made by the command, and the tools from npm."""

import json
import re
import subprocess
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import (
    Browser,
    ConsoleMessage,
    Page,
    Playwright,
    Request,
    sync_playwright,
)

from groove.cli.main import main
from groove.io import fluid_synth, samples
from groove.io.synth import audio_samples
from groove.page import moved
from tests.click_font import EVERY_PRESET, click_font
from tests.conftest import ROOT
from tests.kept import RunFolder
from tests.page.reused import Reused

CHROMIUM = "/usr/bin/chromium"
FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    # A microphone that beeps, for the one test that lets a page have it.
    "--use-fake-device-for-media-stream",
    # Two documents of the address bar's own are loaded in every window, and again with every page:
    # half of the browser's work.  What follows them is playwright's list, which this one replaces.
    "--disable-features=WebUIOmniboxPopup,WebUIOmniboxAimPopup,WebUIOmniboxFullPopup,AimEnabled,"
    "AvoidUnnecessaryBeforeUnloadCheckSync,DestroyProfileOnBrowserClose,HttpsUpgrades,LensOverlay,"
    "MediaRouter,NetworkTimeServiceQuerying,OptimizationHints,PaintHolding,PreconnectToSearch,"
    "ThirdPartyStoragePartitioning",
)
POLL_SEC = 0.05
CHARTS = ROOT / "shared" / "charts"
CHART = CHARTS / "lantern-row.txt"
LOW_RATE_HZ = 22_050
NPM_TOOLS = ("axe-core@4.10.3", "typescript@7.0.2")

FEW_MOVES = (-6, -1, 0, 3, 6)
"""Keys that differ in kind: the farthest, where notes leave the neck below and above; one on open
strings no more; its own; one between."""

ROW_BEGINS = "".join(
    "form: intro, verse\n" if line.startswith("form:") else line
    for line in CHART.read_text(encoding="utf-8").splitlines(keepends=True)
)


def each_section_once(name: str) -> str:
    """Return a shipped chart whose form has each of its sections once: all kinds of its lines."""
    text = (CHARTS / f"{name}.txt").read_text(encoding="utf-8")

    def once(form: re.Match[str]) -> str:
        sections = (re.sub(r" x\d+$", "", each.strip()) for each in form[1].split(","))
        return f"form: {', '.join(dict.fromkeys(sections))}"

    return re.sub(r"^form: (.*)$", once, text, flags=re.MULTILINE)


Made = Callable[..., Path]
Open = Callable[..., "Opened"]
SHORT = """title: Short
tempo: 120
verse:
| D | G | A7 | D |
chorus:
| G | A |
form: verse, chorus
"""
REPEATED = """title: Twice Around
tempo: 120
pickup: 2 eighths
verse:
|: D | G |1. A7 :|2. D |
chorus:
| G | A |
form: verse, chorus, verse, chorus
"""


@dataclass
class Opened:
    """A page that was opened from disk, and everything that it said or asked for."""

    page: Page
    console: list[str] = field(default_factory=list)
    requests: list[str] = field(default_factory=list)

    def hear(self, message: ConsoleMessage) -> None:
        """Note what the console says."""
        self.console.append(message.text)

    def hear_error(self, error: Exception) -> None:
        """Note what was thrown."""
        self.console.append(str(error))

    def hear_request(self, request: Request) -> None:
        """Note what was asked for."""
        self.requests.append(request.url)

    def run(self, script: str, argument: object = None) -> Any:
        """Return what a script of the page returns."""
        return self.page.evaluate(script, argument)

    def wait(self, condition: str, *, most_sec: float = 30) -> None:
        """Wait until a script's value is true; asked from outside, for the policy forbids eval."""
        for _ in range(int(most_sec / POLL_SEC)):
            if self.page.evaluate(condition):
                return
            self.page.wait_for_timeout(1000 * POLL_SEC)
        raise AssertionError(f"never came true: {condition}")

    def play(self) -> None:
        """Press play without a count-in."""
        self.tick("counts-in", on=False)
        self.page.click("#play")

    def tick(self, control: str, *, on: bool = True) -> None:
        """Tick a box, or take its tick away, whichever panel it lies in."""
        if self.page.is_checked(f"#{control}") != on:
            self.run("(id) => document.getElementById(id).click()", control)

    def choose(self, control: str, value: str) -> None:
        """Give a control a value, whichever panel it lies in, as if typed and left."""
        self.run(
            "([id, value]) => { const control = document.getElementById(id); control.value = value;"
            " for (const name of ['input', 'change']) control.dispatchEvent(new Event(name)); }",
            [control, value],
        )


def settle(page: Page, width: int = 0, height: int = 0) -> None:
    """Let what has changed be laid out, the window's size where one is given among it.

    A page looks at its boxes in the frame after they have another size, and they may change in it.
    """
    if width:
        page.set_viewport_size({"width": width, "height": height})
    page.evaluate(
        "async () => { for (let frame = 0; frame < 4; frame += 1)"
        " await new Promise(requestAnimationFrame); }"
    )


def page_command(folder: Path, command: list[str]) -> None:
    """Run ``groove page`` in this process, which has loaded what it needs already."""
    with pytest.MonkeyPatch.context() as patch:
        patch.delenv("GROOVE_SOUNDFONT", raising=False)
        patch.setenv("XDG_CONFIG_HOME", str(folder / "no-config"))
        patch.chdir(folder)
        patch.setattr(sys, "argv", ["groove", *command])
        with pytest.raises(SystemExit) as ended:
            main()
    assert ended.value.code == 0


def no_library() -> None:
    """Be as the loading of FluidSynth where there is none."""
    raise ImportError


@pytest.fixture(scope="session")
def make_page(run_folder: RunFolder) -> Made:
    """Return a function that makes the page of a chart's text, each once a run.

    Most tests look at a page and do not listen: the sounds are clicks, but where ``listens`` asks
    for the default font.  Two thirds of the work on a song are its hands in twelve other keys: with
    ``in_one_key`` the page is that of a very long song, which has none, and its clicks are of a
    low rate; with ``moves`` it has the keys that are so many semitones away.
    """

    def make(
        name: str,
        text: str,
        *,
        listens: bool = False,
        without_library: bool = False,
        in_one_key: bool = False,
        moves: Sequence[int] = moved.MOVES,
    ) -> Path:
        with run_folder("pages") as folder:
            target = folder / f"{name}{'-in-one-key' if in_one_key else ''}.html"
            if not target.exists():
                (folder / f"{name}.txt").write_text(text, encoding="utf-8")
                (folder / "click.sf2").write_bytes(click_font(EVERY_PRESET))
                command = ["page", f"{name}.txt", "-o", target.name]
                command += [] if listens else ["--soundfont", "click.sf2"]
                with pytest.MonkeyPatch.context() as patch:
                    patch.setattr(moved, "MOVES", moves)
                    if in_one_key:
                        patch.setattr(moved, "MOST_BARS_IN_EVERY_KEY", 0)
                        if not listens and not without_library:
                            lower = partial(audio_samples, sample_rate=LOW_RATE_HZ)
                            patch.setattr(samples, "audio_samples", lower)
                    if without_library:
                        patch.setattr(fluid_synth, "_library", no_library)
                    page_command(folder, command)
        return target

    return make


@pytest.fixture(scope="session")
def lantern_row(make_page: Made) -> Path:
    """The page of a shipped song of nearly five minutes; every sound begins with a step."""
    return make_page("lantern-row", CHART.read_text(encoding="utf-8"), moves=FEW_MOVES)


@pytest.fixture(scope="session")
def listened_row(make_page: Made) -> Path:
    """The song's page with the sounds of the default font, in one key."""
    text = CHART.read_text(encoding="utf-8")
    return make_page("lantern-row-listened", text, listens=True, in_one_key=True)


@pytest.fixture(scope="session")
def row_begins(make_page: Made) -> Path:
    """The page of the song's first eight bars, with sounds that were made without the library."""
    return make_page("row-begins", ROW_BEGINS, without_library=True, in_one_key=True)


@pytest.fixture(scope="session")
def playwright() -> Iterator[Playwright]:
    """What launches browsers: a process has only one of them."""
    with sync_playwright() as started:
        yield started


@pytest.fixture(scope="session")
def browser(playwright: Playwright) -> Iterator[Browser]:
    """Debian's Chromium."""
    chromium = playwright.chromium.launch(executable_path=CHROMIUM, args=list(FLAGS))
    yield chromium
    chromium.close()


LEAVE = """
() => {
  Storage.prototype.setItem = () => {};
  localStorage.clear();
  sessionStorage.clear();
  globalThis.practicePage?.page.mixer?.context.close().catch(() => {});
  for (let timer = setTimeout(() => {}); timer; timer -= 1) clearTimeout(timer);
}
"""
"""Nothing is kept of a page, nothing sounds and nothing is done by it until the next one comes."""
NO_PAGE = "// a window without a page"
_LEFT: dict[tuple[Browser, str], list[Page]] = {}
"""Windows that were left, by browser and by what is run before a page's own script.

A new one takes a second and more of a machine's time, a page in one that is there a third of it.
"""


def _window(browser: Browser, before: str) -> Page:
    """Return a window without a network, one that was left if there is."""
    left = _LEFT.setdefault((browser, before), [])
    if left:
        return left.pop()
    page = browser.new_context(offline=True).new_page()
    if before:
        page.add_init_script(before)
    return page


def _leave(browser: Browser, before: str, page: Page) -> None:
    """Leave a window to the next test: nothing is kept of its page, and nothing done by it."""
    for other in page.context.pages:
        if other is not page:
            other.close()
    page.evaluate(LEAVE)
    page.emulate_media(media="null", color_scheme="null")
    _LEFT[browser, before].append(page)


@pytest.fixture
def window(browser: Browser) -> Iterator[Page]:
    """An empty window, for drawings that are no page.

    Not one that has had a page of ours: its policy holds for what is drawn after it as well.
    """
    page = _window(browser, NO_PAGE)
    yield page
    page.goto("about:blank")
    _LEFT[browser, NO_PAGE].append(page)


@contextmanager
def opening(browser: Browser) -> Iterator[Open]:
    """Give a function that opens a file with the network cut."""
    used: list[tuple[str, Page, Opened]] = []

    def open_file(
        path: Path, *, width: int = 1280, before: str = "", unpacked: bool = True
    ) -> Opened:
        page = _window(browser, before)
        opened = Opened(page)
        used.append((before, page, opened))
        page.set_viewport_size({"width": width, "height": 900})
        page.on("console", opened.hear)
        page.on("pageerror", opened.hear_error)
        page.on("request", opened.hear_request)
        page.goto(path.as_uri())
        page.wait_for_selector("body[data-ready]")
        if unpacked:
            page.evaluate("practicePage.page.sounds.then(() => null)")
        return opened

    yield open_file
    for before, page, opened in used:
        page.remove_listener("console", opened.hear)
        page.remove_listener("pageerror", opened.hear_error)
        page.remove_listener("request", opened.hear_request)
        _leave(browser, before, page)


@pytest.fixture
def open_page(browser: Browser) -> Iterator[Open]:
    """Return a function that opens a file with the network cut."""
    with opening(browser) as open_file:
        yield open_file


@pytest.fixture(scope="session")
def reused(browser: Browser) -> Iterator[Reused]:
    """Pages that are opened once, with a driven clock."""
    with opening(browser) as open_file:
        yield Reused(open_file)


@pytest.fixture
def short(reused: Reused, make_page: Made) -> Iterator[Opened]:
    """The short song's page as it was opened; what a test does to it is taken back."""
    with reused.page(make_page("short", SHORT)) as opened:
        yield opened


@pytest.fixture
def repeated(reused: Reused, make_page: Made) -> Iterator[Opened]:
    """The page of a song with a pickup and a repeat as it was opened, taken back as well."""
    with reused.page(make_page("repeated", REPEATED)) as opened:
        yield opened


@pytest.fixture
def row(reused: Reused, lantern_row: Path) -> Iterator[Opened]:
    """The shipped song's page as it was opened, taken back as well."""
    with reused.page(lantern_row) as opened:
        yield opened


@pytest.fixture(scope="session")
def npm_tools(run_folder: RunFolder) -> Path:
    """The folder of packages from npm, installed once a run."""
    with run_folder("npm") as folder:
        if not (folder / "node_modules").exists():
            (folder / "package.json").write_text(json.dumps({"private": True}), encoding="utf-8")
            command = ["npm", "install", "--no-audit", "--no-fund", "--ignore-scripts", *NPM_TOOLS]
            subprocess.run(command, cwd=folder, check=True, capture_output=True)
    return folder / "node_modules"
