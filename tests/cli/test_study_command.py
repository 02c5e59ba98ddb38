"""``groove study`` as a player calls it: a rendered part taken apart, and what cannot be."""

import shlex

import numpy
import pytest
import soundfile
from msgspec.structs import replace

from groove.record.aligned import HeardSong
from groove.record.heard_bar import HeardBar
from tests.cli.command import Command

SONG = """title: Copper Kettle Lane
tempo: 96
key: G
feel: sixteenths
verse:
| G | Em7 | C | D7 |
| G | Bm7 | Am7 | D7 |
form: verse
"""


PART: list[bytes] = []
"""The band's MIDI file of the song, once it was rendered."""


@pytest.fixture
def part(groove: Command) -> Command:
    groove.write("song.txt", SONG)
    if PART:
        (groove.folder / "part.mid").write_bytes(PART[0])
        return groove
    assert groove("render", "song.txt", "-o", "part.mid", "--seed", "3").code == 0
    PART.append((groove.folder / "part.mid").read_bytes())
    return groove


def test_the_report_fits_a_terminal_and_says_what_it_is_made_of(part: Command) -> None:
    said = part("study", "part.mid", "--chart", "song.txt")
    assert said.code == 0, said.err
    lines = said.out.splitlines()
    assert lines[0].startswith("Copper Kettle Lane: 8 bars, ")
    assert max(map(len, lines)) <= 80
    for words in (
        "notes by chord",
        "cells: ",
        "swing ",
        " ghosts (under ",
        "near the cell sixteenths",
    ):
        assert words in said.out, words


def commands_of(report: str) -> list[str]:
    """Return the commands that a report ends with, each as one line."""
    whole = report.replace("\\\n", " ")
    return [line.strip() for line in whole.splitlines() if line.startswith("  groove ")]


@pytest.mark.parametrize("chart", [("--chart", "song.txt"), ()])
def test_what_it_says_is_worth_practising_can_be_run(part: Command, chart: tuple[str, ...]) -> None:
    said = part("study", "part.mid", *chart, "--part", "bass")
    assert "worth practising:" in said.out
    assert "if anything hurts, ask your teacher" in said.out
    *before, render = commands_of(said.out)
    assert len(before) == (0 if chart else 1)
    for command in before:
        drafting, file = command.split(" > ")
        part.write(file, part(*shlex.split(drafting)[1:]).out)
    words = [word.replace("next.wav", "next.mid") for word in shlex.split(render)[1:]]
    made = part(*words)
    assert made.code == 0, made.err
    assert "next.mid" in part.files()


def test_the_data_says_the_same(part: Command) -> None:
    said = part("study", "part.mid", "--chart", "song.txt", "--json")
    [data] = said.json
    assert data["format"] == 1
    assert data["bars"] == 8
    assert sum(data["shares"].values()) == pytest.approx(1, abs=0.001)
    assert [chord["symbol"] for chord in data["chords"][:4]] == ["G", "Em7", "C", "D7"]
    assert {chord["confidence"] for chord in data["chords"]} == {1.0}
    assert sum(len(cell["bars"]) for cell in data["cells"]) <= 8
    assert data["ghosts"][0] == {"bar": 1, "beat": 1.5}
    assert 1.0 < data["swing_ratio"] < 1.3


def test_its_cells_are_files_that_a_chart_can_name(part: Command) -> None:
    said = part("study", "part.mid", "--chart", "song.txt", "--cells", "mine")
    assert said.code == 0, said.err
    files = sorted(name for name in part.files() if name.startswith("mine/bass/"))
    assert files
    assert "wrote mine/bass/copper-kettle-lane-1.toml" in said.err
    part.write("next.txt", SONG.replace("verse:", "verse:\n  bass: copper-kettle-lane-1"))
    shown = part("render", "next.txt", "-o", "next.mid", "--patterns", "mine")
    assert shown.code == 0, shown.err


def test_its_riffs_can_be_pasted_into_a_chart(part: Command) -> None:
    riffs = part("study", "part.mid", "--chart", "song.txt", "--riffs").out
    name = riffs.split(":")[0].removeprefix("riff ")
    head, verse = SONG.split("verse:", 1)
    part.write("pasted.txt", f"{head}\n{riffs}\nverse:\n  bass: {name}{verse}")
    said = part("render", "pasted.txt", "-o", "pasted.mid")
    assert said.code == 0, said.err


def test_without_a_chart_one_is_drafted(part: Command) -> None:
    text = part("study", "part.mid", "--as-chart").out
    part.write("draft.txt", text)
    assert part("show", "draft.txt").code == 0
    assert "| G | Em7 | C | D7 |" in text


