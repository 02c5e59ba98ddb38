"""A published tab part, note by note: the bass staff of ``71e-TabStaves.xml``.

The file belongs to the MusicXML test collection inside music21 10.5.1; its bass is tuned E1 A1 D2
G2 and has five distinct placed notes.  The same notes, written by us, must be what music21 reads in
the published file: pitch, string, fret and open strings.
"""

from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import music21
from msgspec.structs import replace

from groove.cells.model import Library
from groove.events import Note, Part, Place
from groove.io.musicxml import song_from_musicxml
from groove.neck.instrument import STANDARD
from groove.sheet.build import build_score
from groove.sheet.musicxml import musicxml_text
from tests.sheet.parts import played

PUBLISHED = Path(music21.__file__).parent / "musicxml" / "lilypondTestSuite" / "71e-TabStaves.xml"
BASS = 4
"""The place of the bass among the file's staves."""
FIVE = {("G2", 1, 0), ("E1", 4, 0), ("D2", 2, 0), ("A#2", 2, 8), ("A1", 3, 0)}
"""Sounding pitch, string, fret of that staff, by its tuning E1 A1 D2 G2."""
STEPS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}


def placed(staff: Any) -> list[tuple[Any, int, int]]:
    """Return (pitch, string, fret) of every note of a staff as music21 reads it."""
    found = []
    for note in staff.flatten().notes:
        marks = {type(mark).__name__: mark for mark in note.articulations}
        string, fret = marks["StringIndication"].number, marks["FretIndication"].number
        found.append((note.pitch, int(string), int(fret)))
    return found


def open_strings(text: str, part: int) -> list[int]:
    """Return the sounding pitches of a tab staff's strings, lowest line first."""
    root = ElementTree.fromstring(text)
    element = root.findall("part")[part]
    octave = int(element.findtext(".//transpose/octave-change", "0"))
    return [
        STEPS[tuning.findtext("tuning-step", "")]
        + 12 * (int(tuning.findtext("tuning-octave", "")) + 1 + octave)
        for tuning in sorted(element.iter("staff-tuning"), key=lambda found: found.get("line", ""))
    ]


def published() -> list[tuple[Any, int, int]]:
    score: Any = music21.converter.parse(PUBLISHED, forceSource=True)
    return placed(score.parts[BASS])


def ours(library: Library, notes: list[tuple[Any, int, int]]) -> str:
    """Return a part of ours in which every quarter is one of these notes."""
    song, performance, _ = played("title: Placed\ntempo: 90\nkey: C\na:\n  | C | C |\n", library)
    first = performance.part_notes(Part.BASS)[0]
    quarters = [
        quarter(first, index * 960, pitch.midi, string, fret)
        for index, (pitch, string, fret) in enumerate(notes)
    ]
    score = build_score(replace(performance, notes=tuple(quarters)), song, tuning=STANDARD)
    return musicxml_text(score, song)


def quarter(like: Note, tick: int, pitch: int, string: int, fret: int) -> Note:
    place = Place(string=string, fret=fret, finger=0, pluck="i", position_fret=1)
    return replace(
        like,
        grid_tick=tick,
        length_ticks=960,
        stated_ticks=960,
        shift_ticks=0,
        pitch=pitch,
        place=place,
    )


def test_music21_reads_the_five_notes_of_the_published_part() -> None:
    notes = published()
    assert len(notes) == 8
    assert {(p.nameWithOctave, string, fret) for p, string, fret in notes} == FIVE
    assert [STANDARD.pitch_at(string, fret) for _, string, fret in notes] == [
        pitch.midi for pitch, _, _ in notes
    ]


def test_our_encoding_of_them_is_read_as_the_same(library: Library) -> None:
    notes = published()
    score: Any = music21.converter.parseData(ours(library, notes), format="musicxml")
    staves = score.toSoundingPitch().parts
    wanted = [(pitch.midi, string, fret) for pitch, string, fret in notes]
    found = [(pitch.midi, string, fret) for pitch, string, fret in placed(staves[1])]
    assert len(found) == 8 and found == wanted
    upper = [n.pitch.midi for n in staves[0].flatten().notes if type(n) is music21.note.Note]
    assert upper == [pitch for pitch, _, _ in wanted]


def test_the_open_strings_are_those_of_the_published_part(library: Library) -> None:
    wanted = open_strings(PUBLISHED.read_text(), BASS)
    assert wanted == [28, 33, 38, 43]
    assert open_strings(ours(library, published()).split("\n", 2)[2], 0) == wanted


def test_the_published_file_is_read_as_a_chart() -> None:
    """Its first staff, a guitar, has two bars and no chords: so has the chart."""
    song = song_from_musicxml(PUBLISHED.read_bytes(), PUBLISHED.name)
    (bars,) = [section.bars for section in song.sections]
    assert len(bars) == 2
    assert all(span.chord is None for bar in bars for span in bar.chords)


def tab_bars(notes: list[tuple[Any, int, int]]) -> str:
    """Return notes as bars of tab in quarters, four columns a beat, as a player types them."""
    rows = []
    for number, name in enumerate("GDAE", start=1):
        cells = [f"{fret:-<4}" if string == number else "----" for _, string, fret in notes]
        bars = ["".join(cells[at : at + 4]) for at in range(0, len(cells), 4)]
        rows.append(f"{name} |" + "|".join(bars) + "|\n")
    return "".join(rows)


def test_the_published_part_typed_as_tab_sounds_its_pitches(library: Library) -> None:
    """Its eight notes under two bars: the chart reads back pitch, string, fret and quarter."""
    notes = published()
    chart = "title: Placed\ntempo: 90\nkey: C\nfills: none\na:\n| C | C |\n" + tab_bars(notes)
    _, performance, _ = played(chart, library)
    found = [
        (note.pitch, note.place.string, note.place.fret, note.grid_tick)
        for note in performance.part_notes(Part.BASS)
        if note.place
    ]
    assert len(found) == 8
    assert found == [
        (pitch.midi, string, fret, 960 * at) for at, (pitch, string, fret) in enumerate(notes)
    ]
