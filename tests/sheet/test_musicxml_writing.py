"""Parts as MusicXML, judged by the W3C schema (4.0) and read back by music21 10.5.1."""

import re
from functools import cache
from itertools import cycle
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import music21
import pytest
import verovio

from groove.cells.model import Library
from groove.chart.model import Song
from groove.chart.order import song_form
from groove.events import Note, Part, Performance, Touch
from groove.io.library import load_library
from groove.neck.instrument import Tuning
from groove.sheet.build import build_score
from groove.sheet.musicxml import musicxml_text, mxl_bytes
from groove.sheet.options import Staves
from groove.theory.chords import QUALITIES, Quality, parse_chord
from tests.sheet.music21_reading import expected, read, read_notes, struck
from tests.sheet.musicxml_schema import schema_errors
from tests.sheet.parts import (
    NAMES,
    REPEATS,
    SIXTEENTHS,
    UNLIKE_NAMES,
    example,
    played,
)

SUS_SEVENTH = "1 4 5 b7"


def written(
    song: Song, performance: Performance, tuning: Tuning, *, written_out: bool = False
) -> str:
    score = build_score(performance, song, tuning=tuning, written_out=written_out)
    return musicxml_text(score, song)


def written_staff(
    song: Song, performance: Performance, tuning: Tuning, *, written_out: bool = False
) -> str:
    """Return the staff alone: music21 takes as long for the tab, which other tests have it read."""
    score = build_score(performance, song, tuning=tuning, written_out=written_out)
    return musicxml_text(score, song, staves=Staves.NOTATION)


def test_there_are_example_charts() -> None:
    assert len(NAMES) >= 8


@pytest.mark.parametrize(
    ("name", "part"),
    list(zip(UNLIKE_NAMES, cycle((Part.BASS, Part.DRUMS, Part.KEYS)), strict=False)),
)
def test_every_part_of_every_example_is_valid(library: Library, name: str, part: Part) -> None:
    """Written out; ``test_two_ways`` has the schema judge parts that are folded."""
    song, performance, tuning = example(name, library)
    score = build_score(performance, song, part=part, tuning=tuning, written_out=True)
    text = musicxml_text(score, song, fingers=True, pluck=True)
    assert schema_errors(text) == []
    assert text.count("<measure ") == len(score.measures) > 20


def test_the_schema_refuses_a_planted_fault(library: Library) -> None:
    text = written(*played(REPEATS, library))
    assert schema_errors(text) == []
    assert schema_errors(text.replace("<octave>", "<octave>x", 1)) != []


def test_repeats_are_folded_and_played_in_the_order_of_the_form(library: Library) -> None:
    song, performance, tuning = played(REPEATS, library)
    score = build_score(performance, song, tuning=tuning)
    assert len(score.measures) < len(performance.bars)
    notation = read_notes(written_staff(song, performance, tuning)).parts[0]
    wanted = expected(performance)
    assert struck(notation.expandRepeats()) == wanted
    repeats = notation.flatten().getElementsByClass("Repeat")
    # Two of the intro; of the verse's first time one a half, with endings; of its second one more,
    # for there all three passes end in their own way.
    assert len([r for r in repeats if r.direction == "end"]) == 7
    assert len(wanted) > 200


def test_sections_stand_in_played_order(library: Library) -> None:
    song, performance, tuning = played(REPEATS, library)
    notation = read_notes(written_staff(song, performance, tuning)).parts[0]
    marks = [m.content for m in notation.flatten().getElementsByClass("RehearsalMark")]
    wanted = [entry.section for entry in song_form(song) for _ in range(entry.times)]
    assert marks == wanted == ["intro", "verse", "verse", "bridge", "intro"]


