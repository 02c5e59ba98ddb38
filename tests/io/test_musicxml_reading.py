"""Charts from MusicXML, judged by music21 10.5.1 on the test files that it ships."""

import io
import zipfile
from functools import cache
from pathlib import Path
from typing import Any

import music21
import pytest

from groove.cells.model import Library
from groove.chart.form import PlayedBar, unroll
from groove.chart.model import Song
from groove.chart.pickup import Pickup
from groove.errors import ChartError
from groove.io.musicxml import song_from_musicxml
from groove.sheet.build import build_score
from groove.sheet.musicxml import musicxml_text, mxl_bytes
from groove.text.notices import notice_texts
from tests.sheet.parts import REPEATS, played

MUSIC21 = Path(music21.__file__).parent
SUITE = MUSIC21 / "musicxml" / "lilypondTestSuite"
FILES = tuple(
    sorted(
        path.name
        for pattern in ("11*.xml", "45*.xml", "46*.xml", "71*.xml")
        for path in SUITE.glob(pattern)
    )
)


UNKNOWN_KINDS = ("other", "minor-major", "tristan")
"""Kinds for which music21 has the root alone; the last two are in no schema."""


@cache
def parsed(path: Path) -> Any:
    """Return a score as music21 has it; nobody changes it."""
    return music21.converter.parse(path, forceSource=True)


def judged(path: Path) -> tuple[int, list[Any], bool]:
    """Return music21's bars, chords, and whether the first bar is a pickup."""
    score = parsed(path)
    part = max(score.parts, key=lambda part: len(part.flatten().getElementsByClass("Harmony")))
    measures = part.getElementsByClass("Measure")
    first = measures[0]
    meter = first.timeSignature
    full = meter.barDuration.quarterLength if meter else 4
    length = max((e.offset + e.quarterLength for e in first.recurse().notesAndRests), default=full)
    is_pickup = len(measures) > 1 and 0 < length < full
    rest = measures[1:] if is_pickup else measures
    chords = [h for m in rest for h in m.getElementsByClass("Harmony")]
    return len(measures), chords, is_pickup


PLAYED_OTHERWISE = {
    "11h-TimeSignatures-SenzaMisura.xml": (1, "one short measure alone is a whole bar here"),
    "45c-RepeatMultipleTimes.xml": (
        24,
        "measures 4-7, without a forward sign, after a repeat: music21 goes back to the start of "
        "all, abc2midi only to the end of the repeat before",
    ),
    "45d-Repeats-Nested-Alternatives.xml": (16, "endings 1, 2, 3, 1, 5: music21 has no order"),
    "45e-Repeats-Nested-Alternatives.xml": (15, "an ending 1 without a second: music21 goes on"),
    "45f-Repeats-InvalidEndings.xml": (9, "ending 2 twice in one repeat: music21 has no order"),
    "45g-Repeats-NotEnded.xml": (2, "a repeat without an end: music21 has no order"),
}
"""Played bars, and who plays it otherwise."""


@pytest.mark.parametrize("name", FILES)
def test_every_file_of_the_suite_lasts_as_long_as_music21_plays_it(name: str) -> None:
    """Quarters in the order of play, short measures in mid-song (46c, 46d) included.

    A last measure that a pickup completes is whole here.
    """
    song = song_from_musicxml((SUITE / name).read_bytes(), name)
    played = unroll(song)
    if name in PLAYED_OTHERWISE:
        assert len(played) == PLAYED_OTHERWISE[name][0]
        return
    _, _, is_pickup = judged(SUITE / name)
    measures = parsed(SUITE / name).parts[0].expandRepeats().getElementsByClass("Measure")
    found = sum(bar.length_quarters for bar in played)
    wanted = sum(m.duration.quarterLength for m in measures)
    assert found == wanted or (is_pickup and found - wanted == missing(measures[-1], played))


def missing(last: Any, played: tuple[PlayedBar, ...]) -> Any:
    """Return the quarters that music21's last measure lacks of a whole bar."""
    return played[-1].length_quarters - last.duration.quarterLength


def test_the_suite_is_whole() -> None:
    """22 of music21's files of meters, repeats and pickups; six of chords and tab."""
    assert len(FILES) == 28


