"""The page plays: from disk, without a network, every onset where the event list has it.

The event list is the performance (and ``groove.cut`` for a loop), which the page's scripts know
nothing of; onsets are read from recorded samples of a font whose attacks are steps.
"""

import base64
import random
from bisect import bisect_right
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy
import pytest
from numpy.typing import NDArray

from groove.cells.model import Library
from groove.chart.parse import parse_chart
from groove.cut import cut_bars
from groove.events import Part, Performance
from groove.pipeline import perform_song
from tests.conftest import ROOT
from tests.page.conftest import ROW_BEGINS, SHORT, Made, Opened, settle
from tests.page.driven import DRIVEN, run_to, start

CHART = (ROOT / "shared" / "charts" / "lantern-row.txt").read_text(encoding="utf-8")
RATE = 16_000
"""Samples a second of what is recorded: sixteen for the millisecond that is asked for."""
LOOP = (4, 7)
START_SEC = 0.25
WITHIN_SEC = 0.001
QUIET_SEC = 0.004
BOTH_PASSES = 2

Open = Callable[..., Opened]

RECORD = """
async ({parts, share, change, loop, start, passes, rate}) => {
  const { page, Player, song } = practicePage;
  const [first, last] = [song.bars[loop[0]].start, song.bars[loop[1]].end];
  const slowest = Math.min(share, change?.share ?? share);
  const seconds = start + passes * (last - first) / slowest + 1;
  const context = new OfflineAudioContext(1, Math.ceil(seconds * rate), rate);
  const outputs = new Map(parts.map((part) => [part, context.destination]));
  const player = new Player(context, song, page.rows, outputs);
  player.wishes = { ...player.wishes, share, loop, countsIn: false };
  player.start(start, first);
  if (change) {
    player.pump(change.time + 0.4);
    player.wishes = { ...player.wishes, share: change.share };
    player.replan(change.time);
  }
  const ends = () => player.spans.filter((span) => span.pass > passes);
  let until = 0;
  while (ends().length === 0) player.pump(until += 0.5);
  const over = ends()[0].time;
  const played = (await context.startRendering()).getChannelData(0);
  const bytes = new Uint8Array(played.slice(0, Math.ceil(over * rate)).buffer);
  const pieces = [];
  for (let at = 0; at < bytes.length; at += 32768) {
    pieces.push(String.fromCharCode(...bytes.subarray(at, at + 32768)));
  }
  return { late: player.late, samples: btoa(pieces.join("")) };
}
"""


@pytest.fixture(scope="module")
def performance(library: Library) -> Performance:
    """The performance of the shipped song."""
    return perform_song(parse_chart(CHART), library)


@pytest.fixture(scope="module")
def listed(library: Library) -> list[float]:
    """When something of the short song begins: its notes, and the beats that a click may have."""
    performance = perform_song(parse_chart(SHORT), library)
    to_sec = performance.tempo_map.tick_to_sec
    onsets = [to_sec(note.onset_tick) for note in performance.notes]
    beats = [to_sec(bar.start_tick + 960 * beat) for bar in performance.bars for beat in range(4)]
    return sorted([*onsets, *beats])


def off_list(listed: list[float], at: float) -> float:
    """Return how far a time is from the nearest one of the event list."""
    return min(abs(at - each) for each in listed)


def positions(performance: Performance, part: Part) -> tuple[list[float], float]:
    """Return the onsets of the loop in seconds from its start, and its length."""
    piece = cut_bars(performance, range(LOOP[0], LOOP[1] + 1))
    onsets = {note.onset_tick for note in piece.part_notes(part)}
    return sorted(map(piece.tempo_map.tick_to_sec, onsets)), piece.length_sec


def expected_sec(
    onsets: list[float], length: float, share: float, change: dict[str, float] | None
) -> list[float]:
    """Return when the onsets of two passes sound, a change of tempo in between."""
    moved = [onset + turn * length for turn in range(BOTH_PASSES) for onset in onsets]
    if change is None:
        return [START_SEC + at / share for at in moved]
    turning = (change["time"] - START_SEC) * share
    return [
        START_SEC + at / share
        if at <= turning
        else change["time"] + (at - turning) / change["share"]
        for at in moved
    ]


def recorded_samples(recorded: dict[str, Any]) -> "NDArray[numpy.float32]":
    """Return what was recorded; the page hands it over as base64."""
    return numpy.frombuffer(base64.b64decode(recorded["samples"]), numpy.float32)