def test_tempo_and_meters_change_where_they_do_in_the_chart(library: Library) -> None:
    song, performance, tuning = played(REPEATS, library)
    text = written_staff(song, performance, tuning, written_out=True)
    notation = read_notes(text).parts[0].flatten()
    assert struck(notation) == expected(performance)
    marks = [(m.offset, m.number) for m in notation.getElementsByClass("MetronomeMark") if m.number]
    meters = [(t.offset, t.ratioString) for t in notation.getElementsByClass("TimeSignature")]
    # A pickup of one quarter, an intro of 3 x 4 bars, two verses of 3 x 4 + 2 x 4 bars in 4/4.
    verses = 1 + 4 * (12 + 2 * 20)
    assert meters[0] == (0, "4/4")
    assert meters[1][1] == "3/4" and meters[2] == (meters[1][0] + 12, "4/4")
    assert meters[1][0] == verses
    # The first mark stands over bar 1, beside the section's name, and sounds from the pickup on.
    assert marks[0] == (1, 84) and marks[-1] == (meters[2][0], 84)
    assert text.index('<sound tempo="84"') < text.index('<measure number="1"')


def test_a_ramp_from_the_first_bar_on_has_one_mark(library: Library) -> None:
    """The tempo is printed where the section begins, though it changes with every beat."""
    text = "title: x\nkey: C\nbass: long notes\na:\n  tempo: 92.5 to 60\n  | C | F | G | C |\n"
    root = ElementTree.fromstring(written(*played(text, library)).split("\n", 2)[2])
    assert [mark.findtext("per-minute") for mark in root.iter("metronome")] == ["92.5"]
    tempi = [
        [float(sound.get("tempo", "")) for sound in bar.iter("sound")]
        for bar in root.iter("measure")
    ]
    # At most one a bar, and each at its head.
    assert [len(bar) for bar in tempi] == [1] * 4 and not list(root.iter("offset"))
    assert round(tempi[0][0], 2) == 92.5 and tempi == sorted(tempi, reverse=True)


def test_after_a_pickup_a_ramp_is_marked_with_the_charts_number(library: Library) -> None:
    """The pickup is slower already; what a player is told is what the chart says."""
    text = "title: x\nkey: C\npickup: 1\na:\n  tempo: 120 to 60\n  | C | F | G | C |\n"
    root = ElementTree.fromstring(written(*played(text, library)).split("\n", 2)[2])
    assert [mark.text for mark in root.iter("per-minute")] == ["120"]


@pytest.mark.parametrize("name", ["glass-stairs", "slow-ferry"])
def test_string_and_fret_sound_the_note(library: Library, name: str) -> None:
    """On the tab every string and fret gives the pitch, by the tuning that the file states."""
    root = ElementTree.fromstring(written(*example(name, library)).split("\n", 2)[2])
    opens = {}
    steps = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
    lines = root.findall(".//staff-details/staff-tuning")
    for element in lines:
        pitch = steps[element.findtext("tuning-step", "")]
        pitch += int(element.findtext("tuning-alter", "0"))
        pitch += 12 * (int(element.findtext("tuning-octave", "")) + 1)
        opens[len(lines) + 1 - int(element.get("line", ""))] = pitch
    found = 0
    for note in root.iter("note"):
        string = note.findtext("notations/technical/string")
        if string is None:
            continue
        fret = int(note.findtext("notations/technical/fret", ""))
        pitch = steps[note.findtext("pitch/step", "")]
        pitch += int(note.findtext("pitch/alter", "0"))
        pitch += 12 * (int(note.findtext("pitch/octave", "")) + 1)
        assert opens[int(string)] + fret == pitch
        found += 1
    assert found > 70


def test_music21_reads_string_and_fret(library: Library) -> None:
    song, performance, tuning = played(SIXTEENTHS, library)
    tab = read_notes(written(song, performance, tuning, written_out=True)).parts[1]
    found = []
    for n in tab.flatten().notes:
        if n.tie is not None and n.tie.type != "start":
            continue
        marks = {type(a).__name__: a.number for a in n.articulations if hasattr(a, "number")}
        found.append((int(marks["StringIndication"]), int(marks["FretIndication"])))
    wanted = [(n.place.string, n.place.fret) for n in placed(performance)]
    assert len(wanted) > 50
    assert found == wanted


def placed(performance: Performance) -> list[Any]:
    notes: list[Note] = sorted(performance.part_notes(Part.BASS), key=lambda n: n.grid_tick)
    return notes


SYMBOLS = [f"Eb{quality.spellings[0]}" for quality in QUALITIES]
OTHERS = [f"{root}{quality.spellings[0]}" for root in ("C", "F#") for quality in QUALITIES[::8]]
"""A root has its own elements, so some qualities tell of other roots."""


