"""``groove page --record``: the player's own copy in the page or beside it, or one clear error.

What is asked of errors is common practice, no source: what was found and what would do.
"""

import base64
import json
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy
import pytest
import soundfile
from lxml import html  # type: ignore[import-untyped]

from groove.cells.model import Library
from groove.chart.parse import parse_chart
from groove.cli.cluster import ClusterAnswer
from groove.errors import RecordingError
from groove.events import Performance
from groove.io.gig_folder import program_digest
from groove.io.page_record import MOST_RECORD_MINUTES, RecordHeld, page_record, song_as_heard
from groove.io.recording import Recording
from groove.io.soundfont import choose_soundfont
from groove.io.watch import FileWatch
from groove.pipeline import perform_song
from groove.record.aligned import HeardSong, align_record
from groove.record.heard_bar import HeardBar
from groove.record.heard_form import heard_sections
from tests.cli.command import Command
from tests.cli.test_align_command import STUDIO, write_record
from tests.click_font import EVERY_PRESET, click_font
from tests.record.made_records import RATE_HZ, made_record
from tests.record.songs import COPPER_KETTLE, listened_once, rendered_once

BAR_SEC = 60 / 112 * 4
SHORT = """title: Kept
tempo: 112
key: D
feel: straight eighths
verse:
| D |
chorus:
| G | A |
form: verse, chorus, verse, chorus
"""
WATCHED = "title: Kept\nkey: D\nfeel: straight eighths\nverse:\n| D | A |\n"

pytestmark = pytest.mark.usefixtures("one_key", "no_drawings", "listened_to_once")


@pytest.fixture
def listened_to_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let what sounds alike be rendered and listened to once."""
    monkeypatch.setattr("groove.io.page_record.rendered_sound", rendered_once)
    monkeypatch.setattr("groove.io.records.listen", listened_once)


@dataclass(frozen=True)
class Made:
    """A page that was made: what it knows, and the sound inside it."""

    data: dict[str, Any]
    sound: bytes | None

    @property
    def record(self) -> dict[str, Any]:
        """What the page knows of the record."""
        found: dict[str, Any] = self.data["record"]
        return found


def made_page(groove: Command) -> Made:
    """Read the page of the folder."""
    tree = html.document_fromstring((groove.folder / "song.html").read_text(encoding="utf-8"))
    (data,) = tree.xpath("//script[@id='data']")
    held = tree.xpath("//script[@id='record']")
    return Made(json.loads(data.text), base64.b64decode(held[0].text) if held else None)


def test_a_record_is_put_in_or_left_beside_with_its_bar_lines(
    groove: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It is held against the default font's sounds once; the page itself has clicks for sounds."""
    font = choose_soundfont(None, {}, None).path
    monkeypatch.setattr(
        "groove.io.page_record.rendered_sound", lambda played, _: rendered_once(played, font)
    )
    found: list[HeardSong] = []

    def aligned_once(*sounds: Any) -> HeardSong:
        found.append(found[0] if found else align_record(*sounds))
        return found[-1]

    monkeypatch.setattr("groove.io.page_record.align_record", aligned_once)
    (groove.folder / "click.sf2").write_bytes(click_font(EVERY_PRESET))
    monkeypatch.setenv("GROOVE_SOUNDFONT", "click.sf2")
    record = made_record(COPPER_KETTLE, STUDIO)
    write_record(groove, "our song.flac", record.samples)
    sizes = []
    for more, told in (
        ((), "the record is inside the page: for your own practice, do not pass it on"),
        (("--record-beside",), "open your own copy there, under More"),
    ):
        said = groove("page", "song.txt", "-o", "song.html", "--record", "our song.flac", *more)
        assert said.code == 0 and told in said.err
        made = made_page(groove)
        lines, sure = made.record["lines"], made.record["sure"]
        assert len(lines) == 25 and len(sure) == 24 and sum(sure) > 12
        # As near as is asked of an alignment: half within 40 ms.
        assert numpy.median(abs(numpy.array(lines[:24]) - record.bar_secs)) < 0.04
        assert made.record["name"] == "our song.flac"
        assert made.record["tuning_cents"] == pytest.approx(-23, abs=5)
        assert made.record["length_sec"] == pytest.approx(len(record.samples) / RATE_HZ, abs=0.01)
        file = (groove.folder / "our song.flac").read_bytes()
        assert made.sound == (None if more else file)
        sizes.append((groove.folder / "song.html").stat().st_size)
    assert sizes[0] - sizes[1] == pytest.approx(len(file) * 4 / 3, rel=0.01)
    assert len(found) == 2


