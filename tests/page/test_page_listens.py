"""The page listens to a bass whose slips are known; Chromium's fake microphone opens and closes."""

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser

from groove.cells.model import Library
from tests.page.conftest import Made, Open, Opened
from tests.page.driven import begin_anew, driven_page, hears, kinds, listen, run_to, start
from tests.page.played_bass import (
    CHART,
    DELAY_SEC,
    LATE,
    LEAD_SEC,
    OTHER,
    PASS_SEC,
    UNHEARD,
    Samples,
    slipping_line,
    sound_of,
)

BLOCK_SEC = 2048 / 44_100


@pytest.fixture(scope="module")
def played(library: Library) -> Samples:
    """The chart's bass as a player plays it: one note left out, one wrong, one late."""
    return sound_of(slipping_line(library))


def play_a_pass(opened: Opened, played: Samples) -> float:
    """Play the song and the bass to it; return when the song began, on the page's clock."""
    begins = start(opened)
    hears(opened, played, begins + DELAY_SEC - LEAD_SEC)
    run_to(opened, begins + PASS_SEC + 1.5)
    return begins


@pytest.fixture(scope="module")
def listening(browser: Browser, played: Samples, make_page: Made) -> Iterator[Opened]:
    """The page after a pass that it has listened to."""
    with driven_page(browser, make_page("heard", CHART)) as opened:
        listen(opened)
        play_a_pass(opened, played)
        yield opened


def test_a_pass_is_judged_note_by_note(listening: Opened) -> None:
    marks = kinds(listening)
    assert len(marks) >= 15
    named = {number: kind for number, kind in marks.items() if kind != "on"}
    assert named == {UNHEARD: "not heard", OTHER: "other", LATE: "late"}
    assert listening.run("practicePage.ear.found.delaySec") == pytest.approx(DELAY_SEC, abs=0.005)


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


MARKS = """
() => {
  const middle = (element) => {
    const { left, width } = element.getBoundingClientRect();
    return left + width / 2 + 10000 * [...document.querySelectorAll("figure")].indexOf(
      element.closest("figure"));
  };
  const marks = [...document.querySelectorAll("[data-mark]")].map((mark) => {
    const { x, width } = mark.getBBox();
    const apex = mark.tagName === "path" ? mark.getPointAtLength(0).x - x - width / 2 : 0;
    return [mark.dataset.mark, middle(mark), Math.sign(apex), mark.textContent];
  });
  const signs = [...document.querySelectorAll("#sheet [data-note]")];
  return [marks, signs.map((sign) => [Number(sign.dataset.note), middle(sign)])];
}
"""
"""Marks (kind, place, where an arrow points, words) and notes with their places, line by line."""


def test_each_mark_stands_at_its_note_and_says_by_its_shape_what_it_is(listening: Opened) -> None:
    """An arrow to the right is late; another pitch has the name of what was heard."""
    listening.run("() => practicePage.page.goTo(0)")
    listening.wait("document.querySelectorAll('[data-mark]').length >= 7")
    found, placed = listening.run(MARKS)
    signs = dict(placed)
    due = kinds(listening)
    shown = [(note, kind) for note, kind in sorted(due.items()) if note in signs]
    assert [kind for kind, *_ in sorted(found, key=lambda mark: mark[0])] == sorted(
        kind for _, kind in shown
    )
    assert {"late", "other", "not heard"} <= {kind for kind, *_ in found}
    for kind, x, side, text in found:
        near = min(signs, key=lambda note: abs(signs[note] - x))
        assert due[near] == kind and abs(signs[near] - x) < 6
        assert side == (1 if kind == "late" else 0)
        # One semitone over the D that is written.
        assert text in (("D♯", "E♭", "D#", "Eb") if kind == "other" else ("",))


def test_the_delay_of_a_pass_is_where_the_next_one_is_looked_for(listening: Opened) -> None:
    assert listening.run("practicePage.ear.near === practicePage.ear.found.delaySec")


