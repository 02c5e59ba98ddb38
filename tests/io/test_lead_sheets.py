"""Lead sheets of music21's corpus, in and out; all by ``python -m tests.io.lead_sheets``."""

from pathlib import Path

import music21
import pytest

from groove.cells.model import Library
from groove.chart.model import Song
from groove.io.musicxml import song_from_musicxml
from tests.io.lead_sheets import CORPUS, Sounding, differing, ours, theirs, written

LEAD_SHEET = "leadSheet/fosterBrownHair.mxl"
EVERY_KIND = "demos/ComprehensiveChordSymbolsTestFile.mxl"


def read(name: str) -> tuple[Path, Song, list[Sounding]]:
    path = CORPUS / name
    song = song_from_musicxml(path.read_bytes(), path.name)
    return path, song, ours(song)


@pytest.mark.parametrize("name", [LEAD_SHEET, EVERY_KIND])
def test_nine_of_ten_bars_have_the_roots_that_music21_reads(name: str) -> None:
    path, _, mine = read(name)
    roots = {root for bar in mine for _, root in bar}
    assert len(mine) > 50 and len(roots) > 3
    assert len(differing(mine, theirs(music21.converter.parse(path)))) <= len(mine) / 10
    moved: list[Sounding] = [[(at, (root or 0) + 1) for at, root in bar] for bar in mine]
    assert len(differing(mine, moved)) == len(mine)


def test_nine_of_ten_bars_of_the_part_that_is_written_have_them_too(library: Library) -> None:
    _, song, mine = read(EVERY_KIND)
    assert len(differing(mine, theirs(written(song, library)))) <= len(mine) / 10
