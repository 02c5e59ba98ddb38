"""A record beside the band on one page: its bars where it has them, and nothing of it kept."""

import base64
import io
import json
import subprocess
from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy
import pytest
import soundfile
from playwright.sync_api import Browser

from groove.cells.model import Library
from groove.chart.parse import parse_chart
from groove.io.practice_page import practice_page
from groove.neck.fingering import finger_performance
from groove.page import moved
from groove.page.record import PageRecord, RecordLine, every_line
from groove.pipeline import analyse_song, perform_analysis, perform_song, song_tuning
from tests.click_font import EVERY_PRESET, click_font
from tests.conftest import ROOT
from tests.page.conftest import Open, Opened, opening
from tests.page.driven import driven_page, run_to, start
from tests.page.made_record import BAR_SEC, CHART, LENGTH_SEC, LINES, made_record, stroke_times
from tests.page.test_page_sizes import SEEN, SIZES, shown_faults

WITHIN_SEC = 0.030
LONGEST_GAP_SEC = 0.050
BARS = len(LINES) - 1
NARROW_LOW_AND_LARGE = ((360, 640), (844, 390), (820, 1180), (1280, 800))
"""Of the sizes of screens: the narrowest, the lowest, the tablet and the laptop."""
UNSURE = 6
"""The bar of which the alignment is not sure."""
RECORD = PageRecord(
    name="our song.wav",
    length_sec=LENGTH_SEC,
    tuning_cents=-18.0,
    lines=tuple(
        RecordLine(sec=sec, is_sure=number != UNSURE) for number, sec in enumerate(LINES[:-1], 1)
    ),
    end_sec=LINES[-1],
)


def page_of(library: Library, font: Path, record: PageRecord) -> str:
    """Return the page of the chart with a record beside it."""
    analysis = analyse_song(parse_chart(CHART))
    tuning = song_tuning(analysis.song)
    placed, _ = finger_performance(perform_analysis(analysis, library), tuning=tuning)
    return practice_page(placed, analysis, font=font, tuning=tuning, record=record).html


