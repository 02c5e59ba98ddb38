"""Lead sheets of music21's corpus, read by us and by music21, and read again as we write them.

``python -m tests.io.lead_sheets`` compares every score of the corpus that has chords, and prints
each bar that differs with what either reads.
"""

import zipfile
from fractions import Fraction
from pathlib import Path
from typing import Any

import music21

from groove.cells.model import Library
from groove.chart.form import unroll
from groove.chart.model import Song
from groove.io.library import load_library
from groove.io.musicxml import song_from_musicxml
from groove.pipeline import PerformOptions, perform_song
from groove.sheet.build import build_score
from groove.sheet.musicxml import musicxml_text
from groove.sheet.options import Staves

CORPUS = Path(music21.__file__).parent / "corpus"
FEWEST_CHORDS = 4
Sounding = list[tuple[Fraction, int | None]]
"""The chords of a bar: where they begin in quarters, and their roots, None for no chord."""


def scores() -> list[Path]:
    """Return the scores that have chord symbols."""
    return [
        path
        for path in sorted(CORPUS.rglob("*.mxl"))
        if b"".join(_contents(path)).count(b"<harmony") >= FEWEST_CHORDS
    ]


def _contents(path: Path) -> list[bytes]:
    with zipfile.ZipFile(path) as archive:
        return [archive.read(name) for name in archive.namelist() if "META" not in name]


def ours(song: Song) -> list[Sounding]:
    """Return the chords of every played bar as we have read them, pickup apart."""
    return _held(
        [(s.start_quarters, s.chord.root.pitch_class if s.chord else None) for s in bar.chords]
        for bar in unroll(song)
        if not bar.is_pickup
    )


def theirs(score: Any) -> list[Sounding]:
    """Return the same as music21 10.5.1 reads it, repeats played out."""
    part = max(score.parts, key=lambda part: len(part.flatten().getElementsByClass("Harmony")))
    part = part.toSoundingPitch().expandRepeats()
    bars = list(part.getElementsByClass("Measure"))
    if bars and bars[0].paddingLeft:
        bars = bars[1:]
    return _held(
        [
            (
                Fraction(h.offset),
                None if isinstance(h, music21.harmony.NoChord) else h.root().pitchClass,
            )
            for h in bar.getElementsByClass("Harmony")
        ]
        for bar in bars
    )


def _held(bars: Any) -> list[Sounding]:
    """Return bars with the chord that is held into each at its head, none struck twice."""
    found: list[Sounding] = []
    sounding: int | None = None
    for bar in bars:
        chords: Sounding = []
        for at, root in [(Fraction(0), sounding), *bar]:
            chords = [(place, was) for place, was in chords if place != at]
            if not chords or chords[-1][1] != root:
                chords.append((at, root))
            sounding = root
        found.append(chords)
    return found


def differing(one: list[Sounding], other: list[Sounding]) -> list[int]:
    """Return the bars, from 1, that are not the same; those that one lacks among them."""
    longest = max(len(one), len(other))
    return [n + 1 for n in range(longest) if one[n : n + 1] != other[n : n + 1]]


def written(song: Song, library: Library) -> Any:
    """Return music21's reading of the part that we write for a song, every bar written out.

    The chords stand over the staff; a tab under it would cost music21 as long again.
    """
    options = PerformOptions(tight=True, feel="long notes")
    score = build_score(perform_song(song, library, options), song, written_out=True)
    text = musicxml_text(score, song, staves=Staves.NOTATION)
    return music21.converter.parseData(text, format="musicxml")


def main() -> None:
    """Compare every score, in and out."""
    library = load_library()
    for path in scores():
        song = song_from_musicxml(path.read_bytes(), path.name)
        mine = ours(song)
        ways = {
            "in": theirs(music21.converter.parse(path)),
            "out": theirs(written(song, library)),
        }
        for way, other in ways.items():
            bars = differing(mine, other)
            print(f"{path.name} {way}: {len(mine) - len(bars)} of {len(mine)} bars agree")
            for bar in bars[:8]:
                print(f"  bar {bar}: {mine[bar - 1 : bar]} here, {other[bar - 1 : bar]} there")


if __name__ == "__main__":
    main()
