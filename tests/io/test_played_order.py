"""The order of play, judged by music21 10.5.1 (``expandRepeats``) and abc2midi (Debian's abcmidi).

Where the two or we differ, it is listed with who is right: the standards' texts (MusicXML 4.0 of
the W3C Music Notation Community Group, ABC 2.1) and common practice of engraving, no source.
"""

import random
import subprocess
from pathlib import Path
from typing import Any

import mido
import music21
import pytest

from groove.chart.form import unroll
from groove.chart.model import Song
from groove.io.abc import song_from_abc
from groove.io.musicxml import song_from_musicxml
from groove.text.notices import notice_texts
from tests.io.score_forms import Form, abc, musicxml, random_form, spelled

FORMS = 6
LETTERS = dict(
    zip((60, 62, 64, 65, 67, 69, 71, 72, 74, 76, 77, 79, 81, 83), "CDEFGABcdefgab", strict=True)
)


def letters(song: Song) -> str:
    """Return the chords as played, minor ones in small letters."""
    symbols = [span.symbol for bar in unroll(song) for span in bar.chords]
    return "".join(s[0].lower() if s.endswith("m") else s[0] for s in symbols)


def by_music21(text: str) -> str:
    """Return what music21 plays of a MusicXML text."""
    score: Any = music21.converter.parseData(text, format="musicxml")
    bars = score.parts[0].expandRepeats().getElementsByClass("Measure")
    chords = [chord for bar in bars for chord in bar.getElementsByClass("Harmony")]
    return "".join(
        c.root().name.lower() if c.chordKind == "minor" else c.root().name for c in chords
    )


def by_abc2midi(text: str, folder: Path) -> str:
    """Return what abc2midi plays of an ABC text."""
    source, target = folder / "tune.abc", folder / "tune.mid"
    source.write_text(text)
    subprocess.run(["abc2midi", source, "-o", target], check=True, capture_output=True)
    struck = [m.note for m in mido.MidiFile(target) if m.type == "note_on" and m.velocity]
    return "".join(LETTERS[pitch] for pitch in struck)


def ours(form: Form) -> str:
    return letters(song_from_musicxml(musicxml(form).encode()))


@pytest.mark.parametrize("seed", range(FORMS))
def test_forms_with_repeats_and_jumps_are_played_as_music21_plays_them(seed: int) -> None:
    """Repeats of two and three passes, nested ones, D.C. and D.S. to the end, Fine and coda."""
    form = random_form(random.Random(seed), with_jump=seed % 4 != 0, with_endings=False)
    wanted = by_music21(musicxml(form))
    assert ours(form) == wanted and len(wanted) >= 2


@pytest.mark.parametrize("seed", range(FORMS))
def test_forms_with_endings_are_played_as_both_play_them(seed: int, tmp_path: Path) -> None:
    """Two and three endings, in MusicXML by music21 and in ABC by abc2midi."""
    form = random_form(random.Random(seed), with_jump=False, with_endings=True)
    form = [[sign for sign in bar if sign != ":|3"] + [":|"] * (":|3" in bar) for bar in form]
    assert ours(form) == by_music21(musicxml(form))
    assert letters(song_from_abc(abc(form))) == by_abc2midi(abc(form), tmp_path) == ours(form)


DIFFERENCES = [
    (
        "C,|: ; D,[1,:|,]1 ; E,[2,]2 ; F,fine ; G,D.C. al Fine",
        "CDCEFGCEF",
        "CDCDEFGCDEF",
        "ours: a first ending is for the first pass; music21 loses endings where there is a jump",
    ),
    (
        "C ; D,|: ; E,[1,:|,]1 ; F,[2,]2 ; G,tocoda ; A,D.C. al Coda ; B,coda",
        "CDEDFGACDFGB",
        "CDEDEFGACDEFGB",
        "ours, for the same reason",
    ),
    (
        "C ; D,:| ; E ; F,:|",
        "CDCDEFEF",
        "CDCDEFCDCDEF",
        "ours: without a sign a repeat begins after the one before; abc2midi plays it so too",
    ),
]


@pytest.mark.parametrize(("form", "wanted", "other", "_right"), DIFFERENCES)
def test_where_music21_differs(form: str, wanted: str, other: str, _right: str) -> None:
    assert ours(spelled(form)) == wanted
    assert by_music21(musicxml(spelled(form))) == other


