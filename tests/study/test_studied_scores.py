"""Lines out of scores: our own part, what others wrote as music21 reads it, what cannot be read."""

from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any

import music21
import pytest

from groove.chart.parse import parse_chart
from groove.errors import OptionError
from groove.events import Part, Touch
from groove.io.library import load_library
from groove.io.studied import ReadLine, read_line
from groove.notebook import make_sheet
from groove.pipeline import PerformOptions, perform_song
from groove.study.result import Study, study_line
from groove.timing import TICKS_PER_QUARTER

CORPUS = Path(music21.__file__).parent / "corpus"
CHORALE = CORPUS / "bach" / "bwv66.6.mxl"
LIBRARY = load_library(None)


def read(file: Path, part: str = "", chart: Path | None = None) -> ReadLine:
    return read_line(str(file), str(chart) if chart else None, lambda _: None, part)


def studied(line: ReadLine) -> Study:
    return study_line(line.notes, line.frames, LIBRARY.bass, title=line.title, part=line.part)


SONG = """title: Copper Kettle Lane
tempo: 96
key: G
feel: sixteenths
verse:
| G | Em7 | C | D7 |
|: G | Bm7 |1. Am7 | D7 :|2. Am7 D7 | <G |
form: verse x2
"""


@cache
def own_score() -> tuple[str, list[tuple[int, int, bool]]]:
    """Return a sheet of ours, and each bass note that it shows: tick, pitch, whether a ghost."""
    song = parse_chart(SONG)
    notes = perform_song(song, LIBRARY, PerformOptions(tight=True)).part_notes(Part.BASS)
    return make_sheet(song).musicxml(), [
        (note.grid_tick, note.pitch, note.touch is Touch.GHOST) for note in notes
    ]


def test_our_own_part_comes_back_note_for_note(tmp_path: Path) -> None:
    # The truth is the performance; the way there is MusicXML 4.0.
    text, truth = own_score()
    file = tmp_path / "part.musicxml"
    file.write_text(text, encoding="utf-8")
    line = read(file)
    found = [
        (round(note.start_quarters * TICKS_PER_QUARTER), note.pitch, note.is_ghost)
        for note in line.notes
    ]
    assert len(truth) >= 100
    assert sum(ghost for _, _, ghost in truth) >= 10
    plain = [(tick, pitch) for tick, pitch, ghost in truth if not ghost]
    assert [(tick, pitch) for tick, pitch, ghost in found if not ghost] == plain
    assert [(tick, g) for tick, _, g in found] == [(tick, g) for tick, _, g in truth]
    # A score says no loudness: ghosts are softer, and the first beat is the loudest.
    loud = {note.is_ghost: note.velocity for note in line.notes}
    assert loud[True] < min(note.velocity for note in line.notes if not note.is_ghost)
    assert line.notes[0].velocity == max(note.velocity for note in line.notes)
    study = studied(line)
    assert len(study.ghosts) == sum(ghost for _, _, ghost in truth)
    assert {chord.confidence for bar in study.bars for chord in bar.frame.chords} == {1.0}
    assert not line.text.startswith("# a draft")


def test_a_score_lies_under_another_chart_too(tmp_path: Path) -> None:
    text, truth = own_score()
    file = tmp_path / "part.xml"
    file.write_text(text, encoding="utf-8")
    chart = tmp_path / "song.txt"
    chart.write_text(SONG, encoding="utf-8")
    line = read(file, chart=chart)
    assert not line.is_draft
    assert line.text == SONG
    assert len(line.notes) == len(truth)


@pytest.mark.parametrize(("part", "number"), [("", 4), ("4", 4), ("1", 1), ("Soprano", 1)])
def test_a_chorales_part_is_read_as_music21_reads_it(part: str, number: int) -> None:
    # Pitches and places by music21, which ships the file; what is tied sounds once.
    score: Any = music21.converter.parse(CHORALE)
    judged = score.parts[number - 1].stripTies().flatten().notes
    truth = [(Fraction(note.offset), note.pitch.midi) for note in judged]
    line = read(CHORALE, part)
    assert len(truth) >= 30
    assert [(note.start_quarters, note.pitch) for note in line.notes] == truth
    assert line.part.startswith(f"part {number} ")


def test_chords_of_a_score_without_symbols_are_heard_and_said_to_be() -> None:
    said: list[str] = []
    line = read_line(str(CHORALE), None, said.append)
    assert any("no chord symbols" in text and "by ear" in text for text in said)
    found = [chord.confidence for frame in line.frames for chord in frame.chords]
    assert len(found) >= 20
    assert min(found) < 0.9
    assert line.is_draft
    # Three sharps, as music21 reads the signature: no chord of it is spelled with flats.
    score: Any = music21.converter.parse(CHORALE)
    assert score.parts[3].flatten().getElementsByClass("KeySignature")[0].sharps == 3
    symbols = [c.chord.symbol for f in line.frames for c in f.chords if c.chord]
    assert any("#" in symbol for symbol in symbols)
    assert not any(symbol.startswith(("Db", "Eb", "Gb", "Ab")) for symbol in symbols)


def test_a_plain_part_says_why_it_was_taken() -> None:
    assert "bass" in read(CHORALE).part
    assert "mean F3" in read(CHORALE).part


SILENT = """<score-partwise><part-list><score-part id="P1"><part-name>Bass</part-name></score-part>
</part-list><part id="P1"><measure number="1"><attributes><divisions>1</divisions></attributes>
<note><rest/><duration>4</duration></note></measure></part></score-partwise>"""


def test_a_score_that_cannot_be_studied_is_one_clear_error(tmp_path: Path) -> None:
    silent = tmp_path / "silent.musicxml"
    silent.write_text(SILENT, encoding="utf-8")
    with pytest.raises(OptionError, match=r"silent\.musicxml has no notes"):
        read(silent)
    with pytest.raises(OptionError, match=r"no part with notes for --part '9'") as caught:
        read(CHORALE, "9")
    assert "expected one of: 1 Soprano, 2 Alto, 3 Tenor, 4 Bass" in str(caught.value.hint)
    high = tmp_path / "high.musicxml"
    part = SILENT[SILENT.index("<part id") : SILENT.index("</score-partwise>")]
    note = "<note><pitch><step>C</step><octave>6</octave></pitch><duration>4</duration></note>"
    part = part.replace("<note><rest/><duration>4</duration></note>", note)
    two = part + part.replace("P1", "P2")
    names = "".join(
        f'<score-part id="P{n}"><part-name>Flute</part-name></score-part>' for n in (1, 2)
    )
    high.write_text(
        f"<score-partwise><part-list>{names}</part-list>{two}</score-partwise>", encoding="utf-8"
    )
    with pytest.raises(OptionError, match="has no part that is plainly a bass") as caught:
        read(high)
    assert "--part N takes one of: 1 Flute, 2 Flute" in str(caught.value.hint)
