"""Signs of an engraved page, by their glyphs (SMuFL 1.4), and of a chord chart.

Glyphs: U+E260 flat, U+E262 sharp, U+E080 to U+E089 digits of a meter, U+E0A4 black head, U+E0A9 x
head, U+E5E7 open, U+E062 F clef.
"""

import re
from typing import Any
from xml.etree import ElementTree

import pytest

from groove.cells.model import Library
from groove.events import Part, Performance
from groove.io.engrave import sheet_svg
from groove.neck.instrument import Tuning
from groove.sheet.build import build_score
from groove.sheet.lead import lead_pages
from groove.sheet.options import SheetOptions, Size, Staves
from tests.sheet.parts import REPEATS, drawn_pages, played

SVG = "{http://www.w3.org/2000/svg}"
HREF = "{http://www.w3.org/1999/xlink}href"
STAFF = SheetOptions(staves=Staves.NOTATION)


def pages(library: Library, text: str, options: SheetOptions = STAFF) -> tuple[Any, ...]:
    return drawn_pages(text, library, options)


def groups(parent: Any, kind: str) -> list[Any]:
    return [g for g in parent.iter(f"{SVG}g") if kind in (g.get("class") or "").split()]


def glyphs(parent: Any) -> list[str]:
    return [u.get(HREF, "").lstrip("#").partition("-")[0] for u in parent.iter(f"{SVG}use")]


@pytest.mark.parametrize(
    ("key", "glyph", "count"),
    [("A", "E262", 3), ("Eb", "E260", 3), ("C", "", 0), ("Db", "E260", 5)],
)
def test_a_line_begins_with_its_key(library: Library, key: str, glyph: str, count: int) -> None:
    (page,) = pages(library, f"title: x\nkey: {key}\na:\n  | {key} | {key} |\n")
    (sign,) = groups(page, "keySig") or [page.__class__("g")]
    assert glyphs(sign) == [glyph] * count
    assert groups(page, "clef") and glyphs(groups(page, "clef")[0])[0] == "E062"


def test_a_change_of_meter_is_drawn(library: Library) -> None:
    text = "title: x\nkey: C\na:\n  | C | F | (3/4) G | C |\n"
    (page,) = pages(library, text)
    drawn = [glyphs(sign) for sign in groups(page, "meterSig")]
    assert drawn == [["E084", "E084"], ["E083", "E084"]]


def test_repeats_and_endings_are_drawn(library: Library) -> None:
    """As many as the score has, counted from the chart: see the folded file's own test."""
    song, performance, tuning = played(REPEATS, library)
    score = build_score(performance, song, tuning=tuning, on_paper=True)
    found = pages(library, REPEATS)
    opens = sum(measure.opens_repeat for measure in score.measures)
    closes = sum(measure.passes > 0 for measure in score.measures)
    dotted = [len(glyphs_of_repeat(page)) for page in found]
    assert (opens, closes) == (5, 6)
    assert sum(dotted) == 2 * (opens + closes)
    labels = [text for page in found for text in ending_labels(page)]
    wanted = [m.ending_label for m in score.measures if m.ending and m.ending.opens]
    # A bracket that goes on in the next line has its number there too.
    assert sorted({*labels}) == sorted({*wanted}) == ["1, 2.", "1.", "2.", "3. last time"]
    assert 0 <= len(labels) - len(wanted) <= 1


def glyphs_of_repeat(page: Any) -> list[Any]:
    """Return the dots of repeat signs: circles beside bar lines."""
    return [dot for line in groups(page, "barLine") for dot in line.iter(f"{SVG}ellipse")] + [
        use for line in groups(page, "barLine") for use in line.iter(f"{SVG}use")
    ]


def ending_labels(page: Any) -> list[str]:
    return [
        "".join(t.itertext()).strip()
        for bracket in groups(page, "voltaBracket")
        for t in bracket.iter(f"{SVG}text")
    ]


def test_a_long_heading_ends_within_its_page(library: Library) -> None:
    """A letter of Times is half as wide as it is high, on the whole (Adobe AFM)."""
    sizes = []
    phone = SheetOptions(staves=Staves.NOTATION, size=Size.PHONE)
    for section in ("verse", "what follows the second chorus softly"):
        (page,) = pages(library, f"title: x\nkey: C\n{section}:\n  | C | F |\n", phone)
        box = page.find(f"{SVG}svg")
        (heading,) = [g for g in groups(page, "reh") if (g.get("id") or "").startswith("heading")]
        spans = [s for s in heading.iter(f"{SVG}tspan") if s.get("font-size") and s.text]
        sizes.append(max(float(s.get("font-size").removesuffix("px")) for s in spans))
        width = sum(len(s.text) * float(s.get("font-size")[:-2]) / 2 for s in spans)
        margin = box.find(f"{SVG}g[@class='page-margin']").get("transform")
        left = float(re.findall(r"[\d.]+", margin)[0])
        assert left + width < float(box.get("viewBox").split()[2])
    assert sizes[1] < sizes[0] / 1.1


