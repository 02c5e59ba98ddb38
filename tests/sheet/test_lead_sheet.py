"""The chart as a chart: every chord once, in its bar, on one page, none over another."""

from itertools import pairwise
from xml.etree import ElementTree

import pytest

from groove.cells.model import Library
from groove.chart.model import Song
from groove.io.engrave import sheet_svg
from groove.sheet.build import build_score
from groove.sheet.lead import lead_pages
from groove.sheet.options import SheetOptions, Size
from groove.sheet.outlines import outline
from tests.sheet.parts import NAMES, REPEATS, example_song, played

SVG = "{http://www.w3.org/2000/svg}"
WIDEST_DIGIT, WIDEST_LETTER = 0.5, 0.722
"""Shares of the size: Times' metrics (Adobe AFM), no letter of a symbol but M and W is wider."""


def page_texts(page: str) -> list[tuple[float, float, float, str, str]]:
    """Return (y, x, end, id, text) of every text, its end estimated."""
    found = []
    for element in ElementTree.fromstring(page).iter(f"{SVG}text"):
        text, size = element.text or "", float(element.get("font-size", 0))
        width = sum(WIDEST_DIGIT if mark.isdigit() else WIDEST_LETTER for mark in text) * size
        x, y = float(element.get("x", 0)), float(element.get("y", 0))
        found.append((y, x, x + 0.85 * width, element.get("id", ""), text))
    return sorted(found)


@pytest.mark.parametrize("name", NAMES)
def test_a_song_is_one_page_with_every_chord_once(name: str) -> None:
    song = example_song(name)
    pages = lead_pages(song, SheetOptions(chart=True, numerals=True))
    assert len(pages) == 1
    chords = [text for text in page_texts(pages[0]) if text[3].startswith("chord-")]
    bars = [bar for section in song.sections for bar in section.bars if not bar.repeats_bar]
    assert len(chords) == sum(len(bar.chords) for bar in bars) > 12
    names = {text[4] for text in page_texts(pages[0])}
    assert {section.name for section in song.sections} <= names


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("size", [Size.A4, Size.STAND, Size.PHONE])
def test_no_chord_runs_into_another_or_off_the_page(name: str, size: Size) -> None:
    song = example_song(name)
    seen = 0
    for page in lead_pages(song, SheetOptions(chart=True, size=size)):
        box = ElementTree.fromstring(page).get("viewBox", "").split()
        left, top, width, height = map(float, box)
        chords = [text for text in page_texts(page) if text[3].startswith("chord-")]
        for before, after in pairwise(chords):
            assert before[0] != after[0] or before[2] <= after[1]
        for y, x, end, _, _ in page_texts(page):
            assert left <= x and end <= left + width + 8 and top <= y <= top + height
        seen += len(chords)
    assert seen > 12


def test_bars_are_as_wide_as_their_beats(library: Library) -> None:
    """Bars of 4/4 and of 3/4 in one song: distances of their chords are as 4 to 3."""
    text = "title: x\nkey: C\na:\n  | C | F | G | C |\nb:\n  meter: 3/4\n  | C | F | G | C |\n"
    song, _, _ = played(text, library)
    found = {t[3]: t[1] for t in page_texts(lead_pages(song, SheetOptions(chart=True))[0])}
    four = found["chord-3-1"] - found["chord-2-1"]
    three = found["chord-7-1"] - found["chord-6-1"]
    assert three / four == pytest.approx(3 / 4, abs=0.001)


def test_repeats_endings_and_words_are_on_the_page(library: Library) -> None:
    song, _, _ = played(REPEATS, library)
    page = lead_pages(song, SheetOptions(chart=True))[0]
    words = [text[4] for text in page_texts(page)]
    assert words.count("3×") == 2
    assert "1." in words and "2." in words and "stop" in words
    assert "Form: intro, verse ×2, bridge, intro" in words
    assert "<rect" not in page


def facts_under_the_title(page: str) -> list[str]:
    """Return the facts in order, the tempo first; its note is drawn beside."""
    (line,) = [text[4] for text in page_texts(page) if text[4].startswith("= ")]
    return [fact.strip() for fact in line.split("·")]


def test_tempo_key_and_feel_stand_under_the_title(library: Library) -> None:
    """As the chart says them; the note is an outline over its sign, for every viewer the same."""
    text = "title: x\ntempo: 56\nmeter: 12/8\nkey: Bb\nfeel: slow twelve-eight\na:\n  | Bb | F |\n"
    song, performance, _ = played(text, library)
    (page,) = sheet_svg(performance, song, SheetOptions(chart=True))
    assert facts_under_the_title(page) == ["= 56", "B♭ major", "slow twelve-eight"]
    assert "♩." in {each[4] for each in page_texts(page)}
    _, path = outline("♩.") or (0.0, "")
    assert any(each.get("d") == path for each in ElementTree.fromstring(page).iter(f"{SVG}path"))