def heard_sec(samples: "NDArray[numpy.float32]") -> list[float]:
    """Return the times at which sound begins after at least four milliseconds without any."""
    level = numpy.abs(samples)
    loud = numpy.nonzero(level > 0.02 * level.max())[0]
    gaps = numpy.diff(loud, prepend=-RATE) > QUIET_SEC * RATE
    return [float(at) / RATE for at in loud[gaps]]


@pytest.mark.parametrize(
    ("share", "part", "to_share"),
    # Any two values of two of the three meet.
    [
        (0.4, Part.BASS, None),
        (0.4, Part.DRUMS, 0.85),
        (1.0, Part.BASS, 0.85),
        (1.0, Part.DRUMS, None),
        (1.6, Part.BASS, 0.85),
        (1.6, Part.DRUMS, None),
    ],
)
def test_onsets_are_where_the_event_list_has_them(
    row: Opened,
    performance: Performance,
    share: float,
    part: Part,
    to_share: float | None,
) -> None:
    onsets, length = positions(performance, part)
    # The tempo changes in the second pass, a little after its first bar began.
    change = to_share and {"time": START_SEC + 1.3 * length / share, "share": to_share}
    told: dict[str, Any] = {"share": share, "change": change or None, "loop": list(LOOP)}
    told |= {"parts": [part.value], "start": START_SEC, "passes": BOTH_PASSES, "rate": RATE}
    recorded = row.run(RECORD, told)
    expected = expected_sec(onsets, length, share, told["change"])
    # Strokes that follow each other closer than a click rings are heard as one.
    apart = [
        at for at, before in zip(expected, [-1.0, *expected], strict=False) if at - before > 0.016
    ]
    heard = heard_sec(recorded_samples(recorded))
    assert recorded["late"] == 0
    assert len(expected) > 40
    assert len(heard) == len(apart)
    assert max(abs(a - b) for a, b in zip(heard, apart, strict=True)) <= WITHIN_SEC


def test_onsets_hold_where_the_fallback_made_the_sounds(
    open_page: Open, row_begins: Path, library: Library
) -> None:
    performance = perform_song(parse_chart(ROW_BEGINS), library)
    onsets, length = positions(performance, Part.BASS)
    told: dict[str, Any] = {"share": 1.0, "change": None, "loop": list(LOOP), "parts": ["bass"]}
    told |= {"start": START_SEC, "passes": BOTH_PASSES, "rate": RATE}
    opened = open_page(row_begins)
    level = numpy.abs(recorded_samples(opened.run(RECORD, told)))
    expected = expected_sec(onsets, length, 1.0, None)
    # The fallback adds a room of its own, so an onset is a leap over what rings.
    for at in expected:
        before, onset, after = (round((at + by) * RATE) for by in (-0.003, -WITHIN_SEC, WITHIN_SEC))
        assert level[onset:after].max() > 3 * level[before:onset].max()
    assert len(expected) > 40
    opened.play()
    opened.wait("practicePage.page.position > 0.1")
    assert opened.console == []


def test_without_the_bass_exactly_its_notes_are_gone(row: Opened) -> None:
    told: dict[str, Any] = {"share": 1.0, "change": None, "loop": list(LOOP), "rate": RATE}
    told |= {"start": START_SEC, "passes": 1}
    full, band, bass = (
        recorded_samples(row.run(RECORD, told | {"parts": parts}))
        for parts in (["bass", "drums", "keys"], ["drums", "keys"], ["bass"])
    )
    assert numpy.abs(bass).max() > 0.1
    assert numpy.abs(full - band - bass).max() < 1e-5


def test_it_opens_from_disk_and_plays_after_a_click(open_page: Open, listened_row: Path) -> None:
    opened = open_page(listened_row)
    assert opened.run("practicePage.page.mixer === null")
    opened.play()
    opened.wait("practicePage.page.position > 0.3")
    assert opened.page.inner_text("#play") == "Pause"
    assert opened.page.inner_text("#now") == "D"
    assert opened.page.inner_text("#next") == "Em7/D"
    opened.page.click("#play")
    assert opened.page.inner_text("#play") == "Play"
    assert opened.console == []
    assert opened.requests == [listened_row.as_uri()]