@cache
def every_quality() -> str:
    """Return a part in which every quality of our table stands, a bar each, and others after."""
    head = "title: x\nkey: C\nbass: long notes\nfills: none\na:\n"
    return written_staff(*played(f"{head}  | {' | '.join(SYMBOLS + OTHERS)} |\n", load_library()))


def sounding() -> list[set[int]]:
    """Return the pitch classes of every chord of that part, as music21 reads it."""
    harmonies = read(every_quality()).parts[0].flatten().getElementsByClass("Harmony")
    return [{pitch.pitchClass for pitch in harmony.pitches} for harmony in harmonies]


def test_music21_reads_the_same_tones_of_every_quality() -> None:
    """Kinds and degrees of our table, judged by the pitch classes that music21 reads."""
    found = dict(zip(SYMBOLS + OTHERS, sounding(), strict=True))
    assert len(found) == len(QUALITIES) + len(OTHERS) and len(QUALITIES) > 35 and len(OTHERS) >= 10
    assert found == {symbol: set(parse_chord(symbol).pitch_classes) for symbol in found}


def test_slash_bass_and_no_chord_are_read(library: Library) -> None:
    text = "title: x\nkey: C\na:\n  | C/E | N.C. | Gm7/F | Am |\n"
    harmonies = (
        read(written(*played(text, library))).parts[0].flatten().getElementsByClass("Harmony")
    )
    root = ElementTree.fromstring(written(*played(text, library)).split("\n", 2)[2])
    (silent,) = [h for h in root.iter("harmony") if h.findtext("kind") == "none"]
    # A root would be shown by readers that leave its empty text out.
    assert [part.tag for part in silent][:2] == ["function", "kind"]
    assert [type(h).__name__ for h in harmonies] == [
        "ChordSymbol", "NoChord", "ChordSymbol", "ChordSymbol",
    ]  # fmt: skip
    assert [harmonies[0].bass().name, harmonies[2].bass().name] == ["E", "F"]


def test_a_compressed_file_is_read_by_music21_and_is_the_same_twice(
    library: Library, tmp_path: Path
) -> None:
    song, performance, tuning = played(SIXTEENTHS, library)
    text = written_staff(song, performance, tuning, written_out=True)
    assert mxl_bytes(text) == mxl_bytes(text)
    path = tmp_path / "part.mxl"
    path.write_bytes(mxl_bytes(text))
    score: Any = music21.converter.parse(path)
    assert struck(score.parts[0]) == expected(performance)


# --- once, in every reader ---------------------------------------------------------------------


def notes_of(text: str) -> list[Any]:
    return list(ElementTree.fromstring(text.split("\n", 2)[2]).iter("note"))


def test_a_note_on_staff_and_tab_sounds_once(library: Library) -> None:
    """By the standard: ``volume`` 0 of the tab's own instrument is silence (MusicXML 4.0)."""
    song, performance, tuning = played(SIXTEENTHS, library)
    score = build_score(performance, song, tuning=tuning)
    text = musicxml_text(score, song)
    assert schema_errors(text) == []
    root = ElementTree.fromstring(text.split("\n", 2)[2])
    silent = {m.get("id") for m in root.iter("midi-instrument") if m.findtext("volume") == "0"}
    channels = [m.findtext("midi-channel") for m in root.iter("midi-instrument")]
    assert len(silent) == 1 and len(set(channels)) == 2
    pitched = [note for note in root.iter("note") if note.find("pitch") is not None]
    for note in pitched:
        assert (note.findtext("staff") == "2") == (note.find("instrument").get("id") in silent)  # type: ignore[union-attr]
    assert len(pitched) > 80


