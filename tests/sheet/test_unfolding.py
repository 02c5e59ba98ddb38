"""What stands on paper is what is played, bar by bar, however it is folded.

The paper is read by a reader of our own (``paper_reader``), the file by music21, which plays its
repeats and endings.  Both are held against the performance.
"""

from fractions import Fraction
from functools import cache
from itertools import cycle, groupby, pairwise
from typing import Any
from xml.etree import ElementTree

import music21
import pytest

from groove.chart.model import Vary
from groove.chart.parse import parse_chart
from groove.events import Part, Performance
from groove.io.engrave import engraved
from groove.io.library import load_library
from groove.neck.fingering import finger_performance
from groove.pipeline import PerformOptions, perform_song, song_tuning
from groove.sheet.build import build_score
from groove.sheet.mei import mei_text
from groove.sheet.musicxml import musicxml_text
from groove.sheet.options import SheetOptions, Staves
from groove.sheet.print_pages import FORM_LINE_MM
from groove.sheet.score import Score
from groove.timing import TICKS_PER_QUARTER
from tests.sheet.music21_reading import read_notes, swings_eighths
from tests.sheet.musicxml_schema import schema_errors
from tests.sheet.paper_reader import Read, played_bars, swung
from tests.sheet.parts import SIXTEENTHS, UNLIKE_NAMES, chart_text

SVG = "{http://www.w3.org/2000/svg}"
HEAD = "title: Paper Gate\ntempo: 100\nkey: D\nfeel: {feel}\nfills: few\nvary: {vary}\n"
SECTIONS = """
a:
  | D | G | Em7 | A7 | D | F#m7 | G A | D |
b:
  | Bm7 | G | F#m7 | B7 | Em7 | <A7 | D | A7 |
c:
  |: G | D | G | A7 :|
d:
  bass: out
  | D | D | D | D |
e:
  bass: two
  | D | D | D | D | D | D | D | D |
"""
RIFF = "riff two:\n  R 5 8 5 | R 3 5 3\n"
FORMS = (
    ("sixteenths", "some", "a x3, b, a, c, b, d, a x2, b"),
    ("octaves", "none", "c, a x2, d, a x2, c, b, e, e"),
    ("walking", "none", "a x2, b x3, e, a, b"),
    ("shuffle", "none", "a x2, b, c, a, b, d, a"),
)
FOLDED = (Vary.NONE, Vary.SOME)


@cache
def performed(text: str, vary: Vary | None = None) -> tuple[Any, Performance]:
    """Return a song and what is played of it; what it is read from paper and from a file."""
    song = parse_chart(text, source="paper")
    options = PerformOptions(vary=vary, tight=True) if vary else PerformOptions(tight=True)
    tuning = song_tuning(song, options)
    performance, _ = finger_performance(
        perform_song(song, load_library(), options=options), tuning=tuning
    )
    return song, performance


def heard(performance: Performance) -> list[tuple[int, tuple[tuple[Fraction, int], ...]]]:
    """Return number and struck notes of every bar that is played, swung eighths as triplets."""
    found = []
    notes = sorted(performance.part_notes(Part.BASS), key=lambda note: note.grid_tick)
    for bar in performance.bars:
        own = [n for n in notes if bar.start_tick <= n.grid_tick < bar.end_tick]
        places = [Fraction(n.grid_tick - bar.start_tick, TICKS_PER_QUARTER) for n in own]
        if swings_eighths(bar):
            places = list(map(swung, places))
        struck = zip(places, (note.pitch for note in own), strict=True)
        found.append((bar.ref.written_bar, tuple(struck)))
    return found


def form_of(performance: Performance) -> list[tuple[str, int]]:
    """Return the sections as they are played, with the number of bars of each time."""
    refs = [bar.ref for bar in performance.bars]
    runs = groupby(refs, key=lambda ref: (ref.section, ref.occurrence))
    return [(section, len(list(run))) for (section, _), run in runs]


def on_paper(song: Any, performance: Performance) -> tuple[Score, list[Read]]:
    score = build_score(performance, song, tuning=song_tuning(song), on_paper=True)
    text = mei_text(score, SheetOptions(), line_units=225, title=False)
    return score, played_bars(text, form_of(performance))


def is_kind(group: Any, kind: str) -> bool:
    return kind in (group.get("class") or "").split()


def tab_places(line: Any) -> set[float]:
    """Return where along a line of music numbers of the tab stand."""
    numbers = (g for g in line.iter(f"{SVG}g") if (g.get("id") or "").startswith("tab-"))
    return {float(text.get("x", 0)) for number in numbers for text in number.iter(f"{SVG}text")}