def test_no_font_comes_late(row: Opened) -> None:
    """One that came after the first line would lay the page out anew: signs are outlines.

    The set has every ``@font-face`` and each that a script adds (CSS Font Loading 3, section 4).
    """
    assert row.run("document.fonts.size") == 0
    late = "document.fonts.add(new FontFace('late', 'local(serif)'))"
    assert row.run(f"({late}, document.fonts.size)") == 1
    row.run("document.fonts.clear()")


def test_a_song_without_a_bass_or_a_band_plays_too(open_page: Open, make_page: Made) -> None:
    charts = {
        "no-bass": "title: No bass\nbass: out\nverse:\n| D | G |\n",
        "alone": "title: Alone\nkeys: out\ndrums: out\nmeter: 3/4\npickup: 1\nverse:\n"
        "| N.C. | Db |\n",
    }
    for name, text in charts.items():
        opened = open_page(make_page(name, text), width=390, before=DRIVEN)
        opened.choose("transpose", "3")
        begins = start(opened)
        run_to(opened, begins + 2)
        assert opened.run("practicePage.page.position") > 1.5
        assert opened.console == []


LATE = "[practicePage.page.player.late, practicePage.page.player.dropped]"


def test_a_busy_page_is_never_late(short: Opened) -> None:
    """Something else takes so long that the page has a turn five times a second."""
    begins = start(short)
    for turn in range(1, 18):
        short.run("(at) => { driven.now = at; reused.turn(); }", begins + 0.2 * turn)
    assert short.run("practicePage.page.position") > 3.3
    assert short.run("practicePage.page.player.spans[0].next") > 15
    assert short.run(LATE) == [0, 0]


def test_a_hidden_page_keeps_time(short: Opened, listed: list[float]) -> None:
    """Its timers come once a second (HTML, timers of hidden pages), and it is given no frames."""
    begins = start(short)
    short.run("void Object.defineProperty(document, 'hidden', { value: true, configurable: true })")
    short.run("document.dispatchEvent(new Event('visibilitychange'))")
    for turn in range(1, 4):
        short.run("(at) => { driven.now = at; reused.turn(); }", begins + turn)
    player = "practicePage.page.player"
    assert short.run(f"[...{LATE}, {player}.spans.length]") == [0, 0, 1]
    # What is scheduled lies within the look-ahead and the timer's second.
    times = [at - begins for at in short.run(f"{player}.voices.map((voice) => voice.time)")]
    assert 4 < max(times) <= 5.6
    # Everything is still scheduled from where play began, at the times of the event list.
    assert len(times) > 20
    assert max(off_list(listed, at) for at in times) < WITHIN_SEC


SPEEDS = """
(semitones) => {
  const { page, Player, song } = practicePage;
  const context = new OfflineAudioContext(1, 1, 48000);
  const outputs = new Map(["bass", "drums", "keys"].map((part) => [part, context.destination]));
  const player = new Player(context, song, page.rows, outputs);
  player.wishes = { ...page.wishes(), countsIn: false, transpose: semitones, loop: null,
    bassMoves: page.moved[String(semitones)]?.map(([by]) => by) ?? null };
  const found = [];
  const make = context.createBufferSource.bind(context);
  context.createBufferSource = () => {
    const source = make();
    const start = source.start.bind(source);
    source.start = (time, offset, length) => {
      const [part, row] = [...page.rows].find(([, each]) => each.buffer === source.buffer);
      const { pitch } = row.samples.find((sample) => sample.offset === offset);
      found.push([part, pitch + 12 * Math.log2(source.playbackRate.value)]);
      start(time, offset, length);
    };
    return source;
  };
  player.start(0, 0);
  player.pump(30);
  return found;
}
"""


@pytest.mark.parametrize("semitones", [-6, 0, 3])
def test_another_key_moves_bass_and_keys_and_not_the_drums(
    row: Opened, performance: Performance, semitones: int
) -> None:
    # Equal temperament: a semitone is a ratio of 2 ** (1 / 12) (ISO 16 fixes only the A).
    found = row.run(SPEEDS, semitones)
    to_sec = performance.tempo_map.tick_to_sec
    for part, moved in ((Part.BASS, semitones), (Part.KEYS, semitones), (Part.DRUMS, 0)):
        heard = Counter(round(pitch) for name, pitch in found if name == part.value)
        if part is Part.BASS and semitones < 0:
            # What would leave the bass sounds an octave higher.
            assert min(heard) >= 28
            heard = Counter({pitch % 12: 0 for pitch in heard})
            heard.update(round(pitch) % 12 for name, pitch in found if name == "bass")
            played = [n for n in performance.part_notes(part) if to_sec(n.onset_tick) < 30]
            assert heard == Counter((note.pitch + moved) % 12 for note in played)
            continue
        notes = [n for n in performance.part_notes(part) if to_sec(n.onset_tick) < 30]
        assert heard == Counter(note.pitch + moved for note in notes)
        assert len(notes) > 50
    assert max(abs(pitch - round(pitch)) for _, pitch in found) < 1e-4


