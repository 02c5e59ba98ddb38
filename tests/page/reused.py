"""A page that is opened once and put back to its beginning after each test that uses it.

Its clock is driven (``driven``); ``real_sound`` gives it the device's, for the test that asks.
A page that is not wholly as it was opened is opened anew, so nothing is left of a test before.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from playwright.sync_api import Error, ViewportSize

from tests.conftest import ROOT

if TYPE_CHECKING:
    from tests.page.conftest import Open, Opened

SCRIPTS = "".join(
    (ROOT / "tests" / "page" / name).read_text(encoding="utf-8")
    for name in ("driven.js", "reused.js")
)
LEAVE = "Storage.prototype.setItem = () => {}, localStorage.clear(), sessionStorage.clear()"
SIZE: ViewportSize = {"width": 1280, "height": 900}


@dataclass
class Reused:
    """Pages that stay open for the tests of a process, each resting between two of them."""

    open_file: "Open"
    pages: dict[Path, "Opened"] = field(default_factory=dict)
    begun: dict[Path, object] = field(default_factory=dict)
    """What each of them was when it had been opened."""
    left: list[str] = field(default_factory=list)
    """What was not as it had been opened when a page was last put back, and so opened anew."""

    @contextmanager
    def page(self, path: Path) -> Iterator["Opened"]:
        """Give a page as it was opened, and put it back afterwards."""
        if path not in self.pages:
            self.pages[path] = self.open_file(path, before=SCRIPTS)
            self.begun[path] = self.pages[path].run("reused.begin()")
        else:
            self.pages[path].run("reused.wake()")
        opened = self.pages[path]
        opened.console.clear()
        opened.requests.clear()
        try:
            yield opened
        finally:
            self.put_back(path)

    def put_back(self, path: Path) -> None:
        """Put a page back as it was opened; where that is not wholly done, open it anew."""
        opened = self.pages[path]
        opened.page.set_viewport_size(SIZE)
        opened.page.emulate_media(media="null", color_scheme="null")
        try:
            self.left = opened.run("(begun) => reused.back(begun)", self.begun[path])
        except Error as error:
            self.left = [str(error)]
        if self.left:
            opened.run(LEAVE)
            opened.page.goto(path.as_uri())
            opened.page.wait_for_selector("body[data-ready]")
            opened.run("practicePage.page.sounds.then(() => null)")
            self.begun[path] = opened.run("reused.begin()")
        opened.run("reused.rest()")


def real_sound(opened: "Opened") -> None:
    """Let a page that has not played yet play on the device's own clock."""
    opened.run("void (window.AudioContext = Object.getPrototypeOf(AudioContext))")