def test_one_panel_is_open_at_a_time_and_escape_closes_it(listening: Opened) -> None:
    page = listening.page
    page.click("#loop-opens")
    page.click("#ear-opens")
    assert page.is_visible("#ear-panel") and not page.is_visible("#loop-panel")
    page.click("#loop-opens")
    assert page.is_visible("#loop-panel") and not page.is_visible("#ear-panel")
    page.click("#ear-opens")
    page.focus("#ear-what")
    page.keyboard.press("Escape")
    assert not page.is_visible("#ear-panel")
    assert page.evaluate("document.activeElement.id") == "ear-opens"


def test_the_panel_says_what_held_first_and_what_it_rests_on(listening: Opened) -> None:
    text = listening.page.text_content("#ear-panel") or ""
    assert text.index("What held") < text.index("What was heard")
    assert "Measured against your own average" in text
    # One note is late, but nobody knows by how much the player is behind the beat.
    assert "Behind the beat may be style" not in text
    assert "The sound stays on this page" in text
    assert "not heard: bar 1" in text
    assert (listening.page.text_content("#message") or "").strip()


def test_a_bar_is_worked_on_slowly_with_the_one_before(listening: Opened) -> None:
    listening.page.click("#ear-opens")
    listening.page.click("[data-work='1']")
    assert listening.run("() => practicePage.page.loop") == [0, 1]
    assert listening.run("() => practicePage.page.share") == pytest.approx(0.6)
    listening.page.click("#ear-opens")
    listening.page.uncheck("#ear-on")
    assert listening.run("() => practicePage.ear.microphone") is None


def test_nothing_is_judged_where_blocks_were_lost(
    browser: Browser, played: Samples, make_page: Made
) -> None:
    """A phone that is busy loses sound in the middle of the wrong note: it is not called on."""
    with driven_page(browser, make_page("heard", CHART)) as opened:
        for lost in (1, 3):
            begin_anew(opened)
            listen(opened)
            begins = start(opened)
            hears(opened, played, begins + DELAY_SEC - LEAD_SEC)
            due = opened.run(
                "(note) => { const [span] = practicePage.page.player.spans; return span.time +"
                " span.notes.find((n) => n.part === 'bass' && n.index === note).onset; }",
                OTHER,
            )
            at = due + DELAY_SEC + 0.06
            opened.run("(lost) => { driven.lost = [lost]; }", [at, at + (lost + 0.1) * BLOCK_SEC])
            run_to(opened, begins + PASS_SEC + 1.5)
            marks = kinds(opened)
            assert OTHER not in marks
            # What is far from it is judged as ever.
            assert marks[UNHEARD] == "not heard"
            assert marks[0] == marks[1] == "on"
            assert set(marks.values()) <= {"on", "late", "not heard"}
            assert [n for n, kind in marks.items() if kind == "not heard"] == [UNHEARD]
            said = opened.page.text_content("#ear-panel") or ""
            assert "not judged, as the page was busy" in said
    assert lost == 3


def test_a_real_microphone_opens_and_closes_and_nothing_is_asked_for(
    open_page: Open, make_page: Made
) -> None:
    """The page itself is all that is ever loaded, and nothing is refused or thrown."""
    opened = open_page(make_page("heard", CHART), width=390)
    opened.page.context.grant_permissions(["microphone"])
    try:
        listen(opened)
        opened.wait("practicePage.ear.microphone.clock.count > 2")
        assert (
            opened.run("practicePage.ear.microphone.stream.getAudioTracks()[0].readyState")
            == "live"
        )
        opened.page.click("#play")
        opened.run("() => { window.track = practicePage.ear.microphone.stream.getTracks()[0]; }")
        opened.page.click("#ear-opens")
        opened.page.uncheck("#ear-on")
        assert opened.run("window.track.readyState") == "ended"
        assert opened.run("practicePage.ear.microphone") is None
        assert [url for url in opened.requests if not url.startswith("file:")] == []
        assert len(opened.requests) == 1
        assert [said for said in opened.console if "ScriptProcessor" not in said] == []
    finally:
        opened.page.context.clear_permissions()