def write_eighths(groove: Command, name: str, pitch: float = 43.0, bars_played: int = 16) -> None:
    """Write bars of plucked eighths at 96, by turns over G, G, C, D, as a string decays."""
    rate, slot = 22_050, round(22_050 * 60 / 96 / 2)
    time = numpy.arange(slot) / rate
    bars = []
    for step in (0, 0, 5, 7) * (bars_played // 4):
        hertz = 440 * 2 ** ((pitch + step - 69) / 12)
        tones = sum(numpy.sin(2 * numpy.pi * k * hertz * time) / k**1.5 for k in range(1, 7))
        bars.append(numpy.tile(0.3 * tones * numpy.exp(-5 * time), 8))
    soundfile.write(groove.folder / name, numpy.concatenate(bars), rate)


def test_a_recording_is_studied_with_what_is_unsure(groove: Command) -> None:
    write_eighths(groove, "take.ogg", bars_played=8)
    said = groove("study", "take.ogg", "--json")
    assert said.code == 0, said.err
    [data] = said.json
    assert data["bars"] == 8
    assert data["hearing"]["tempo_bpm"] == pytest.approx(96, abs=0.5)
    assert data["hearing"]["meter"] == "4/4"
    assert data["hearing"]["is_bass_alone"] is True
    assert data["hearing"]["unsure"] == []
    assert [chord["symbol"][0] for chord in data["chords"][:4]] == ["G", "G", "C", "D"]
    assert data["shares"]["root"] == 1


def test_a_recording_lies_on_its_chart(groove: Command) -> None:
    write_eighths(groove, "take.wav", pitch=42.0, bars_played=8)
    groove.write(
        "song.txt", "title: Tin Lid\ntempo: 90\nkey: G\na:\n| G | G | C | D |\nform: a x2\n"
    )
    said = groove("study", "take.wav", "--chart", "song.txt")
    assert said.code == 0, said.err
    assert said.out.startswith("Tin Lid: 8 bars, 64 notes")
    assert "it sounds a half tone lower than the chart" in said.out
    assert "tempo ♩ = 96" in said.out
    assert "bar 1 at 0.00 s" in said.out


def test_a_recording_has_the_bars_of_the_record(
    groove: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Bar 1 is at 10 s in the record: four of the twelve bars of eighths lie before it."""
    write_eighths(groove, "take.wav", bars_played=12)
    write_eighths(groove, "record.wav", bars_played=4)  # what is heard in it is known here
    groove.write(
        "song.txt", "title: Tin Lid\ntempo: 90\nkey: G\na:\n| G | G | C | D |\nform: a x3\n"
    )
    bars = [
        HeardBar(
            index=index,
            sec=10 + 2.5 * index,
            end_sec=12.5 + 2.5 * index,
            confidence=0.9,
            follows=True,
        )
        for index in range(8)
    ]
    found = HeardSong(
        bars=tuple(bars), semitones=0, tuning_cents=0, length_sec=40, cost=0.1, reversed_cost=0.7
    )
    monkeypatch.setattr("groove.cli.aligning._heard", lambda *_: found)
    study = ("study", "take.wav", "--chart", "song.txt", "--like", "record.wav")
    said = groove(*study, "--json")
    assert said.code == 0, said.err
    assert said.err.startswith("on the time of record.wav: 8 bars from 0:10.0 on, confidence 0.9")
    [data] = said.json
    assert data["hearing"]["first_bar_sec"] == 10
    assert data["bars"] == 8 and data["hearing"]["outside_chart"] == 32
    assert data["hearing"]["tempo_bpm"] == 96

    found = replace(found, bars=(*bars[:2], *bars[4:]))
    assert refused(groove, *study[1:]) == (
        "record.wav plays another form than the chart has\n"
        "  give the chart the form that groove align tells\n"
    )
    for words, told in (
        (
            study[:2] + study[4:],
            "--like record.wav without --chart\n  the chart is what a record is held to",
        ),
        (
            ("study", "take.wav", "record.wav", *study[2:]),
            "--like beside record.wav\n  expected one line: leave out record.wav",
        ),
        (("study", "a.mid", *study[2:]), "--like is for a recording\n  a.mid has bars of its own"),
    ):
        assert refused(groove, *words[1:]).startswith(told)


def refused(groove: Command, *arguments: str) -> str:
    before = groove.files()
    said = groove("study", *arguments)
    assert (said.code, said.out) == (2, "")
    assert "Traceback" not in said.err
    assert groove.files() == before
    return said.err


def test_what_cannot_be_studied_is_refused_with_what_would_do(part: Command) -> None:
    assert "song.txt is no MIDI file, no score and no recording" in refused(part, "song.txt")
    assert "a name in .mid, .musicxml, .xml, .mxl, .wav, .flac, .ogg, .mp3" in refused(
        part, "song.txt"
    )
    assert "--part beside take.wav" in refused(part, "take.wav", "--part", "2")
    assert "take.wav" in refused(part, "take.wav")
    assert "--as-chart beside --chart" in refused(
        part, "part.mid", "--chart", "song.txt", "--as-chart"
    )
    assert "no-such.mid" in refused(part, "no-such.mid")
    assert "no-such.xml" in refused(part, "no-such.xml")
    assert "has no track with notes named '9'" in refused(part, "part.mid", "--part", "9")
    assert "expected one of: 1 bass, " in refused(part, "part.mid", "--part", "9")
    assert "a part is chosen by --part" in refused(part, "part.mid:2")
    assert "expected part.mid --part 2" in refused(part, "part.mid:2")
    (part.folder / "cut.mid").write_bytes((part.folder / "part.mid").read_bytes()[:100])
    assert "cut.mid" in refused(part, "cut.mid")


def test_a_part_is_chosen_by_number_or_name(part: Command) -> None:
    for wanted in ("2", "keys"):
        said = part("study", "part.mid", "--part", wanted)
        assert said.code == 0, said.err
        assert said.out.splitlines()[1].startswith("track 2 keys: ")


def test_a_score_is_studied_as_its_midi_is(part: Command) -> None:
    assert part("sheet", "song.txt", "-o", "part.musicxml", "--seed", "3").code == 0
    by_score = part("study", "part.musicxml", "--chart", "song.txt", "--json").json[0]
    by_midi = part("study", "part.mid", "--chart", "song.txt", "--json").json[0]
    assert by_score["ghosts"] == by_midi["ghosts"]
    assert by_score["shares"] == by_midi["shares"]
    assert by_score["chords"] == by_midi["chords"]