def test_what_is_no_record_of_the_song_leaves_no_page(
    groove: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    (groove.folder / "click.sf2").write_bytes(click_font(EVERY_PRESET))
    groove.write("song.txt", SHORT)
    groove.write("other.txt", WATCHED)
    groove.write("notes.mp3", "no sound")
    tone = 0.1 * numpy.sin(numpy.arange(20 * 8000) * 0.3)
    soundfile.write(groove.folder / "tone.wav", tone, 8000)
    soundfile.write(groove.folder / "silent.wav", numpy.zeros(8000), 8000)
    soundfile.write(groove.folder / "talk.wav", numpy.full(8000 * 60 * 2, 0.1), 8000)
    before = groove.files()
    assert MOST_RECORD_MINUTES == 20
    monkeypatch.setattr("groove.io.page_record.MOST_RECORD_MINUTES", 1)
    monkeypatch.setattr("groove.io.page_record.MOST_INSIDE_MB", 1)
    page = ("page", "song.txt", "--soundfont", "click.sf2")
    for words, found, hint in (
        ((*page, "--record", "none.mp3"), "none.mp3", ""),
        ((*page, "--record", "notes.mp3"), "notes.mp3", ""),
        ((*page, "--record", "silent.wav"), "silent.wav is silent", ""),
        ((*page, "--record", "talk.wav"), "talk.wav lasts 2:00", "1 minute at most: cut the song"),
        ((*page, "--record", "tone.wav"), "tone.wav is not this song", "tap its bars there"),
        ((*page, "--record-beside"), "--record-beside is of no record", "--record our-song.mp3"),
        (
            ("page", "song.txt", "other.txt", "--record", "tone.wav"),
            "--record is of one song",
            "one chart at a time",
        ),
    ):
        said = groove(*words)
        assert (said.code, said.out) == (2, ""), said.err
        told = said.err.split("\nstart quietly")[0]
        assert found in told.splitlines()[0] and hint in told.splitlines()[1]
        assert groove.files() == before
    soundfile.write(groove.folder / "large.wav", numpy.tile(tone, 3)[:-8000], 8000, "PCM_32")
    said = groove(*page, "--record", "large.wav")
    assert said.code == 2
    assert said.err.startswith("large.wav has 2 MB, more than a page can hold (1)\n")
    assert "leave it beside the page by --record-beside, or make an MP3 of it" in said.err


def test_a_set_has_the_bar_lines_of_a_record_and_never_its_sound(
    groove: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What is found in it is tested above: here it is known, and the band has clicks for sounds."""
    (groove.folder / "click.sf2").write_bytes(click_font(EVERY_PRESET))
    groove.write("set.txt", "song, record records/our song.wav\n")
    (groove.folder / "records").mkdir()
    record = groove.folder / "records" / "our song.wav"
    tone = 0.1 * numpy.sin(numpy.arange(8000) * 0.3)
    groove.write("song.txt", SHORT)
    found = heard_song(list(range(6)))
    monkeypatch.setattr("groove.io.page_record.align_record", lambda *_: found)
    gig = ("gig", "set.txt", "-o", "set/", "--jobs", "1", "--soundfont", "click.sf2")
    page = (*gig, "--as", "page")

    said = groove(*page)
    assert said.code == 1
    assert "records/our song.wav" in said.err and "expected your own copy of the song" in said.err
    assert groove(*gig, "--as", "mid").code == 0  # which needs no record

    soundfile.write(record, tone, 8000)
    said = groove(*page)
    assert said.code == 0, said.err
    assert "1 made, 0 as they were" in said.err
    assert "its page knows the bars of our song.wav: open your own copy there" in said.err
    tree = html.document_fromstring((groove.folder / "set/song.html").read_text(encoding="utf-8"))
    (data,) = tree.xpath("//script[@id='data']")
    lines = json.loads(data.text)["record"]["lines"]
    assert lines == pytest.approx([bar * BAR_SEC for bar in range(7)], abs=0.001)
    assert not tree.xpath("//script[@id='record']")
    assert not [name for name in groove.files() if name.startswith("set/") and "wav" in name]

    # As it is made of what the file holds, it is made anew when that changes, and else kept.
    record.touch()
    assert "0 made, 1 as they were" in groove(*page).err
    soundfile.write(record, 0.5 * tone, 8000)
    assert "1 made, 0 as they were" in groove(*page).err

    found = heard_song(list(range(6)), 2)
    soundfile.write(record, tone, 8000)
    said = groove(*page)
    assert said.code == 1
    assert "our song.wav is in another key than the chart, by +2 half steps" in said.err
    assert "--transpose" not in said.err and "in the key and form that the set has" in said.err


def test_a_record_goes_to_no_cluster(groove: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("distributed", "joblib"):
        monkeypatch.setitem(sys.modules, name, ModuleType(name))
    there = ClusterAnswer(programs=(program_digest(),))
    monkeypatch.setattr("groove.cli.cluster._answer", lambda _: there)
    groove.write("song.txt", COPPER_KETTLE)
    groove.write("set.txt", "song, record our-song.mp3\n")
    said = groove("gig", "set.txt", "-o", "set/", "--cluster", "localhost:8786")
    assert (said.code, said.out) == (2, "")
    assert said.err == (
        "--cluster beside our-song.mp3: a record stays on the player's machine\n"
        "  leave --cluster out, or the record out of the set\n"
    )


def heard_song(
    indices: list[int], semitones: int = 0, *, other_after: int | None = None
) -> HeardSong:
    """Return bars of the chart one after another, as they are heard.

    ``other_after`` is the bar, by its place, after which two bars of something else are played.
    """
    waits = [2 * (other_after is not None and place > other_after) for place in range(len(indices))]
    bars = tuple(
        HeardBar(
            index=index,
            sec=(place + wait) * BAR_SEC,
            end_sec=(place + wait + 1) * BAR_SEC,
            confidence=0.9,
            follows=place > 0 and place - 1 != other_after,
        )
        for place, (index, wait) in enumerate(zip(indices, waits, strict=True))
    )
    return HeardSong(
        bars=bars,
        semitones=semitones,
        tuning_cents=0.0,
        length_sec=(len(indices) + waits[-1]) * BAR_SEC,
        cost=0.1,
        reversed_cost=0.6,
    )


def held(performance: Performance, heard: HeardSong) -> RecordHeld:
    """Return a record held against a chart, as it is heard."""
    path = Path("our song.wav")
    lines = [index * BAR_SEC for index in range(len(performance.bars) + 1)]
    return RecordHeld(
        recording=Recording(
            path=path, sample_rate_hz=8000, channels=1, length_sec=heard.length_sec
        ),
        heard=heard,
        bars=performance.bars,
        sections=heard_sections(heard, performance.bars, lines),
    )


@pytest.mark.parametrize(
    ("indices", "form", "first_sec", "count"),
    [
        # The chart has verse (bars 0 to 3), chorus (4 to 11), and both again.
        ([*range(12), *range(4, 24)], ["verse", "chorus", "chorus", "verse", "chorus"], 0, 32),
        ([*range(4), *range(12, 24)], ["verse", "verse", "chorus"], 0, 16),
        # What is not heard before and after is laid as the chart has it.
        ([*range(6, 12), *range(4, 22)], ["chorus", "chorus", "verse", "chorus"], -2, 28),
        ([*range(2, 20)], None, -2, 24),
        ([*range(12, 24)], None, -12, 24),
    ],
)
def test_a_page_has_the_form_of_its_record(
    library: Library, indices: list[int], form: list[str] | None, first_sec: int, count: int
) -> None:
    song = parse_chart(COPPER_KETTLE)
    performance = perform_song(song, library)
    found = held(performance, heard_song(indices))
    as_heard = song_as_heard(song, found)
    assert (as_heard and [entry.section for entry in as_heard.form]) == form
    bars = perform_song(as_heard, library).bars if as_heard else performance.bars
    record = page_record(found, bars, is_inside=False)
    secs = [line.sec / BAR_SEC for line in record.lines]
    assert secs == pytest.approx([first_sec + bar for bar in range(count)])
    assert [line.is_sure for line in record.lines].count(True) == len(indices)


@pytest.mark.parametrize(
    "heard",
    [
        heard_song([*range(8), *range(12, 24)]),
        heard_song(list(range(24)), other_after=11),
    ],
    ids=["half a chorus less", "something else between"],
)
def test_a_way_that_no_form_has_is_refused(library: Library, heard: HeardSong) -> None:
    song = parse_chart(COPPER_KETTLE)
    performance = perform_song(song, library)
    found = held(performance, heard)
    as_heard = song_as_heard(song, found)
    assert as_heard
    with pytest.raises(RecordingError) as caught:
        page_record(found, perform_song(as_heard, library).bars, is_inside=False)
    assert caught.value.message == "our song.wav goes another way than any form of the chart's"
    assert str(caught.value.hint).startswith("as it is heard: form: verse, chorus, verse, chorus;")


def test_a_record_in_another_form_or_key(groove: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    """A chorus more: the page is made in the form that is heard, and says so."""
    (groove.folder / "click.sf2").write_bytes(click_font(EVERY_PRESET))
    groove.write("song.txt", SHORT)
    tone = 0.1 * numpy.sin(numpy.arange(8000) * 0.3)
    soundfile.write(groove.folder / "ours.wav", tone, 8000)
    found = heard_song([*range(3), *range(1, 6)])
    monkeypatch.setattr("groove.io.page_record.align_record", lambda *_: found)
    page = ("page", "song.txt", "--soundfont", "click.sf2", "--record", "ours.wav")
    said = groove(*page, "-o", "song.html")
    assert said.code == 0, said.err
    told = "ours.wav has another form than the chart, and the page has it: "
    assert f"{told}form: verse, chorus x2, verse, chorus\n" in said.err
    tree = html.document_fromstring((groove.folder / "song.html").read_text(encoding="utf-8"))
    (data,) = (json.loads(each.text) for each in tree.xpath("//script[@id='data']"))
    assert [row[:3] for row in data["sections"]] == [
        ["verse 1", 0, 1],
        ["chorus 1", 1, 2],
        ["chorus 2", 3, 2],
        ["verse 2", 5, 1],
        ["chorus 3", 6, 2],
    ]
    lines = data["record"]["lines"]
    assert lines == pytest.approx([bar * BAR_SEC for bar in range(9)], abs=0.001)

    found = heard_song(list(range(6)), 2)
    said = groove(*page, "-o", "other.html")
    assert (said.code, said.out) == (2, "")
    assert said.err.startswith("ours.wav is in another key than the chart, by +2 half steps\n")
    assert "--transpose 2 makes the page in its key" in said.err
    assert not (groove.folder / "other.html").exists()


def test_a_watched_page_follows_its_chart_and_its_record(
    groove: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each save is seen at the files as in a watch, when the test says so: nothing waits."""
    (groove.folder / "click.sf2").write_bytes(click_font(EVERY_PRESET))
    record = groove.folder / "ours.wav"
    tone = 0.1 * numpy.sin(numpy.arange(8000) * 0.3)
    soundfile.write(record, tone, 8000)
    found = [heard_song([0, 1])]
    monkeypatch.setattr("groove.io.page_record.align_record", lambda *_: found[0])
    lines: list[list[float]] = []
    marks: list[bytes] = []
    chords: list[bool] = []

    def look() -> None:
        made = made_page(groove)
        lines.append([round(sec / BAR_SEC, 3) for sec in made.record["lines"]])
        marks.append((groove.folder / ".song.html.svg").read_bytes())
        chords.append("Em7" in str(made.data["chord_names"]))

    def other_record() -> None:
        found[0] = heard_song([0, 1, 0, 1])
        soundfile.write(record, numpy.tile(tone, 2), 8000)

    def saves(watch: FileWatch, _stop: None = None) -> Iterator[frozenset[Path]]:
        look()
        for save in (
            lambda: groove.write("song.txt", WATCHED.replace("| A |", "| Em7 |")),
            other_record,
            lambda: record.write_bytes(b"no sound" * 99),
            record.unlink,
        ):
            save()
            yield watch.changed()
            look()
        raise SystemExit(130)

    monkeypatch.setattr("groove.io.watch.FileWatch.changes", saves)
    groove.write("song.txt", WATCHED)
    said = groove(
        *("page", "song.txt", "-o", "song.html", "--soundfont", "click.sf2"),
        *("--record", "ours.wav", "--watch"),
    )
    assert said.code == 130
    assert lines == [[0, 1, 2]] * 2 + [[0, 1, 2, 3, 4]] * 3
    assert chords == [False, True, True, True, True]
    # A page that is open learns of each newer one, and of nothing else.
    assert [marks.index(mark) for mark in marks] == [0, 1, 2, 2, 2]
    told = [line[10:] if line[2:3] == ":" else line for line in said.err.splitlines()]
    assert "song.txt changed: wrote song.html" in told[4]
    assert told[5:] == [
        "ours.wav has another form than the chart, and the page has it: form: verse x2",
        told[6],
        "ours.wav is no sound that can be read: it is text",
        "  expected a sound file: WAV, FLAC, OGG or MP3",
        "ours.wav changed: not made, save it again",
        "no recording: ours.wav does not exist",
        "  expected a sound file: WAV, FLAC, OGG or MP3",
        "ours.wav changed: not made, save it again",
    ]
    assert "ours.wav changed: wrote song.html" in told[6]
    assert (
        told.count("the record is inside the page: for your own practice, do not pass it on") == 1
    )