ABC_HEAD = "X:1\nT:x\nM:4/4\nL:1/4\n{}K:C\n%%MIDI gchordoff\n{}\n"
ABC_ORDERS = [
    ("P:AABA\n", 'P:A\n"C"C4|"D"D4|\nP:B\n"E"E4|"F"F4|', "CDCDEFCD"),
    ("P:(AB)3\n", 'P:A\n"C"C4|"D"D4|\nP:B\n"E"E4|"F"F4|', "CDEFCDEFCDEF"),
    ("P:A(AB)2.C\n", 'P:A\n"C"C4|\nP:B\n|:"E"E4|"F"F4:|\nP:C\n"G"G4|', "CCEFEFCEFEFG"),
    ("P:AB\n", 'P:A\n|:"C"C4|1"D"D4:|2"E"E4|\nP:B\n"F"F4:|"G"G4|', "CDCEFFG"),
    ("P:AB\n", 'P:A\n"C"C4|"D"D4|\nP:B\n"E"E4|"F"F4!D.C.!|', "CDEF"),
    ("", '|:"C"C4::"D"D4:|', "CCDD"),
    ("", '"C"C4|"D"D4:|"E"E4|"F"F4:|', "CDCDEFEF"),
    ("", '|:"C"C4|"D"D4|1,2"E"E4:|3"F"F4|]', "CDECDECDF"),
    ("", '|:"C"C4|"D"D4|1-2"E"E4:|3"F"F4|]', "CDECDECDF"),
]


@pytest.mark.parametrize(("head", "music", "order"), ABC_ORDERS)
def test_parts_and_repeats_of_abc_are_played_as_abc2midi_plays_them(
    head: str, music: str, order: str, tmp_path: Path
) -> None:
    text = ABC_HEAD.format(head, music)
    assert letters(song_from_abc(text)) == by_abc2midi(text, tmp_path) == order


def test_a_jump_among_ordered_parts_is_told() -> None:
    song = song_from_abc(ABC_HEAD.format("P:AB\n", 'P:A\n"C"C4|\nP:B\n"E"E4!D.C.!|'))
    assert [notice for notice in notice_texts(song.notices) if "the jump is left out" in notice]


ABC_DIFFERENCES = [
    ('|::"C"C4|"D"D4::|"E"E4|]', "CDCDCDE", "ours: ABC 2.1, 4.8, `|::` is played three times"),
    ('|:"C"C4|:"D"D4:|"E"E4:|"F"F4|]', "CDDECDDEF", "music21 nests so, abc2midi repairs the text"),
    ('"C"C4|"D"D4!fine!|"E"E4!D.C.!|]', "CDECD", "ours: ABC 2.1, 4.14; abc2midi plays no jumps"),
    ('"C"C4|!segno!"D"D4|"E"E4!D.S.!|]', "CDEDE", "ours: ABC 2.1, 4.14"),
    ('"C"C4|"D"D4|"^To Coda""E"E4|"F"F4!D.C.alcoda!|!coda!"G"G4|]', "CDEFCDEG", "ours: 4.14"),
]


@pytest.mark.parametrize(("music", "order", "_right"), ABC_DIFFERENCES)
def test_where_abc2midi_differs(music: str, order: str, _right: str, tmp_path: Path) -> None:
    text = ABC_HEAD.format("", music)
    assert letters(song_from_abc(text)) == order != by_abc2midi(text, tmp_path)


@pytest.mark.parametrize(
    "music",
    [
        '|:"C"C4|"D"D2:|:"E"E2|"F"F4:|]',
        '|:"C"C4|"D"D3:|"E"E|"F"F4|]',
        '"C"C4|"D"D2|:"E"E2|"F"F4:|"G"G4|]',
        '|:"C"C4|"D"D2|"E"E4:|"G"G4|]',
    ],
)
def test_a_repeat_in_mid_bar_is_played_beat_for_beat(music: str, tmp_path: Path) -> None:
    """abc2midi, quarter by quarter: how long each chord sounds, in the order of play."""
    text = ABC_HEAD.format("", music)
    source, target = tmp_path / "tune.abc", tmp_path / "tune.mid"
    source.write_text(text)
    subprocess.run(["abc2midi", source, "-o", target], check=True, capture_output=True)
    midi = mido.MidiFile(target)
    at, judged = 0, []
    for message in mido.merge_tracks(midi.tracks):
        at += message.time
        if message.type == "note_on" and message.velocity:
            judged.append((LETTERS[message.note], round(at / midi.ticks_per_beat)))
    found = [
        (span.symbol, round(bar.start_quarters + span.start_quarters))
        for bar in unroll(song_from_abc(text))
        for span in bar.chords
        if span.chord
    ]
    merged = [pair for i, pair in enumerate(found) if i == 0 or found[i - 1][0] != pair[0]]
    singles = [pair for i, pair in enumerate(judged) if i == 0 or judged[i - 1][0] != pair[0]]
    assert merged == singles and len(singles) >= 5
