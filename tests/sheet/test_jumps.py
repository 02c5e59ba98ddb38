"""D.S., D.C., coda and Fine in the place of what comes again: played out, it is what is played.

Judged by music21 10.5.1, which plays repeats and jumps of the file, and by our own reader of scores
on the way back in.
"""

import re
from fractions import Fraction
from functools import lru_cache
from typing import Any
from xml.etree import ElementTree

import music21
import pytest

from groove.chart.form import unroll
from groove.chart.parse import parse_chart
from groove.events import Part, Performance
from groove.io.engrave import sheet_svg
from groove.io.library import load_library
from groove.io.musicxml import song_from_musicxml
from groove.neck.fingering import finger_performance
from groove.pipeline import PerformOptions, perform_song
from groove.sheet.build import build_score
from groove.sheet.folding import Fold
from groove.sheet.jumps import with_jump
from groove.sheet.mei import mei_text
from groove.sheet.musicxml import musicxml_text
from groove.sheet.options import SheetOptions, Staves
from tests.sheet.music21_reading import read_notes
from tests.sheet.musicxml_schema import schema_errors
from tests.sheet.paper_reader import played_bars
from tests.sheet.test_unfolding import form_of, heard

SVG = "{http://www.w3.org/2000/svg}"
HEAD = "title: Far Gate\ntempo: 100\nkey: C\nbass: long notes\nvary: none\nfills: none\n"
SECTIONS = """
intro:
  | C | G |
verse:
  | C | Am | F | G | C | Am | F | G |
chorus:
  | F | G | Em | Am | F | G | C | C |
bridge:
  | {bridge}Am | Em | Am | Em |
end:
  | F | C |
"""
FORMS = {
    "intro, verse, chorus, bridge, verse, chorus, end": [
        "Segno", "To Coda", "D.S. al Coda", "Coda",
    ],
    "verse, chorus, bridge, verse, chorus, end": ["To Coda", "D.C. al Coda", "Coda"],
    "intro, verse, chorus, bridge, verse, chorus": ["Segno", "Fine", "D.S. al Fine"],
    "verse, chorus, bridge, verse, chorus": ["Fine", "D.C. al Fine"],
    "intro, verse, chorus, bridge, bridge, verse, end": [
        "Segno", "To Coda", "D.S. al Coda", "Coda",
    ],
    "intro, verse x2, chorus, bridge, verse, end": [],
    "intro, verse, bridge, end": [],
}  # fmt: skip
"""A verse between repeat signs is in no jump: whether they are taken then is not agreed."""


@lru_cache(maxsize=32)
def performed(form: str, bridge: str = "") -> Any:
    text = HEAD + SECTIONS.format(bridge=bridge) + f"form: {form}\n"
    song = parse_chart(text, source="jump")
    tight = PerformOptions(tight=True)
    return song, finger_performance(perform_song(song, load_library(), tight))[0]


def signs(score: Any) -> list[str]:
    return [sign.value for measure in score.measures for sign in measure.jumps]


def struck(performance: Performance) -> list[tuple[Fraction, int]]:
    notes = sorted(performance.part_notes(Part.BASS), key=lambda note: note.grid_tick)
    return [(Fraction(note.grid_tick, 960), note.pitch) for note in notes]


@pytest.mark.parametrize("form", [*FORMS][:4])
def test_music21_plays_what_is_played(form: str) -> None:
    """Each of the four jumps; the other forms are played by our own reader below."""
    song, performance = performed(form)
    score = build_score(performance, song, jumps=True)
    text = musicxml_text(score, song, staves=Staves.NOTATION)
    assert schema_errors(text) == []
    played = read_notes(text).parts[0].expandRepeats().flatten().notes
    found = [
        (Fraction(note.offset).limit_denominator(48), note.pitch.midi - 12)
        for note in played
        if type(note) is music21.note.Note and (note.tie is None or note.tie.type == "start")
    ]
    assert found == struck(performance) and len(found) >= 16


@pytest.mark.parametrize("form", FORMS)
def test_the_paper_is_what_is_played(form: str) -> None:
    song, performance = performed(form)
    score = build_score(performance, song, jumps=True, on_paper=True)
    text = mei_text(score, SheetOptions(jumps=True), line_units=225, title=False)
    assert [(bar.number, bar.struck) for bar in played_bars(text, form_of(performance))] == heard(
        performance
    )
    in_file, plain = build_score(performance, song, jumps=True), build_score(performance, song)
    assert signs(in_file) == FORMS[form]
    assert (len(in_file.measures) < len(plain.measures)) == bool(FORMS[form])