@pytest.fixture(scope="module")
def pages(library: Library, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the page that holds the record, the one that does not, and the record."""
    folder = tmp_path_factory.mktemp("record")
    font = folder / "click.sf2"
    font.write_bytes(click_font(EVERY_PRESET))
    with pytest.MonkeyPatch.context() as patch:
        # Of the other keys a record has none.
        patch.setattr(moved, "MOST_BARS_IN_EVERY_KEY", 0)
        for name, sound in (("inside", made_record()), ("beside", None)):
            page = page_of(library, font, replace(RECORD, sound=sound))
            (folder / f"{name}.html").write_text(page, encoding="utf-8")
    (folder / RECORD.name).write_bytes(made_record())
    return folder


def open_record(opened: Opened, file: Path) -> None:
    """Open a file in the page, as a player does."""
    opened.run("() => { window.before = practicePage.page.sources.file; }")
    opened.page.set_input_files("#record-file", str(file))
    opened.wait("practicePage.page.sources.file !== (window.before ?? null)")


@pytest.fixture(scope="module")
def recorded(browser: Browser, pages: Path) -> Iterator[Opened]:
    """The page with the record open, on a clock that the test drives."""
    with driven_page(browser, pages / "inside.html") as opened:
        opened.wait("practicePage.page.sources.isRecord")
        yield opened


@pytest.fixture(scope="module")
def beside(browser: Browser, pages: Path) -> Iterator[Opened]:
    """The page that asks for its record, with no record open."""
    with opening(browser) as open_file:
        yield open_file(pages / "beside.html", width=390)


def at_rest(opened: Opened, share: float = 1.0) -> None:
    """Put the page back to its beginning, with the record chosen and no loop."""
    opened.run(
        """(share) => {
          const { page, record } = practicePage;
          page.stop();
          page.setLoop(null, "once");
          record.choose(true);
          page.setShare(share);
          page.goTo(0);
        }""",
        share,
    )


def put_lines_back(opened: Opened) -> None:
    """Put the bar lines where the record has them."""
    opened.run(
        "(lines) => practicePage.page.sources.setMap({ lines, sure: lines.map(() => true) })",
        list(LINES),
    )


@pytest.mark.parametrize("share", [1.0, 0.75, 0.5])
def test_the_bars_of_the_chart_are_shown_as_the_record_comes_to_them(
    recorded: Opened, share: float
) -> None:
    at_rest(recorded, share)
    begins = start(recorded)
    for bar in range(1, BARS):
        line = begins + (LINES[bar] - LINES[0]) / share
        # The picture stands one limiter, 6 ms, behind the clock.
        run_to(recorded, line - WITHIN_SEC - 0.05)
        assert recorded.run("practicePage.page.bar") == bar - 1
        run_to(recorded, line + WITHIN_SEC + 0.05)
        assert recorded.run("practicePage.page.bar") == bar
    assert BARS == 8


RENDER = """
async ({ share, loop, change, seconds, rate }) => {
  const { page, RecordPlayer } = practicePage;
  const context = new OfflineAudioContext(1, Math.ceil(seconds * rate), rate);
  const outputs = new Map([["record", context.destination]]);
  const { song } = page.sources.record;
  const player = new RecordPlayer(context, song, page.rows, outputs, page.sources.file);
  player.wishes = { ...page.wishes(), share, loop, countsIn: false };
  player.start(0.25, song.bars[loop ? loop[0] : 0].start);
  if (change) {
    player.pump(change[0] + 0.8);
    player.wishes = { ...player.wishes, share: change[1] };
    player.replan(change[0]);
  }
  for (let until = 0; until <= seconds + 0.5; until += 0.5) player.pump(until);
  const played = (await context.startRendering()).getChannelData(0);
  const bytes = new Uint8Array(played.buffer);
  let text = "";
  for (let at = 0; at < bytes.length; at += 32768) {
    text += String.fromCharCode(...bytes.subarray(at, at + 32768));
  }
  return btoa(text);
}
"""
RENDER_RATE = 44_100


def rendered(
    opened: Opened,
    seconds: float,
    share: float,
    loop: list[int] | None = None,
    change: tuple[float, float] | None = None,
) -> numpy.ndarray[Any, numpy.dtype[numpy.float32]]:
    """Return what the page plays of the record, rendered offline from 0.25 s on.

    ``change`` is another share from a time on.
    """
    opened.run("practicePage.page.makeSound()")
    asked = {"share": share, "loop": loop, "change": change, "seconds": seconds}
    asked["rate"] = RENDER_RATE
    return numpy.frombuffer(base64.b64decode(opened.run(RENDER, asked)), dtype=numpy.float32)


@pytest.mark.parametrize("share", [1.0, 0.75, 0.5])
def test_the_record_sounds_where_the_map_has_its_bars(recorded: Opened, share: float) -> None:
    """The strokes at its bar lines are heard within 30 ms, at its own tempo and slowed."""
    sound = rendered(recorded, 0.25 + (LINES[-1] - LINES[0]) / share + 0.5, share)
    heard = stroke_times(sound, RENDER_RATE, apart_sec=0.5)
    due = [0.25 + (line - LINES[0]) / share for line in LINES]
    assert len(heard) == len(due) == BARS + 1
    assert max(abs(a - b) for a, b in zip(heard, due, strict=True)) <= WITHIN_SEC


@pytest.mark.parametrize("share", [1.0, 0.75])
def test_a_loop_of_the_record_has_no_gap(recorded: Opened, share: float) -> None:
    """Bars 3 and 4 three times: the low tone goes on over the seams, which come when they are due.

    Below, a tone of 82.4 Hz has a turn in 12 ms: silence is a window of that length.
    """
    length = (LINES[4] - LINES[2]) / share
    # Short of the fourth time, whose first stroke may be early.
    sound = rendered(recorded, 0.2 + 3 * length, share, [2, 3])
    heard = stroke_times(sound, RENDER_RATE, apart_sec=0.5)
    due = [
        0.25 + turn * length + (LINES[bar] - LINES[2]) / share
        for turn in range(3)
        for bar in (2, 3)
    ]
    assert max(abs(a - b) for a, b in zip(heard, due, strict=True)) <= WITHIN_SEC
    window = round(0.012 * RENDER_RATE)
    playing = sound[round(0.27 * RENDER_RATE) :]
    loud = abs(playing[: len(playing) // window * window]).reshape(-1, window).max(axis=1)
    silent = "".join("x" if level < 0.05 else " " for level in loud)
    assert max(map(len, silent.split()), default=0) * 0.012 <= LONGEST_GAP_SEC
    assert len(loud) > 400


@pytest.mark.parametrize(("before", "after"), [(1.0, 1.0), (1.0, 0.75), (0.75, 1.0)])
def test_a_change_in_play_leaves_each_bar_once(
    recorded: Opened, before: float, after: float
) -> None:
    """From 2.5 s on at another share: what was to come at the old one is not heard."""
    changed = 2.5
    then = LINES[0] + (changed - 0.25) * before
    due = [
        0.25 + (line - LINES[0]) / before if line < then else changed + (line - then) / after
        for line in LINES
    ]
    sound = rendered(recorded, due[-1] + 0.3, before, change=(changed, after))
    heard = stroke_times(sound, RENDER_RATE, apart_sec=0.06)
    assert heard == [pytest.approx(each, abs=WITHIN_SEC) for each in due]
    # Over the change, between two strokes, the tone of a tenth of full scale goes on.
    seam = abs(sound[round((changed - 0.1) * RENDER_RATE) : round((changed + 0.1) * RENDER_RATE)])
    turns = seam[: len(seam) // 600 * 600].reshape(-1, 600).max(axis=1)
    assert turns.min() > 0.06 and turns.max() < 0.14


HEARD_PARTS = """
() => {
  const { player } = practicePage.page;
  window.parts = [];
  const play = player.play.bind(player);
  player.play = (note, ...more) => {
    parts.push(more[2] ? "count" : note.part);
    play(note, ...more);
  };
}
"""


def test_count_and_click_go_with_the_record_and_the_band_does_not(recorded: Opened) -> None:
    at_rest(recorded)
    recorded.tick("click-on")
    recorded.run("practicePage.page.makeSound()")
    recorded.run(HEARD_PARTS)
    begins = start(recorded, counts_in=True)
    run_to(recorded, begins + 1.9)
    parts = recorded.run("parts")
    # A bar of sticks, and of two bars the clicks; the count is at the record's tempo.
    assert parts[:4] == ["count"] * 4 and set(parts[4:]) == {"click"}
    count = recorded.run("practicePage.page.player.spans[0]")
    assert count["counts"] and count["to"] - count["from"] == pytest.approx(LINES[1] - LINES[0])
    recorded.tick("click-on", on=False)
    recorded.tick("counts-in", on=False)


def test_the_record_goes_on_after_the_song_and_ends(recorded: Opened) -> None:
    at_rest(recorded)
    begins = start(recorded)
    run_to(recorded, begins + LINES[-1] - LINES[0] + 1)
    assert recorded.run("practicePage.page.player.isPlaying")
    assert recorded.run("practicePage.page.bar") == BARS - 1
    assert recorded.run("practicePage.page.position < practicePage.song.length")
    run_to(recorded, begins + LENGTH_SEC - LINES[0] + 1)
    assert not recorded.run("practicePage.page.player.isPlaying")
    assert recorded.run("practicePage.page.position") == 0


@pytest.mark.parametrize("share", [1.0, 0.5])
def test_after_a_sleep_the_record_is_where_it_should_be(recorded: Opened, share: float) -> None:
    """What was missed is left out: what is scheduled then lies ahead, and bars go on in time."""
    at_rest(recorded, share)
    begins = start(recorded)
    run_to(recorded, begins + 0.3)
    recorded.run("(sec) => { driven.now += sec; practicePage.page.pump(); }", 2.0)
    now, times = recorded.run(
        "[practicePage.page.now, practicePage.page.player.pieces.map((piece) => piece.time)]"
    )
    late = [time for time in times if time < now - 0.01]
    assert late == ([] if share < 1 else [pytest.approx(begins)])
    run_to(recorded, begins + (LINES[4] - LINES[0]) / share + 0.1)
    assert recorded.run("practicePage.page.bar") == 4


def test_a_loud_record_is_turned_down_to_the_band(recorded: Opened, tmp_path: Path) -> None:
    """A sine of nine tenths is 3.9 dB under full scale in mean square (its crest is 3 dB)."""
    time = numpy.arange(4 * RENDER_RATE) / RENDER_RATE
    loud = 0.9 * numpy.sin(2 * numpy.pi * 220 * time)
    soundfile.write(tmp_path / "loud.wav", numpy.concatenate([loud, 0 * loud]), RENDER_RATE)
    text = base64.b64encode((tmp_path / "loud.wav").read_bytes()).decode("ascii")
    gain = recorded.run(
        """async (text) => {
          const bytes = Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
          return (await practicePage.openedRecord("loud.wav", new Blob([bytes]))).gain;
        }""",
        text,
    )
    assert 20 * numpy.log10(gain) == pytest.approx(-16 + 3.9, abs=0.1)


def test_band_and_record_change_at_the_bar_line(recorded: Opened) -> None:
    at_rest(recorded)
    begins = start(recorded)
    run_to(recorded, begins + 0.5)
    recorded.run("practicePage.record.choose(false)")
    run_to(recorded, begins + 0.9)
    # Bar 1 of the record lasts 1.03 s: it is still what is heard.
    assert recorded.run("practicePage.page.sources.leaving !== null")
    assert recorded.run("practicePage.page.bar") == 0
    run_to(recorded, begins + LINES[1] - LINES[0] + 0.2)
    assert recorded.run("practicePage.page.sources.leaving") is None
    assert recorded.run("practicePage.page.bar") == 1
    span = recorded.run(
        "(({ time, from, share }) => ({ time, from, share }))(practicePage.page.player.spans[0])"
    )
    assert span == {
        "time": pytest.approx(begins + LINES[1] - LINES[0]),
        "from": pytest.approx(BAR_SEC),
        "share": 1,
    }
    # And back: the band comes to bar 3 at 2 s of the song, the record takes over there.
    recorded.run("practicePage.record.choose(true)")
    back = begins + LINES[1] - LINES[0] + BAR_SEC
    run_to(recorded, back + 0.2)
    found = recorded.run("(({ time, from }) => [time, from])(practicePage.page.player.spans[0])")
    assert found == [pytest.approx(back), pytest.approx(LINES[2])]
    assert recorded.run("practicePage.page.bar") == 2


def test_a_change_before_the_bar_line_and_a_pause_leave_nothing_behind(recorded: Opened) -> None:
    at_rest(recorded)
    begins = start(recorded)
    run_to(recorded, begins + 0.5)
    recorded.run("practicePage.record.choose(false); practicePage.page.setShare(0.8)")
    run_to(recorded, begins + 0.8)
    # The record was scheduled up to the bar line: it is cut at once.
    silenced = recorded.run(
        """() => {
          const { page } = practicePage;
          const { player, voices } = page.sources.leaving;
          const found = [];
          player.silence = (voice, time) => found.push(voices.includes(voice) && time <= page.now);
          page.stop();
          delete player.silence;
          return found;
        }"""
    )
    # It, and the clicks of the bar.
    assert len(silenced) >= 2 and all(silenced)
    assert recorded.run("practicePage.page.sources.leaving") is None
    assert recorded.run("practicePage.page.player.isPlaying") is False
    assert recorded.console == []


def test_the_tempo_of_the_record_is_told(recorded: Opened) -> None:
    """Bar 1 lasts 1.03 s: four beats of it are 233 a minute; all in all 240."""
    at_rest(recorded)
    recorded.run("practicePage.page.goTo(0)")
    assert recorded.page.text_content("#tempo-shown") == "♩ = 233, 100%"
    recorded.run("practicePage.page.setBpm(180)")
    assert recorded.run("practicePage.page.share") == pytest.approx(180 / 240, abs=0.001)


def test_what_cannot_act_with_a_record_says_so(recorded: Opened) -> None:
    at_rest(recorded)
    page = recorded.page
    ids = ("bass-on", "level-drums", "keys-on", "turns", "transpose")
    assert all(page.is_disabled(f"#{name}") for name in ids)
    assert "its own key" in (page.text_content("#key-why") or "")
    assert "no levels of their own" in (page.text_content("#levels-why") or "")
    assert page.is_enabled("#click-on") and page.is_enabled("#level-record")
    recorded.run("document.querySelector('#key-why button').click()")
    assert not any(page.is_disabled(f"#{name}") for name in ids)
    assert page.text_content("#key-why") == page.text_content("#levels-why") == ""


def test_the_bass_of_the_record_goes_through_a_low_shelf(recorded: Opened) -> None:
    """Below 250 Hz by as much as is asked for, above hardly (Web Audio API, W3C: lowshelf)."""
    recorded.run("practicePage.page.makeSound()")
    recorded.choose("record-shelf", "9")
    found = recorded.run(
        """() => {
          const { shelf } = practicePage.page.sources;
          const still = new BiquadFilterNode(new OfflineAudioContext(1, 1, 44100), {
            type: shelf.type, frequency: shelf.frequency.value, gain: Number(
              document.getElementById("record-shelf").value) });
          const levels = new Float32Array(3);
          const hertz = new Float32Array([41, 250, 2500]);
          still.getFrequencyResponse(hertz, levels, new Float32Array(3));
          return [...levels].map((level) => 20 * Math.log10(level));
        }"""
    )
    assert found == [
        pytest.approx(9, abs=0.5),
        pytest.approx(4.5, abs=0.5),
        pytest.approx(0, abs=0.5),
    ]
    assert "takes no instrument out" in (recorded.page.text_content("#record-levels") or "")
    recorded.choose("record-shelf", "0")


def test_taps_make_the_bar_lines(recorded: Opened) -> None:
    at_rest(recorded)
    recorded.run("practicePage.record.beginTaps()")
    recorded.wait(
        "practicePage.page.player.isPlaying && practicePage.page.player.spans[0].from <= 0"
    )
    begins = recorded.run("practicePage.page.player.spans[0].time")
    tapped = LINES[:6]
    for line in tapped:
        run_to(recorded, begins + line)
        recorded.run("practicePage.record.tap()")
    assert recorded.page.text_content("#record-tap") == "Tap: bar 7 begins"
    recorded.run("practicePage.record.takeTaps()")
    lines = recorded.run("practicePage.page.sources.map.lines")
    # The clock moves by blocks of 46 ms, and stands 6 ms of limiter behind.
    assert lines[:6] == [pytest.approx(line, abs=0.055) for line in tapped]
    tempo = (lines[5] - lines[0]) / 5
    assert [b - a for a, b in pairwise(lines[5:])] == [pytest.approx(tempo)] * 3
    put_lines_back(recorded)


def test_a_bar_line_is_moved_by_keys_and_by_hand(beside: Opened, pages: Path) -> None:
    opened, page = beside, beside.page
    page.click("#more-opens")
    page.click("#record-opens")
    assert "open it here" in (page.text_content("#record-says") or "")
    open_record(opened, pages / RECORD.name)
    assert "not sure: bar 6." in (page.text_content("#record-says") or "")
    line = page.get_by_role("slider", name="Bar line of bar 2")
    line.focus()
    for _ in range(3):
        page.keyboard.press("ArrowRight")
    lines = opened.run("practicePage.page.sources.map.lines")
    assert lines[1] == pytest.approx(LINES[1] + 0.03)
    # Its neighbours were sure.
    assert [lines[0], *lines[2:]] == [pytest.approx(each) for each in (LINES[0], *LINES[2:])]
    assert line.get_attribute("aria-valuetext") == "2.71 seconds into the record"
    assert opened.run("practicePage.page.bar") == 0
    seen = opened.run("(({ from, to }) => to - from)(practicePage.record.strip.seen)")
    box, strip = line.bounding_box(), page.locator("#record-strip").bounding_box()
    assert box and strip
    page.mouse.move(box["x"] + 4, box["y"] + 20)
    page.mouse.down()
    page.mouse.move(box["x"] + 24, box["y"] + 20, steps=3)
    page.mouse.up()
    line_sec = opened.run("practicePage.page.sources.map.lines[1]")
    # From wherever in it the finger came down.
    assert line_sec == pytest.approx(LINES[1] + 0.03 + 20 * seen / strip["width"], abs=0.005)
    opened.page.get_by_role("button", name="All bar lines 10 ms earlier").click()
    assert opened.run("practicePage.page.sources.map.lines[8]") == pytest.approx(LINES[8] - 0.01)

    counts = page.get_by_label("Bars to see")
    for count, names in (
        ("2", ["bar 1", "bar 2", "bar 3"]),
        ("8", [*map(str, range(1, 9)), ""]),
        ("4", [f"bar {number}" for number in range(1, 6)]),
    ):
        counts.select_option(count)
        assert page.locator(".bar-line:visible").all_inner_texts() == names
        boxes = [line.bounding_box() for line in page.locator(".bar-line:visible").all()]
        lefts, widths = zip(*((box["x"], box["width"]) for box in boxes if box), strict=True)
        # Each has a place for the finger (WCAG 2.2, 2.5.8), which does not lie over the next one's.
        assert len(lefts) == len(names)
        assert 24 <= min(widths) <= max(widths) <= min(b - a for a, b in pairwise(lefts)) + 1
        now = opened.run("(({ from, to }) => to - from)(practicePage.record.strip.seen)")
        # So many bars, and half a one before and after.
        assert now == pytest.approx(seen * (int(count) + 1) / 5, rel=0.06)
    counts.select_option("8")
    for name in ("bar 5", "the end"):
        assert page.get_by_role("slider", name=f"Bar line of {name}").count() == 1
    size = counts.bounding_box()
    assert size and size["height"] >= 24
    put_lines_back(beside)


def test_nothing_is_kept_but_the_bar_lines_and_forgetting_forgets_them(
    open_page: Open, pages: Path
) -> None:
    opened = open_page(pages / "beside.html")
    open_record(opened, pages / RECORD.name)
    opened.run("practicePage.record.moveAll(0.25)")
    sure = [int(number != UNSURE) for number in range(1, BARS + 1)] + [0]
    kept = json.loads(opened.run("localStorage.getItem('practice song Beside the Record')"))
    assert kept["maps"] == {
        f"{LENGTH_SEC:.2f}": {"lines": [line + 0.25 for line in LINES], "sure": sure}
    }
    assert opened.run("JSON.stringify(localStorage).length") < 3000
    assert opened.run("Promise.all([caches, indexedDB].map(() => indexedDB.databases()))") == [
        [],
        [],
    ]
    opened.page.reload()
    opened.page.wait_for_selector("body[data-ready]")
    open_record(opened, pages / RECORD.name)
    assert opened.run("practicePage.page.sources.map.lines[0]") == LINES[0] + 0.25
    assert "as you left them" in (opened.page.text_content("#record-says") or "")
    with opened.page.expect_navigation():
        opened.run("document.getElementById('forget').click()")
    opened.page.wait_for_selector("body[data-ready]")
    assert opened.run("JSON.stringify(localStorage).includes('maps')") is False
    assert [url for url in opened.requests if not url.startswith(("file:", "blob:"))] == []
    assert opened.console == []


def test_what_is_no_record_changes_nothing_and_another_has_not_the_bar_lines_of_the_page(
    open_page: Open, pages: Path, tmp_path: Path
) -> None:
    opened = open_page(pages / "beside.html")
    (tmp_path / "notes.mp3").write_text("no sound at all")
    soundfile.write(tmp_path / "silent.wav", numpy.zeros(RENDER_RATE), RENDER_RATE)
    long = numpy.full(4000 * 60 * 21, 0.1)
    soundfile.write(tmp_path / "talk.wav", long, 4000, subtype="PCM_U8")
    for name, words in (
        ("notes.mp3", "no sound that this browser can play"),
        ("silent.wav", "silent.wav is silent"),
        ("talk.wav", "longer than 20 minutes"),
    ):
        opened.page.set_input_files("#record-file", str(tmp_path / name))
        opened.wait(f"document.getElementById('record-says').textContent.includes('{words}')")
        assert opened.run("practicePage.page.sources.file") is None
        assert words in opened.page.inner_text("#message")
        assert opened.page.locator("#record-box").count() == 0

    (tmp_path / "other.wav").write_bytes(made_record(LINES[:4], 7.0))
    open_record(opened, tmp_path / "other.wav")
    assert "is not known" in (opened.page.text_content("#record-says") or "")
    assert opened.run("practicePage.page.sources.map.lines") == [
        BAR_SEC * n for n in range(BARS + 1)
    ]


def test_a_page_with_a_record_inside_says_not_to_pass_it_on(recorded: Opened, pages: Path) -> None:
    told = recorded.page.text_content("#record-panel") or ""
    assert "do not pass it on" in told and "Your own copy" in told
    assert "18 cents below" in told
    saved = recorded.run(
        """async () => {
          let kept = null;
          const real = URL.createObjectURL;
          URL.createObjectURL = (blob) => { kept = blob; return "#"; };
          document.getElementById("save-log").click();
          URL.createObjectURL = real;
          return await kept.text();
        }"""
    )
    assert 'id="log"' in saved and 'id="record"' not in saved and 'id="data"' in saved
    inside, beside = ((pages / f"{name}.html").stat().st_size for name in ("inside", "beside"))
    assert inside - beside == pytest.approx(4 / 3 * len(made_record()), rel=0.01)
    assert len(saved) < beside * 1.1


def test_a_note_is_due_where_the_record_has_it(recorded: Opened) -> None:
    """What listens holds a player to the record: the first note of each bar, at its bar line."""
    at_rest(recorded, 0.75)
    begins = start(recorded)
    dues = recorded.run(
        """() => {
          const { ear, page, shown } = practicePage;
          return ear.duesUntil({ spans: page.player.spans }, 1e9)
            .filter((due) => shown.bars.some((bar) => bar.start === shown.bass[due.note].grid))
            .map((due) => due.time);
        }"""
    )
    found = [round(due - begins, 3) for due in dues]
    due = [pytest.approx((line - LINES[0]) / 0.75, abs=0.02) for line in LINES[:-1]]
    assert found == due
    # And notes of the player's own by its beats: sixteen places a bar.
    recorded.choose("ear-what", "own")
    places = recorded.run(
        """() => {
          const { ear, page } = practicePage;
          const dues = ear.duesUntil({ spans: page.player.spans }, 1e9);
          return dues.filter((_, index) => index % 16 === 0).map((due) => due.time);
        }"""
    )
    assert [round(place - begins, 3) for place in places] == due
    recorded.choose("ear-what", "line")


def test_a_letter_changes_the_source_and_another_is_the_bands(recorded: Opened) -> None:
    at_rest(recorded)
    recorded.page.keyboard.press("b")
    assert not recorded.page.is_checked("#bass-on")
    recorded.page.keyboard.press("r")
    assert recorded.run("practicePage.page.sources.isRecord") is False
    recorded.page.keyboard.press("b")
    recorded.page.keyboard.press("b")
    recorded.page.keyboard.press("r")
    assert recorded.run("practicePage.page.sources.isRecord") is True


def test_an_mp3_has_its_bars_where_the_sound_library_reads_them(
    beside: Opened, tmp_path: Path
) -> None:
    """An alignment is made with libsndfile, the page decodes by itself: 5 ms lie between them."""
    sound, rate = soundfile.read(io.BytesIO(made_record()), dtype="float32")
    soundfile.write(tmp_path / "our song.mp3", sound, rate)
    again, _ = soundfile.read(tmp_path / "our song.mp3", dtype="float32")
    open_record(beside, tmp_path / "our song.mp3")
    heard = rendered(beside, 0.25 + LINES[-1] - LINES[0] + 0.5, 1.0)
    found = [each - 0.25 + LINES[0] for each in stroke_times(heard, RENDER_RATE, apart_sec=0.5)]
    read = stroke_times(again[:, 0], rate, apart_sec=0.5)
    assert found == [pytest.approx(line, abs=0.005) for line in read]
    assert found == [pytest.approx(line, abs=0.005) for line in LINES]


def test_nothing_lies_over_anything_with_the_record_open(recorded: Opened) -> None:
    at_rest(recorded)
    recorded.run(SEEN)
    found = []
    for width, height in NARROW_LOW_AND_LARGE:
        recorded.page.set_viewport_size({"width": width, "height": height})
        recorded.run("walk", [1, 5])
        for panel in ("", "record", "levels"):
            if panel:
                recorded.run("(name) => document.getElementById(`${name}-opens`).click()", panel)
            found += [(width, height, panel, fault) for fault in shown_faults(recorded)]
        box = recorded.page.locator("#levels-panel").bounding_box()
        if not box or box["y"] < 0 or box["x"] < 0 or box["x"] + box["width"] > width:
            found.append((width, height, "levels", "the panel is outside"))
        recorded.run("document.getElementById('levels-opens').click()")
    assert found == []
    assert len(NARROW_LOW_AND_LARGE) == 4 and {*NARROW_LOW_AND_LARGE} < {*SIZES}


def test_axe_finds_nothing_serious_in_the_panel(recorded: Opened, npm_tools: Path) -> None:
    recorded.page.set_viewport_size({"width": 390, "height": 664})
    recorded.page.evaluate((npm_tools / "axe-core" / "axe.min.js").read_text(encoding="utf-8"))
    for panel in ("record", "levels"):
        recorded.run("(name) => document.getElementById(`${name}-opens`).click()", panel)
        found = recorded.page.evaluate("(name) => axe.run(`#${name}-panel`)", panel)
        bad = [v for v in found["violations"] if v["impact"] in ("serious", "critical")]
        assert [(v["id"], [n["html"][:100] for n in v["nodes"]][:4]) for v in bad] == []
        assert len(found["passes"]) > 8


def test_the_arithmetic_of_the_record_passes_under_node() -> None:
    ran = subprocess.run(
        ["node", "--test", "tests/page/record.test.js"], cwd=ROOT, capture_output=True, text=True
    )
    assert ran.returncode == 0, ran.stdout
    assert "\n# pass 10\n" in ran.stdout


def test_bars_that_were_not_found_are_laid_as_the_chart_has_them(library: Library) -> None:
    bars = perform_song(parse_chart(CHART), library).bars
    known = {index: RecordLine(sec=LINES[index], is_sure=True) for index in (1, 2, 4)}
    lines, end = every_line(known, LINES[5], bars)
    secs = [line.sec for line in lines]
    assert secs[1:3] == list(LINES[1:3]) and secs[4] == LINES[4]
    assert secs[3] == pytest.approx((LINES[2] + LINES[4]) / 2)
    assert secs[0] == pytest.approx(2 * LINES[1] - LINES[2])
    assert secs[5] == pytest.approx(LINES[5])
    assert end == pytest.approx(LINES[4] + 4 * (LINES[5] - LINES[4]))
    assert [line.is_sure for line in lines] == [index in known for index in range(BARS)]


def test_the_made_record_is_what_it_says() -> None:
    sound, rate = soundfile.read(io.BytesIO(made_record()), dtype="float32")
    assert len(sound) / rate == pytest.approx(LENGTH_SEC)
    heard = stroke_times(sound[:, 0], rate, apart_sec=0.5)
    assert heard == [pytest.approx(line, abs=0.002) for line in LINES]
