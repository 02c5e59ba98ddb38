"""What the page asks of the device, and what it says to who cannot see: by a driven clock."""

import pytest
from playwright.sync_api import Browser

from tests.page.conftest import SHORT, Made, Opened, opening, settle
from tests.page.driven import DRIVEN, listen, run_to, start

DEVICE = """
() => {
window.asked = { locks: 0, held: 0, kinds: [] };
Object.defineProperty(navigator, "wakeLock", { value: {
  request: async (what) => {
    asked.locks += what === "screen";
    asked.held += 1;
    const acts = [];
    const lock = {
      addEventListener: (name, act) => name === "release" && acts.push(act),
      release: async () => { asked.held -= 1; acts.forEach((act) => act()); },
    };
    asked.last = lock;
    return lock;
  },
}, configurable: true });
Object.defineProperty(navigator, "audioSession", { value: {
  set type(kind) { asked.kinds.push(kind); },
}, configurable: true });
}
"""


@pytest.fixture
def device(short: Opened) -> Opened:
    """A page on a device that notes what it is asked for."""
    short.run(DEVICE)
    return short


def test_the_screen_stays_on_while_it_plays_and_no_longer(
    device: Opened,
) -> None:
    """Screen Wake Lock, W3C: released with the page hidden, so asked for anew when it is seen."""
    start(device)
    device.wait("asked.held === 1")
    device.run("asked.last.release()")
    device.run("document.dispatchEvent(new Event('visibilitychange'))")
    device.wait("asked.held === 1")
    assert device.run("asked.locks") == 2
    device.page.click("#play")
    device.wait("asked.held === 0")
    # Stopped before the browser has answered: what comes then is let go of at once.
    device.run("practicePage.page.awake.hold(), practicePage.page.awake.letGo()")
    device.wait("asked.locks === 3 && asked.held === 0")


def test_music_is_heard_with_the_silent_switch_on_and_a_microphone_too(device: Opened) -> None:
    """Audio Session, W3C: "playback" is heard; a microphone needs "play-and-record"."""
    listen(device)
    assert device.run("asked.kinds") == ["playback", "play-and-record"]
    device.page.click("#ear-opens")
    device.page.uncheck("#ear-on")
    assert device.run("asked.kinds.at(-1)") == "playback"
    device.run(REFUSED)
    device.page.click("#ear-on")
    device.wait("!document.getElementById('ear-on').checked")
    assert device.run("asked.kinds.slice(-2)") == ["play-and-record", "playback"]


REFUSED = "() => { navigator.mediaDevices.getUserMedia = () => Promise.reject(new Error('no')); }"
TOLD = """
() => {
  window.told = [];
  const note = () => told.push([driven.now, document.getElementById("told").textContent]);
  new MutationObserver(note).observe(document.getElementById("told"), { childList: true,
    characterData: true, subtree: true });
}
"""
TENTHS = """
async (begins) => {
  for (let tenths = 1; tenths < 120; tenths += 1) {
    driven.to(begins + tenths / 10);
    // What is told is noted after what tells it.
    await null;
  }
}
"""


def test_what_is_played_is_told_and_does_not_flood(device: Opened) -> None:
    """At 120 a bar takes 2 s: every second one is told, and the chorus when it begins."""
    device.run(TOLD)
    begins = start(device)
    device.run(TENTHS, begins)
    told = [(at - begins, words) for at, words in device.run("told")]
    assert [words for _, words in told] == [
        "verse, bar 1  ·  1 of 4: D, then G",
        "verse, bar 3  ·  3 of 4: A7, then D",
        "chorus, bar 5  ·  1 of 2: G, then A",
    ]
    for (at, _), bar in zip(told, (0, 2, 4), strict=True):
        assert -0.1 < at - 2 * bar < 0.2
    assert device.page.get_attribute("#told", "role") == "status"


CARD = """title: Long Card
tempo: 120
""" + "".join(f"{name} part:\n| D | G | A7 | D |\n| G | A | Bm | A |\n" for name in "abcdefgh")


PLACE = "document.getElementById('card').scrollTop"


def test_the_card_keeps_its_place_in_play(browser: Browser, make_page: Made) -> None:
    """Where a player has moved it to, through bars and sections."""
    with opening(browser) as open_file:
        opened = open_file(make_page("long-card", CARD, in_one_key=True), width=390, before=DRIVEN)
        opened.page.select_option("#view", "card")
        settle(opened.page, 390, 553)
        opened.run("document.getElementById('card').scrollTo(0, 150)")
        assert opened.run(PLACE) == 150
        begins = start(opened)
        run_to(opened, begins + 24.5)
        assert opened.run("practicePage.page.bar") == 12
        assert opened.run(PLACE) == 150


@pytest.mark.parametrize("counts", [True, False])
def test_after_a_pause_it_goes_on_at_the_bar_where_it_is_counted_in(
    repeated: Opened, counts: bool
) -> None:
    """Nobody comes in on two and a half: a count leads to a bar line (common practice)."""
    begins = start(repeated)
    run_to(repeated, begins + 3.8)
    repeated.page.click("#play")
    at = repeated.run("practicePage.page.position")
    bar = repeated.run("practicePage.song.bars[practicePage.page.bar].start")
    assert at - bar > 0.5
    start(repeated, counts_in=counts)
    spans = repeated.run(
        "practicePage.page.player.spans.map((s) => [s.counts, s.from, s.notes.length])"
    )
    if counts:
        assert spans[0][2] == 4
        assert spans[1][1] == pytest.approx(bar)
    else:
        assert spans[0][1] == pytest.approx(at, abs=0.02)


HELD_BACK = """
const unpack = OfflineAudioContext.prototype.decodeAudioData;
const unpacks = new Promise((done) => { window.unpacked = done; });
OfflineAudioContext.prototype.decodeAudioData = async function (bytes) {
  const wrong = await unpacks;
  if (wrong) throw new Error(wrong);
  return unpack.call(this, bytes);
};
"""


def test_a_press_before_the_sounds_are_unpacked_is_kept_until_they_are(
    browser: Browser, make_page: Made
) -> None:
    with opening(browser) as open_file:
        opened = open_file(make_page("short", SHORT), before=DRIVEN + HELD_BACK, unpacked=False)
        opened.page.click("#play")
        assert "unpacked" in opened.page.inner_text("#message")
        assert not opened.run("practicePage.page.player.isPlaying")
        opened.run("unpacked()")
        opened.wait("practicePage.page.player.isPlaying")
        assert opened.page.inner_text("#message") == ""
        assert opened.run("practicePage.page.rows.size") == 4


def test_a_page_whose_sounds_cannot_be_unpacked_says_so_and_is_closed(
    browser: Browser, make_page: Made
) -> None:
    with opening(browser) as open_file:
        opened = open_file(make_page("short", SHORT), before=DRIVEN + HELD_BACK, unpacked=False)
        opened.run("unpacked('no such sound')")
        opened.wait("!document.body.dataset.ready")
        assert "no such sound" in opened.page.inner_text("#closed")
        assert not opened.page.is_visible("#play")
        assert any("no such sound" in said for said in opened.console)
