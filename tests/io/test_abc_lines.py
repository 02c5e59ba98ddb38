"""Bass voices of ABC tunes, by *The ABC music standard 2.1* and worked by hand."""

from fractions import Fraction

import pytest

from groove.chart.parse import parse_chart
from groove.chart.write import write_chart
from groove.errors import OptionError
from groove.io.abc import song_from_abc
from groove.text.notices import notice_texts
from tests.io.line_judges import sounds

TUNE = """X:1
T:Made up
M:4/4
L:1/8
K:G
V:1
{voice}
V:1
"G"G2B2d2B2|"C"c4e4|"D"d8|"G"g8|]
V:2
G,,2B,,2D,2-D,B,,|C,>F, [C,G,]2 =F,2F,2|D,4 _E,2E,2-|E,4 z2 (3G,,A,,B,,|]
"""
BASS = "V:2 clef=bass"
HALF = Fraction(1, 2)
WANTED = [
    (0, 43, 1), (1, 47, 1), (2, 50, 3 * HALF), (7 * HALF, 47, HALF),
    (4, 48, 3 * HALF / 2), (4 + 3 * HALF / 2, 54, HALF / 2), (5, 48, 1), (5, 55, 1), (6, 53, 1),
    (7, 53, 1),
    (8, 50, 2), (10, 51, 1), (11, 51, 3), (15, 43, Fraction(1, 3)),
    (15 + Fraction(1, 3), 45, Fraction(1, 3)), (15 + Fraction(2, 3), 47, Fraction(1, 3)),
]  # fmt: skip
"""Middle C is C (4.1): F is sharp by the key, a sign holds in its bar (4.2) and over a tie (4.11);
> lengthens the note before (4.4), (3 makes three in the time of two (4.13)."""


@pytest.mark.parametrize("voice", [BASS, 'V:2 name="Bass"', "V:2 nm=Contrabass", "V:2 bass"])
def test_a_bass_voice_stands_under_the_bars(voice: str) -> None:
    song = song_from_abc(TUNE.format(voice=voice))
    assert any(
        notice.startswith("the bass line is that of voice 2")
        for notice in notice_texts(song.notices)
    )
    assert sounds(song) == sorted(WANTED)
    assert [bar.chords[0].symbol for bar in song.sections[0].bars] == ["G", "C", "D", "G"]
    assert sounds(parse_chart(write_chart(song))) == sorted(WANTED)


def test_a_voice_sounds_where_its_field_says() -> None:
    """``octave`` and ``transpose`` of 4.6; two octaves down would lie below the neck."""
    song = song_from_abc(TUNE.format(voice="V:2 clef=bass octave=-1 transpose=2"))
    assert sounds(song) == sorted((onset, pitch - 10, length) for onset, pitch, length in WANTED)


def test_the_clef_of_the_key_moves_all_voices_and_a_voice_s_own_comes_first() -> None:
    """ABC 2.1, 4.6: clef and transposition stand in ``K:`` or ``V:``; chords are told apart."""
    up = TUNE.replace("K:G", "K:G octave=-1 transpose=2")
    for voice, steps in ((BASS, -10), (f"{BASS} transpose=3", -9)):
        song = song_from_abc(up.format(voice=voice))
        wanted = sorted((onset, pitch + steps, length) for onset, pitch, length in WANTED)
        assert sounds(song) == wanted
        told = [notice for notice in notice_texts(song.notices) if "transpose=2" in notice]
        assert len(told) == 1 and "chords are read as they stand" in told[0]
        assert [bar.chords[0].symbol for bar in song.sections[0].bars] == ["G", "C", "D", "G"]


def test_a_tune_without_a_bass_voice_has_no_line() -> None:
    for voice in ("V:2 clef=treble", 'V:2 name="Bass Clarinet"', "V:2"):
        assert sounds(song_from_abc(TUNE.format(voice=voice))) == []


def test_a_voice_can_be_named_or_left_out() -> None:
    assert sounds(song_from_abc(TUNE.format(voice=BASS), line="none")) == []
    for line in ("2", "V2"[1:]):
        assert len(sounds(song_from_abc(TUNE.format(voice="V:2"), line=line))) == len(WANTED)
    with pytest.raises(OptionError) as caught:
        song_from_abc(TUNE.format(voice=BASS), "up.abc", line="low")
    assert caught.value.message == "up.abc has no voice for --line 'low'"
    assert "expected one of: 1, 2, none" in caught.value.hint


def test_graces_and_missing_bars_are_told() -> None:
    text = (
        TUNE.format(voice=BASS).replace("V:2\nG,,2", "V:2\n{A,,}G,,2").replace("(3G,,A,,B,,|]", "")
    )
    song = song_from_abc(text.replace("|E,4 z2 ", ""))
    assert any(
        "grace notes of the line are left out" in notice for notice in notice_texts(song.notices)
    )
    assert any(
        "the bass voice has 3 bars, the tune 4" in notice for notice in notice_texts(song.notices)
    )


def test_a_sign_ends_with_its_bar() -> None:
    """4.2: a sign holds to the bar line, in every octave; after it the key has its say."""
    text = 'X:1\nT:x\nM:4/4\nL:1/2\nK:C\nV:1 clef=bass\n"C"^F,,F,|F,,F,|]\n'
    assert [pitch for _, pitch, _ in sounds(song_from_abc(text))] == [42, 54, 41, 53]
