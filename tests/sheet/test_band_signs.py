"""What a player must be told in a part beside notes: holds, feels, and sections to sit out.

A hold has a fermata (MusicXML 4.0, ``fermata``; MEI 5, ``fermata``; glyph U+E4C0 of SMuFL 1.4); a
part that has nothing to play in a section is told ``tacet`` (Gould, *Behind Bars*; from memory).
"""

from xml.etree import ElementTree

import pytest

from groove.cells.model import Library
from groove.events import Part
from groove.io.engrave import sheet_svg
from groove.sheet.build import build_score
from groove.sheet.musicxml import musicxml_text
from groove.sheet.options import SheetOptions, Size, Staves
from tests.sheet.music21_reading import read_notes
from tests.sheet.musicxml_schema import schema_errors
from tests.sheet.parts import played

TEXT = """
title: Gate of Ash
tempo: 90
key: D
verse:
  feel: sixteenths
  | D | G | A7 | D |
bridge:
  feel: shuffle
  | Bm | E7 | (feel sixteenths) A7 | (hold) <D |
outro:
  bass: tacet
  | G | D |
ending:
  | G | (hold) D |
form: verse, bridge, outro, verse, ending
"""


def text_of(library: Library, part: Part) -> str:
    song, performance, tuning = played(TEXT, library)
    return musicxml_text(build_score(performance, song, part=part, tuning=tuning), song)


@pytest.mark.parametrize("part", [Part.BASS, Part.DRUMS, Part.KEYS])
def test_a_hold_has_a_fermata_in_musicxml(library: Library, part: Part) -> None:
    """As music21 reads it: in the two bars that say so, at the last note of either."""
    text = text_of(library, part)
    assert schema_errors(text) == []
    staff = read_notes(text).parts[0]
    bars = [
        n.getContextByClass("Measure").number
        for n in staff.recurse().notesAndRests
        if any(type(e).__name__ == "Fermata" for e in n.expressions)
    ]
    assert bars == [8, 16]


@pytest.mark.parametrize("staves", [Staves.BOTH, Staves.NOTATION])
def test_a_hold_has_a_fermata_on_the_page(library: Library, staves: Staves) -> None:
    song, performance, tuning = played(TEXT, library)
    options = SheetOptions(size=Size.PHONE, staves=staves)
    (page,) = sheet_svg(performance, song, options, tuning=tuning)
    assert page.count('class="fermata"') == 2 and 'id="E4C0-' in page


def words_of(library: Library, part: Part) -> dict[int, list[str]]:
    root = ElementTree.fromstring(text_of(library, part).split("\n", 2)[2])
    found: dict[int, list[str]] = {}
    for bar in root.iter("measure"):
        for word in bar.iterfind("direction/direction-type/words"):
            found.setdefault(int(bar.get("number", "")), []).append(word.text or "")
    return found


def test_a_feel_is_told_where_it_begins_and_once(library: Library) -> None:
    words = words_of(library, Part.BASS)
    feels = {
        bar: [
            word for word in told if "shuffle" in word or word.endswith(("sixteenths", "eighths"))
        ]
        for bar, told in words.items()
    }
    # The first stands in the head of the page; bar 7 has the chart's own word for it.
    assert {bar: told for bar, told in feels.items() if told} == {
        5: ["shuffle"],
        7: ["feel sixteenths"],
        9: ["straight eighths"],
        11: ["sixteenths"],
        15: ["straight eighths"],
    }


def test_a_section_without_the_part_is_told(library: Library) -> None:
    assert [bar for bar, told in words_of(library, Part.BASS).items() if "tacet" in told] == [9]
    assert not any("tacet" in told for told in words_of(library, Part.KEYS).values())
