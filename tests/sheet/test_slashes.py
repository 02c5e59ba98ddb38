"""Slashes with "sim.": what they stand for is what the first two bars of a section say.

Common practice, no source: the rhythm and the degrees of the cell go on over other chords.
"""

from functools import lru_cache
from typing import Any
from xml.etree import ElementTree

import pytest
from msgspec import structs
from msgspec.structs import replace

from groove.chart.parse import parse_chart
from groove.events import Part, Performance
from groove.io.engrave import scored, sheet_svg
from groove.io.library import load_library
from groove.neck.fingering import finger_performance
from groove.neck.instrument import STANDARD
from groove.pipeline import PerformOptions, perform_song
from groove.sheet.build import build_score
from groove.sheet.mei import mei_text
from groove.sheet.options import SheetOptions, Staves
from groove.sheet.score import Ending
from groove.sheet.slashes import slashed_measures

M = "{http://www.music-encoding.org/ns/mei}"
SVG = "{http://www.w3.org/2000/svg}"
HEAD = "title: Slash Gate\ntempo: 100\nkey: D\nvary: none\nfills: few\n"
BARS = "  | D | G | Em7 | A7 | Bm7 | F#m7b5 | <G | A7 |\n"
SIM = SheetOptions(sim=True)
CHARTS = {
    "one bar": "riff knock:\n  R 5 8 5 R 3 5 3\na:\n  bass: knock\n" + BARS,
    "two bars": "riff knock:\n  R 5 8 5 R 3 5 3 | R - x R 8 - 5 -\na:\n  bass: knock\n" + BARS,
    "steps on": "riff step:\n  R - R - R - >-2 >-1\na:\n  bass: step\n" + BARS,
    "octaves": "feel: octaves\na:\n" + BARS + "b:\n  |: D | G | A7 | D :|\nform: a, b, a\n",
    "six-eight": "meter: 6/8\nriff six:\n  R - 5 8 - 5\na:\n  bass: six\n" + BARS,
}


@lru_cache(maxsize=8)
def performed(name: str) -> tuple[Any, Performance]:
    song = parse_chart(HEAD + CHARTS[name], source="slash")
    tight = PerformOptions(tight=True)
    return song, finger_performance(perform_song(song, load_library(), tight))[0]


DEGREES = (1, 2, 2, 3, 3, 4, 5, 5, 6, 6, 7, 7)
"""Which degree a note is by its half steps over the bass of its chord: 5 is flat over m7b5."""


def cell(performance: Performance, index: int) -> list[tuple[int, int, str]]:
    """Return where in a bar the bass strikes, on which degree, and how; 8 is a higher root."""
    bar = performance.bars[index]
    found = []
    for note in sorted(performance.part_notes(Part.BASS), key=lambda each: each.grid_tick):
        if bar.start_tick <= note.grid_tick < bar.end_tick:
            chord = [c for c in bar.chords if c.tick <= note.grid_tick - bar.start_tick][-1].chord
            assert chord is not None
            degree = DEGREES[(note.pitch - chord.bass_note.pitch_class) % 12]
            degree = 0 if note.touch.value == "ghost" else degree
            found.append((note, degree))
    lowest = min((note.pitch for note, degree in found if degree == 1), default=0)
    return [
        (
            note.grid_tick - bar.start_tick,
            8 if degree == 1 and note.pitch > lowest else degree,
            note.touch.value,
        )
        for note, degree in found
    ]


@pytest.mark.parametrize("name", CHARTS)
def test_a_slashed_bar_is_played_as_the_first_two_of_its_section(name: str) -> None:
    song, performance = performed(name)
    score = scored(performance, song, SIM, STANDARD, on_paper=True)
    plain = scored(performance, song, SheetOptions(), STANDARD, on_paper=True)
    slashed = 0
    place = 0
    for measure in score.measures:
        if measure.heading or measure.as_before:
            place, first = 0, measure.played[0]
        if measure.is_slashed:
            assert place >= 2
            for index in measure.played:
                assert cell(performance, index) == cell(performance, first + place % 2)
            slashed += 1
        place += 1
    assert [m.played for m in score.measures] == [m.played for m in plain.measures]
    assert not any(m.is_slashed for m in plain.measures)
    # Steps into the next chord are told by no cell; a push takes bars 6 and 7 out.
    assert slashed == 0 if name == "steps on" else slashed >= (1 if name == "octaves" else 3)


