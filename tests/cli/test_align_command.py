"""``groove align`` as the player calls it: text, data, and one clear error where it cannot be.

What is asked of errors is common practice, no source: what was found and what would do.
"""

import json
from random import Random

import mido
import numpy
import pytest
import soundfile
from msgspec.structs import replace

from groove.events import Part
from groove.io.midi import midi_bytes
from groove.io.records import LONGEST_RECORD_MINUTES
from groove.record.aligned import HeardSong
from tests.cli.command import Command
from tests.click_font import EVERY_PRESET, click_font
from tests.record.made_records import RATE_HZ, Samples, Studio, made_record
from tests.record.midi_markers import marker_secs
from tests.record.songs import (
    COPPER_KETTLE,
    GRAVEL_YARD,
    heard,
    listened_once,
    performed,
    rendered_once,
)
from tests.take.midi_takes import midi_take

STUDIO = Studio(seed=3, feel="soul", cents=-23, lead_in_sec=3.5, after_sec=4.0)
"""As in the tests of what is found, so that the record is made once."""
TONE = (0.1 * numpy.sin(numpy.arange(8000) * 0.3)).astype(numpy.float32)
"""A second of sound at 8 kHz."""


@pytest.fixture(autouse=True)
def _charts_are_rendered_once(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("groove.cli.aligning.rendered_sound", rendered_once)
    monkeypatch.setattr("groove.io.records.listen", listened_once)


def write_record(groove: Command, name: str, samples: Samples, rate_hz: int = RATE_HZ) -> None:
    """Write a chart and a sound file."""
    groove.write("song.txt", COPPER_KETTLE)
    soundfile.write(groove.folder / name, samples, rate_hz)


def test_a_record_in_words_and_as_data(groove: Command) -> None:
    record = made_record(COPPER_KETTLE, STUDIO)
    write_record(groove, "record.flac", record.samples)
    said = groove("align", "song.txt", "record.flac", "--json")
    assert said.code == 0
    found = json.loads(said.out)
    assert [bar["played_bar"] for bar in found["bars"]] == list(range(1, 25))
    secs = [bar["sec"] for bar in found["bars"]]
    assert numpy.median(abs(numpy.array(secs) - record.bar_secs)) < 0.04
    assert all(0 <= bar["confidence"] <= 1 for bar in found["bars"])
    assert found["tuning_cents"] == pytest.approx(-23, abs=5)
    assert found["form"] == found["form_given"] == "verse, chorus, verse, chorus"
    assert found["as_given"] is True and found["semitones"] == 0
    assert 0.5 < found["confidence"] <= 1 and found["edits"] == []
    assert found["tempo_bpm"] == pytest.approx(112, rel=0.04)

    said = groove("align", "song.txt", "record.flac", "--first", f"{record.bar_secs[0]:.2f}")
    assert said.code == 0
    lines = said.out.splitlines()
    assert max(map(len, lines)) <= 80
    assert lines[0].startswith("Copper Kettle in record.flac: 24 bars, confidence 0.")
    assert [line.split()[0] for line in lines[3:7]] == ["verse", "chorus"] * 2
    assert "cents low." in said.out and "Bar 1 begins at 0:03." in said.out
    assert "another form" not in said.out
    assert lines[-1].startswith("A recording is for your own practice")


def test_the_band_on_the_records_time(groove: Command) -> None:
    """By taps of every beat, which need no ear: the file's markers stand where they were tapped."""
    write_record(groove, "record.flac", numpy.tile(TONE, 58), 8000)
    groove.write("taps.txt", "\n".join(f"{4 + 0.55 * beat:.2f}" for beat in range(24 * 4 + 1)))
    words = ("align", "song.txt", "record.flac", "--taps", "taps.txt")
    said = groove(*words, "-o", "like.mid", "--click")
    assert (said.code, said.err) == (0, "wrote like.mid\n")
    assert "24 bars, confidence 0.90" in said.out
    file = mido.MidiFile(groove.folder / "like.mid")
    assert {"bass", "drums", "keys", "click"} <= {track.name for track in file.tracks}
    sections = [sec for name, sec in marker_secs((groove.folder / "like.mid").read_bytes())]
    bar = 4 * 0.55
    assert sections == pytest.approx([4, 4 + 4 * bar, 4 + 12 * bar, 4 + 16 * bar], abs=0.002)

    assert groove("align", "song.txt", "record.flac", "--click").err == (
        "--click goes into a file\n  add -o like.mid\n"
    )
    assert groove(*words, "--first", "4").err == (
        "--first beside --taps\n  the first tap is where bar 1 begins\n"
    )
    before = (groove.folder / "taps.txt").read_bytes()
    assert groove(*words, "-o", "taps.txt").code == 2
    assert (groove.folder / "taps.txt").read_bytes() == before


def test_render_on_the_records_time(groove: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    """The record is listened to once; its bar lines are the truth that it was made by."""
    record = made_record(COPPER_KETTLE, STUDIO)
    write_record(groove, "record.flac", TONE, 8000)  # what is heard in it is known here
    (groove.folder / "click.sf2").write_bytes(click_font(EVERY_PRESET))
    found = heard(COPPER_KETTLE, record)
    keeps_tempo = []

    def listen(*asked: object) -> HeardSong:
        keeps_tempo.append(asked[-1])
        return found

    monkeypatch.setattr("groove.cli.aligning._heard", listen)
    said = groove("render", "song.txt", "--like", "record.flac", "-o", "like.mid")
    assert said.code == 0, said.err
    assert "on the time of record.flac: 24 bars from 0:03." in said.err
    first_bar = found.bars[0].end_sec - found.bars[0].sec
    assert f"24 bars, 0:56, ♩ = {round(60 * 4 / first_bar, 2):g}" in said.err
    assert "It is tuned 2" in said.err and "another form" not in said.err
    words = ("align", "song.txt", "record.flac", "-o", "as-align.mid")
    assert groove(*words).code == 0

    def secs(name: str) -> list[tuple[str, float]]:
        return marker_secs((groove.folder / name).read_bytes())

    assert secs("like.mid") == secs("as-align.mid")
    due_secs = [record.bar_secs[index] for index in (0, 4, 12, 16)]
    assert [sec for _, sec in secs("like.mid")][-4:] == pytest.approx(due_secs, abs=0.12)

    # A piece of it is as long as in the record, with a click, and with bar 1 of the song first.
    said = groove(
        *("render", "song.txt", "--like", "record.flac", "--bars", "0-4", "--click"),
        *("--only", "bass", "--tempo", "112", "-o", "piece.mid", "-o", "piece.wav"),
        *("--soundfont", "click.sf2"),
    )
    assert said.code == 0, said.err
    piece = mido.MidiFile(groove.folder / "piece.mid")
    assert {track.name for track in piece.tracks} >= {"bass", "click"}
    length = found.bars[4].sec - found.bars[0].sec
    assert secs("piece.mid")[0][1] == 0
    assert length - 0.5 < piece.length < length + 0.5
    (clicks,) = [track for track in piece.tracks if track.name == "click"]
    assert sum(event.type == "note_on" and event.velocity > 0 for event in clicks) == 16
    # It rings on for 2 s, and nobody counts in before it: that would be 2 s more.
    assert length <= soundfile.info(groove.folder / "piece.wav").duration < length + 3
    assert keeps_tempo == [False, False, True]


def test_what_cannot_be_rendered_like_a_record(groove: Command) -> None:
    groove.write("song.txt", COPPER_KETTLE)
    groove.write("other.txt", GRAVEL_YARD)
    soundfile.write(groove.folder / "record.wav", numpy.zeros(8000), 8000)
    before = groove.files()
    render = ("render", "song.txt", "--like", "record.wav")
    for words, told in (
        ((*render, "other.txt", "-o", "both/"), "--like is of one song\n  render one chart"),
        ((*render, "--count-in"), "--count-in beside --like\n  the record begins as it does"),
        ((*render, "-o", "record.wav"), "record.wav would be written over"),
        ((*render, "-o", "like.mid"), "record.wav is silent"),
    ):
        said = groove(*words)
        assert (said.code, said.out) == (2, "")
        assert said.err.startswith(told)
        assert groove.files() == before


def test_a_take_against_the_records_time(groove: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    """Played along with the record, each stroke strayed by 8 ms (SD); its tempo drifts by 3 %."""
    record = made_record(COPPER_KETTLE, STUDIO)
    write_record(groove, "record.flac", TONE, 8000)  # what is heard in it is known here
    own = performed(COPPER_KETTLE)
    speed = 2 ** (STUDIO.cents / 1200)
    part = midi_bytes(replace(own, tempo_map=record.performance.tempo_map), parts=(Part.BASS,))
    stray = Random(4)
    take = midi_take(part, lambda index, sec: sec / speed + stray.gauss(0, 0.008), lead_sec=1.0)
    found = heard(COPPER_KETTLE, record)
    monkeypatch.setattr("groove.cli.aligning._heard", lambda *_: found)
    (groove.folder / "take.mid").write_bytes(take)
    said = groove("take", "song.txt", "take.mid", "--like", "record.flac", "--json")
    assert said.code == 0, said.err
    assert said.err.startswith("held against the time of record.flac, whose bars are known to")
    like, alone = said.json[0], groove("take", "song.txt", "take.mid", "--json").json[0]
    assert len(like["missed"]) <= 1
    strayed = numpy.std([note["deviation_ms"] for note in like["notes"]])
    assert strayed < 16
    # The record is no click: where it pulls, the player is to go with it.
    assert abs(like["drift_bpm_per_min"]) < 0.5 < abs(alone["drift_bpm_per_min"]) / 4
    assert like["measured_against"] == "the reference's tempo"

    said = groove("take", "song.txt", "take.mid", "--like", "record.flac", "--free-tempo")
    assert said.err == ("--free-tempo beside --like\n  the record's time is the one that counts\n")
    said = groove("take", "take.mid", "take.mid", "--like", "record.flac")
    assert said.err == "--like is for a chart\n  take.mid is played as it stands\n"


def test_what_is_not_the_song_is_refused(groove: Command) -> None:
    """What is another song is told in tests/record; this comes and goes as talk does."""
    rng = numpy.random.default_rng(1)
    time = numpy.arange(20 * 8000) / 8000
    talk = rng.standard_normal(len(time)) * numpy.sin(2 * numpy.pi * 1.7 * time) ** 2 * 0.1
    write_record(groove, "talk.ogg", talk.astype(numpy.float32), 8000)
    said = groove("align", "song.txt", "talk.ogg")
    assert said.code == 2 and said.out == ""
    assert said.err == (
        "talk.ogg is not this song, as far as can be heard\n"
        "  if it is, groove align with --first SECONDS or --tempo BPM may find it\n"
    )


def test_files_that_cannot_be_looked_through(
    groove: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert LONGEST_RECORD_MINUTES == 90
    monkeypatch.setattr("groove.io.records.LONGEST_RECORD_MINUTES", 1)
    long = numpy.zeros(8000 * 60 * 2, numpy.float32)
    long[::4000] = 0.5
    write_record(groove, "long.flac", long, 8000)
    said = groove("align", "song.txt", "long.flac")
    assert (said.code, said.err) == (
        2,
        "long.flac lasts 2:00: too long to look for one song\n"
        "  say where it begins, e.g. --first 95, or cut it to 1 minute\n",
    )
    write_record(groove, "short.wav", numpy.zeros(RATE_HZ, numpy.float32))
    said = groove("align", "song.txt", "short.wav", "--first", "5")
    assert (said.code, said.err) == (
        2,
        "short.wav has no second 5: it is 1.0 s long\n  --first is where bar 1 begins in it\n",
    )
    said = groove("align", "song.txt", "short.wav")
    assert said.code == 2 and said.err.startswith("short.wav is silent")
