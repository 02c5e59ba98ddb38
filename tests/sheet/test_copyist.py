"""What a copyist looks at: order over the staff, lines, bar numbers, pickups, one hand one staff.

Rules: E. Gould, *Behind Bars* (2011): chord symbols stand directly over the staff, tempo and
rehearsal marks over them; lines follow the phrases, and no bar is left over; a pickup is not
counted.  Pages are read from their SVG.
"""

import re
from itertools import pairwise
from typing import Any
from xml.etree import ElementTree

import music21
import pytest

from groove.cells.model import Library
from groove.events import Part, Performance
from groove.io.engrave import sheet_svg
from groove.io.library import load_library
from groove.sheet.build import build_score
from groove.sheet.lead import lead_pages
from groove.sheet.lead_signs import meter_mm
from groove.sheet.line_breaks import Room, line_starts
from groove.sheet.musicxml import musicxml_text
from groove.sheet.options import SheetOptions, Size, Staves
from groove.sheet.outlines import outline
from tests.sheet.musicxml_schema import schema_errors
from tests.sheet.parts import (
    NAMES,
    REPEATS,
    SIXTEENTHS,
    UNLIKE_NAMES,
    drawn_pages,
    example_song,
    played,
    sections_once,
)

SVG = "{http://www.w3.org/2000/svg}"
PHONE = SheetOptions(size=Size.PHONE)
STAFF = SheetOptions(staves=Staves.NOTATION)
ON_PHONE = """title: Small Gate
key: G
pickup: 1
verse:
  |: G | C |1. D | G :|2. <D | G |
bridge:
  meter: 3/4
  | Em | Am | D |
end:
  | C | (hold) G |
"""
WAYS = {
    **{f"{name}-a4": (sections_once(name), SheetOptions()) for name in UNLIKE_NAMES},
    "pickup-phone": (ON_PHONE, PHONE),
    "slow-ferry-tab": (sections_once("slow-ferry"), SheetOptions(staves=Staves.TAB)),
    "slow-ferry-drums": (sections_once("slow-ferry"), SheetOptions(part=Part.DRUMS)),
}
"""Songs unlike each other on paper; a pickup, endings and another meter on a phone, and one song as
tab alone and for the drummer."""


def pages(text: str, options: SheetOptions) -> tuple[Any, ...]:
    return drawn_pages(text, load_library(), options)


def groups(parent: Any, kind: str) -> list[Any]:
    return [g for g in parent.iter(f"{SVG}g") if kind in (g.get("class") or "").split()]


def heights(group: Any) -> list[float]:
    return [float(text.get("y", "0")) for text in group.iter(f"{SVG}text")]


def letters(group: Any) -> str:
    return "".join(group.itertext()).replace("\n", "").strip()


@pytest.mark.parametrize(("text", "options"), WAYS.values(), ids=WAYS)
def test_chord_symbols_stand_nearest_to_the_staff(text: str, options: SheetOptions) -> None:
    """What else stands over a bar that begins with a chord, stands over that chord."""
    seen = 0
    for page in pages(text, options):
        assert not groups(page, "tempo") and not groups(page, "dir")
        for measure in groups(page, "measure"):
            chords = [y for g in groups(measure, "harm")[:1] for y in heights(g)]
            for mark in groups(measure, "reh"):
                assert all(y < chord for y in heights(mark) for chord in chords)
                seen += len(chords)
    assert seen >= 2


def test_section_tempo_and_swing_are_on_the_page(library: Library) -> None:
    song, performance, tuning = played(SIXTEENTHS, library)
    (page,) = map(ElementTree.fromstring, sheet_svg(performance, song, tuning=tuning))
    first = groups(page, "reh")[0]
    text = re.sub(r"\s+", " ", " ".join(t.strip() for t in first.itertext() if t.strip()))
    assert text == "verse = 88 light swing (53%)"
    note, sign = first.iter(f"{SVG}path")
    # What it looks like is seen in ``test_swing_signs``.
    assert (sign.get("d") or "").count("z") > 10
    quarter = outline("♩")
    assert quarter and note.get("d") == quarter[1]


def bars_a_line(name: str, options: SheetOptions) -> list[int]:
    """Return how many bars each line has, but for lines of words alone."""
    lines = [
        [bar.get("id") for bar in groups(system, "measure")]
        for page in pages(sections_once(name), options)
        for system in groups(page, "system")
    ]
    return [len(line) for line in lines if any("measure" in each for each in line)]


@pytest.mark.parametrize("name", UNLIKE_NAMES)
def test_no_bar_is_a_line_of_its_own(name: str) -> None:
    """No section of the examples has one bar, so no line has; other sizes are in ``test_pages``."""
    found = bars_a_line(name, SheetOptions())
    assert len(found) >= 5 and min(found) >= 2