def test_pushed_bars_and_what_they_leave_are_written() -> None:
    """Bar 7 is pushed: its chord is struck in bar 6, and tied over."""
    song, performance = performed("one bar")
    score = scored(performance, song, SIM, STANDARD, on_paper=True)
    written = [m.written_bar for m in score.measures if not m.is_slashed]
    assert {1, 2, 6, 7} <= set(written)
    starts = [m.written_bar for m in score.measures if m.begins_sim]
    assert starts[0] == 3 and starts == [
        m.written_bar
        for before, m in zip(score.measures, score.measures[1:], strict=False)
        if m.is_slashed and not before.is_slashed
    ]


def test_the_page_has_a_slash_a_beat_and_nothing_on_the_tab() -> None:
    song, performance = performed("one bar")
    score = scored(performance, song, SIM, STANDARD, on_paper=True)
    mei = ElementTree.fromstring(mei_text(score, SIM, line_units=225, title=False))
    measures = list(mei.iter(f"{M}measure"))
    marked = [m for m in score.measures if m.is_slashed]
    counts = []
    for element in measures:
        slashes = [n for n in element.iter(f"{M}note") if n.get("head.shape") == "slash"]
        counts.append(len(slashes))
        assert not slashes or element.find(f".//{M}tabGrp") is None
        assert not slashes or len(slashes) == len(list(element.iter(f"{M}note"))) == 4
    assert counts.count(4) == len(marked) >= 3
    (page,) = sheet_svg(performance, song, SIM)
    words = [
        t
        for t in ElementTree.fromstring(page).iter(f"{SVG}text")
        if "sim." in "".join(t.itertext())
    ]
    assert len(words) == sum(m.begins_sim for m in score.measures)


def test_files_tabs_alone_and_other_parts_have_no_slashes() -> None:
    song, performance = performed("one bar")
    scores = [build_score(performance, song, sim=True)]
    for more in ({"staves": Staves.TAB}, {"part": Part.DRUMS}, {"written_out": True}):
        options = SheetOptions(sim=True, **more)
        scores.append(scored(performance, song, options, STANDARD, on_paper=True))
    measures = [measure for score in scores for measure in score.measures]
    assert not any(measure.is_slashed for measure in measures)
    assert len(measures) >= 4 * len(scores)


def with_event(measure: Any, at: int, **changes: Any) -> Any:
    """Return a measure with changes of one of its values."""
    (voice,) = measure.voices
    events = list(voice.events)
    events[at] = replace(events[at], **changes)
    return replace(measure, voices=(replace(voice, events=tuple(events)),))


def test_what_a_bar_has_beside_its_cell_is_written() -> None:
    """The fourth bar of a section whose cell stays, changed by hand in one thing at a time."""
    song, performance = performed("one bar")
    measures = list(build_score(performance, song, written_out=True).measures)
    bar = measures[3]
    (head,) = bar.voices[0].events[-1].heads
    early = replace(bar.voices[0].events[0].heads[0])
    note = structs.replace(early.note, origin=structs.replace(early.note.origin, pushed_ticks=480))
    changed = {
        "ending": replace(bar, ending=Ending(passes=(1,), opens=True, closes=True, is_last=True)),
        "number": replace(bar, shows_number=True),
        "hold": with_event(bar, -1, has_fermata=True),
        "stop": with_event(bar, -1, has_caesura=True),
        "tied on": with_event(bar, -1, heads=(replace(head, tied_out=True),)),
        "early": with_event(bar, 0, heads=(replace(early, note=note),)),
    }
    assert [*slashed_measures(measures)][3].is_slashed
    for name, each in changed.items():
        found = [*slashed_measures([*measures[:3], each, *measures[4:]])]
        assert (name, found[3].is_slashed) == (name, False)
    assert len(changed) == 6
