"""Lines that look alike are drawn once, and look as the engraver draws each of them.

Judged by the engraver itself (verovio), which draws every line for the comparison.
"""

import re
from dataclasses import replace
from pathlib import Path

import pytest

import groove.io.systems
from groove.cells.model import Library
from groove.chart.model import Song
from groove.chart.parse import parse_chart
from groove.events import Performance
from groove.io.systems import NARROW, WIDE, engraved_systems
from groove.neck.fingering import finger_performance
from groove.neck.instrument import STANDARD
from groove.page.lines import PartLines, part_lines
from groove.page.systems import EngravedPart
from groove.pipeline import perform_song
from groove.sheet.build import build_score
from groove.sheet.score import Measure

ODD = """
title: Odd Ends
key: D
feel: sixteenths
pickup: 1
a:
|: D | A | (3/4) G | (4/4) <A :|
| D | D | D | D | D | D | D | D | D | D |
b:
key: Eb
| Eb | Eb | <Bb | Eb | Eb | Eb | <Bb | Eb |
form: a, b, a, b x3, a
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
OWN = {"odd": ODD, "signatures": SIGNATURES}


def placed(text: str, library: Library) -> tuple[Performance, Song]:
    song = parse_chart(text)
    performance, _ = finger_performance(perform_song(song, library), tuning=STANDARD)
    return performance, song


def sheet(performance: Performance, song: Song, width: int) -> EngravedPart:
    score = build_score(performance, song, tuning=STANDARD, unrolled=True)
    return engraved_systems(performance, score, width)


def each_alone(mei: str, measures: tuple[Measure, ...]) -> PartLines:
    """Return lines of which each is drawn by itself, none like another."""
    lines = part_lines(mei, measures)
    every = tuple(range(len(lines.texts)))
    return replace(lines, like=every, kept=every)


@pytest.mark.parametrize("name", ["odd", "signatures", "two-clocks", "slow-ferry"])
def test_lines_look_as_if_each_were_drawn(
    name: str, library: Library, shared_dir: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    text = OWN.get(name) or (shared_dir / "charts" / f"{name}.txt").read_text()
    performance, song = placed(text, library)
    found = {width: sheet(performance, song, width) for width in (WIDE, NARROW)}
    monkeypatch.setattr(groove.io.systems, "part_lines", each_alone)
    compared = 0
    for width, ours in found.items():
        outside = sheet(performance, song, width)
        assert ours.systems == outside.systems
        assert ours.glyphs == outside.glyphs
        assert ours.font_face == outside.font_face
        compared += len(ours.systems)
    assert compared > 20


def test_a_song_of_more_of_the_same_is_drawn_with_no_more_work(
    library: Library, monkeypatch: pytest.MonkeyPatch
) -> None:
    drawn: list[PartLines] = []

    def counted(mei: str, measures: tuple[Measure, ...]) -> PartLines:
        drawn.append(part_lines(mei, measures))
        return drawn[-1]

    monkeypatch.setattr(groove.io.systems, "part_lines", counted)
    for count in (16, 64):
        row = "| D | A | G | A |\n" * count
        text = f"key: D\nfeel: ballad\nfills: none\nverse:\n{row}form: verse x3"
        sheet(*placed(text, library), NARROW)
    few, many = drawn
    assert len(many.texts) >= 4 * len(few.texts)
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
