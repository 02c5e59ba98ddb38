"""Harmonics, bends, slurs and slides of a written line on the sheet.

Judged by the MusicXML 4.0 schema that the musicxml wheel ships, and by music21, which know nothing
of the project.  A string touched at its middle sounds its octave: D2 is MIDI 38, so 50; 7b9 bends
two half steps up; the row is written by hand.
"""

from typing import Any
from xml.etree import ElementTree

import music21
import pytest

from groove.cells.model import Library
from groove.io.engrave import sheet_svg
from groove.sheet.build import build_score
from groove.sheet.mei import mei_text
from groove.sheet.musicxml import musicxml_text
from groove.sheet.options import SheetOptions, Staves
from tests.sheet.musicxml_schema import schema_errors
from tests.sheet.parts import played

CHART = r"""verse:
  | D | G |
  G |-----------------|-----------------|
  D |-7b9=====-<12>===|-5h7-7p5-5/9-9\7-|
  A |-----------------|-----------------|
  E |-----------------|-----------------|
"""


def written(library: Library) -> str:
    song, performance, tuning = played(CHART, library)
    return musicxml_text(build_score(performance, song, tuning=tuning), song)


def test_the_file_is_valid_and_says_what_the_hand_does(library: Library) -> None:
    text = written(library)
    assert schema_errors(text) == []
    root: Any = ElementTree.fromstring(text.split("\n", 2)[2])
    tab = [note for note in root.iter("note") if note.findtext("staff") == "2"]
    told = []
    for note in tab:
        for sign in note.iterfind("notations/technical/*"):
            if sign.tag not in ("string", "fret"):
                told.append((note.findtext("notations/technical/fret"), sign.tag, sign.get("type")))
    assert told == [
        ("7", "bend", None),
        ("12", "harmonic", None),
        ("5", "hammer-on", "start"),
        ("7", "hammer-on", "stop"),
        ("7", "pull-off", "start"),
        ("5", "pull-off", "stop"),
    ]
    assert root.findtext(".//bend-alter") == "2"
    heads = {note.findtext("notehead") for note in root.iter("note") if note.find("pitch")}
    assert "diamond" in heads


def test_music21_reads_the_slurs_and_the_harmonics_pitch(library: Library) -> None:
    read: Any = music21.converter.parseData(written(library), format="musicxml")
    part = read.toSoundingPitch().parts[0]
    slurs = [
        [note.pitch.midi for note in slur.getSpannedElements()]
        for slur in part.recurse().getElementsByClass(music21.spanner.Slur)
    ]
    assert slurs == [[43, 45], [45, 43]]
    diamonds = {n.pitch.midi for n in part.recurse().notes if n.notehead == "diamond"}
    assert diamonds == {50}


BENT = """verse:
  | D | G |
  G |-----------------|-------12~=====--|
  D |-7b8=====-7b10===|-<7>=====-7b9~===|
  A |-----------------|-----------------|
  E |-----------------|-----------------|
"""


def test_bends_and_vibrato_are_the_same_in_both_files(library: Library) -> None:
    """One half step is ½, two are full, three 1½ (common practice, no source)."""
    song, performance, tuning = played(BENT, library)
    score = build_score(performance, song, tuning=tuning)
    text = musicxml_text(score, song)
    assert schema_errors(text) == []
    root: Any = ElementTree.fromstring(text.split("\n", 2)[2])
    steps = {"1": "½", "2": "full", "3": "1½"}
    other: dict[str, list[str]] = {}
    for note in root.iter("note"):
        name = note.get("id", "").removeprefix("tab-")
        for bend in note.iterfind("notations/technical/bend/bend-alter"):
            other.setdefault(name, []).append(steps[bend.text])
    waves = [
        (note.get("id", ""), wave.get("type"))
        for note in root.iter("note")
        for wave in note.iterfind("notations/ornaments/wavy-line")
    ]
    assert [kind for _, kind in waves] == ["start", "stop"] * 2
    for name, kind in waves:
        if kind == "start":
            other.setdefault(name, []).append("~~~")
    mei: Any = ElementTree.fromstring(mei_text(score, SheetOptions(), line_units=1e6, title=True))
    one = {
        mark.get("startid")[1:].removeprefix("tab-"): "".join(mark.itertext()).split()
        for mark in mei.iter("{http://www.music-encoding.org/ns/mei}dir")
    }
    assert one == other
    assert sorted(map(" ".join, one.values())) == ["1½", "full ~~~", "~~~", "½"]


@pytest.mark.parametrize("staves", [Staves.BOTH, Staves.TAB])
def test_a_harmonic_stands_in_brackets_on_the_tab(library: Library, staves: Staves) -> None:
    """``<7>`` as it is typed (common practice, no source); the other numbers stand bare."""
    song, performance, tuning = played(BENT, library)
    (page,) = sheet_svg(performance, song, SheetOptions(staves=staves), tuning=tuning)
    numbers = [
        "".join(group.itertext()).strip()
        for group in ElementTree.fromstring(page).iter("{http://www.w3.org/2000/svg}g")
        if (group.get("id") or "").startswith("tab-") and group.get("class") == "note"
    ]
    assert sorted(numbers) == ["12", "7", "7", "7", "<7>"]
