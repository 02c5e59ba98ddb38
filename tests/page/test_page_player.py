"""What a player does with the page: places, loops, the count-in, by the chart's numbers."""

import re

import pytest

from groove.cells.model import Library
from groove.chart.parse import parse_chart
from groove.cut import with_count_in
from groove.pipeline import perform_song
from tests.conftest import ROOT
from tests.page.conftest import SHORT, Made, Open, Opened, settle
from tests.page.driven import DRIVEN, run_to, start


def test_bars_have_the_numbers_of_the_chart(repeated: Opened) -> None:
    # As played: pickup, 1 2 3, 1 2 4, 5 6, and 1 2 3, 1 2 4, 5 6 again.
    opened = repeated
    page = opened.page
    assert opened.run("practicePage.shown.bars.map((bar) => bar.number)") == [
        *(0, 1, 2, 3, 1, 2, 4, 5, 6),
        *(1, 2, 3, 1, 2, 4, 5, 6),
    ]
    assert "6 bars, 16 as played" in page.inner_text("#facts")
    page.click("#loop-opens")
    for here, typed, loop, words in (
        (0, "5-6", [7, 8], "bars 5 to 6 (chorus 1)"),
        (16, "5-6", [15, 16], "bars 5 to 6 (chorus 2)"),
        (1, "1-2", [1, 2], "bars 1 to 2 (verse 1)"),
        (5, "1-2", [4, 5], "bars 1 to 2 (verse 1, second pass)"),
        (9, "1-3", [9, 11], "bars 1 to 3 (verse 2)"),
        (0, "6", [8, 8], "bar 6 (chorus 1)"),
        (0, "0-1", [0, 1], "pickup to bar 1"),
    ):
        opened.run(
            "(bar) => { const { page, song } = practicePage; page.setLoop(null, 'once');"
            " page.goTo(song.bars[bar].start); }",
            here,
        )
        page.fill("#bars", "")
        page.fill("#bars", typed)
        page.keyboard.press("Enter")
        assert opened.run("practicePage.page.loop") == loop, typed
        assert words in page.inner_text("#message")


def test_the_place_is_told_by_the_charts_numbers(repeated: Opened) -> None:
    opened = repeated
    assert opened.page.inner_text("#place") == "pickup"
    assert opened.page.inner_text("#sheet button >> nth=0") == "pickup"
    opened.run("practicePage.page.goTo(practicePage.song.bars[6].start)")
    told = opened.page.inner_text("#place")
    assert told.startswith("verse 1, second pass, bar 4")
    assert told.endswith("6 of 6")
    assert opened.page.inner_text("#sheet button.here") == "bar 4"


def test_settings_and_a_loop_of_a_later_time_are_kept_on_this_device(repeated: Opened) -> None:
    page = repeated.page
    page.click("#tempo-opens")
    page.fill("#bpm", "96")
    page.keyboard.press("Enter")
    page.check("#bass-on")
    page.click("#loop-opens")
    page.select_option("#loop", label="chorus 2")
    page.reload()
    page.wait_for_selector("body[data-ready]")
    assert page.inner_text("#tempo-shown") == "♩ = 96, 80%"
    assert page.is_checked("#bass-on")
    assert repeated.run("practicePage.page.loop") == [15, 16]


def test_the_count_in_goes_on_to_a_pickup(repeated: Opened) -> None:
    # 4/4 and a pickup of a beat: 1 2 3 4 | 1 2 3, then the pickup (common practice).
    opened = repeated
    opened.page.click("#play")
    opened.wait("practicePage.page.player?.isPlaying")
    counted, music = opened.run(
        "practicePage.page.player.spans.slice(0, 2).map((span) => [span.time, span.notes"
        ".map((note) => [note.onset - span.from, note.velocity, note.index + 1])])"
    )
    assert [beat for *_, beat in counted[1]] == [1, 2, 3, 4, 1, 2, 3]
    assert [round(at, 6) for at, *_ in counted[1]] == [0, 0.5, 1, 1.5, 2, 2.5, 3]
    assert abs(music[0] - counted[0] - 3.5) < 1e-6
    strong = [velocity for _, velocity, _ in counted[1]]
    assert strong[0] == strong[4] > max(strong[1:4] + strong[5:])
    assert opened.page.inner_text("#place") == "count-in"
    # Bar 1 is as far after the first stroke as two bars of four beats last: four seconds.
    first_bar = opened.run("practicePage.song.bars[1].start")
    assert abs(music[0] + first_bar - counted[0] - 4.0) < 1e-6