@pytest.mark.parametrize(
    ("path", "count"),
    [
        (SUITE / "71a-Chordnames.xml", 4),
        (SUITE / "71f-AllChordTypes.xml", 37),
        (MUSIC21 / "corpus" / "demos" / "ComprehensiveChordSymbolsTestFile.mxl", 57),
        (MUSIC21 / "corpus" / "leadSheet" / "berlinAlexandersRagtime.mxl", 19),
    ],
    ids=lambda value: getattr(value, "stem", ""),
)
def test_chords_have_the_tones_that_music21_reads(path: Path, count: int) -> None:
    """Chords and bass notes, one by one; kinds that music21 does not know are left out."""
    song = song_from_musicxml(path.read_bytes(), path.name)
    _, chords, _ = judged(path)
    if path == SUITE / "71f-AllChordTypes.xml":
        # G#/D# stands an eighth before the next chord's beat: its bar is counted in eighths.
        notice = "measure 9: counted in 8/8, for its chords change between two beats"
        assert notice in notice_texts(song.notices)
    spans = [s for section in song.sections for bar in section.bars for s in bar.chords if s.chord]
    chords = [chord for chord in chords if chord.pitches]
    struck = [s for i, s in enumerate(spans) if i == 0 or s.written != spans[i - 1].written]
    wanted = [c for i, c in enumerate(chords) if i == 0 or chords[i - 1].figure != c.figure]
    pairs = [
        (
            s.chord.pitch_classes | {s.chord.bass_note.pitch_class} if s.chord else set(),
            {p.pitchClass for p in c.pitches},
        )
        for s, c in zip(struck, wanted, strict=True)
        if c.chordKind not in UNKNOWN_KINDS
    ]
    assert len(chords) >= count
    assert [found for found, _ in pairs] == [judge for _, judge in pairs]


def test_a_file_of_ours_gives_its_chart_back(library: Library) -> None:
    """That of every shipped chart: see ``test_round_trip``."""
    song, performance, tuning = played(REPEATS, library)
    text = musicxml_text(build_score(performance, song, tuning=tuning), song)
    assert song_from_musicxml(text.encode(), "song") == song
    assert song_from_musicxml(mxl_bytes(text), "song") == song


def test_the_music_alone_says_the_same_bars_and_chords(library: Library) -> None:
    """Without the chart inside, the played bars and chords are still those of the song."""
    song, performance, tuning = played(REPEATS, library)
    text = musicxml_text(build_score(performance, song, tuning=tuning), song)
    found = song_from_musicxml(text.replace('"groove-chart"', '"other"').encode())
    bars = [(b.meter, [c.symbol for c in b.chords]) for b in unroll(found) if not b.is_pickup]
    wanted = [(b.meter, [c.symbol for c in b.chords]) for b in unroll(song) if not b.is_pickup]
    assert bars == wanted and len(wanted) == 68
    assert found.pickup == Pickup(1) and found.settings.key == song.settings.key


def test_a_chart_inside_is_not_believed_when_the_music_says_otherwise(library: Library) -> None:
    song, performance, tuning = played(REPEATS, library)
    text = musicxml_text(build_score(performance, song, tuning=tuning), song)
    edited = text.replace('text="m7">minor-seventh', 'text="7">dominant', 1)
    assert edited != text
    found = song_from_musicxml(edited.encode())
    assert found != song
    assert "B7" in [c.symbol for bar in found.sections[0].bars for c in bar.chords]


BOMB = """<?xml version="1.0"?><!DOCTYPE a [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;">]>
<score-partwise><part id="P1"><measure number="1">&b;</measure></part></score-partwise>"""
OUTSIDE = """<?xml version="1.0"?><!DOCTYPE a [<!ENTITY a SYSTEM "file:///etc/hostname">]>
<score-partwise><part id="P1"><measure number="1">&a;</measure></part></score-partwise>"""


def archive(container: str, **files: bytes) -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as found:
        found.writestr("META-INF/container.xml", container)
        for name, data in files.items():
            found.writestr(name, data)
    return buffer.getvalue()