@pytest.mark.parametrize("pickup", ["", "pickup: 1\n"])
def test_a_meter_of_two_digits_stands_clear_of_the_chord(library: Library, pickup: str) -> None:
    """A bold digit is 0.696 of its size wide in DejaVu Serif Bold (its hmtx table, 1425/2048)."""
    song, _, _ = played(f"title: x\nkey: A\nmeter: 12/8\n{pickup}a:\n  | A7 | D9 |\n", library)
    (page,) = lead_pages(song, SheetOptions(chart=True))
    marks = [t for t in ElementTree.fromstring(page).iter(f"{SVG}text")]
    (meter,) = [t for t in marks if t.text == "12"]
    assert meter.get("text-anchor") == "middle"
    half = 0.696 * float(meter.get("font-size", ""))
    middle, y = float(meter.get("x", "")), float(meter.get("y", ""))
    lines = [e for e in ElementTree.fromstring(page).iter(f"{SVG}line")]
    row = [float(e.get("x1", "")) for e in lines if float(e.get("y1", "")) < y]
    chords = [float(t.get("x", "")) for t in marks if t.get("id", "").startswith("chord-")]
    assert min(row) <= middle - half
    assert not [x for x in row + chords if middle - half < x < middle + half]


def test_flats_before_numerals_are_signs(library: Library) -> None:
    text = "title: x\nkey: C\nchords: numbers\na:\n  | I | bVII9 | iv6 | V7/bVI |\n"
    song, _, _ = played(text, library)
    assert [chord[0] for chord in lead_chords(song)] == ["I", "♭VII9", "iv6", "V7/♭VI"]


# --- charts of numbers ------------------------------------------------------------------------

NUMBERS = """
title: Two Wells
key: E
chords: numbers
a:
  | 1 | 5/7 | 6- | ii7 5 |
  | V7/V | 4- | b7 | 5sus4 |
last:
  key: F#
  | 4 | 2-7 | 5 | 1 |
spare:
  | 6-7 | 1 |
form: a, last
"""


def lead_chords(song: Song, *, numerals: bool = False) -> list[list[str]]:
    """Return every chord with what stands right under it."""
    texts = page_texts(lead_pages(song, SheetOptions(chart=True, numerals=numerals))[0])
    return [
        [text] + [t[4] for t in texts if t[1] == x and 0 < t[0] - y < 6]
        for y, x, _, ident, text in texts
        if ident.startswith("chord-")
    ]


def test_a_chart_of_numbers_is_printed_in_its_numbers(library: Library) -> None:
    song, performance, _ = played(NUMBERS, library)
    # Flats and sevenths as the trade prints them (common practice, no source).
    words = "1 5/7 6- ii7 5 V7/V 4- ♭7 5sus4 4 2-⁷ 5 1 6-⁷ 1"
    assert " ".join(chord[0] for chord in lead_chords(song)) == words
    page = sheet_svg(performance, song, SheetOptions(chart=True))[0]
    texts = {text[4] for text in page_texts(page)}
    assert "key F♯ major" in texts and "E major" in facts_under_the_title(page)


def test_numerals_are_counted_from_the_key_of_their_section(library: Library) -> None:
    """By hand from *Open Music Theory*, "Triads and seventh chords", in E and in F sharp major."""
    song, _, _ = played(NUMBERS, library)
    found = [chord[1] for chord in lead_chords(song, numerals=True)]
    # The section that the form leaves out is counted in the song's key.
    assert " ".join(found) == "I V6 vi ii7 V II7 iv ♭VII Vsus4 IV ii7 V I vi7 I"


def test_letters_made_of_numbers_have_one_sign_for_minor(library: Library) -> None:
    """2-7 and ii7 are the same chord; letters take the sign of our table (T. de Clercq: dash)."""
    song, performance, tuning = played(NUMBERS, library)
    score = build_score(performance, song, tuning=tuning)
    found = [onset.symbol for measure in score.measures for onset in measure.chords]
    assert " ".join(found) == "E B/D# C#m F#m7 B F#7 Am D Bsus4 B G#m7 C# F#"


# --- charts with a transpose ------------------------------------------------------------------

MOVED = """
title: Two Wells
key: D
transpose: 2
a:
  | D | G/B | Em7 A7 |
up:
  transpose: 3
  | D | % |
spare:
  | Bm | A |
"""