def test_five_bars_are_three_and_two() -> None:
    """The ending of the song has five bars, its last held."""
    assert bars_a_line("button-drawer", SheetOptions())[-2:] == [3, 2]


def test_three_light_bars_share_a_line_after_two_that_fill_one(library: Library) -> None:
    """Common practice, no source: no bar is left alone where the line before has room for it."""
    sixteenths, held = " ".join(["R"] * 16), "R - - - - - - - - - - - - - - -"
    rows = f"  | C | G |\n  bass | {sixteenths} | {sixteenths} |\n"
    rows += f"  | C | G | C |\n  bass | {held} | {held} | {held} |\n"
    song, performance, tuning = played(f"verse:\n{rows}", library)
    measures = build_score(performance, song, tuning=tuning).measures
    # Sixteen strokes at 3.5 and 7 a bar, 24 a line: two bars need 150, at 4.0 they need 166.
    assert sorted(line_starts(measures, Room(155, value=3.5))) == [1, 3]


def test_every_section_begins_a_line_on_a_phone_too() -> None:
    seen = 0
    for page in pages(ON_PHONE, PHONE):
        for system in groups(page, "system"):
            named = [
                number
                for number, measure in enumerate(groups(system, "measure"))
                for mark in groups(measure, "reh")
                if any(t.get("font-weight") == "bold" for t in mark.iter(f"{SVG}tspan"))
            ]
            # A pickup stands before the first section, on its line.
            assert named in ([], [0]) or (named == [1] and seen == 0)
            seen += len(named)
    assert seen >= 3


@pytest.mark.parametrize("name", UNLIKE_NAMES)
def test_lines_are_numbered_as_the_chart_counts(library: Library, name: str) -> None:
    """The number at a line's head is the one that ``--bars`` takes for the bar under it."""
    song, performance, tuning = played(sections_once(name), library)
    score = build_score(performance, song, tuning=tuning, on_paper=True)
    written = {
        f"measure-{m.number}": performance.bars[m.played[0]].ref.written_bar for m in score.measures
    }
    shown = []
    for page in pages(sections_once(name), SheetOptions()):
        for system in groups(page, "system"):
            first = groups(system, "measure")[0]
            numbers = [int(letters(g)) for g in groups(first, "mNum")]
            assert numbers in ([], [written.get(first.get("id") or "")])
            shown += numbers
    assert len(shown) >= 4
    assert max(shown) <= max(bar.number for s in song.sections for bar in s.bars)


COUNTED = """title: Counted Gate
bass: long notes
vary: none
fills: none
verse:
  | D | G |
chorus:
  | A | G | D |
bridge:
  | Em | A |
ending:
  | D |
form: verse x2, chorus, verse, chorus, bridge, chorus, ending
"""


def test_a_file_has_the_numbers_of_the_page(library: Library) -> None:
    """MusicXML 4.0, element measure: ``number`` names it once, ``text`` is what is printed."""
    song, performance, tuning = played(COUNTED, library)
    text = musicxml_text(build_score(performance, song, tuning=tuning), song)
    assert schema_errors(text) == []
    measures = ElementTree.fromstring(text.split("\n", 2)[2]).findall(".//measure")
    numbers = [int(m.get("number", "")) for m in measures]
    printed = [int(m.get("text") or m.get("number") or 0) for m in measures]
    assert numbers == list(range(1, len(measures) + 1))
    # Verse twice by signs, chorus, both again, bridge, chorus, ending.
    verse, chorus, bridge, ending = [1, 2], [3, 4, 5], [6, 7], [8]
    assert printed == verse + chorus + verse + chorus + bridge + chorus + ending


# --- pickups ----------------------------------------------------------------------------------


def pickup_song(meter: str, beats: int) -> str:
    return (
        f"title: Two Gates\nmeter: {meter}\nkey: G\npickup: {beats}\n\n"
        "verse:\n  | G | C | D | G |\nend:\n  | C | G |\n"
    )


@pytest.mark.parametrize(
    ("meter", "beats", "quarters"), [("4/4", 1, 1), ("3/4", 2, 2), ("6/8", 1, 1.5)]
)
def test_a_pickup_is_written_and_not_counted(
    library: Library, meter: str, beats: int, quarters: float
) -> None:
    song, performance, tuning = played(pickup_song(meter, beats), library)
    text = musicxml_text(build_score(performance, song, tuning=tuning), song)
    assert schema_errors(text) == []
    read: Any = music21.converter.parseData(text, format="musicxml")
    bars = list(read.parts[0].getElementsByClass("Measure"))
    assert [bar.number for bar in bars] == list(range(7))
    assert bars[0].highestTime == quarters == bars[1].offset
    assert [h.figure for h in bars[0].getElementsByClass("Harmony")] == []
    svgs = sheet_svg(performance, song, tuning=tuning)
    drawn = [g for svg in svgs for g in groups(ElementTree.fromstring(svg), "measure")]
    assert [g.get("id") for g in drawn] == [f"measure-{number}" for number in range(7)]
    numbers = [int(letters(g)) for m in drawn for g in groups(m, "mNum")]
    assert numbers in ([0, 5], [5])


