"""Harmonics, bends, slurs and slides of a written line on the sheet.

Judged by the MusicXML 4.0 schema that the musicxml wheel ships, and by music21, which know nothing
of the project.  A string touched at its middle sounds its octave: D2 is MIDI 38, so 50; 7b9 bends
two half steps up; the row is written by hand.
"""

from typing import Any
from xml.etree import ElementTree

import music21

from groove.cells.model import Library
from groove.sheet.build import build_score
from groove.sheet.musicxml import musicxml_text
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