SAMPLE = """
(waits) => {
  const { page } = practicePage;
  const found = [];
  const box = (element) => element.getBoundingClientRect();
  // A ring lies around a head or a number of its note, whose middle is inside it.
  const around = (ring) => {
    const { left, right, top, bottom } = box(ring);
    const signs = document.querySelectorAll(`#sheet [data-note="${ring.dataset.ringed}"] > *`);
    return [...signs].some((sign) => {
      const at = box(sign);
      const [x, y] = [(at.left + at.right) / 2, (at.top + at.bottom) / 2];
      return x > left && x < right && y > top && y < bottom;
    });
  };
  for (const wait of waits) {
    driven.now += wait / 1000;
    reused.turn();
    const heads = [...document.querySelectorAll("#sheet .ring")];
    const rings = heads.map((ring) => ring.dataset.ringed);
    const ringed = heads.filter(around).length;
    // What is heard now was scheduled for the clock's time less what the output takes, and less
    // the compressor's look-ahead of 6 ms (Web Audio API, DynamicsCompressorNode).
    const { context } = page.mixer;
    const [span] = page.player.spans;
    const heard = context.currentTime - context.outputLatency - 0.006;
    const off = (heard - span.time) * span.share + span.from - page.position;
    found.push([page.position, [...new Set(rings)].map(Number), rings.length, ringed, off]);
  }
  return found;
}
"""


@pytest.mark.parametrize("width", [390, 1280])
def test_the_marked_note_is_the_sounding_note(short: Opened, library: Library, width: int) -> None:
    opened = short
    settle(opened.page, width, 900)
    opened.run("practicePage.page.setShare(1.6)")
    opened.run("(driven.latencySec = 0.05)")
    begins = start(opened)
    run_to(opened, begins + 0.1)
    draw = random.Random("marks")
    samples = opened.run(SAMPLE, [draw.randint(1, 60) for _ in range(60)])
    performance = perform_song(parse_chart(SHORT), library)
    notes = sorted(performance.part_notes(Part.BASS), key=lambda note: note.grid_tick)
    to_sec = performance.tempo_map.tick_to_sec
    onsets = [to_sec(note.onset_tick) for note in notes]
    # Head and number on a laptop; a phone shows the tab alone.
    signs = 1 if width == 390 else 2
    marked = 0
    for position, rings, count, around, _ in samples:
        index = bisect_right(onsets, position) - 1
        sounds = index >= 0 and position < to_sec(notes[index].end_tick)
        assert rings == ([index] if sounds else [])
        assert around == count >= signs * sounds
        marked += sounds
    assert len(samples) == 60
    assert 18 < marked < 60
    assert max(abs(off) for *_, off in samples) < 1e-6


SLEPT = """
(seconds) => {
  const { player } = practicePage.page;
  window.times = [];
  const play = player.play.bind(player);
  player.play = (note, time, share, counts) => {
    times.push(time);
    play(note, time, share, counts);
  };
  driven.now += seconds;
  reused.turn();
}
"""


def test_after_a_sleep_nothing_is_played_in_a_heap(short: Opened, listed: list[float]) -> None:
    begins = start(short)
    run_to(short, begins + 1)
    # Asleep for a second and a half: longer than the look-ahead of half a second.
    short.run(SLEPT, 1.5)
    run_to(short, begins + 3.3)
    late, dropped = short.run(LATE)
    times = [at - begins for at in short.run("times")]
    moved = [at for at in times if off_list(listed, at) > WITHIN_SEC]
    # A second past the look-ahead holds some fifteen notes; those less than 50 ms late are played.
    assert dropped > 5
    assert len(moved) == late - dropped <= 4
    assert len(times) > 8
