"""Written even eighths in feels of triplets: they swing with the band.

In a shuffle two eighths are played as the outer two of a beat's triplets, 2 : 1 (Gardner Read,
*Music Notation*, 1964, on swing; from memory): of 960 ticks a quarter the second lies at 640.
"""

from itertools import pairwise

import pytest

from groove.cells.model import Library
from groove.events import Note, Part, Performance
from groove.pipeline import PerformOptions, perform_chart
from groove.sheet.build import build_score
from tests.sheet.parts import played as engraved

TIGHT = PerformOptions(tight=True)
EIGHTHS = """G |-----------------|
D |-----------------|
A |-5-5-7-7-5-5-3-3-|
E |-----------------|
"""
SWUNG = [beat * 960 + half for beat in range(4) for half in (0, 640)]


def played(library: Library, text: str) -> Performance:
    return perform_chart(f"tempo: 96\nkey: D\nvary: none\n{text}", library, TIGHT)


def onsets(performance: Performance, number: int, part: Part = Part.BASS) -> list[int]:
    bar = performance.bars[number - 1]
    notes: list[Note] = performance.part_notes(part)  # type: ignore[assignment]
    return [n.onset_tick - bar.start_tick for n in notes if n.origin.bar.played_bar == number]


@pytest.mark.parametrize("feel", ["shuffle", "slow twelve-eight"])
def test_written_eighths_swing_in_feels_of_triplets(library: Library, feel: str) -> None:
    performance = played(library, f"feel: {feel}\nverse:\n| D |\n{EIGHTHS}| G |\n")
    assert onsets(performance, 1) == SWUNG


def test_a_riff_and_a_named_cell_in_halves_swing_too(library: Library) -> None:
    riff = "riff knock:\n  R 5 8 5 R 5 8 5\n"
    own = played(library, f"{riff}feel: shuffle\nverse:\nbass: knock\n| D | D |\n")
    assert onsets(own, 1) == SWUNG
    drums = "drums rim:\n  kick: 9 9 9 9 9 9 9 9\n"
    struck = played(library, f"{drums}feel: shuffle\nverse:\ndrums: rim\n| D | D |\n")
    assert onsets(struck, 1, Part.DRUMS) == SWUNG
    named = played(library, "feel: shuffle\nverse:\nbass: octaves\n| D | D |\n")
    places = [tick % 960 for tick in onsets(named, 1)]
    assert places.count(640) == 4 and 480 not in places


def test_what_is_drawn_stays_and_triplets_are_no_halves(library: Library) -> None:
    """Bar 2 in triplets of two columns: two strokes on beat 1, two on beat 2."""
    row = "-5---7-5-5-".ljust(25, "-")
    rows = "".join(f"{name} | |{row if name == 'A' else '-' * 25}|\n" for name in "GDAE")
    chart = "feel: shuffle\nverse:\n| D | G |\n{}| A | D |\n"
    plain, written = (played(library, chart.format(each)) for each in ("", rows))
    assert onsets(written, 2) == [0, 640, 960, 1280]
    for part in (Part.DRUMS, Part.KEYS):
        assert onsets(plain, 2, part) == onsets(written, 2, part) != []
    assert onsets(plain, 1) == onsets(written, 1)


def test_twelve_eight_has_no_halves_to_swing(library: Library) -> None:
    row = "-5-5-5-5-5-5-5-5-5-5-5-5-"
    rows = "".join(f"{name} |{row if name == 'A' else '-' * 25}|\n" for name in "GDAE")
    chart = f"meter: 12/8\nfeel: slow twelve-eight\nverse:\n| D |\n{rows}| G |\n"
    assert onsets(played(library, chart), 1) == [480 * slot for slot in range(12)]


def test_a_push_is_struck_once_over_a_riff_in_halves(library: Library) -> None:
    """In a shuffle a push is a triplet early, where the riff's last half is swung to."""
    riff = "riff knock:\n  R 5 8 5 R 5 8 5\n"
    performance = played(library, f"{riff}feel: shuffle\nverse:\nbass: knock\n| D | <G |\n")
    ticks = [note.onset_tick for note in performance.part_notes(Part.BASS)]
    gaps = [after - before for before, after in pairwise(ticks)]
    assert 3 * 960 + 640 in ticks
    assert len(gaps) == 14 and min(gaps) == 320


def test_pushes_are_a_triplet_early_in_a_shuffle_without_a_bass(library: Library) -> None:
    performance = played(library, "feel: shuffle\nverse:\nbass: out\n| D | <G |\n")
    assert [chord.pushed_ticks for bar in performance.bars for chord in bar.chords] == [0, 320]


def swings(text: str, library: Library) -> list[str]:
    """Return what a page says of swing, in order."""
    song, performance, tuning = engraved(text, library)
    measures = build_score(performance, song, tuning=tuning).measures
    marks = [measure.swing_mark for measure in measures if measure.swing_mark]
    return [" ".join(filter(None, (mark.word, mark.sign, mark.share))) for mark in marks]


def test_a_page_says_once_that_a_shuffle_swings(library: Library) -> None:
    plain = "key: D\nfeel: shuffle\nverse:\n| D |\n{}| G |\n"
    assert swings(plain.format(""), library) == ["swing ♫=3"]
    assert swings(plain.format(EIGHTHS), library) == ["swing ♫=3"]


def test_a_page_says_where_a_swing_begins_in_mid_section(library: Library) -> None:
    chart = "feel: straight eighths\nverse:\n| D | G |\n| (feel walking) D | G |\n"
    assert [str(bar.swing or "") for bar in played(library, chart).bars] == [
        *["", ""],
        *["by tempo eighths"] * 2,
    ]
    assert swings(chart, library) == ["swing ♫=3"]
