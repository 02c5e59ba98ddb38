"""Slides and words to the band on the page: what the chart and the cell say, drawn and written."""

import re
from collections.abc import Mapping
from itertools import pairwise
from typing import Any
from xml.etree import ElementTree

import pytest
from msgspec.structs import replace

from groove.cells.model import Library
from groove.cells.read import read_bass_cell
from groove.events import Part, Performance, Touch
from groove.io.engrave import sheet_svg
from groove.io.systems import WIDE, engraved_systems
from groove.sheet.build import build_score
from groove.sheet.musicxml import musicxml_text
from groove.sheet.options import SheetOptions, Staves
from tests.sheet.music21_reading import read_notes
from tests.sheet.musicxml_schema import schema_errors
from tests.sheet.parts import played

SVG = "{http://www.w3.org/2000/svg}"
HREF = "{http://www.w3.org/1999/xlink}href"
TRANSLATE = re.compile(r"translate\(([-\d.]+),\s*([-\d.]+)\)")
CELL: Mapping[str, object] = {
    "format": 1,
    "name": "sliding",
    "summary": "the fifth and the octave are slid into",
    "meter": "4/4",
    "slots_per_beat": 2,
    "steps": "R - s5 -  R - s8 -",
    "levels": "9 . 6 .  8 . 6 .",
}
SLIDES = """
title: Sliding Gate
tempo: 90
key: D
bass: sliding
fills: none

verse:
  |: D | A | Bm7 | G :|
  | D | (stop) A | G | (hold) D |

form: verse x2
"""


@pytest.fixture(scope="module")
def sliding(library: Library) -> Library:
    cell = read_bass_cell(CELL, "sliding.toml")
    return replace(library, bass={**library.bass, cell.name: cell})


def slid(performance: Performance) -> list[tuple[str, str]]:
    """Return the ids of the notes that slides join, by the touches of the performance."""
    named = zip(performance.note_ids, performance.notes, strict=True)
    bass = sorted(
        ((name, note) for name, note in named if note.part is Part.BASS),
        key=lambda pair: pair[1].grid_tick,
    )
    return [
        (name, following)
        for (name, note), (following, after) in pairwise(bass)
        if after.touch is Touch.SLIDE and after.pitch != note.pitch
    ]


def head_place(page: Any, name: str) -> tuple[float, float]:
    """Return where the head of a note is drawn."""
    (group,) = [g for g in page.iter(f"{SVG}g") if g.get("id") == name]
    use = next(u for u in group.iter(f"{SVG}use") if "E0A" in u.get(HREF, ""))
    x, y = TRANSLATE.findall(use.get("transform"))[0]
    return float(x), float(y)


def test_a_slide_is_a_line_from_head_to_head(sliding: Library) -> None:
    """Each line begins after the head that is left and ends before the head that is slid into."""
    song, performance, tuning = played(SLIDES, sliding)
    wanted = slid(performance)
    assert len(wanted) >= 25
    svgs = sheet_svg(performance, song, SheetOptions(written_out=True), tuning=tuning)
    found = 0
    for page in map(ElementTree.fromstring, svgs):
        drawn = {
            g.get("id"): g
            for g in page.iter(f"{SVG}g")
            if g.get("class") == "gliss" and not (g.get("id") or "").startswith("slide-tab-")
        }
        for start, end in wanted:
            line = drawn.pop(f"slide-{start}", None)
            if line is None:
                continue
            points = [
                float(v)
                for v in re.findall(r"-?[\d.]+", next(line.iter(f"{SVG}path")).get("d", ""))
            ]
            left, right = head_place(page, start), head_place(page, end)
            assert left[0] < points[0] < points[2] < right[0]
            assert (points[3] < points[1]) == (right[1] < left[1])
            found += 1
        assert not drawn
    assert found == len(wanted)