def pointing(path: str) -> str:
    return f'<container><rootfiles><rootfile full-path="{path}"/></rootfiles></container>'


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (BOMB.encode(), "entities"),
        (OUTSIDE.encode(), "entities"),
        (b"<score-partwise><part>", "not well-formed"),
        (b"", "not well-formed"),
        (b"\x00\xff\x00", "not well-formed"),
        (b"<score-timewise/>", "expected <score-partwise>"),
        (b"<score-partwise/>", "no part"),
        (b'<score-partwise><part id="P1"/></score-partwise>', "no measures"),
        (archive(pointing("../../etc/passwd")), "outside the archive"),
        (archive(pointing("/etc/passwd")), "outside the archive"),
        (archive(pointing("C:/score.xml")), "outside the archive"),
        (archive(pointing("missing.xml")), "not a readable .mxl"),
        (archive("<container/>"), "names no score"),
        (archive(pointing("a.xml"), **{"a.xml": b" " * 60_000_000}), "unpacks to more"),
        (b"PK\x03\x04 but no archive", "not a readable .mxl"),
    ],
    ids=[
        "entity bomb", "file entity", "open", "empty", "bytes", "timewise", "no part", "no measure",
        "path up", "path at root", "drive", "missing", "no rootfile", "zip bomb", "no zip",
    ],
)  # fmt: skip
def test_hostile_and_broken_files_are_refused(data: bytes, words: str) -> None:
    with pytest.raises(ChartError, match=words):
        song_from_musicxml(data, "score.mxl")


WORDS = """
title: Slow Gate
key: C major
tempo: 100

a:
  |: C | (stop) F | (3/4) (hold) G :|
  | (4/4) (stop) N.C. | (hold) <Am F |
"""


ENDED = """
title: Shut Gate
key: D major

a:
  |: G | Em7 |1. A7 | (stop) D :|2. A7 | (stop) <D |
end:
  | (hold) D |
"""


def told(song: Song) -> list[str]:
    return [str(bar.word or "") for bar in unroll(song) if not bar.is_pickup]


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        (WORDS, ["", "stop", "hold"] * 2 + ["stop", "hold"]),
        (ENDED, [*([""] * 3 + ["stop"]) * 2, "hold"]),
    ],
    ids=["words", "endings"],
)
def test_words_to_the_band_come_back(library: Library, text: str, wanted: list[str]) -> None:
    """Written and read as ``words`` (MusicXML 4.0), with the chart inside and without it."""
    song, performance, tuning = played(text, library)
    file = musicxml_text(build_score(performance, song, tuning=tuning), song)
    if text is WORDS:
        read: Any = music21.converter.parseData(file, format="musicxml")
        marks = [m.content for m in read.parts[0].recurse().getElementsByClass("TextExpression")]
        assert {"stop", "hold"} <= set(marks)
    assert song_from_musicxml(file.encode()) == song
    assert told(song) == wanted
    alone = song_from_musicxml(file.replace('"groove-chart"', '"other"').encode())
    assert told(alone) == wanted


def test_a_chart_inside_is_not_believed_when_a_word_was_taken_out(library: Library) -> None:
    song, performance, tuning = played(WORDS, library)
    text = musicxml_text(build_score(performance, song, tuning=tuning), song)
    edited = text.replace("<words>stop</words>", "<words>dolce</words>", 1)
    assert edited != text
    found = song_from_musicxml(edited.encode())
    assert found != song and told(found)[1] == ""


SETTINGS = """
title: Every Word
tempo: 96
meter: 6/8
key: Eb dorian
feel: six-eight
fills: many
loudness: mf
transpose: 2
tuning: five
seed: 41
pickup: 1

a:
  keys: out
  | Ebm | Ab7 |
b:
  bass: rolling six
  tempo: 96 to 80
  |: Ebm | Db :| x3
c:
  swing: 58% sixteenths
  meter: 4/4
  feel: soul
  fills: none
  | Ebm <Ab | (hold) Ebm |

form: a x2, b, c, a
"""


def test_no_setting_is_lost_on_the_way(library: Library) -> None:
    """What the design's section 3 lists, each looked for by hand in what comes back."""
    song, performance, tuning = played(SETTINGS, library)
    text = musicxml_text(build_score(performance, song, tuning=tuning), song)
    found = song_from_musicxml(text.encode())
    assert found == song
    first = found.settings
    assert (found.title, str(found.tempo.bpm), str(found.meter)) == ("Every Word", "96", "6/8")
    assert first.key and first.key.name == "Eb dorian"
    assert first.feel and first.feel.name == "six-eight"
    assert (str(first.fills), str(first.dynamics), first.transpose) == ("many", "mf", 2)
    assert (first.seed, found.pickup) == (41, Pickup(1))
    assert [(entry.section, entry.times) for entry in found.form] == [
        ("a", 2), ("b", 1), ("c", 1), ("a", 1),
    ]  # fmt: skip
    a, b, c = (section.settings for section in found.sections)
    assert a.keys and a.keys.name == "out"
    assert b.bass and b.bass.name == "rolling six"
    assert str(c.swing) == "58% sixteenths" and str(c.fills) == "none"
    assert [span.push_sign for span in found.sections[2].bars[0].chords] == ["", "<"]