@pytest.mark.parametrize(
    ("meter", "beats", "share"), [("4/4", 1, 4), ("3/4", 2, 1.5), ("6/8", 1, 2)]
)
def test_a_chord_chart_shows_the_pickup(
    library: Library, meter: str, beats: int, share: float
) -> None:
    """A short bar before bar 1, behind the meter as wide as its beats, and said in words."""
    song, _, _ = played(pickup_song(meter, beats), library)
    page = ElementTree.fromstring(lead_pages(song, SheetOptions(chart=True))[0])
    words = [text.text for text in page.iter(f"{SVG}text")]
    assert f"pickup of {beats} beat{'s' if beats > 1 else ''}" in words
    first = bar_lines(page)[0]
    widths = [b - a for a, b in pairwise(first)]
    assert len(widths) == 5
    assert widths[1] / (widths[0] - meter_mm(song.sections[0].bars[0].meter)) == pytest.approx(
        share, abs=0.01
    )
    assert "1" in words and "5" in words and "0" not in words


def bar_lines(page: Any) -> list[list[float]]:
    """Return the places of the bar lines of each row; of a double line the last."""
    rows: dict[str, list[float]] = {}
    for line in page.iter(f"{SVG}line"):
        if line.get("x1") == line.get("x2") and float(line.get("y2", "0")) - float(
            line.get("y1", 0)
        ) == pytest.approx(8):
            rows.setdefault(line.get("y1", ""), []).append(float(line.get("x1", 0)))
    found = []
    for row in rows.values():
        row.sort()
        found.append([x for x, after in zip(row, [*row[1:], 1e9], strict=True) if after - x > 2])
    return found


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("size", [Size.A4, Size.STAND, Size.LANDSCAPE, Size.PHONE])
def test_a_chord_chart_uses_the_width_of_the_page(name: str, size: Size) -> None:
    song = example_song(name)
    page = ElementTree.fromstring(lead_pages(song, SheetOptions(chart=True, size=size))[0])
    left, _, width, _ = map(float, page.get("viewBox", "").split())
    # The margin is left of 0 and right of the lines; the numbers of the bars take 6 mm.
    right = width + 2 * left
    ends = [row[-1] for row in bar_lines(page)]
    assert len(ends) >= 4
    assert 0.95 * right < max(ends) <= right


# --- keys -------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", UNLIKE_NAMES)
def test_a_chord_that_one_hand_reaches_is_on_one_staff(library: Library, name: str) -> None:
    song, performance, _ = played(sections_once(name), library)
    chords = struck_together(performance)
    score = build_score(performance, song, part=Part.KEYS, written_out=True)
    staves: dict[int, set[int]] = {}
    for measure in score.measures:
        for voice in measure.voices:
            for event in voice.events:
                for head in event.heads:
                    staves.setdefault(head.note.grid_tick, set()).add(voice.staff)
    assert set(staves) == set(chords) and len(chords) > 30
    assert all(max(p) - min(p) <= 16 for p in chords.values())
    assert all(len(found) == 1 for found in staves.values())


def struck_together(performance: Performance) -> dict[int, list[int]]:
    found: dict[int, list[int]] = {}
    for note in performance.part_notes(Part.KEYS):
        found.setdefault(note.grid_tick, []).append(note.pitch)
    return found


def test_repeats_of_more_than_two_passes_say_so_at_their_end(library: Library) -> None:
    marks = [
        letters(g) for page in drawn_pages(REPEATS, library, STAFF) for g in groups(page, "reh")
    ]
    # The intro has three passes and is played twice, the second time with endings, which say it
    # themselves; the verse's passes lead to other chords.
    assert marks.count("3×") == 1


RESTING = """
title: Dry Gate
key: D
bass: off-beats
verse:
  | D | G | A | N.C. |
  | D | G | A | D |
form: verse x2
"""


def test_a_tab_alone_has_rests_and_room_for_silent_bars(library: Library) -> None:
    """Rhythm without rests cannot be counted; as many as on the staff."""
    counts = []
    song, performance, tuning = played(RESTING, library)
    for only in (Staves.NOTATION, Staves.TAB):
        options = SheetOptions(staves=only, written_out=True)
        svgs = sheet_svg(performance, song, options, tuning=tuning)
        found = list(map(ElementTree.fromstring, svgs))
        counts.append([sum(len(groups(p, kind)) for p in found) for kind in ("rest", "mRest")])
    assert counts[0] == counts[1] and counts[0][0] > 40 and counts[0][1] == 2