def test_music21_reads_the_slides_on_both_staves(sliding: Library) -> None:
    song, performance, tuning = played(SLIDES, sliding)
    score = build_score(performance, song, tuning=tuning, written_out=True)
    text = musicxml_text(score, song)
    assert schema_errors(text) == []
    by_id = dict(zip(performance.note_ids, performance.notes, strict=True))
    wanted = [(by_id[a].grid_tick, by_id[b].grid_tick) for a, b in slid(performance)]
    read = read_notes(text)
    lines = [line.getSpannedElements() for line in read.recurse().getElementsByClass("Glissando")]
    for staff in read.parts:
        places = {n.id: round(n.getOffsetInHierarchy(staff) * 960) for n in staff.recurse().notes}
        own = [tuple(places[n.id] for n in ends) for ends in lines if ends[0].id in places]
        assert sorted(own) == wanted
    assert len(lines) == 2 * len(wanted) >= 50


def test_a_slide_across_a_repeat_begins_and_ends(sliding: Library) -> None:
    """Folded, every slide that begins on the page ends there."""
    song, performance, tuning = played(SLIDES, sliding)
    score = build_score(performance, song, tuning=tuning)
    assert len(score.measures) < len(performance.bars)
    signs = re.findall(r'<slide type="(\w+)" number="1"', musicxml_text(score, song))
    assert len(signs) > 20 and signs == ["start", "stop"] * (len(signs) // 2)


def test_words_to_the_band_stand_over_their_bars(sliding: Library) -> None:
    """The chart says stop in bar 6 of the section and hold in bar 8, twice in the form."""
    song, performance, tuning = played(SLIDES, sliding)
    score = build_score(performance, song, tuning=tuning, written_out=True)
    read = read_notes(musicxml_text(score, song, staves=Staves.NOTATION))
    words = [
        (bar.number, mark.content)
        for bar in read.parts[0].getElementsByClass("Measure")
        for mark in bar.getElementsByClass("TextExpression")
    ]
    # Which time and which pass stand there too, as on the page.
    times = [
        (5, "verse, second pass"),
        (13, "second time"),
        (17, "verse, second time, second pass"),
    ]
    band = [(10, "stop"), (12, "hold"), (22, "stop"), (24, "hold")]
    assert words == sorted(times + band)
    svgs = sheet_svg(performance, song, SheetOptions(written_out=True), tuning=tuning)
    drawn = []
    for page in map(ElementTree.fromstring, svgs):
        for bar in page.iter(f"{SVG}g"):
            if bar.get("class") == "measure":
                marks = [g for g in bar.iter(f"{SVG}g") if g.get("class") == "reh"]
                number = int((bar.get("id") or "").removeprefix("measure-"))
                told = [text for g in marks for text in italics(g)]
                drawn += [(number, text) for text in told if "swing" not in text]
    assert drawn == band


def moving_words(chart: str, library: Library) -> list[tuple[int, str]]:
    """Return the measures of a chart that say that the tempo moves, with their word."""
    song, performance, _ = played(chart, library)
    text = musicxml_text(build_score(performance, song), song)
    return [
        (int(measure.get("number", "")), words.text)
        for measure in ElementTree.fromstring(text.split("\n", 2)[2]).iter("measure")
        for words in measure.iter("words")
        if words.text in ("rit.", "accel.")
    ]


@pytest.mark.parametrize(
    ("chart", "expected"),
    [
        ("v:\n| (tag x3) C | F | G |\n| (ritard) C |\n", [(12, "rit.")]),  # 3 times four bars
        ("v:\n| C | F | (ritard) G | F | C |\n", [(3, "rit.")]),
        ("meter: 1/4\nv:\n| C | F | (ritard) G | F | C |\n", [(3, "rit.")]),
        ("v:\ntempo: 90 to 120\n| C | F | G | C |\nw:\n| C | F |\n", [(1, "accel.")]),
        ("v:\ntempo: 90 to 120\n| C | F | (ritard) C |\n", [(1, "accel."), (3, "rit.")]),
    ],
)  # fmt: skip
def test_a_moving_tempo_is_said_where_it_begins_to_move(
    library: Library, chart: str, expected: list[tuple[int, str]]
) -> None:
    """The words stand where they begin (E. Gould, *Behind Bars*, 2011, "Tempo"; from memory)."""
    assert moving_words(f"tempo: 100\nkey: C\nfills: none\n{chart}", library) == expected


def italics(group: Any) -> list[str]:
    """Return what is written in italics: words to the band, neither section nor tempo."""
    spans = [t for t in group.iter(f"{SVG}tspan") if t.get("font-style") == "italic"]
    return ["".join(span.itertext()).strip() for span in spans]


@pytest.mark.parametrize("staves", [Staves.BOTH, Staves.TAB])
def test_a_slide_is_a_line_from_number_to_number_on_the_tab(
    sliding: Library, staves: Staves
) -> None:
    """It begins right of the number that is left, ends left of the other, and rises with the note.

    On one string it slants (common practice, no source); from string to string it joins the two.
    """
    song, performance, tuning = played(SLIDES, sliding)
    by_id = dict(zip(performance.note_ids, performance.notes, strict=True))
    options = SheetOptions(written_out=True, staves=staves)
    found = 0
    for page in map(ElementTree.fromstring, sheet_svg(performance, song, options, tuning=tuning)):
        groups = {g.get("id"): g for g in page.iter(f"{SVG}g") if g.get("id")}
        for start, end in slid(performance):
            if f"slide-tab-{start}" not in groups:
                continue
            path = next(groups[f"slide-tab-{start}"].iter(f"{SVG}path")).get("d", "")
            x1, y1, x2, y2 = map(float, re.findall(r"-?[\d.]+", path))
            left, right = (next(groups[f"tab-{n}"].iter(f"{SVG}text")) for n in (start, end))
            assert float(left.get("x", "")) < x1 < x2 < float(right.get("x", ""))
            assert (y2 < y1) == (by_id[end].pitch > by_id[start].pitch)
            found += 1
    assert found == len(slid(performance)) >= 25


def test_no_slide_is_drawn_over_a_rest(library: Library) -> None:
    """A finger that was lifted cannot slide: the same cell, a rest before the octave alone."""
    steps = {"steps": "R - s5 -  R . s8 -", "levels": "9 . 6 .  8 . 6 ."}
    cell = read_bass_cell({**CELL, **steps}, "sliding.toml")
    changed = replace(library, bass={**library.bass, cell.name: cell})
    song, performance, tuning = played(SLIDES, changed)
    score = build_score(performance, song, tuning=tuning, written_out=True)
    by_id = dict(zip(performance.note_ids, performance.notes, strict=True))
    places = [
        by_id[head.id].grid_tick % 3840
        for _, _, head in score.heads()
        if head.slides_in and not head.tied_in
    ]
    touched = [n for n in performance.part_notes(Part.BASS) if n.touch is Touch.SLIDE]
    octaves = [n for n in touched if n.grid_tick % 3840 == 6 * 480]
    assert len(octaves) >= 15
    assert set(places) == {960} and len(places) >= 15


def test_the_practice_page_has_every_slide_on_staff_and_tab(sliding: Library) -> None:
    """Of the straight strokes of a line of music only a slide is slanted; it begins at its head."""
    song, performance, tuning = played(SLIDES, sliding)
    score = build_score(performance, song, tuning=tuning, written_out=True)
    slanted = 0
    for line in engraved_systems(performance, score, WIDE).systems:
        for x1, y1, x2, y2 in re.findall(
            r"M(-?[\d.]+) (-?[\d.]+) ?L(-?[\d.]+) (-?[\d.]+)", line.drawing
        ):
            slanted += float(x1) != float(x2) and float(y1) != float(y2)
    wanted = slid(performance)
    across = sum(start.rsplit("-", 1)[0] != end.rsplit("-", 1)[0] for start, end in wanted)
    # One that leads over a bar line may be drawn in two halves, where a line of music ends there.
    assert 2 * len(wanted) <= slanted <= 2 * (len(wanted) + across)
    assert len(wanted) >= 25
