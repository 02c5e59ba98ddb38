"""Every word to the band that a chart can hold: on paper, on the practice page, in a file.

A sign is looked for by its code point in SMuFL 1.4 (W3C Music Notation Community Group, 2021) where
the engraver draws it, and by its element in MusicXML 4.0; what neither has a sign for stands there
in words.  That hits and kicks are accented, and a stop has a caesura, is common practice, no
source.
"""

from collections import Counter
from dataclasses import dataclass
from xml.etree import ElementTree
from xml.etree.ElementTree import Element

import pytest

from groove.cells.model import Library
from groove.chart.model import Jump
from groove.chart.words import WORDS
from groove.events import Part
from groove.io.engrave import sheet_pdf, sheet_svg
from groove.io.systems import NARROW, engraved_systems
from groove.sheet.build import build_score
from groove.sheet.musicxml import musicxml_text
from groove.sheet.options import SheetOptions, Size
from groove.sheet.signs import Articulation
from tests.sheet.musicxml_schema import schema_errors
from tests.sheet.parts import played
from tests.sheet.pdf_words import pdf_pages

SVG = "{http://www.w3.org/2000/svg}"
Bars = dict[int, Element]
HREFS = ("href", "{http://www.w3.org/1999/xlink}href")
ACCENTS = ("E4A0", "E4A1")
"""articAccentAbove, articAccentBelow."""


@dataclass(frozen=True)
class Shown:
    """How a word stands in its bar: glyphs, words, and the elements of the file's measure."""

    glyphs: tuple[str, ...] = ()
    count: int = 0
    words: str = ""
    element: str = ""
    kind: str = ""
    """What the engraver calls what it draws of lines."""


def told(words: str) -> Shown:
    return Shown(words=words)


def dynamic(level: str, glyph: str) -> Shown:
    return Shown((glyph,), 1, element=f"direction/direction-type/dynamics/{level}")


def accents(count: int, words: str) -> Shown:
    return Shown(ACCENTS, count, words, "note/notations/articulations/accent")


WEDGE = "direction/direction-type/wedge"
SHOWN = {
    "hold": Shown(("E4C0",), 1, "hold", "note/notations/fermata"),
    "stop": Shown(("E4D1",), 1, "stop", "note/notations/articulations/caesura"),
    "hits 1 2+ 4+": accents(3, "hits 1 2+ 4+"),
    "kicks 2+": accents(1, "kicks 2+"),
    "fill": told("fill"),
    "no fill": told("no fill"),
    "pp": dynamic("pp", "E52B"),
    "p": dynamic("p", "E520"),
    "mp": dynamic("mp", "E52C"),
    "mf": dynamic("mf", "E52D"),
    "f": dynamic("f", "E522"),
    "ff": dynamic("ff", "E52F"),
    "cresc": Shown(element=f"{WEDGE}[@type='crescendo']", count=1, kind="hairpin"),
    "build": told("build"),
    "thin": told("thin"),
    "feel shuffle": told("feel shuffle"),
    "ritard": told("rit."),
    "tag x3": told("tag 1 of 3"),
    "hit": accents(1, "hit"),
    # Rows of the same kinds that differ in their sign.
    "dim": Shown(element=f"{WEDGE}[@type='diminuendo']", count=1, kind="hairpin"),
    "cue: sing out": told("sing out"),
}
PRINTED_AS_PLAYED = {"segno", "coda", *(jump.value for jump in Jump)}
"""Jumps of a chart are no signs of the part: it stands in the order played."""
AT_THE_END = ("ritard", "tag x3", "hit")
PLACES = {word: number for number, word in enumerate((w for w in SHOWN if w not in AT_THE_END), 1)}
PLACES |= {word: len(PLACES) + 1 + at for at, word in enumerate(AT_THE_END)}
PLACES["hit"] += 4
"""The two bars of the tag are played three times, and the last stroke stands in the last."""


def bar_text(word: str) -> str:
    return f"{word}\n| D |" if word.startswith("cue:") else f"| ({word}) D |"


CHART = "\n".join(
    [
        "title: Every Word\ntempo: 96\nkey: D\nfeel: straight eighths\nfills: none\nverse:",
        *(bar_text(word) for word in sorted(PLACES, key=PLACES.__getitem__)),
    ]
)
PHONE = SheetOptions(size=Size.PHONE, written_out=True)


def test_no_word_of_a_chart_is_left_out() -> None:
    assert {word.example for word in WORDS} - PRINTED_AS_PLAYED <= SHOWN.keys()
    assert len(SHOWN) == 21


