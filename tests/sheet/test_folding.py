"""Repeats on the page: as in the chart where the bass notes of all passes are equal.

Judged by music21 10.5.1, which plays the repeats of the file; the roots are those of the trade's
number system in C: 1 C, 4 F, 5 G, 6 A.
"""

from typing import Any
from xml.etree import ElementTree

import music21
import pytest

from groove.cells.model import Library
from groove.events import Part
from groove.sheet.build import build_score
from groove.sheet.musicxml import musicxml_text
from groove.sheet.options import Staves
from groove.sheet.score import Score
from tests.sheet.musicxml_schema import schema_errors
from tests.sheet.parts import played

HEAD = "title: Plain Gate\ntempo: 100\nkey: C major\nchords: numbers\nfills: none\nbass: "
REPEATED = "\nverse:\n  |: 1 | 4 | 5 | 1 :|{times}\n\nend:\n  | 1 | 1 |\n"
ENDINGS = "\nverse:\n  |: 1 | 4 |1. 5 | 1 :|2. 5 | 6- ||\n\nend:\n  | 1 | 1 |\n"
SHARED = "\nverse:\n  |: 1 | 4 |1,2. 5 | 1 :|3. 4 | 1 ||\n\nend:\n  | 1 | 1 |\n"


def measures(library: Library, text: str) -> tuple[Score, Any, list[str]]:
    """Return the score, music21's reading of it, and the roots in the order in which it plays."""
    song, performance, tuning = played(text, library)
    score = build_score(performance, song, tuning=tuning)
    file = musicxml_text(score, song, staves=Staves.NOTATION)
    assert schema_errors(file) == []
    read: Any = music21.converter.parseData(file, format="musicxml")
    notation = read.parts[0]
    expanded: Any = notation.expandRepeats()
    roots = [
        next(iter(bar.getElementsByClass("Harmony"))).root().name
        for bar in expanded.getElementsByClass("Measure")
    ]
    struck = [round(n.offset * 960) for n in expanded.flatten().notes if is_struck(n)]
    bass = performance.part_notes(Part.BASS)
    assert struck == sorted(note.grid_tick for note in bass) and len(struck) > 9
    return score, notation, roots


def is_struck(note: Any) -> bool:
    return type(note) is music21.note.Note and (note.tie is None or note.tie.type == "start")


@pytest.mark.parametrize(
    ("cell", "body", "bars", "roots"),
    [
        ("long notes", REPEATED.format(times=""), 6, "CFGC CFGC CC"),
        ("pedal", REPEATED.format(times=" x3"), 6, "CFGC CFGC CFGC CC"),
        ("sixteenths", ENDINGS, 8, "CFGC CFGA CC"),
        ("off-beats", SHARED, 8, "CFGC CFGC CFFC CC"),
    ],
)
def test_a_chart_of_numbers_is_folded(
    library: Library, cell: str, body: str, bars: int, roots: str
) -> None:
    """In cells whose bars lead nowhere in the middle of a section, so that passes are alike."""
    score, _, played_roots = measures(library, HEAD + cell + "\n" + body)
    assert "".join(played_roots) == roots.replace(" ", "")
    assert [measure.written_bar for measure in score.measures] == list(range(1, bars + 1))


@pytest.mark.parametrize(
    ("body", "kinds"),
    [
        (ENDINGS, [("1", "start"), ("1", "stop"), ("2", "start"), ("2", "discontinue")]),
        (SHARED, [("1, 2", "start"), ("1, 2", "stop"), ("3", "start"), ("3", "discontinue")]),
    ],
)
def test_the_last_ending_stays_open(
    library: Library, body: str, kinds: list[tuple[str, str]]
) -> None:
    """MusicXML 4.0, start-stop-discontinue: a bracket with no downward jog, usual for the last."""
    song, performance, tuning = played(HEAD + "long notes\n" + body, library)
    file = musicxml_text(build_score(performance, song, tuning=tuning), song)
    endings = ElementTree.fromstring(file).findall(".//part[1]//ending")
    assert [(one.get("number"), one.get("type")) for one in endings] == kinds