PAPERS = list(zip(UNLIKE_NAMES, cycle(FOLDED), strict=False))


@pytest.mark.parametrize(("name", "vary"), PAPERS)
def test_the_paper_of_every_chart_is_what_is_played(name: str, vary: Vary) -> None:
    song, performance = performed(chart_text(name), vary)
    score, read = on_paper(song, performance)
    assert [(bar.number, bar.struck) for bar in read] == heard(performance)
    assert len(read) == len(performance.bars) >= 40
    # A walk is new every chorus.
    assert len(score.measures) < len(read) - 5 or (name, vary) == ("glass-stairs", Vary.SOME)
    if name in DENSE:
        check_the_room_on_paper(score, vary)


DENSE = ("button-drawer", "glass-stairs")
"""Eighths that come early in folded bars, and a walk that folds nothing: the fullest pages."""


def check_the_room_on_paper(score: Score, vary: Vary) -> None:
    # The form at the head has two lines at most.
    drawn = engraved(score, SheetOptions(), for_print=True, head_mm=2 * FORM_LINE_MM)
    pages = [ElementTree.fromstring(page) for page in drawn]
    assert len(pages) <= {Vary.NONE: 2, Vary.SOME: 3}[vary]
    lines = [group for page in pages for group in page.iter(f"{SVG}g") if is_kind(group, "system")]
    # 2.1 mm a value, in hundredths of one: what ``sheet/line_breaks`` states for four bars.
    gaps = [b - a for line in lines for a, b in pairwise(sorted(tab_places(line)))]
    assert len(gaps) > 30 and min(gaps) >= 210


def test_the_densest_bars_have_room_on_paper() -> None:
    """Four bars to a line of sixteenths, pushed into."""
    song, performance = performed(SIXTEENTHS)
    check_the_room_on_paper(on_paper(song, performance)[0], Vary.NONE)


@pytest.mark.parametrize(("feel", "vary", "form"), FORMS)
def test_the_paper_of_a_form_is_what_is_played(feel: str, vary: str, form: str) -> None:
    text = f"{HEAD.format(feel=feel, vary=vary)}{RIFF}{SECTIONS}\nform: {form}\n"
    song, performance = performed(text)
    score, read = on_paper(song, performance)
    assert [(bar.number, bar.struck) for bar in read] == heard(performance)
    assert any(measure.as_before or measure.ending for measure in score.measures)
    if "d" in form:
        assert any(measure.rest_bars == 4 for measure in score.measures)
    if "e" in form:
        assert any(measure.like_before == 2 for measure in score.measures)


def swinging_measures(file: str) -> set[int]:
    """Return the numbers of the measures in which eighths swing by ``swing`` (MusicXML 4.0)."""
    found, swings = set(), False
    for measure in ElementTree.fromstring(file.split("\n", 2)[2]).iter("measure"):
        for swing in measure.iter("swing"):
            swings = swing.findtext("swing-type") == "eighth"
        if swings:
            found.add(int(measure.get("number", "")))
    return found


def sounding_place(note: Any, swings: bool) -> Fraction:
    """Return where in its bar a note is struck: what is in no tuplet swings."""
    at = Fraction(note.offset).limit_denominator(48)
    return swung(at) if swings and not note.duration.tuplets else at


@pytest.mark.parametrize(
    ("feel", "vary", "form"),
    [
        ("sixteenths", "some", "a x3"),
        ("shuffle", "none", "c, d, a x2"),
    ],
)
def test_music21_plays_the_file_as_it_is_played(feel: str, vary: str, form: str) -> None:
    """The file has all notes: repeats and endings only, and no sign of the paper's."""
    text = f"{HEAD.format(feel=feel, vary=vary)}{RIFF}{SECTIONS}\nform: {form}\n"
    song, performance = performed(text)
    score = build_score(performance, song, tuning=song_tuning(song))
    file = musicxml_text(score, song, staves=Staves.NOTATION)
    assert schema_errors(file) == []
    assert not any(m.as_before or m.like_before or m.rest_bars for m in score.measures)
    read = read_notes(file)
    bars = list(read.parts[0].expandRepeats().getElementsByClass("Measure"))
    swinging = swinging_measures(file)
    # A bass is written an octave above its sound.
    struck = [
        tuple(
            (sounding_place(note, bar.number in swinging), note.pitch.midi - 12)
            for note in bar.flatten().notes
            if type(note) is music21.note.Note and (note.tie is None or note.tie.type == "start")
        )
        for bar in bars
    ]
    assert struck == [notes for _, notes in heard(performance)]
    assert len(score.measures) < len(bars)