@pytest.mark.parametrize("staves", [Staves.NOTATION, Staves.TAB])
def test_one_staff_has_every_note_once_with_its_place(library: Library, staves: Staves) -> None:
    """As music21 reads it, and as it is read back here when its own chart is gone."""
    song, performance, tuning = played(SIXTEENTHS, library)
    score = build_score(performance, song, tuning=tuning, written_out=True)
    text = musicxml_text(score, song, staves=staves)
    assert schema_errors(text) == []
    (part,) = read_notes(text).parts
    assert [(tick, pitch) for tick, pitch, _ in struck(part)] == [
        (tick, pitch) for tick, pitch, _ in expected(performance)
    ]
    found = [
        (int(n.findtext(f"{TECHNICAL}/string", "")), int(n.findtext(f"{TECHNICAL}/fret", "")))
        for n in notes_of(text)
        if n.find("pitch") is not None and "stop" not in {t.get("type") for t in n.iter("tie")}
    ]
    assert found == [(n.place.string, n.place.fret) for n in placed(performance)]
    ghosts = [n for n in notes_of(text) if n.findtext("notehead") == "x"]
    assert len(ghosts) == len([n for n in placed(performance) if n.touch is Touch.GHOST]) > 0


TECHNICAL = "notations/technical"


def test_no_degree_is_said_twice() -> None:
    """As verovio draws it, which shows degrees even where a file says not to.

    A suspension with a seventh has no kind in the standard: its name is the text, and what is not
    to be shown behind it says only what it has not, so ``7sus4(no3no9)`` where it is shown.
    All that is drawn says what music21 sounds.
    """
    toolkit = verovio.toolkit()
    toolkit.loadData(every_quality())
    mei = ElementTree.fromstring(toolkit.getMEI())
    drawn = list(mei.iter("{http://www.music-encoding.org/ns/mei}harm"))
    compared = 0
    assert len(drawn) == len(SYMBOLS + OTHERS)
    for quality, harm, heard in zip(QUALITIES, drawn, sounding(), strict=False):
        check_a_name_as_drawn(quality, "".join(harm.itertext()).strip(), heard)
        compared += 1
    assert compared > 35


def check_a_name_as_drawn(quality: Quality, name: str, heard: set[int]) -> None:
    assert name.count("sus") <= 1, name
    if "sus" in name:
        name, _, left_out = name.partition("(")
        assert re.fullmatch(r"((no\d)+\))?", left_out), name
    tones = re.findall(r"[♭♯]?\d+", name.removeprefix("E♭"))
    assert len(tones) == len(set(tones)), name
    assert set(re.findall(r"\d+", quality.spellings[0])) - {"7"} <= {
        re.sub("[♭♯]", "", tone) for tone in tones
    } | {"5"}, name
    # A seventh that is raised in a minor chord is its major one.
    name = re.sub(r"m(1[13])\(♯7\)", r"mM\1", name)
    drawn_as = parse_chord(name.replace("♭", "b").replace("♯", "#"))
    assert heard == {tone.pitch_class for tone in drawn_as.tones}, name


@pytest.mark.parametrize(
    ("suffix", "name", "tones"),
    [
        ("7sus4b9", "7sus4(no3♭9)", {0, 1, 5, 7, 10}),
        ("13sus4b9", "13sus4(no3♭9)", {0, 1, 5, 7, 9, 10}),
        ("7sus2", "7sus2(no3)", {0, 2, 7, 10}),
        ("maj7sus4", "maj7sus4(no3no9)", {0, 5, 7, 11}),
        ("sus4(add9)", "sus4(add9)", {0, 2, 5, 7}),
        ("6sus4", "sus4(add6)", {0, 5, 7, 9}),
        ("7sus4(no5)", "7sus4(no3no5no9)", {0, 5, 10}),
    ],
)
def test_an_altered_suspension_is_drawn_once_and_heard(
    library: Library, suffix: str, name: str, tones: set[int]
) -> None:
    """Drawn by verovio, which shows what is hidden; heard by music21; tones by the names."""
    text = written(*played(f"title: x\nkey: C\na:\n  | C{suffix} |\n", library))
    toolkit = verovio.toolkit()
    toolkit.loadData(text)
    mei = ElementTree.fromstring(toolkit.getMEI())
    (drawn,) = mei.iter("{http://www.music-encoding.org/ns/mei}harm")
    assert "".join(drawn.itertext()).strip() == f"C{name}"
    (sounding,) = read(text).recurse().getElementsByClass("Harmony")
    assert {pitch.pitchClass for pitch in sounding.pitches} == tones
