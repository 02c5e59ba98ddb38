"""Lead sheets of music21's corpus, in and out; all by ``python -m tests.io.lead_sheets``."""

import music21
import pytest

from groove.cells.model import Library
from groove.io.musicxml import song_from_musicxml
from tests.io.lead_sheets import CORPUS, Sounding, differing, ours, theirs, written

NAMES = ("leadSheet/fosterBrownHair.mxl", "demos/ComprehensiveChordSymbolsTestFile.mxl")


@pytest.mark.parametrize("name", NAMES)
def test_nine_of_ten_bars_have_the_roots_that_music21_reads(name: str, library: Library) -> None:
    """Of the file itself, and of the part that is written for what was read of it."""
    path = CORPUS / name
    song = song_from_musicxml(path.read_bytes(), path.name)
    mine = ours(song)
    roots = {root for bar in mine for _, root in bar}
    assert len(mine) > 50 and len(roots) > 3
    for other in (theirs(music21.converter.parse(path)), theirs(written(song, library))):
        assert len(differing(mine, other)) <= len(mine) / 10
    moved: list[Sounding] = [[(at, (root or 0) + 1) for at, root in bar] for bar in mine]
    assert len(differing(mine, moved)) == len(mine)
