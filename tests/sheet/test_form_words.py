"""The form at the head of a part, rehearsal letters, and what is written over repeats.

Common practice, no source, but where one is named; every expectation is written out by hand.
"""

import re
from functools import lru_cache
from typing import Any
from xml.etree import ElementTree

import pytest

from groove.chart.parse import parse_chart
from groove.events import Performance
from groove.io.engrave import sheet_pdf, sheet_svg
from groove.io.library import load_library
from groove.neck.fingering import finger_performance
from groove.pipeline import PerformOptions, perform_song
from groove.sheet.build import build_score
from groove.sheet.form_words import form_entries, form_lines, section_letters
from groove.sheet.lead import lead_pages
from groove.sheet.options import SheetOptions
from tests.sheet.pdf_words import pdf_pages

SVG = "{http://www.w3.org/2000/svg}"
SONG = """title: Round Gate
key: D
tempo: 90
feel: long notes
vary: none
fills: none
pickup: 1 | A7 |
intro:
  | D | G |
verse:
  | D | G | A7 | D |
chorus:
  | G | A7 | G | A7 |
end:
  |: D | G |1,2. A7 :|3. D ||
form: intro, verse x2, chorus, verse x2, chorus, end
"""


@lru_cache(maxsize=8)
def performed(text: str) -> tuple[Any, Performance]:
    song = parse_chart(text, source="form")
    tight = PerformOptions(tight=True)
    return song, finger_performance(perform_song(song, load_library(), tight))[0]


def test_the_form_has_what_comes_again_together() -> None:
    names = ["intro", "verse", "verse", "chorus", "verse", "verse", "chorus", "end"]
    assert form_entries(names, {}) == ("intro", "(verse ×2, chorus) ×2", "end")
    assert form_entries(["a", "b"] * 3 + ["c"], {}) == ("(a, b) ×3", "c")
    assert form_entries(["a"] * 4, {}) == ("a ×4",)
    assert form_entries(["a", "b", "a"], {}) == ("a", "b", "a")


def test_letters_stand_beside_a_name_and_later_for_it() -> None:
    """I and O are left out: they are read as 1 and 0."""
    letters = section_letters(["intro", "verse", "chorus", "verse"])
    assert letters == {"intro": "A", "verse": "B", "chorus": "C"}
    names = ["intro", "verse", "verse", "chorus", "verse"]
    assert form_entries(names, letters) == ("A intro", "B verse ×2", "C chorus", "B")
    many = section_letters([f"part {number}" for number in range(26)])
    assert list(many.values()) == [*"ABCDEFGHJKLMNPQRSTUVWXYZ", "AA", "BB"]


def test_a_long_form_is_told_in_two_lines_and_goes_on() -> None:
    entries = [f"section {number}" for number in range(40)]
    lines = form_lines(entries, 120)
    assert len(lines) == 2 and lines[0].startswith("Form: section 0, section 1,")
    assert lines[1].endswith(", …")
    shown = re.findall(r"section (\d+)", " ".join(lines))
    assert shown == [str(number) for number in range(len(shown))] and 8 <= len(shown) < 40
    # A letter of nine points is 1.4 mm wide on the average (0.45 of its size, from memory).
    assert all(80 < len(line) * 1.4 <= 120 for line in lines)
    assert form_lines(["verse ×2", "end"], 120) == ("Form: verse ×2, end",)
    assert form_lines(["song"], 120) == ()


def test_the_form_stands_at_the_head_of_the_first_page_alone() -> None:
    """Above the first chord, as poppler reads the page; the letters of a part stand in it."""
    chart = SONG.replace("end:", "middle:\n" + "  | D | G | A7 | D |\n" * 10 + "end:")
    chart = chart.replace("chorus, end", "chorus, middle, end")
    song, performance = performed(chart)
    options = SheetOptions(letters=True, written_out=True)
    first, *others = pdf_pages(sheet_pdf(performance, song, options))
    form = "Form: A intro, B verse ×2, C chorus, B ×2, C, D middle, E end"
    assert form in first and others
    assert first.index(form) < first.index("A7")
    assert not any("Form:" in page for page in others)
    (drawing, *_) = sheet_svg(performance, song, SheetOptions())
    words = [" ".join("".join(t.itertext()).split()) for t in texts(drawing)]
    assert "Form: intro, (verse ×2, chorus) ×2, middle, end" in words


