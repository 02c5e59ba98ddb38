"""Lines that look alike are drawn once, and look as the engraver draws each of them.

Judged by the engraver itself (verovio), which draws every line for the comparison.
"""

import re
from collections.abc import Collection
from dataclasses import replace
from pathlib import Path

import pytest
from msgspec import structs

import groove.io.systems
from groove.cells.model import Library
from groove.chart.model import Song
from groove.chart.parse import parse_chart
from groove.events import Performance
from groove.io.systems import NARROW, WIDE, engraved_systems
from groove.neck.fingering import finger_performance
from groove.neck.instrument import STANDARD
from groove.page.repeated_lines import PartLines, part_lines
from groove.page.systems import EngravedPart
from groove.pipeline import perform_song
from groove.sheet.build import build_score
from groove.sheet.score import Score

ODD = """
title: Odd Ends
key: D
feel: straight eighths
pickup: 1
a:
|: D | A | (3/4) G | (4/4) <A :|
| D | D | D | D | D | D |
b:
key: Eb
| Eb | Eb | <Bb | Eb | Eb | Eb | <Bb | Eb |
form: a, b x2, a
"""
"""Pushes over the ends of lines, changes of meter and key, a pickup, sections that come again."""

SIGNATURES = """
title: Two Signatures
feel: long notes
fills: none
a:
key: D
| G | G | G | G | G | G | G | G | G | G | G | G |
| G | G | G | G | G | G | G | G | G | G | G | G |
b:
key: G
| G | G | G | G | G | G | G | G | G | G | G | G |
| G | G | G | G | G | G | G | G | G | G | G | G |
form: a, b, a
"""
"""The same notes under two signatures that take turns."""

SWELLS = """
title: Long Swells
key: D
feel: straight eighths
fills: none
a:
| D | D | D | D | D | D | D | D |
b:
dynamics: p to f
| D | D | D | D | D | D | D | D |
form: a, b, a, b
"""
"""Hairpins that go through lines which else look like others."""

TURNS = """
title: Signatures by the Way
key: D
feel: straight eighths
fills: none
a:
| D | D | D | D | (3/4) D | D | D | D | (4/4) D | D | D | D | (3/4) D | D | D | D |
| G | G | G | G | (4/4) G | G | G | G | (3/4) A | A | A | A | (4/4) A | A | A | A |
"""
"""Meters that come again after lines that are drawn already, and are followed by others."""

_LEANING = "".join(
    f"| D | G | A | {last} |\n" for last in ("E", "B", "G", "E", "G", "B", "C", "E", "C", "B")
)
TIED = f"""
title: Held Over
key: D
fills: none
bass: over
riff over:
  - - 5 - R - 5 - | R - 5 - R - 5 - | R - 5 - R - 5 - | R - - - - - R @D3
a:
{_LEANING}"""
SLID = TIED.replace("- - 5 - R", "s5 - 5 - R").replace("R @D3", "R 8")
"""What reaches over the ends of lines that are alike comes from bars that are not."""

DRAWN_BARS = """
title: Drawn by Lot
key: D
feel: straight eighths
a:
"""
_CHORDS = ("D", "Em7", "F#m7", "<G", "A7", "<Bm")
WANDERING = DRAWN_BARS + "".join(
    f"| {' | '.join(_CHORDS[(n * n + 3 * k) % len(_CHORDS)] for k in range(4))} |\n"
    for n in range(9)
)
"""Lines that are alike between neighbours that are not, some pushed over their ends."""
COUNTED = (
    """
title: Thousands of Bars
key: D
feel: long notes
fills: none
a:
"""
    + "| D | D | D | D |\n" * 12
)
"""Lines that are alike, with numbers of one to four digits: those of bars are squared."""
OWN = {
    "odd": ODD,
    "signatures": SIGNATURES,
    "swells": SWELLS,
    "turns": TURNS,
    "tied": TIED,
    "slid": SLID,
    "wandering": WANDERING,
    "counted": COUNTED,
}


def placed(text: str, library: Library) -> tuple[Performance, Song]:
    song = parse_chart(text)
    performance, _ = finger_performance(perform_song(song, library), tuning=STANDARD)
    return performance, song


def sheet(performance: Performance, song: Song, width: int) -> EngravedPart:
    score = build_score(performance, song, tuning=STANDARD, written_out=True)
    return engraved_systems(performance, score, width)