@pytest.fixture(scope="module")
def svg_bars(library: Library) -> Bars:
    song, performance, tuning = played(CHART, library)
    (page,) = sheet_svg(performance, song, PHONE, tuning=tuning)
    groups = ElementTree.fromstring(page).iter(f"{SVG}g")
    measures = [group for group in groups if "measure" in group.get("class", "").split()]
    return dict(enumerate(measures, 1))


@pytest.fixture(scope="module")
def page_bars(library: Library) -> Bars:
    song, performance, tuning = played(CHART, library)
    score = build_score(performance, song, tuning=tuning, written_out=True)
    found = {}
    for line in engraved_systems(performance, score, NARROW).systems:
        for group in ElementTree.fromstring(line.drawing).iter():
            if bar := group.get("data-bar"):
                found[int(bar) + 1] = group
    return found


@pytest.fixture(scope="module")
def file_bars(library: Library) -> Bars:
    song, performance, tuning = played(CHART, library)
    text = musicxml_text(build_score(performance, song, tuning=tuning, written_out=True), song)
    assert schema_errors(text) == []
    root = ElementTree.fromstring(text.partition('dtd">')[2].strip())
    return dict(enumerate(root.iter("measure"), 1))


def drawn_glyphs(bar: Element) -> Counter[str]:
    names = (element.get(name, "") for element in bar.iter() for name in HREFS)
    return Counter(name.removeprefix("#")[:4] for name in names if name)


def drawn_words(bar: Element) -> str:
    return " ".join("".join(text.itertext()) for text in bar.iter(f"{SVG}text"))


@pytest.mark.parametrize("word", SHOWN)
def test_a_word_stands_on_paper(svg_bars: Bars, word: str) -> None:
    check_drawing(svg_bars[PLACES[word]], SHOWN[word])
    if SHOWN[word].kind:
        kinds = [group.get("class") for group in svg_bars[PLACES[word]].iter()]
        assert kinds.count(SHOWN[word].kind) == 1


@pytest.mark.parametrize("word", SHOWN)
def test_a_word_stands_on_the_practice_page(page_bars: Bars, word: str) -> None:
    check_drawing(page_bars[PLACES[word]], SHOWN[word])


def check_drawing(bar: Element, shown: Shown) -> None:
    glyphs = drawn_glyphs(bar)
    if shown.glyphs:
        assert sum(glyphs[glyph] for glyph in shown.glyphs) == shown.count
    assert shown.words in drawn_words(bar)


@pytest.mark.parametrize("word", SHOWN)
def test_a_word_stands_in_a_file(file_bars: Bars, word: str) -> None:
    bar, shown = file_bars[PLACES[word]], SHOWN[word]
    said = [words.text for words in bar.iterfind("direction/direction-type/words")]
    assert not shown.words or shown.words in said
    if shown.element:
        assert len(bar.findall(shown.element)) == shown.count


@pytest.mark.parametrize(
    ("part", "accented"), [(Part.BASS, 3 + 1 + 1), (Part.DRUMS, 3 + 1 + 1), (Part.KEYS, 3 + 1 + 1)]
)
def test_what_the_band_strikes_together_is_accented_in_every_part(
    library: Library, part: Part, accented: int
) -> None:
    """Three hits, a kick, the last stroke: once a moment, of a drummer over what the hands do."""
    song, performance, tuning = played(CHART, library)
    score = build_score(performance, song, part=part, tuning=tuning, written_out=True)
    events = [e for measure in score.measures for voice in measure.voices for e in voice.events]
    assert sum(Articulation.ACCENT in event.articulations for event in events) == accented
    assert sum(event.has_caesura for event in events) == 1


def test_a_stop_without_a_note_has_no_caesura(library: Library) -> None:
    text = "title: x\nkey: D\nbass: tacet\na:\n| D | (stop) G | D | A |\n"
    song, performance, tuning = played(text, library)
    score = build_score(performance, song, tuning=tuning)
    events = [e for measure in score.measures for voice in measure.voices for e in voice.events]
    assert [event.has_caesura for event in events] == [False] * 4  # a rest a bar


def test_all_words_of_a_chart_are_in_its_pdf(library: Library) -> None:
    song, performance, tuning = played(CHART, library)
    options = SheetOptions(written_out=True)
    text = " ".join(pdf_pages(sheet_pdf(performance, song, options, tuning=tuning)))
    missing = [row.words for row in SHOWN.values() if row.words not in text]
    assert missing == []
