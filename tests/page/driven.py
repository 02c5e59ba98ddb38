"""Pages whose clock a test drives, and whose microphone hears samples that the test gives."""

import base64
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy
from numpy.typing import NDArray
from playwright.sync_api import Browser

from tests.conftest import ROOT
from tests.page.conftest import Opened, opening

DRIVEN = (ROOT / "tests" / "page" / "driven.js").read_text(encoding="utf-8")

START = """
async (counts) => {
  document.getElementById("counts-in").checked = counts;
  await practicePage.page.play();
  return practicePage.page.player.spans.find((span) => !span.counts).time;
}
"""
ANEW = """
async () => {
  const { page, ear } = practicePage;
  const valueOf = (control) => (control.type === "checkbox" ? "checked" : "value");
  const controls = [...document.querySelectorAll("input[id], select[id]")];
  driven.values ??= new Map(controls.map((control) => [control.id, control[valueOf(control)]]));
  page.stop();
  for (const control of controls) {
    const name = valueOf(control);
    if (control[name] === driven.values.get(control.id)) continue;
    control[name] = driven.values.get(control.id);
    for (const event of ["input", "change"]) control.dispatchEvent(new Event(event));
  }
  await ear.turn(false);
  Object.assign(ear, { count: null, countedIn: false, sticks: null, near: null, work: null });
  ear.forgetMarks();
  ear.panel.said.replaceChildren();
  page.setLoop(null, "once");
  page.setShare(1);
  page.goTo(0);
  for (const each of Object.values(page.log.bars)) delete each.clean;
  Object.assign(driven, { samples: new Float32Array(0), lost: [] });
}
"""


@contextmanager
def driven_page(browser: Browser, path: Path, *, width: int = 390) -> Iterator[Opened]:
    """Open a page of which nothing plays but as ``run_to`` lets its clock run."""
    with opening(browser) as open_file:
        yield open_file(path, width=width, before=DRIVEN)


def listen(opened: Opened) -> None:
    """Have the page listen, as a player does."""
    opened.page.click("#ear-opens")
    opened.page.check("#ear-on")
    opened.page.click("#ear-opens")
    opened.wait("practicePage.ear.microphone !== null")


def begin_anew(opened: Opened) -> None:
    """Have a page that has listened forget it, and be as it was opened."""
    opened.run(ANEW)


def start(opened: Opened, *, counts_in: bool = False) -> float:
    """Press play; return when the song begins, in seconds of the page's clock."""
    begins: float = opened.run(START, counts_in)
    return begins


def hears(opened: Opened, samples: NDArray[numpy.float32], at_sec: float) -> None:
    """Give the microphone what it hears, and when on the page's clock that begins."""
    whole = (32767 * numpy.clip(samples, -1, 1)).astype("<i2")
    opened.run(
        "([sound, at]) => driven.hears(sound, at)",
        [base64.b64encode(whole.tobytes()).decode("ascii"), at_sec],
    )


def run_to(opened: Opened, until_sec: float) -> None:
    """Let the page's clock run to a time."""
    opened.run("(until) => driven.to(until)", until_sec)


def kinds(opened: Opened) -> dict[int, str]:
    """Return what kind of mark each note has."""
    return dict(opened.run("() => [...practicePage.ear.marks].map(([n, m]) => [n, m.kind])"))