def test_passes_that_differ_at_the_end_have_endings(library: Library) -> None:
    """Before 6 the walking bass leads elsewhere than back to 1, so each pass ends its own way."""
    body = "\nverse:\n  |: 1 | 4 | 5 | 5 :|\n\nend:\n  | 6- | 6- |\n"
    score, notation, roots = measures(library, HEAD + "walking\n" + body)
    assert "".join(roots) == "CFGGCFGGAA"
    # Three bars, two endings of one bar, two of the end; a repeat begins and ends once.
    numbers = [measure.written_bar for measure in score.measures]
    assert numbers == [1, 2, 3, 4, 4, 5, 6]
    repeats = notation.flatten().getElementsByClass("Repeat")
    assert [repeat.direction for repeat in repeats] == ["start", "end"]


def test_unrolled_writes_out_what_could_be_folded(library: Library) -> None:
    song, performance, tuning = played(HEAD + "long notes\n" + ENDINGS, library)
    score = build_score(performance, song, tuning=tuning, written_out=True)
    assert [measure.written_bar for measure in score.measures] == [1, 2, 3, 4, 1, 2, 5, 6, 7, 8]
    assert not any(m.opens_repeat or m.passes or m.ending for m in score.measures)


AGAIN = "\na:\n  | 1 | 4 | 5 | 1 |\n\nb:\n  | 4 | 4 | 5 | 1 |\n\nend:\n  | 6- | 1 |\n\nform: "


@pytest.mark.parametrize(
    ("form", "bars", "roots"),
    [
        ("a x2, end", [1, 2, 3, 4, 9, 10], "CFGC CFGC AC"),
        ("a, b, a, b, end", [1, 2, 3, 4, 5, 6, 7, 8, 9, 10], "CFGC FFGC CFGC FFGC AC"),
        ("a x3, b, a, end", [1, 2, 3, 4, 5, 6, 7, 8, 1, 2, 3, 4, 9, 10], "CFGC" * 3 + "FFGCCFGCAC"),
    ],
)
def test_sections_that_come_again_are_folded(
    library: Library, form: str, bars: list[int], roots: str
) -> None:
    """One after another with the same notes they are printed once, and music21 plays them all."""
    score, _, played_roots = measures(library, HEAD + "long notes\n" + AGAIN + form + "\n")
    assert "".join(played_roots) == roots.replace(" ", "")
    assert [measure.written_bar for measure in score.measures] == bars
    assert sum(measure.opens_repeat for measure in score.measures) == 1


def test_a_page_says_which_time_its_bars_are_played(library: Library) -> None:
    """The words of ``groove tab`` (common practice, no source), also for a pass."""
    text = HEAD + "long notes\n" + AGAIN + "a, b, a x2, end, a\n"
    song, performance, tuning = played(text, library)
    score = build_score(performance, song, tuning=tuning)
    shown = [measure.heading for measure in score.measures if measure.heading]
    assert shown == ["a", "b", "a, second and third time", "end", "a, fourth time"]
    body = "\nverse:\n  |: 1 | 4 | 5 | 5 :|\n\nend:\n  | 6- | 6- |\n"
    song, performance, tuning = played(HEAD + "walking\n" + body, library)
    score = build_score(performance, song, tuning=tuning)
    named = {m.heading: index for index, m in enumerate(score.measures) if m.heading}
    assert named == {"verse": 0, "end": 5}  # after three bars and two endings of one


PUSHED = "\nverse:\n  |: 1 | 4 | 5 | <4 :|\n\nend:\n  | 6- | 6- |\n"


@pytest.mark.parametrize("cell", ["walking", "sixteenths"])
def test_no_ending_of_ours_begins_with_a_note_that_is_held(library: Library, cell: str) -> None:
    """A tie has two notes that follow each other in the file (MusicXML 4.0, ``tie``).

    So a bar that is pushed into goes into both endings whole, or the passes are written out: what
    music21 makes of a tie without a beginning would be struck again.
    """
    score, _, roots = measures(library, HEAD + cell + "\n" + PUSHED)
    assert "".join(roots) == "CFGFCFGFAA"
    heads = [m.voices[0].events[0].heads for m in score.measures]
    held = [bool(each and each[0].tied_in) for each in heads]
    assert any(held)
    assert not any(
        is_held and m.ending and m.ending.opens
        for is_held, m in zip(held, score.measures, strict=True)
    )