def texts(drawing: str) -> list[Any]:
    return list(ElementTree.fromstring(drawing).iter(f"{SVG}text"))


@pytest.mark.parametrize("written_out", [True, False])
def test_each_letter_stands_in_a_frame_left_of_its_name(written_out: bool) -> None:
    song, performance = performed(SONG)
    options = SheetOptions(letters=True, written_out=written_out)
    framed = []
    for page in map(ElementTree.fromstring, sheet_svg(performance, song, options)):
        for heading in page.iter(f"{SVG}g"):
            frames = [p for p in heading.findall(f".//{SVG}path") if p.get("fill") == "none"]
            if heading.get("class") != "reh" or not frames:
                continue
            left, width = map(float, re.findall(r"(?<=[Mh])[\d.]+", frames[0].get("d", ""))[:2])
            found = [
                (float(t.get("x", 0)), "".join(t.itertext()).strip())
                for t in heading.iter(f"{SVG}text")
            ]
            (at, letter), (after, words) = sorted(found)[:2]
            assert left < at < left + width <= after
            framed.append(f"{letter} {words}")
    again = ["B verse, second time"] if written_out else []
    wanted = ["A intro", "B verse", *again, "C chorus"]
    assert framed[: len(wanted)] == wanted and framed[-1].startswith("D end")
    score = build_score(performance, song, on_paper=True, letters=True)
    told = [measure.as_before[0] for measure in score.measures if measure.as_before]
    assert all(re.match(r"[BC]  (verse|chorus), ", words) for words in told)
    # A file for other programs keeps the names.
    assert not any(m.letter for m in build_score(performance, song, letters=True).measures)


def test_the_chord_chart_has_the_same_letters() -> None:
    song, _ = performed(SONG)
    pages = lead_pages(song, SheetOptions(chart=True, letters=True))
    words = [text.text for page in pages for text in texts(page)]
    assert {"A intro", "B verse", "C chorus", "D end"} <= set(words)
    # In the order played: a chart may have its sections in another.
    song, _ = performed(SONG.replace("form: intro, verse x2, chorus", "form: chorus, verse"))
    words = [
        text.text for text in texts(lead_pages(song, SheetOptions(chart=True, letters=True))[0])
    ]
    assert {"A chorus", "B verse", "C end", "intro"} <= set(words)


def test_the_last_ending_of_more_than_two_passes_says_so() -> None:
    """Of two passes the second is the last: there the number is enough."""
    song, performance = performed(SONG)
    score = build_score(performance, song)
    assert {m.ending_label for m in score.measures if m.ending} == {"1, 2.", "3. last time"}
    assert not any(m.passes_words for m in score.measures if m.ending)
    two = SONG.replace("|1,2. A7 :|3. D ||", "|1. A7 :|2. D ||")
    score = build_score(performed(two)[1], performed(two)[0])
    assert {m.ending_label for m in score.measures if m.ending} == {"1.", "2."}
    four = SONG.replace("|1,2. A7 :|3. D ||", "A7 :| x4")
    score = build_score(performed(four)[1], performed(four)[0])
    assert [m.passes_words for m in score.measures if m.passes_words] == ["4×"]


def test_the_facts_stand_over_the_form_in_drawing_and_print_alike() -> None:
    """The tempo has a mark of its own over the drawing's first bar, and stands in print's line."""
    song, performance = performed(SONG)
    pages = sheet_svg(performance, song)
    found = ["".join(t.itertext()).strip() for t in texts(pages[0])]
    facts = [each for each in found if each.startswith("bass")]
    assert [[fact.strip() for fact in each.split("·")] for each in facts] == [
        ["bass", "D major", "long notes"]
    ]
    form = next(each for each in found if each.startswith("Form:"))
    assert found.index(facts[0]) < found.index(form)
    printed = pdf_pages(sheet_pdf(performance, song))[0]
    assert "bass · D major · ♩ = 90 · long notes" in printed