def test_the_count_in_before_a_loop_is_one_bar(repeated: Opened) -> None:
    opened = repeated
    opened.run("practicePage.page.setLoop([7, 8], 'bars')")
    opened.page.click("#play")
    opened.wait("practicePage.page.player?.isPlaying")
    assert opened.run("practicePage.page.player.spans[0].notes.length") == 4


SAMPLE_BEATS = """
(begins) => {
  const found = [];
  for (let turn = 1; turn < 90; turn += 1) {
    driven.to(begins + 0.05 * turn);
    found.push([practicePage.page.position, document.getElementById("beat").textContent]);
  }
  return found;
}
"""


def test_beats_are_counted_large(repeated: Opened) -> None:
    opened = repeated
    settle(opened.page, 390, 900)
    assert not opened.page.is_visible("#beats")
    begins = start(opened)
    run_to(opened, begins + 0.1)
    assert opened.page.is_visible("#beats")
    seen = set()
    for position, beat in opened.run(SAMPLE_BEATS, begins):
        # 120 a minute: half a second a beat; the pickup is the fourth of a bar.
        count = position / 0.5
        if abs(count - round(count)) > 0.01:
            assert int(beat) == (3 + int(count)) % 4 + 1
            seen.add(beat)
    assert seen == {"1", "2", "3", "4"}
    # Two rems and more: at arm's length twice the size of running text.
    assert (
        opened.run("parseFloat(getComputedStyle(document.getElementById('beat')).fontSize)") >= 32
    )


def test_a_pickup_has_no_strong_click(repeated: Opened) -> None:
    opened = repeated
    clicks = opened.run(
        "practicePage.song.notes.filter((n) => n.part === 'click').slice(0, 5)"
        ".map((n) => [n.onset, n.velocity])"
    )
    assert [round(at, 6) for at, _ in clicks] == [0, 0.5, 1, 1.5, 2]
    strong = max(velocity for _, velocity in clicks)
    assert [velocity == strong for _, velocity in clicks] == [False, True, False, False, False]


def test_help_is_in_a_players_words(repeated: Opened) -> None:
    page = repeated.page
    told = page.locator("#panels").text_content() or ""
    assert "Delay the picture, ms" in told and "Passes a step" not in told
    for words in ("headphones", "this often at each tempo", "are yours alone"):
        assert words in told


def test_the_next_place_is_seen_where_the_hand_is(short: Opened) -> None:
    # Eighths on one note: now and next are one place.
    opened = short
    begins = start(opened)
    run_to(opened, begins + 0.1)
    places = opened.run("practicePage.page.neck.places.map((at) => [at.string, at.fret])")
    assert places[0] == places[1]
    rings = "[...document.querySelectorAll('#neck circle')].map((e) => e.getAttribute('class'))"
    assert opened.run(rings) == ["soon", "hit"]
    soon, hit = opened.run(
        "[...document.querySelectorAll('#neck circle')].map((e) => e.getBoundingClientRect().width)"
    )
    # Its line and a gap beside the other's edge.
    assert soon >= hit + 6


def test_what_comes_next_is_told_in_a_loop_too(repeated: Opened) -> None:
    opened = repeated

    def told() -> str:
        return " ".join(opened.page.locator(f"#{name}").inner_text() for name in ("then", "coming"))

    assert told() == "then verse 1"
    # Bars as played: pickup, six of the verse, two of the chorus, and again.
    for loop, at, words in (
        (None, 1, "then chorus 1"),
        ([1, 6], 1, "again verse 1"),
        ([5, 8], 5, "then chorus 1"),
        ([5, 8], 8, "again verse 1"),
        (None, 16, "then end"),
    ):
        opened.run(
            "([loop, bar]) => { const { page, song } = practicePage; page.setLoop(loop, 'bars');"
            " page.goTo(song.bars[bar].start); }",
            [loop, at],
        )
        assert told() == words