@pytest.mark.parametrize("staves", list(Staves))
def test_all_endings_of_a_part_are_of_one_size(library: Library, staves: Staves) -> None:
    """One begins within a line, where verovio draws it plain, one at a line's head, in brackets."""
    found = pages(library, REPEATS, SheetOptions(staves=staves))
    labels = {text for page in found for text in ending_labels(page)}
    assert labels == {"1, 2.", "1.", "2.", "3. last time"}
    brackets = [bracket for page in found for bracket in groups(page, "voltaBracket")]
    spans = [span for bracket in brackets for span in bracket.iter(f"{SVG}tspan")]
    assert len({span.get("font-size") for span in spans if span.get("font-size")}) == 1


def test_ties_are_drawn(library: Library) -> None:
    """A pushed chord is tied over the bar line: one tie a push, twice in a whole and a dotted."""
    (page,) = pages(library, "title: x\nkey: C\nbass: long notes\na:\n  | C | <F | C | <G |\n")
    assert len(groups(page, "tie")) >= 2


def test_fingers_and_pluck_letters_are_drawn(library: Library) -> None:
    text = "title: x\nkey: C\nfeel: straight eighths\na:\n" + "  | C | Am | F | Gm7 |\n" * 2
    song, performance, tuning = played(text, library)
    marks = SheetOptions(fingers=True, pluck=True, written_out=True)
    assert drawn_marks(performance, song, tuning, SheetOptions(written_out=True)) == []
    found = drawn_marks(performance, song, tuning, marks)
    places = [n.place for n in performance.part_notes(Part.BASS) if n.place]
    wanted = [str(p.finger) for p in places if p.finger] + [p.pluck for p in places if p.pluck]
    assert sorted(found) == sorted(wanted) and len(wanted) > 60


def drawn_marks(
    performance: Performance, song: Any, tuning: Tuning, options: SheetOptions
) -> list[str]:
    svgs = sheet_svg(performance, song, options, tuning=tuning)
    found = [g for svg in svgs for g in groups(ElementTree.fromstring(svg), "fing")]
    return ["".join(g.itertext()).strip() for g in found]


def test_a_sharp_is_drawn_before_its_note(library: Library) -> None:
    """The third of D7 in C is F sharp: a waltz of roots has none, a walking line has."""
    text = "title: x\nkey: C\nbass: walking\na:\n  | D7 | G7 | D7 | G7 |\n"
    song, performance, tuning = played(text, library)
    (svg,) = sheet_svg(performance, song, STAFF, tuning=tuning)
    shown = [g for g in groups(ElementTree.fromstring(svg), "accid") if glyphs(g)]
    score = build_score(performance, song, tuning=tuning)
    wanted = sum(head.shows_accidental for _, _, head in score.heads())
    assert len(shown) == wanted >= 1


def lines_of(page: Any) -> list[float]:
    staff = groups(page, "staff")[0]
    paths = [p.get("d", "") for p in staff.findall(f"{SVG}path")]
    return sorted({float(re.findall(r"-?[\d.]+", d)[1]) for d in paths})


def test_the_open_low_string_has_one_ledger_line(library: Library) -> None:
    """E1 sounds, E2 is written: under the lowest line of the F clef, G2, by two letters."""
    (page,) = pages(library, "title: x\nkey: E\nbass: long notes\na:\n  | E | E |\n")
    lines = lines_of(page)
    assert len(lines) == 5
    step = (lines[-1] - lines[0]) / 8
    uses = [u for note in groups(page, "note") for u in note.iter(f"{SVG}use")]
    places = {re.findall(r"-?[\d.]+", u.get("transform", ""))[1] for u in uses}
    assert [round((float(y) - lines[-1]) / step) for y in places] == [2]