@pytest.mark.parametrize("form", FORMS)
def test_our_own_reader_plays_the_jumps_too(form: str) -> None:
    """From a file that has lost its chart: chords in the order played."""
    song, performance = performed(form)
    text = musicxml_text(build_score(performance, song, jumps=True), song)
    bare = re.sub(r"<miscellaneous-field.*?</miscellaneous-field>", "", text, flags=re.S)
    back = song_from_musicxml(bare.encode(), "jump.musicxml")
    one, other = (
        [span.written for bar in unroll(each) for span in bar.chords] for each in (song, back)
    )
    assert one == other and len(one) >= 14


def test_the_page_has_the_signs_where_they_are_read() -> None:
    """Segno and coda over the head of their bars (SMuFL 1.4: U+E047, U+E048), words at the end."""
    form = next(iter(FORMS))
    song, performance = performed(form)
    pages = sheet_svg(performance, song, SheetOptions(jumps=True))
    glyphs, words = [], []
    for page in map(ElementTree.fromstring, pages):
        for use in page.iter(f"{SVG}use"):
            name = (use.get("{http://www.w3.org/1999/xlink}href") or "").lstrip("#")[:4]
            glyphs += [name] if name in ("E047", "E048") else []
        words += ["".join(text.itertext()).strip() for text in page.iter(f"{SVG}text")]
    assert sorted(glyphs) == ["E047", "E048"]
    assert words.count("To Coda") == words.count("D.S. al Coda") == 1


@pytest.mark.parametrize("bridge", ["(3/4) ", "(feel shuffle) "])
def test_no_jump_leads_out_of_another_meter_or_feel(bridge: str) -> None:
    """A reader would go on in what was in force last, so the verse is written out again.

    From its end, bar 10 of the chart, which is in the song's own, it goes back to the chorus.
    """
    song, performance = performed(next(iter(FORMS)), bridge)
    score = build_score(performance, song, jumps=True)
    assert signs(score) == ["Segno", "To Coda", "D.S. al Coda", "Coda"]
    assert [m.written_bar for m in score.measures if m.jumps] == [11, 18, 10, 23]


def test_without_being_asked_for_there_are_none() -> None:
    song, performance = performed(next(iter(FORMS)))
    assert signs(build_score(performance, song)) == []
    assert signs(build_score(performance, song, jumps=True, written_out=True)) == []


def made(form: str, bars: int, **forces: int) -> tuple[Fold, ...]:
    """Return the folds of sections of so many bars, with the jump that saves most.

    ``forces`` names bars, as ``a3``, of the first time of their section that stand in another
    tempo than all the others.
    """
    folds: list[Fold] = []
    contents: list[tuple[str, int]] = []
    in_force: list[int] = []
    for number, name in enumerate(form):
        for bar in range(bars):
            is_last = bar == bars - 1
            folds.append(
                Fold(
                    played=(len(folds),),
                    opens_section=bar == 0,
                    ends_section=is_last,
                    ends_song=is_last and number == len(form) - 1,
                )
            )
            contents.append((name, bar))
            is_first = form.index(name) == number
            in_force.append(forces.get(f"{name}{bar}", 0) if is_first else 0)
    return with_jump(folds, contents, in_force)


@pytest.mark.parametrize(
    ("form", "bars", "forces", "printed"),
    [
        ("abac", 8, {}, 24),
        ("aba", 8, {}, 16),
        # Seven bars are no way worth going.
        ("abac", 7, {}, 28),
        # The coda would be read in what the last bar of a stood in, which is another tempo.
        ("abac", 8, {"a7": 1}, 32),
        ("aba", 8, {"a7": 1}, 16),
        # And so would a, in what b ends in.
        ("aba", 8, {"b7": 1}, 24),
    ],
)
def test_a_jump_stands_for_eight_bars_or_more_that_are_read_in_one_tempo(
    form: str, bars: int, forces: dict[str, int], printed: int
) -> None:
    """Counted by hand: four sections or three, less the one that the jump stands for."""
    folds = made(form, bars, **forces)
    assert len(folds) == printed
    # The double bar that ends the song is over the last measure of the page, and nowhere else.
    assert [fold.ends_song for fold in folds] == [False] * (printed - 1) + [True]
