"""Dynamics, hairpins, cues and words to the band on the sheet, at the bars where they stand.

Judged by music21 10.5.1 and by the MusicXML 4.0 schema, which know nothing of the project; which
bar has what is read off the charts by hand.
"""

import re
from itertools import combinations
from typing import Any
from xml.etree import ElementTree

import pytest

from groove.cells.model import Library
from groove.events import Part
from groove.io.engrave import sheet_svg
from groove.sheet.build import build_score
from groove.sheet.musicxml import musicxml_text
from groove.sheet.options import Staves
from tests.sheet.music21_reading import read_notes
from tests.sheet.musicxml_schema import schema_errors
from tests.sheet.parts import played

SVG = "{http://www.w3.org/2000/svg}"
HEAD = "title: Loud Lane\ntempo: 96\nkey: D\nfills: none\n"
SWELLS = """verse:
dynamics: p to f
| D | G | Bm | A |
chorus:
| (mf) D | (cresc) G | Bm | (ff) A | D | (dim) G | Bm | A |
verse two:
| D | G |
"""
WORDS = """verse:
cue: keys alone
| D | (hits 1 2+ 4) G | (kicks 2+) Bm | (build) A |
| (feel shuffle) D | (thin) G | (fill) Bm | (no fill) A |
end:
| (tag x3) D | (ritard) G | (hit) A |
"""


def written(library: Library, chart: str, part: Part = Part.BASS) -> Any:
    song, performance, tuning = played(HEAD + chart, library)
    score = build_score(performance, song, part=part, tuning=tuning)
    text = musicxml_text(score, song, staves=Staves.NOTATION)
    assert schema_errors(text) == []
    return read_notes(text)


def dynamics(read: Any) -> list[tuple[int, str]]:
    """Return every dynamic with its measure, all at the bar line."""
    found = []
    for measure in read.parts[0].getElementsByClass("Measure"):
        for mark in measure.getElementsByClass("Dynamic"):
            assert mark.offset == 0
            found.append((measure.number, mark.value))
    return found


def wedges(read: Any) -> list[tuple[str, int, int]]:
    """Return every hairpin with its first and last measure."""
    ends = []
    for wedge in read.recurse().getElementsByClass("DynamicWedge"):
        first, last = (
            wedge.getFirst().getContextByClass("Measure").number,
            wedge.getLast().getContextByClass("Measure").number,
        )
        ends.append((type(wedge).__name__, first, last))
    return ends


@pytest.mark.parametrize("part", [Part.BASS, Part.DRUMS, Part.KEYS])
def test_music21_reads_dynamics_and_hairpins_at_their_bars(library: Library, part: Part) -> None:
    """A hairpin ends before the dynamic that it leads to; without one at the section's end."""
    read = written(library, SWELLS, part)
    assert dynamics(read) == [(1, "p"), (4, "f"), (5, "mf"), (8, "ff")]
    assert wedges(read) == [
        ("Crescendo", 1, 3), ("Crescendo", 6, 7), ("Diminuendo", 10, 12),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("chart", "marks", "swells"),
    [
        ("chorus:\n| D | G |\n", [], []),
        ("chorus:\ndynamics: p to f\n| D |\n", [(1, "p")], []),
        ("chorus:\ndynamics: f to f\n| D | G |\n", [(1, "f")], []),
        (
            "chorus:\ndynamics: f to pp\n| D | G |\n",
            [(1, "f"), (2, "pp")],
            [("Diminuendo", 1, 1)],
        ),
        ("chorus:\ndynamics: p to f\n| (mf) D | G | A |\n", [(1, "mf")], []),
        (
            "chorus:\ndynamics: p to f\n| D | G | (mp) A | D |\n",
            [(1, "p"), (3, "mp")],
            [("Crescendo", 1, 2)],
        ),
        (
            "chorus:\ndynamics: p to f\n| (dim) D | G |\n",
            [(1, "p")],
            [("Diminuendo", 1, 2)],
        ),
        (
            "chorus:\n| (cresc) D | (dim) G | A |\n",
            [],
            [("Crescendo", 1, 1), ("Diminuendo", 2, 3)],
        ),
        # The whole song's are said once, and again after another.
        ("dynamics: mp\na:\n| D |\nb:\n| G |\nc:\n| (f) A |\nd:\n| D |\n",
         [(1, "mp"), (3, "f"), (4, "mp")], []),
        ("a:\ndynamics: mp\n| D |\nb:\ndynamics: mp\n| G |\n", [(1, "mp"), (2, "mp")], []),
        ("a:\ndynamics: p to f\n| D | G | (dim) A |\n",
         [(1, "p")], [("Crescendo", 1, 2), ("Diminuendo", 3, 3)]),
        ("dynamics: mp\na:\n| (cresc) D |\nb:\n| G |\n",
         [(1, "mp"), (2, "mp")], [("Crescendo", 1, 1)]),
        ("dynamics: p to f\na:\n| D | G |\nb:\n| (p) A |\nc:\n| D | G |\n",
         [(1, "p"), (2, "f"), (3, "p"), (4, "p"), (5, "f")],
         [("Crescendo", 1, 1), ("Crescendo", 4, 4)]),
        ("pickup: 1\na:\ndynamics: mp\n| D | G |\n", [(1, "mp")], []),
    ],
)  # fmt: skip
def test_only_what_the_chart_states_is_printed(
    library: Library, chart: str, marks: list[object], swells: list[object]
) -> None:
    """Common practice, no source: a bar's own word stands above its section's."""
    read = written(library, chart)
    assert dynamics(read) == marks
    assert wedges(read) == swells