def test_drums_have_their_heads_and_places(library: Library) -> None:
    """Kick in the first space, snare in the third, hat a cross on top (Weinberg 1998)."""
    text = "title: x\nkey: C\nfeel: straight eighths\na:\n  | C | C | C | C |\n"
    song, performance, _ = played(text, library)
    (svg,) = sheet_svg(performance, song, SheetOptions(part=Part.DRUMS))
    page = ElementTree.fromstring(svg)
    by_id = dict(zip(performance.note_ids, performance.notes, strict=True))
    lines = lines_of(page)
    step = (lines[-1] - lines[0]) / 8
    found: dict[int, set[tuple[int, str]]] = {}
    for group in groups(page, "note"):
        use = next(group.iter(f"{SVG}use"))
        y = float(re.findall(r"-?[\d.]+", use.get("transform", ""))[1])
        head = use.get(HREF, "").lstrip("#")[:4]
        note = by_id[group.get("id", "")]
        found.setdefault(note.pitch, set()).add((round((lines[-1] - y) / step), head))
    # Steps above the lowest line; U+E0A4 a black head, U+E0A9 a cross.
    assert {36: {(1, "E0A4")}, 38: {(5, "E0A4")}, 42: {(9, "E0A9")}}.items() <= found.items()


def test_an_open_hat_has_its_ring(library: Library) -> None:
    text = "title: x\nkey: C\nfeel: sixteenths\nfills: many\na:\n" + "  | C | Am | F | G |\n" * 3
    song, performance, _ = played(text, library)
    options = SheetOptions(part=Part.DRUMS, written_out=True)
    found = [ElementTree.fromstring(svg) for svg in sheet_svg(performance, song, options)]
    rings = sum(glyphs(g) == ["E5E7"] for page in found for g in groups(page, "artic"))
    open_hats = [n for n in performance.part_notes(Part.DRUMS) if n.pitch == 46]
    assert rings == len(open_hats) >= 3


def test_chart_and_part_have_the_same_repeats_and_endings(library: Library) -> None:
    """By hand: three passes, of which two end on A7; four of the last bar, with no sign to open."""
    text = (
        "title: x\nkey: D\nbass: long notes\nfills: none\n"
        "a:\n  |: D | G |1,2. A7 :|3. D ||\nb:\n  | D | G :| x4\n"
    )
    song, performance, tuning = played(text, library)
    (part,) = sheet_svg(performance, song, STAFF, tuning=tuning)
    (chart,) = lead_pages(song, SheetOptions(chart=True))
    signs = [
        ["".join(t.itertext()).strip() for t in ElementTree.fromstring(svg).iter(f"{SVG}text")]
        for svg in (part, chart)
    ]
    wanted = ["1, 2.", "3. last time", "4×"]
    assert [sorted(set(words) & set(wanted)) for words in signs] == [wanted, wanted]
    circles = list(ElementTree.fromstring(chart).iter(f"{SVG}circle"))
    # Two repeats, each with a pair of dots at either end.
    assert len(circles) == 2 * 2 * 2 == len(glyphs_of_repeat(ElementTree.fromstring(part)))


# --- the chord chart ---------------------------------------------------------------------------

LEAD = """
title: Narrow Gate
key: D major
tempo: 90

verse:
  |: D | % | <G / Em / |1. A7 :|2. A7 | D ||

end:
  meter: 3/4
  | 16<G | D/F# |

form: verse, end
"""


def lead_words(library: Library) -> list[str]:
    song, _, _ = played(LEAD, library)
    page = ElementTree.fromstring(lead_pages(song, SheetOptions(chart=True, numerals=True))[0])
    return [text.text or "" for text in page.iter(f"{SVG}text")]


def test_a_chord_chart_has_every_sign(library: Library) -> None:
    words = lead_words(library)
    assert {"‹G", "16‹G", "‹ an eighth early", "16‹ a sixteenth early"} <= set(words)
    assert words.count("1.") == 1 and words.count("2.") == 1
    # Meters 4/4 and 3/4, each where its section begins.
    assert words.count("4") >= 2 and words.count("3") >= 1
    assert "Form: verse, end" in words


def test_numerals_are_those_of_the_key(library: Library) -> None:
    """Degrees of D major by hand: D I, G IV, Em ii, A7 V7."""
    words = lead_words(library)
    assert {"I", "IV", "ii", "V7"} <= set(words)


def test_a_bar_like_the_one_before_has_its_sign(library: Library) -> None:
    """A slanting stroke with a dot on either side, and no chord."""
    song, _, _ = played("title: x\nkey: D\na:\n  | D | % | G | A |\n", library)
    page = ElementTree.fromstring(lead_pages(song, SheetOptions(chart=True))[0])
    slanted = [
        line
        for line in page.iter(f"{SVG}line")
        if line.get("x1") != line.get("x2") and line.get("y1") != line.get("y2")
    ]
    assert len(slanted) == 1 and len(list(page.iter(f"{SVG}circle"))) == 2
    chords = [t.get("id") for t in page.iter(f"{SVG}text") if (t.get("id") or "").startswith("ch")]
    assert chords == ["chord-1-1", "chord-3-1", "chord-4-1"]
