"""The page listens: Chromium's fake microphone plays a bass whose slips are known."""

from collections.abc import Iterator
from pathlib import Path
from random import Random

import pytest
import soundfile
from playwright.sync_api import Playwright

from groove.cells.model import Library
from groove.chart.parse import parse_chart
from groove.events import Part, Touch
from groove.pipeline import perform_song
from tests.page.conftest import CHROMIUM, FLAGS, Made, Opened, opening
from tests.take.bass_sounds import SAMPLE_RATE_HZ, StringSound
from tests.take.made_takes import PlayedNote, recorded

CHART = """title: Heard
tempo: 120
feel: straight eighths
verse:
| D | G | D |
"""
LEAD_SEC = 3.0
DELAY_SEC = 0.12
UNHEARD, OTHER, LATE = 3, 6, 9
LATE_SEC = 0.07
# A machine that is short of time starves the fake microphone now and then.
AT_LEAST_TOLD = 12

PLAY_WITH_THE_FILE = """
async ([lead, delay]) => {
  const { page, ear } = practicePage;
  const sleep = (ms) => new Promise((done) => setTimeout(done, ms));
  while (!ear.microphone || !Number.isFinite(ear.microphone.clock.offset)) await sleep(10);
  while (page.now < ear.microphone.clock.offset + lead - 0.06 - delay) await sleep(2);
  await page.play();
}
"""


@pytest.fixture(scope="module")
def played(library: Library, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The chart's bass as a player plays it: one note left out, one wrong, one late."""
    performance = perform_song(parse_chart(CHART), library)
    sec = performance.tempo_map.tick_to_sec
    notes = sorted(performance.part_notes(Part.BASS), key=lambda note: note.onset_tick)
    assert len(notes) >= 15 and not any(note.touch is Touch.GHOST for note in notes)
    rng = Random("heard")
    line = [
        PlayedNote(
            onset_sec=sec(note.onset_tick) + rng.gauss(0, 0.004) + LATE_SEC * (number == LATE),
            length_sec=sec(note.end_tick) - sec(note.onset_tick),
            pitch=note.pitch + (number == OTHER),
            velocity=note.velocity,
            wanted=number,
        )
        for number, note in enumerate(notes)
        if number != UNHEARD
    ]
    samples, _ = recorded(line, StringSound(), tempo_bpm=120, start_sec=LEAD_SEC)
    path = tmp_path_factory.mktemp("microphone") / "bass.wav"
    soundfile.write(path, samples, SAMPLE_RATE_HZ, subtype="PCM_16")
    return path


@pytest.fixture(scope="module")
def listening(playwright: Playwright, played: Path, make_page: Made) -> Iterator[Opened]:
    """The page after a pass that it has listened to."""
    flags = (
        *FLAGS,
        "--use-fake-device-for-media-stream",
        "--use-fake-ui-for-media-stream",
        f"--use-file-for-fake-audio-capture={played}%noloop",
        "--autoplay-policy=no-user-gesture-required",
    )
    browser = playwright.chromium.launch(executable_path=CHROMIUM, args=list(flags))
    with opening(browser) as open_file:
        opened = open_file(make_page("heard", CHART), width=390)
        opened.run("() => { document.getElementById('counts-in').checked = false; }")
        opened.page.click("#ear-opens")
        opened.page.check("#ear-on")
        opened.page.click("#ear-opens")
        opened.run(PLAY_WITH_THE_FILE, [LEAD_SEC, DELAY_SEC])
        opened.wait("practicePage.ear.found !== null")
        yield opened
    browser.close()


def test_a_pass_is_judged_note_by_note(listening: Opened) -> None:
    marks = dict(listening.run("() => [...practicePage.ear.marks].map(([n, m]) => [n, m.kind])"))
    assert len(marks) >= AT_LEAST_TOLD
    assert marks.get(UNHEARD) == "not heard"
    assert marks.get(OTHER, "other") == "other"
    assert marks.get(LATE, "late") == "late"
    named = [number for number, kind in marks.items() if kind != "on"]
    assert len(named) <= 5


def test_the_marks_stand_under_the_tab(listening: Opened) -> None:
    listening.run("() => practicePage.page.goTo(0)")
    listening.wait("document.querySelectorAll('[data-mark]').length >= 7")
    assert listening.run(
        """() => [...document.querySelectorAll('[data-mark]')].every((mark) => {
          const figure = mark.closest('figure');
          const text = figure.querySelector('.notes > svg').getBoundingClientRect();
          const box = mark.getBoundingClientRect();
          const end = figure.getBoundingClientRect().bottom;
          return box.top > text.top + text.height / 2 && box.bottom < end;
        })"""
    )


def test_the_panel_says_what_held_first_and_what_it_rests_on(listening: Opened) -> None:
    text = listening.page.text_content("#ear-panel") or ""
    assert "never leaves it" in text
    assert "against your own average" in text
    assert text.index("What held") < text.index("What was heard")
    assert "not heard: bar 1" in text
    assert (listening.page.text_content("#message") or "").strip()


def test_nothing_is_asked_for_while_it_listens(listening: Opened) -> None:
    """The page itself is all that is ever loaded, and nothing is refused or thrown."""
    assert [url for url in listening.requests if not url.startswith("file:")] == []
    assert len(listening.requests) == 1
    assert [said for said in listening.console if "ScriptProcessor" not in said] == []


def test_a_bar_is_worked_on_slowly_with_the_one_before(listening: Opened) -> None:
    listening.page.click("#ear-opens")
    listening.page.click("[data-work='1']")
    assert listening.run("() => practicePage.page.loop") == [0, 1]
    assert listening.run("() => practicePage.page.share") == pytest.approx(0.6)
    listening.page.click("#ear-opens")
    listening.page.uncheck("#ear-on")
    assert listening.run("() => practicePage.ear.microphone") is None