def test_music21_reads_cues_and_words_at_their_bars(library: Library) -> None:
    """The end's three bars come three times; its hit and its ritard belong to the last time."""
    read = written(library, WORDS)
    words = [
        (measure.number, mark.content)
        for measure in read.parts[0].getElementsByClass("Measure")
        for mark in measure.getElementsByClass("TextExpression")
    ]
    assert words == [
        (1, "keys alone"),
        (2, "hits 1 2+ 4"),
        (3, "kicks 2+"),
        (4, "build"),
        (5, "swing"),
        (5, "feel shuffle"),
        (6, "thin"),
        (7, "fill"),
        (8, "no fill"),
        (9, "straight eighths"),
        (9, "tag 1 of 3"),
        (12, "tag 2 of 3"),
        (15, "tag 3 of 3"),
        (16, "rit."),
        (17, "hit"),
    ]


def test_a_tag_is_said_in_the_last_time_alone(library: Library) -> None:
    read = written(library, "end:\n| (tag x2) D | G |\nform: end x2\n")
    words = [
        (measure.number, mark.content)
        for measure in read.parts[0].getElementsByClass("Measure")
        for mark in measure.getElementsByClass("TextExpression")
        if "tag" in mark.content
    ]
    assert words == [(3, "tag 1 of 2"), (5, "tag 2 of 2")]


def test_jumps_are_played_out_and_not_said(library: Library) -> None:
    """A page in the order played would send its reader back twice."""
    chart = "a:\n| D | (segno) G | (to coda) A | (D.S. al coda) D |\nb:\n| (coda) (stop) G | D |\n"
    song, performance, tuning = played(HEAD + chart, library)
    root = ElementTree.fromstring(
        musicxml_text(build_score(performance, song, tuning=tuning), song).split("\n", 2)[2]
    )
    assert [e.text for e in root.iter("words") if "time" not in (e.text or "")] == ["stop"]


CROWDED = """verse:
cue: bass and drums alone here and the keys wait for the singer
| D | (hits 1 2 3 4) G |
cue: everybody comes in softly with the second guitar and the high drums
| (kicks 2+) Bm | A |
cue: watch the drummer at the end of this one please
| D | (fill) G | (build) A | A |
"""
AVERAGE_WIDTH = 0.4
"""A letter of a line of words as a share of its size (Times Italic, Adobe AFM, from memory)."""


def test_words_neither_meet_nor_leave_the_page(library: Library) -> None:
    song, performance, tuning = played(HEAD + CROWDED, library)
    (page,) = sheet_svg(performance, song, tuning=tuning)
    root: Any = ElementTree.fromstring(page)
    box = root.find(f"{SVG}svg")
    room = float(box.get("viewBox").split()[2])
    left, top = (
        float(found)
        for found in re.findall(
            r"[\d.]+", box.find(f".//{SVG}g[@class='page-margin']").get("transform")
        )
    )
    boxes = []
    for group in root.iter(f"{SVG}g"):
        if group.get("class") == "reh":
            spans = [s for s in group.iter(f"{SVG}tspan") if s.get("font-size")]
            sizes = [float(span.get("font-size").removesuffix("px")) for span in spans]
            width = sum(
                AVERAGE_WIDTH * len(span.text) * size
                for span, size in zip(spans, sizes, strict=True)
            )
            text = group.find(f"{SVG}text")
            x, y = left + float(text.get("x")), top + float(text.get("y"))
            boxes.append((x, x + width, y, min(sizes)))
            assert x + width < room and y > max(sizes)
    assert len(boxes) == 6
    compared = 0
    for (start, end, y, size), (begin, stop, height, _) in combinations(boxes, 2):
        assert start >= stop or begin >= end or abs(y - height) >= size
        compared += 1
    assert compared == 15


@pytest.mark.parametrize(("first", "last", "shown"), [("", "(dim)", True), ("(dim)", "", False)])
def test_a_bar_that_differs_keeps_a_hairpin_that_is_all_its_own(
    library: Library, first: str, last: str, shown: bool
) -> None:
    """Bar 8 leads to Bm, the second time to Em, and is printed again: bars 7 and 8 are not both."""
    chart = (
        "feel: sixteenths\nvary: none\na:\n"
        f"| D | D | G | G | A7 | (f) A7 | {first} G | {last} G |\n"
        "b:\n| Bm | Bm | G | G |\nc:\n| Em | Em | A7 | A7 |\nform: a, b, a, c\n"
    )
    song, performance, tuning = played(HEAD + chart, library)
    measures = build_score(performance, song, tuning=tuning, on_paper=True).measures
    (words,) = (index for index, measure in enumerate(measures) if measure.as_before)
    again = measures[words + 1]
    assert again.written_bar == 8 and measures[words + 2].written_bar == 13
    assert (again.hairpin is not None, again.ends_hairpin) == (shown, shown)
