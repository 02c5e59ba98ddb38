"""The chord chart for players who read another key than the one that sounds."""

import re
from typing import Any
from xml.etree import ElementTree

import music21
import pytest

import groove
from groove.chart.parse import parse_chart
from groove.chart.written_for import WrittenFor, parse_written_for
from groove.sheet.lead import lead_pages
from groove.sheet.options import SheetOptions
from tests.sheet.parts import NAMES, example_song

SVG = "{http://www.w3.org/2000/svg}"
CHORD = re.compile(r"[0-9.]*‹?([A-G])([♯♭]?)")
IN_NUMBERS = ("glass-stairs", "number-nine-bus")
"""Charts whose chords are degrees."""
HORNS = {"Bb": "Trumpet", "B flat": "TenorSaxophone", "E♭": "AltoSaxophone"}
"""Instruments of music21 10.5.1, whose ``transposition`` leads from what is read to what sounds."""


def texts(page: str) -> list[tuple[str, str]]:
    """Return (id, text) of every text of a page."""
    found = ElementTree.fromstring(page).iter(f"{SVG}text")
    return [(each.get("id", ""), each.text or "") for each in found]


def roots(page: str) -> list[Any]:
    """Return the roots of a chart's chords as music21 has them."""
    chords = [text for name, text in texts(page) if name.startswith("chord-")]
    found = [match for text in chords if (match := CHORD.match(text))]
    signs = {"": "", "♯": "#", "♭": "-"}
    return [music21.pitch.Pitch(f"{match[1]}{signs[match[2]]}4") for match in found]


def whom(text: str) -> WrittenFor:
    found = parse_written_for(text)
    assert found
    return found


@pytest.mark.parametrize("name", [name for name in NAMES if name not in IN_NUMBERS])
@pytest.mark.parametrize("horn", HORNS)
def test_what_a_horn_reads_sounds_as_the_chart(name: str, horn: str) -> None:
    """As music21's instruments transpose."""
    song = example_song(name)
    interval = getattr(music21.instrument, HORNS[horn])().transposition
    (sounding,) = lead_pages(song, SheetOptions(chart=True))
    (read,) = lead_pages(song, SheetOptions(chart=True, written_for=whom(horn)))
    pairs = list(zip(roots(sounding), roots(read), strict=True))
    assert len(pairs) > 12
    for heard, written in pairs:
        assert written.transpose(interval).pitchClass == heard.pitchClass


@pytest.mark.parametrize(("fret", "shapes"), [(1, "A E F#m B7"), (3, "G D Em A7")])
def test_a_capo_raises_what_is_held(fret: int, shapes: str) -> None:
    """Every fret is a half step: worked by hand from B flat, where open strings want G or A."""
    song = parse_chart("key: Bb\nverse:\n  | Bb | F | Gm | C7 |\n")
    asked = SheetOptions(chart=True, written_for=whom(f"capo {fret}"))
    (page,) = lead_pages(song, asked)
    found = [text for name, text in texts(page) if name.startswith("chord-")]
    assert [text.replace("♯", "#") for text in found] == shapes.split()
    (whole,) = groove.make_sheet(song, asked).svg()
    assert any(f"capo {fret}, sounds in B♭ major" in text for _, text in texts(whole))


def test_a_key_that_is_read_is_spelled_with_few_accidentals() -> None:
    """From B major a player in B flat reads D flat, of five flats, and no C sharp, of seven."""
    song = parse_chart("key: B\nverse:\n  | B | E | F#7 | G#m |\n")
    (page,) = lead_pages(song, SheetOptions(chart=True, written_for=whom("Bb")))
    found = [text for name, text in texts(page) if name.startswith("chord-")]
    assert found == ["D♭", "G♭", "A♭7", "B♭m"]


def test_numbers_stay_and_their_key_is_told() -> None:
    """Degrees are the same in every key: only the key that they are counted from is another."""
    song = parse_chart("key: G\nchords: numbers\nverse:\n  | 1 | 6- | 4 | 5 |\n")
    (page,) = lead_pages(song, SheetOptions(chart=True, written_for=whom("Eb")))
    found = [text for name, text in texts(page) if name.startswith("chord-")]
    assert found == ["1", "6-", "4", "5"]
    (whole,) = groove.make_sheet(song, SheetOptions(chart=True, written_for=whom("Eb"))).svg()
    assert any("E major for E♭ instruments, sounds in G major" in text for _, text in texts(whole))


def test_a_moved_chart_and_its_own_key_come_first() -> None:
    """A chart's ``transpose`` comes first: D, up two, sounds as E, for which F sharp is read.

    Its chords alone say that it is in D, and what is written for the bass is no part of it.
    """
    head = "transpose: 2\nriff own:\n  R - 5 - @D2 - 8 -\n"
    song = parse_chart(f"{head}verse:\n  bass: own\n  | D | Em7 A7 | D | G A7 |\n")
    (page,) = lead_pages(song, SheetOptions(chart=True, written_for=whom("Bb")))
    found = [text for name, text in texts(page) if name.startswith("chord-")]
    assert found == ["F♯", "G♯m7", "C♯7", "F♯", "B", "C♯7"]
