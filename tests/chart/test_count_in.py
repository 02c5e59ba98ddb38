"""Who counts a song in, for how many bars: read, written, played before the song and on the card.

That a band is counted in by bars of beats in the meter of bar 1 is common practice, no source.
"""

import io
import json
import subprocess
from pathlib import Path
from typing import Any

import mido
import pytest

from groove.cells.model import Library
from groove.chart.parse import parse_chart
from groove.chart.write import write_chart
from groove.cut import with_count_in
from groove.errors import ChartError, SoundError
from groove.events import CountGiver, CountIn, Part, Performance, Touch
from groove.harmony.analysis import analyse
from groove.io.midi import midi_bytes
from groove.neck.instrument import STANDARD
from groove.page.data import page_data
from groove.pipeline import PerformOptions, perform_song
from groove.text.card import song_card
from tests.cli.command import Command
from tests.click_font import EVERY_PRESET, click_font
from tests.conftest import ROOT

CHART = "title: Long Stair\ntempo: 90\nkey: D\n{count}\nverse:\n  | D | A |\n"
SIDE_STICK, CLOSED_HAT = 37, 42
"""General MIDI 1 sound set (MMA, 1991), percussion key map."""


def chart(count: str) -> str:
    return CHART.format(count=f"count-in: {count}" if count else "")


def played(count: str, library: Library) -> Performance:
    return perform_song(parse_chart(chart(count)), library, PerformOptions(tight=True))


def struck(performance: Performance, parts: tuple[Part, ...] = tuple(Part)) -> list[Any]:
    """Return (tick, channel, key) of what is heard before bar 1, as mido reads our MIDI."""
    led = with_count_in(performance, parts)
    first = next(bar.start_tick for bar in led.bars if bar.ref.written_bar == 1)
    file = mido.MidiFile(file=io.BytesIO(midi_bytes(led, parts=parts)))
    found = []
    for track in file.tracks:
        tick = 0
        for message in track:
            tick += message.time
            if message.type == "note_on" and message.velocity and tick < first:
                found.append((tick, message.channel, message.note))
    return sorted(found)


@pytest.mark.parametrize(
    ("text", "bars", "giver"),
    [
        ("2 sticks", 2, "sticks"),
        ("2", 2, "sticks"),
        ("2 bars", 2, "sticks"),
        ("1 bar, hat", 1, "hat"),
        ("2 Bars of Hat", 2, "hat"),
        ("bass", 1, "bass"),
        ("4 bass", 4, "bass"),
        ("nobody", 0, "nobody"),
        ("none", 0, "nobody"),
        ("0", 0, "nobody"),
    ],
)
def test_a_chart_says_who_counts_in(text: str, bars: int, giver: str) -> None:
    """It reads back from the chart that is written, and stands wherever a song's settings do."""
    song = parse_chart(chart(text))
    assert song.count_in == CountIn(bars, CountGiver(giver))
    assert parse_chart(write_chart(song)).count_in == song.count_in
    below = f"verse:\n| D | A |\ncount in: {text}\n"
    assert parse_chart(below).count_in == song.count_in


def test_a_chart_without_the_word_has_a_bar_of_sticks() -> None:
    song = parse_chart(chart(""))
    assert song.count_in == CountIn(1, CountGiver.STICKS)
    assert "count-in" not in write_chart(song)


@pytest.mark.parametrize("text", ["5 bars", "tuba", "2 nobody", "-1", "2 2", "hat 2"])
def test_what_is_no_count_in_is_refused(text: str) -> None:
    with pytest.raises(ChartError, match="cannot read count-in") as error:
        parse_chart(chart(text))
    assert "expected 1 to 4 bars and who gives them, as 2 sticks, 1 hat or bass" in error.value.hint


@pytest.mark.parametrize(
    ("text", "bars", "key"),
    [("", 1, SIDE_STICK), ("2 sticks", 2, SIDE_STICK), ("3 hat", 3, CLOSED_HAT)],
)
def test_the_bars_are_struck_before_the_song(
    text: str, bars: int, key: int, library: Library
) -> None:
    """Quarters of 960 ticks on MIDI's tenth channel, four a bar; nothing else sounds there."""
    wanted = [(960 * beat, 9, key) for beat in range(4 * bars)]
    assert struck(played(text, library)) == wanted
    led = with_count_in(played(text, library))
    assert [m.text for m in led.markers][:2] == ["count-in", "verse"]
    assert [bar.start_tick for bar in led.bars[: bars + 1]] == [3840 * n for n in range(bars + 1)]


def test_the_bass_counts_alone_and_sticks_stand_for_it(library: Library) -> None:
    """Muted strokes of its first note, D; a track without the bass is counted in all the same."""
    whole = played("2 bass", library)
    found = struck(whole)
    assert [tick for tick, _, _ in found] == [960 * beat for beat in range(8)]
    channels = {channel for _, channel, _ in found}
    assert len(channels) == 1 and 9 not in channels
    assert {key % 12 for _, _, key in found} == {2}
    counted = with_count_in(whole).notes[:8]
    assert {(note.part, note.touch) for note in counted} == {(Part.BASS, Touch.GHOST)}
    without = (Part.DRUMS, Part.KEYS, Part.CLICK)
    assert struck(whole, without) == [(960 * beat, 9, SIDE_STICK) for beat in range(8)]


def test_nobody_counts_in(library: Library) -> None:
    whole = played("nobody", library)
    assert with_count_in(whole) == whole
    assert struck(played("", library)) != struck(whole) == []