def each_alone(score: Score, line_starts: Collection[int]) -> PartLines:
    """Return lines of which each is drawn by itself, none like another."""
    lines = part_lines(score, line_starts)
    every = tuple(range(len(lines.like)))
    return replace(lines, like=every, kept=every)


def compare(
    monkeypatch: pytest.MonkeyPatch, performance: Performance, score: Score, widths: tuple[int, ...]
) -> int:
    """Compare a part with what the engraver draws of each of its lines; return of how many."""
    found = {width: engraved_systems(performance, score, width) for width in widths}
    monkeypatch.setattr(groove.io.systems, "part_lines", each_alone)
    compared = 0
    for width, ours in found.items():
        outside = engraved_systems(performance, score, width)
        assert ours.systems == outside.systems
        assert ours.glyphs == outside.glyphs
        compared += len(ours.systems)
    return compared


WIDE_TOO = ("signatures",)
"""What is drawn in both widths: a width says where lines end, and nothing else."""


@pytest.mark.parametrize("name", [*OWN, "two-clocks"])
def test_lines_look_as_if_each_were_drawn(
    name: str, library: Library, shared_dir: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    text = OWN.get(name) or (shared_dir / "charts" / f"{name}.txt").read_text().replace(
        "form: verse x2, chorus, verse, chorus, bridge, chorus, ending",
        "form: verse x2, bridge, verse",
    )
    performance, song = placed(text, library)
    score = build_score(performance, song, tuning=STANDARD, written_out=True)
    if name == "counted":
        numbered = (structs.replace(m, written_bar=m.number**2) for m in score.measures)
        score = replace(score, measures=tuple(numbered))
    widths = (WIDE, NARROW) if name in WIDE_TOO else (NARROW,)
    assert compare(monkeypatch, performance, score, widths) >= 12


@pytest.mark.parametrize("text", [SIGNATURES.replace("a, b, a", "a, b, a, b"), SWELLS])
def test_what_begins_in_a_line_goes_on_where_the_line_is_like_another(
    text: str, library: Library, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without headings, the second b begins as the first: a change of key, a hairpin."""
    performance, song = placed(text, library)
    score = build_score(performance, song, tuning=STANDARD, written_out=True)
    bare = replace(score, measures=tuple(structs.replace(m, heading="") for m in score.measures))
    assert compare(monkeypatch, performance, bare, (WIDE,)) >= 8


def test_a_line_that_begins_with_bar_one_again_has_its_number(
    library: Library, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The engraver leaves a number 1 out where it is not told to print it."""
    performance, song = placed("key: D\nfeel: long notes\nfills: none\na:\n" + "| D " * 24, library)
    score = build_score(performance, song, tuning=STANDARD, written_out=True)
    again = {9: 1, 17: 1}
    measures = tuple(
        structs.replace(m, heading="", written_bar=again.get(m.number, m.written_bar))
        for m in score.measures
    )
    assert compare(monkeypatch, performance, replace(score, measures=measures), (NARROW,)) == 6


def test_a_song_of_more_of_the_same_is_drawn_with_no_more_work(
    library: Library, monkeypatch: pytest.MonkeyPatch
) -> None:
    drawn: list[PartLines] = []

    def counted(score: Score, line_starts: Collection[int]) -> PartLines:
        drawn.append(part_lines(score, line_starts))
        return drawn[-1]

    monkeypatch.setattr(groove.io.systems, "part_lines", counted)
    for count in (4, 16):
        row = "| D | A | G | A |\n" * count
        text = f"key: D\nfeel: ballad\nfills: none\nverse:\n{row}form: verse x3"
        sheet(*placed(text, library), NARROW)
    few, many = drawn
    assert len(many.like) >= 4 * len(few.like)
    assert len(many.drawn) <= len(few.drawn) + 2
    assert len(many.kept) <= len(few.kept) + 4


def test_every_line_has_the_number_of_its_own_first_bar(library: Library) -> None:
    """As the bars of the chart are counted, by the performance's own names of them."""
    performance, song = placed(SIGNATURES, library)
    bars = [bar.ref.written_bar for bar in performance.bars]
    compared = 0
    for system in sheet(performance, song, NARROW).systems[1:]:
        found = re.findall(r">(\d+)</(?:text|tspan)>", system.drawing.split("data-bar", 2)[1])
        assert str(bars[system.first_bar]) == found[0]
        compared += 1
    assert compared >= 10