@pytest.mark.parametrize(("here", "loop"), [(0, [7, 8]), (16, [1, 3]), (4, [3, 5])])
def test_a_loop_chosen_while_it_counts_is_what_is_played(
    repeated: Opened, here: int, loop: list[int]
) -> None:
    opened = repeated
    opened.run("(bar) => practicePage.page.goTo(practicePage.song.bars[bar].start)", here)
    opened.page.click("#play")
    opened.wait("practicePage.page.player?.isPlaying")
    begun = opened.run("practicePage.page.player.spans[0].time")
    run_to(opened, begun + 0.7)
    opened.run("(loop) => practicePage.page.setLoop(loop, 'bars')", loop)
    # What follows is planned half a second before the count is over.
    run_to(opened, opened.run("practicePage.spanEnd(practicePage.page.player.spans[0])") - 0.2)
    counted, music, strokes = opened.run(
        "(() => { const [count, music] = practicePage.page.player.spans;"
        " return [[count.time, count.to], [music.time, music.from, music.to],"
        " count.notes.map((note) => count.time + note.onset - count.from)]; })()"
    )
    bars = opened.run("practicePage.song.bars.map((bar) => [bar.start, bar.end])")
    first = here if loop[0] <= here <= loop[1] else loop[0]
    assert [music[1], music[2]] == [pytest.approx(bars[first][0]), pytest.approx(bars[loop[1]][1])]
    assert counted[1] == pytest.approx(bars[first][0])
    # The count that was begun goes on: half a second a beat, the music after the last one.
    assert strokes == [pytest.approx(begun + 0.5 * beat) for beat in range(len(strokes))]
    assert music[0] == pytest.approx(begun + 0.5 * len(strokes))


FLOOD = """
async () => {
  const { page, song, spanEnd } = practicePage;
  const wrong = [];
  const note = (word) => { if (!wrong.includes(word)) wrong.push(word); };
  let turn = 0;
  const steps = [
    () => page.setLoop([turn % 8, 8 + (turn % 8)], "bars"),
    () => page.setShare(0.4 + (turn % 13) / 10),
    () => page.setLoop([turn % 17, turn % 17], "bars"),
    () => document.getElementById("ladder-on").click(),
    () => document.getElementById("turns").click(),
    () => page.goTo(((turn * 7) % 100) / 100 * song.length),
    () => page.setLoop(null, "once"),
    () => document.getElementById("transpose").dispatchEvent(new Event("change")),
  ];
  for (; turn < 80; turn += 1) {
    steps[(turn * 5) % steps.length]();
    if (turn % 3 === 0) driven.to(driven.now + ((turn * 11) % 60) / 1000);
    if (!page.player.isPlaying) await page.play();
    const { spans } = page.player;
    spans.slice(1).forEach((span, before) => {
      if (Math.abs(spanEnd(spans[before]) - span.time) > 1e-6) note("gap");
    });
    const last = spans[spans.length - 1];
    const [from, to] = page.player.bounds();
    if (last.from < from - 1e-6 || last.to > to + 1e-6 || last.from > last.to) note("outside");
  }
  const { late, dropped, voices } = page.player;
  return [wrong, dropped, voices.length, page.player.isPlaying];
}
"""


def test_many_changes_at_once_leave_no_gap_and_no_heap(repeated: Opened) -> None:
    for name, value in (("click-out", "1"), ("click-of", "2"), ("ladder-passes", "1")):
        repeated.choose(name, value)
    start(repeated)
    wrong, dropped, voices, plays = repeated.run(FLOOD)
    assert (wrong, dropped, plays) == ([], 0, True)
    # Some twenty notes a second, each with its ring, half a second ahead.
    assert voices < 120
    assert repeated.console == []


