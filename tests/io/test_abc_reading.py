"""Charts from ABC 2.1, judged by music21 10.5.1, the standard's text, and Debian's examples."""

import re
from fractions import Fraction
from pathlib import Path
from typing import Any

import music21
import pytest

from groove.chart.form import unroll
from groove.chart.model import Song
from groove.errors import ChartError
from groove.io.abc import song_from_abc

TUNES = re.split(
    r"(?m)^(?=X:)",
    (Path(music21.__file__).parent / "corpus" / "nottingham-dataset" / "reelsa-c.abc").read_text(),
)[1:]
EXAMPLES = tuple(sorted(Path("/usr/share/doc/abcmidi/examples").glob("*.abc")))


def struck(song: Song) -> list[tuple[int, int]]:
    """Return (root, bass) of every chord where it changes, in written order."""
    spans = [s for section in song.sections for bar in section.bars for s in bar.chords]
    chords = [s.chord for i, s in enumerate(spans) if i == 0 or s.chord != spans[i - 1].chord]
    return [(c.root.pitch_class, c.bass_note.pitch_class) for c in chords if c]


def judged(tune: str) -> list[tuple[int, int]]:
    """Return the same as music21 has it; it keeps a small bass letter out of its figures."""
    score: Any = music21.converter.parseData(tune, format="abc")
    chords = list(score.recurse().getElementsByClass("ChordSymbol"))
    found = [(c.root().pitchClass, c.bass().pitchClass) for c in chords]
    return [
        pair for i, pair in enumerate(found) if i == 0 or chords[i - 1].figure != chords[i].figure
    ]


def test_the_corpus_has_two_tunes_with_46_chords() -> None:
    """Reference 12: two tunes, 46 symbols."""
    assert len(TUNES) == 2
    assert sum(len(re.findall(r'"[A-G][^"]*"', tune)) for tune in TUNES) == 46


@pytest.mark.parametrize("tune", TUNES, ids=["reel", "dance"])
def test_tunes_have_the_chords_that_music21_reads(tune: str) -> None:
    found, wanted = struck(song_from_abc(tune)), judged(tune)
    assert [root for root, _ in found] == [root for root, _ in wanted]
    assert len(wanted) >= 18


def test_slash_chords_with_small_letters_keep_their_bass() -> None:
    """The second tune has Am/c, Am/e, G7/b, Am/g and D/f+ (by eye; ``+`` is a sharp there)."""
    found = struck(song_from_abc(TUNES[1]))
    slashes = {(root, bass) for root, bass in found if root != bass}
    assert slashes == {(9, 0), (9, 4), (7, 11), (9, 7), (2, 6)}


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_debians_examples_are_read_or_refused_with_a_place(path: Path) -> None:
    text = path.read_text(encoding="utf-8", errors="replace")
    try:
        song = song_from_abc(text, path.name)
    except ChartError as error:
        assert error.place.line > 1
        assert error.place.text == text.splitlines()[error.place.line - 1]
    else:
        assert unroll(song)


HEAD = "X:1\nT:Hill\nM:{meter}\nL:{unit}\nK:{key}\n"


def tune(music: str, *, meter: str = "4/4", unit: str = "1/4", key: str = "D") -> Song:
    return song_from_abc(HEAD.format(meter=meter, unit=unit, key=key) + music)


def starts(song: Song) -> list[list[tuple[str, Fraction]]]:
    return [
        [(s.written, s.start_quarters) for s in bar.chords]
        for section in song.sections
        for bar in section.bars
    ]


@pytest.mark.parametrize(
    ("music", "wanted"),
    [
        ('"D"A2"G"B2|', [("D", 0), ("G", 2)]),
        ('"D"A/B/c "A7"d>e f/|', [("D", 0), ("A7", 2)]),
        ('"D"A/B/c/d/ "A7"e>f|', [("D", 0), ("A7", 2)]),
        ('"D"(3ABc "G"d2|', [("D", 0), ("G", 2)]),
        ('"D"[FA]2 "G"z2|', [("D", 0), ("G", 2)]),
        ('"D"{c}A2 !trill!"G"B2|', [("D", 0), ("G", 2)]),
        ('"D"A//B// c/ d "G"e2|', [("D", 0), ("G", 2)]),
        ('"D"A<B "G"cd|', [("D", 0), ("G", 2)]),
    ],
)
def test_lengths_are_those_of_the_standard(music: str, wanted: list[tuple[str, int]]) -> None:
    """ABC 2.1, 4.3 note lengths, 4.4 broken rhythm, 4.13 tuplets, 4.17 chords, 4.12 graces."""
    assert starts(tune(music)) == [[(symbol, Fraction(at)) for symbol, at in wanted]]


def test_repeats_and_endings_are_played_in_order() -> None:
    """ABC 2.1, 4.8 and 4.9: `|:`, `:|`, `|1`, `:|2`, `::`."""
    song = tune('|:"D"A4|"G"B4|1"A"c4:|2"D"d4||"Em"e4::"Bm"f4:|')
    assert [bar.chords[0].written for bar in unroll(song)] == [
        "D", "G", "A", "D", "G", "D", "Em", "Em", "Bm", "Bm",
    ]  # fmt: skip


def test_fields_are_read() -> None:
    """ABC 2.1, 3.1: M:C|, K: with a mode, Q:, P: in the body, and fields inside a line."""
    song = song_from_abc(
        'X:1\nT:Hill\nM:C|\nL:1/8\nQ:1/4=120\nK:E dor\nP:A\n"Em"e8|\nP:B\n[M:3/4]"A"c6|\n'
    )
    assert [section.name for section in song.sections] == ["A", "B"]
    assert str(song.meter) == "2/2"
    assert song.settings.key and song.settings.key.name == "E dorian"
    assert song.tempo.bpm == 60
    assert str(song.sections[1].bars[0].meter) == "3/4"


@pytest.mark.parametrize(
    ("text", "line"),
    [("", 1), ("X:1\nK:C\n", 1), ("X:1\nM:5/99\nK:C\nA4|\n", 2), ("X:1\nK:C\nA4|§4|\n", 3)],
)
def test_what_cannot_be_read_has_a_place(text: str, line: int) -> None:
    with pytest.raises(ChartError) as caught:
        song_from_abc(text, "hill.abc")
    assert caught.value.place.line == line


def test_bars_of_rest_are_limited() -> None:
    with pytest.raises(ChartError, match="bars of rest"):
        tune("Z99999999|")
