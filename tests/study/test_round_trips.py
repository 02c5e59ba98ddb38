"""Every shipped bass cell, played on charts, written as MIDI and read: the same cell comes back.

Five charts each, tight and with the hand: the suite plays each cell on one of them, in turn, which
is every cell and every chart; with ``GROOVE_EVERY_ROUND_TRIP`` set it plays all (some 15 s of CPU).
"""

import os
from collections.abc import Iterator
from itertools import cycle
from pathlib import Path

from groove.chart.parse import parse_chart
from groove.events import Part, Performance, Touch
from groove.harmony.analysis import Analysis
from groove.io.midi import midi_bytes
from groove.io.studied import read_line
from groove.pipeline import PerformOptions, analyse_song, perform_analysis
from groove.study.result import LaidLine, laid_line
from groove.timing import Meter
from tests.study.hand_made import LIBRARY
from tests.study.test_studied_lines import agrees, strokes

CHARTS = (
    (96, "G | Em7 | C | D7 | G | Bm7 | Am7 D7 | G"),
    (112, "Am | F | C/E | G | Dm7 | G7 | Cmaj7 | E7"),
    (80, "Ebmaj7 | Cm7 | Fm7 | Bb7 | Gm7 | C7 | Fm7 Bb7 | Eb"),
    (124, "A7 | D7 | A7 | A7 | D7 | D7 | A7 | E7"),
    (104, "F#m | D | E | C#m7 | Bm7 | D/E | A | A"),
)
BARS = 16
FEEL_OF = {feel.bass: feel.name for feel in LIBRARY.feels.values()}


def chart_text(name: str, tempo: int, chords: str) -> str:
    """Return a chart of eight bars, played twice, that asks for a cell in its own meter."""
    meter = LIBRARY.bass[name].meter or Meter(4, 4)
    if meter.beats_per_bar % 2:
        chords = " | ".join(bar.split()[0] for bar in chords.split("|"))
    feel = f"feel: {FEEL_OF[name]}\n" if name in FEEL_OF else ""
    head = f"title: There and Back\ntempo: {tempo}\nmeter: {meter}\n{feel}"
    return f"{head}verse:\n  bass: {name}\n| {chords} |\nform: verse x2\n"


def trips() -> Iterator[tuple[str, str]]:
    """Yield a cell and the text of a chart that plays it."""
    turns = cycle(CHARTS)
    for name in sorted(LIBRARY.bass):
        whole = os.environ.get("GROOVE_EVERY_ROUND_TRIP")
        for tempo, chords in CHARTS if whole else [next(turns)]:
            yield name, chart_text(name, tempo, chords)


def there_and_back(
    analysis: Analysis, folder: Path, *, tight: bool
) -> tuple[Performance, LaidLine]:
    """Return a bass part and its MIDI laid on the slots of its chart's bars."""
    performance = perform_analysis(analysis, LIBRARY, PerformOptions(tight=tight, seed=3))
    file = folder / "part.mid"
    file.write_bytes(midi_bytes(performance, parts=(Part.BASS,)))
    line = read_line(str(file), str(folder / "song.txt"), lambda _: None)
    return performance, laid_line(line.notes, line.frames)


def pitches(performance: Performance) -> list[list[int]]:
    """Return the pitches of the plain notes of each bar as they were played."""
    return [
        [
            note.pitch
            for note in sorted(performance.part_notes(Part.BASS), key=lambda note: note.onset_tick)
            if bar.start_tick <= note.grid_tick < bar.end_tick and note.touch is not Touch.GHOST
        ]
        for bar in performance.bars
    ]


def test_every_shipped_cell_comes_back_from_its_midi_file(tmp_path: Path) -> None:
    # The truth is the performance; the shares are our own: all tight, 95 % with the hand.
    lost, strayed, bars = [], 0, 0
    for name, text in trips():
        (tmp_path / "song.txt").write_text(text, encoding="utf-8")
        analysis = analyse_song(parse_chart(text))
        performance, tight = there_and_back(analysis, tmp_path, tight=True)
        wanted = pitches(performance)
        bars += len(performance.bars)
        for index, bar in enumerate(performance.bars):
            found = [each.pitch for each in tight.bars[index].notes if not each.is_ghost]
            same = agrees(tight, index, strokes(performance, bar)) and found == wanted[index]
            lost += [] if same else [(name, index)]
        symbols = [
            each.chord.symbol if each.chord else ""
            for bar in tight.bars
            for each in bar.frame.chords
        ]
        assert symbols == [each.symbol for bar in performance.bars for each in bar.chords], name
        _, loose = there_and_back(analysis, tmp_path, tight=False)
        pairs = zip(tight.patterns, loose.patterns, strict=True)
        strayed += sum(one.strikes != other.strikes for one, other in pairs)
    assert bars >= BARS * len(LIBRARY.bass) >= 600
    assert lost == []
    assert strayed / bars <= 0.05