def test_a_moved_chart_is_printed_as_it_sounds(library: Library) -> None:
    """The part's symbols and the page's head are in the sounding key too.

    By hand: D, G, B, Em, A7 a tone higher in E major, D a minor third higher in F major.
    """
    song, performance, tuning = played(MOVED + "form: a, up\n", library)
    chords = lead_chords(song, numerals=True)
    words = "E:I A/C♯:IV6 F♯m7:ii7 B7:V7 F:I C♯m:vi B:V"
    assert " ".join(":".join(chord) for chord in chords) == words
    texts = {text[4] for text in page_texts(lead_pages(song, SheetOptions(chart=True))[0])}
    assert "key F major" in texts
    assert not any("transpose" in text for text in texts)
    score = build_score(performance, song, tuning=tuning)
    part = [onset.symbol for measure in score.measures for onset in measure.chords]
    assert part[:4] == ["E", "A/C#", "F#m7", "B7"]


def test_a_moved_chart_of_numbers_tells_the_key_that_sounds(library: Library) -> None:
    moved = NUMBERS.replace("key: E", "key: E\ntranspose: -2", 1)
    song, performance, _ = played(moved, library)
    page = sheet_svg(performance, song, SheetOptions(chart=True))[0]
    assert "key E major" in {text[4] for text in page_texts(page)}
    assert "D major" in facts_under_the_title(page)
    assert lead_chords(song)[0] == ["1"]


def test_chords_of_a_bar_are_of_one_size_and_stand_side_by_side(library: Library) -> None:
    """None shrinks below another, and none stands on the next; widths by the outlines drawn."""
    text = (
        "title: x\nkey: Bb\npickup: 2 | F7 Gm7 |\na:\n"
        "  | Bb / / Fm7b5 | Ebmaj7#11 / Abmaj7#11 / | Bbmaj7 Gm7b5 Cm7b5 F7b9 | F#m7b5/C Ebm6/9 |\n"
    )
    song, _, _ = played(text, library)
    for options in (SheetOptions(), SheetOptions(size=Size.PHONE)):
        (page,) = lead_pages(song, options)
        bars: dict[str, list[tuple[float, float, float]]] = {}
        for element in ElementTree.fromstring(page).iter(f"{SVG}text"):
            ident = element.get("id") or ""
            if ident.startswith("chord-"):
                size = float(element.get("font-size", ""))
                width, _ = outline(element.text or "") or (0.0, "")
                left = float(element.get("x", ""))
                place = (left, left + width * size / 1000, size)
                bars.setdefault(ident.split("-")[1], []).append(place)
        assert [len(bar) for bar in bars.values()] == [2, 2, 2, 4, 2]
        for bar in bars.values():
            assert len({size for _, _, size in bar}) == 1 and bar[0][2] > 2
            assert all(end < start for (_, end, _), (start, _, _) in pairwise(bar))


def test_the_meter_stands_before_the_pickup(library: Library) -> None:
    song, _, _ = played("title: x\nkey: C\npickup: 1\na:\n  | C | F |\n", library)
    (page,) = lead_pages(song, SheetOptions())
    root = ElementTree.fromstring(page)
    meter = [float(t.get("x", "")) for t in root.iter(f"{SVG}text") if t.text == "4"]
    lines = [e for e in root.iter(f"{SVG}line") if e.get("x1") == e.get("x2")]
    places = sorted(float(e.get("x1", "")) for e in lines)
    # The line's own, that after the pickup, those of two bars, doubled at the section's end.
    assert len(places) == 5 and len(meter) == 2
    assert places[0] < meter[0] == meter[1] < places[1]


TOLD = """
title: Told at Every Bar
key: D
verse:
| (p) D | (stop) G | (hits 1 2+) A | D |
chorus:
|: (mf) D | G |1. (stop) A | (fill) A :|2. (hold) A | (f) D |
"""


def test_words_over_bars_stand_clear_of_names_and_endings(library: Library) -> None:
    """Letters reach three quarters of their size over their line and a quarter under it (from
    memory of text fonts): none of a word's reach into the words over or under it."""
    song, _, _ = played(TOLD, library)
    (page,) = lead_pages(song, SheetOptions(chart=True))
    texts = [
        (float(t.get("x", 0)), float(t.get("y", 0)), float(t.get("font-size", 0)), t)
        for t in ElementTree.fromstring(page).iter(f"{SVG}text")
    ]
    words = [each for each in texts if each[3].get("font-style") == "italic" and each[0] > 1]
    names = [each for each in texts if each[3].get("font-weight") == "bold" and each[0] < 1]
    numbers = [each for each in texts if (each[3].text or "") in ("1.", "2.")]
    assert (len(words), len(names), len(numbers)) == (8, 3, 2)
    for _, y, size, _ in words:
        for _, other, its_size, _ in (*names, *numbers):
            over, under = sorted([(other, its_size), (y, size)])
            assert under[0] - 0.75 * under[1] >= over[0] + 0.25 * over[1] or y == other