def test_a_pickup_is_counted_into_after_the_bars(library: Library) -> None:
    """Two bars of four and three beats of the third, where the pickup of one comes in."""
    text = "tempo: 90\nkey: D\ncount-in: 2 hat\npickup: 1 | A |\nverse:\n| D | A |\n"
    led = with_count_in(perform_song(parse_chart(text), library, PerformOptions(tight=True)))
    hats = [n.grid_tick for n in led.notes if n.part is Part.CLICK]
    assert hats == [960 * beat for beat in range(11)]
    assert next(bar.start_tick for bar in led.bars if bar.ref.is_pickup) == 11 * 960


@pytest.mark.parametrize(
    ("text", "count"),
    [
        ("", "1 2 3 4"),
        ("2 sticks", "1 2 3 4, 1 2 3 4"),
        ("1 hat", "hat: 1 2 3 4"),
        ("nobody", "nobody counts in"),
    ],
)
def test_the_card_says_the_count(text: str, count: str) -> None:
    card = song_card(analyse(parse_chart(chart(text))))
    assert dict(card.facts)["Count"] == count


def test_the_page_has_the_same_count(library: Library) -> None:
    """What the page's player is told is what a render strikes."""
    compared = 0
    for text, part in (("2 hat", "click"), ("bass", "bass"), ("", "click")):
        whole = played(text, library)
        data: Any = page_data(whole, whole.bars[0].key, STANDARD)
        count = data["click"]["count"]
        led = with_count_in(whole)
        first = led.notes[0]
        assert (count["part"], count["pitch"]) == (first.part, first.pitch) == (part, first.pitch)
        assert count["velocities"] == [led.notes[0].velocity, led.notes[1].velocity]
        assert count["bars"] == whole.count_in.bars
        compared += 1
    assert compared == 3


def beats(file: Path, before_sec: float) -> list[float]:
    """Return when something is struck in a MIDI file before a moment, in seconds."""
    found: list[float] = []
    now = 0.0
    for message in mido.MidiFile(file):
        now += message.time
        if message.type == "note_on" and message.velocity and now < before_sec - 1e-3:
            found.append(round(now, 3))
    return sorted(set(found))


@pytest.mark.parametrize(("count", "bars"), [("", 1), ("2 hat", 2), ("2 bass", 2), ("nobody", 0)])
def test_the_same_count_in_render_page_drill_and_gig(
    groove: Command, library: Library, count: str, bars: int
) -> None:
    """At 90 a beat is two thirds of a second: by hand, four a bar, and then the song begins.

    A gig's sound is taken where its synthesizer gets it, the page's from its own player, which has
    a switch of its own where nobody counts.
    """
    groove.write("song.txt", chart(count))
    groove.write("set.txt", "song\n")
    due = [round(beat * 2 / 3, 3) for beat in range(4 * bars)]
    song_sec = round(4 * bars * 2 / 3, 3)
    words = () if count == "nobody" else ("--count-in",)
    assert groove("render", "song.txt", "--tight", *words, "-o", "render.mid").code == 0
    once = ("--bars", "1-2", "--from", "100%", "--times", "1", "--bass", "always")
    assert groove("drill", "song.txt", *once, "-o", "drill.mid").code == 0
    sounded_by_a_gig(groove)
    for name in ("render", "drill", "gig"):
        assert beats(groove.folder / f"{name}.mid", song_sec) == due, name
    if bars:
        whole = played(count, library)
        data = json.dumps(page_data(whole, whole.bars[0].key, STANDARD))
        assert counted_by_a_page(data) == (due, song_sec)


def counted_by_a_page(data: str) -> tuple[list[float], float]:
    """Return when a page's own player counts, and when its song begins, as node runs it."""
    ran = subprocess.run(
        ["node", "tests/page/counted.mjs"], cwd=ROOT, input=data, capture_output=True, text=True
    )
    assert ran.returncode == 0, ran.stderr
    found = json.loads(ran.stdout)
    return [round(stroke, 3) for stroke in found["strokes"]], round(found["song"], 3)


def sounded_by_a_gig(groove: Command) -> None:
    """Write the MIDI of all parts that a gig's audio is made of, as gig.mid."""
    led: list[Performance] = []

    def kept(performance: Performance, **asked: Any) -> Any:
        led.append(performance)
        raise SoundError("kept")

    (groove.folder / "click.sf2").write_bytes(click_font(EVERY_PRESET))
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr("groove.io.synth.audio_samples", kept)
        groove("gig", "set.txt", "--as", "wav", "--soundfont", "click.sf2", "--jobs", "1")
    (groove.folder / "gig.mid").write_bytes(midi_bytes(led[0]))


def test_a_render_asked_for_it_has_a_count_that_nobody_gives(groove: Command) -> None:
    """``--count-in`` stands above the chart, which stands above what is usual."""
    compared = 0
    for count, words, beats in (("nobody", ("--count-in",), 4), ("2 hat", ("--count-in",), 8)):
        groove.write("song.txt", chart(count))
        said = groove("render", "song.txt", "-o", "song.mid", *words)
        assert said.code == 0
        file = mido.MidiFile(groove.folder / "song.mid")
        names = [m.text for track in file.tracks for m in track if m.type == "marker"]
        assert names[0] == "count-in"
        ticks = []
        for track in file.tracks:
            tick = 0
            for message in track:
                tick += message.time
                if message.type == "marker" and message.text == "verse":
                    ticks.append(tick)
        assert ticks[0] == beats * file.ticks_per_beat
        compared += 1
    assert compared == 2