@pytest.mark.parametrize(
    ("name", "bars"),
    [("one-bar", "| C |"), ("no-chord", "| N.C. | N.C. |"), ("short-bar", "| C |")],
)
def test_the_smallest_songs_play_and_loop(
    open_page: Open, make_page: Made, name: str, bars: str
) -> None:
    meter = "meter: 1/4\nbass: long notes\n" if name == "short-bar" else ""
    text = f"title: Small\ntempo: 240\n{meter}a:\n{bars}\n"
    opened = open_page(make_page(name, text, in_one_key=True), width=390, before=DRIVEN)
    opened.page.keyboard.press("l")
    opened.tick("ladder-on")
    begins = start(opened)
    # The longest of them, two bars at 60 %, is played three times in ten seconds.
    run_to(opened, begins + 10)
    assert opened.run("practicePage.page.player.spans.some((span) => span.pass > 3)")
    opened.page.click("#play")
    assert opened.console == []
    assert "undefined" not in opened.page.inner_text("body")


def test_nothing_on_the_page_moves_by_itself() -> None:
    # So that no reader who asks for less motion is given any (WCAG 2.2, 2.3.3).
    style = (ROOT / "groove" / "page" / "page.css").read_text(encoding="utf-8")
    assert not {"transition", "animation", "@keyframes", "scroll-behavior"} & set(
        re.findall(r"@?[a-z-]+", style)
    )


def test_the_next_chord_at_the_end_of_a_loop_is_its_first(repeated: Opened) -> None:
    opened = repeated
    # Bars 2 to 4 as played: G, A7, D; without a loop bar 5 has G after D.
    opened.run("practicePage.page.setLoop([2, 3], 'bars')")
    opened.run("practicePage.page.goTo(practicePage.song.bars[3].start)")
    assert [opened.page.inner_text(f"#{name}") for name in ("now", "next")] == ["A7", "G"]
    opened.run("practicePage.page.setLoop(null, 'once')")
    assert [opened.page.inner_text(f"#{name}") for name in ("now", "next")] == ["A7", "D"]


def test_going_to_a_place_outside_a_loop_ends_it(repeated: Opened) -> None:
    opened = repeated
    opened.run("practicePage.page.setLoop([1, 6], 'bars')")
    opened.page.keyboard.press("1")
    assert opened.run("practicePage.page.loop") == [1, 6]
    opened.page.keyboard.press("4")
    assert opened.run("practicePage.page.loop") is None
    assert opened.page.inner_text("#place").startswith("chorus 2, bar 5")


COUNTED = SHORT.replace("tempo: 120", "tempo: 120\npickup: 1\ncount-in: 2 {giver}")


@pytest.mark.parametrize(("giver", "part"), [("hat", "click"), ("bass", "bass")])
def test_the_page_counts_in_as_a_render_does(
    open_page: Open, make_page: Made, library: Library, giver: str, part: str
) -> None:
    """Two bars and three beats before a pickup of one, at 120: the same ticks in both."""
    chart = COUNTED.format(giver=giver)
    opened = open_page(make_page(f"counted-{giver}", chart, in_one_key=True))
    label = opened.page.text_content("label:has(#counts-in)")
    assert label and label.strip() == "Count in, 2 bars"
    opened.page.click("#play")
    opened.wait("practicePage.page.player?.isPlaying")
    found = opened.run(
        "(({ from, notes }) => notes.map((note) => [note.part, note.pitch, note.velocity,"
        " note.onset - from]))(practicePage.page.player.spans[0])"
    )
    led = with_count_in(perform_song(parse_chart(chart), library))
    pickup = next(bar.start_tick for bar in led.bars if bar.ref.is_pickup)
    counted = [note for note in led.notes if note.grid_tick < pickup]
    assert len(found) == len(counted) == 11
    for (own, pitch, velocity, sec), note in zip(found, counted, strict=True):
        assert (own, pitch, velocity) == (note.part, note.pitch, note.velocity)
        assert own == part and abs(sec - note.grid_tick / 1920) < 1e-6


def test_a_page_that_nobody_counts_in_begins_at_once(open_page: Open, make_page: Made) -> None:
    """Its switch is off, and gives a bar of sticks to a player who wants one."""
    chart = SHORT.replace("tempo: 120", "tempo: 120\ncount-in: nobody")
    opened = open_page(make_page("uncounted", chart, in_one_key=True))
    assert not opened.page.is_checked("#counts-in")
    opened.tick("counts-in")
    opened.page.click("#play")
    opened.wait("practicePage.page.player?.isPlaying")
    assert (
        opened.run("practicePage.page.player.spans[0].notes.map((note) => note.pitch)") == [37] * 4
    )
