"""Keys and pitches against music21."""

import pytest
from music21 import key as judge_key
from music21 import pitch as judge_pitch

from groove.theory.keys import Key, Mode, parse_key
from groove.theory.pitch import (
    SpelledPitch,
    parse_note,
    parse_pitch,
    pitch_name,
    semitones_to_fifths,
)

MAJORS = ["Cb", "Gb", "Db", "Ab", "Eb", "Bb", "F", "C", "G", "D", "A", "E", "B", "F#", "C#"]
MINORS = ["Ab", "Eb", "Bb", "F", "C", "G", "D", "A", "E", "B", "F#", "C#", "G#", "D#", "A#"]
THIRTY = [(name, "major") for name in MAJORS] + [(name, "minor") for name in MINORS]


def judged(tonic: str, mode: str) -> judge_key.Key:
    return judge_key.Key(tonic.replace("b", "-"), mode)


def test_thirty_keys_have_the_signature_and_scale_of_music21() -> None:
    compared = 0
    for tonic, mode in THIRTY:
        key, judge = parse_key(f"{tonic} {mode}"), judged(tonic, mode)
        assert key.signature_fifths == judge.sharps
        names = [p.name.replace("-", "b") for p in judge.pitches[:7]]
        assert [pitch.name for pitch in key.scale] == names
        assert key.respelled() == key
        compared += 7
    assert compared == 210


def test_the_other_modes_have_the_signature_and_scale_of_music21() -> None:
    compared = 0
    for mode in ("ionian", "dorian", "phrygian", "lydian", "mixolydian", "aeolian", "locrian"):
        for tonic in MAJORS:
            key, judge = parse_key(f"{tonic} {mode}"), judged(tonic, mode)
            assert key.signature_fifths == judge.sharps
            if abs(judge.sharps) <= 7:
                names = [p.name.replace("-", "b") for p in judge.pitches[:7]]
                assert [pitch.name for pitch in key.scale] == names
                compared += 1
    assert compared == 89


@pytest.mark.parametrize(
    ("text", "tonic", "mode"),
    [
        ("D", "D", "major"),
        ("D major", "D", "major"),
        ("F# minor", "F#", "minor"),
        ("F♯m", "F#", "minor"),
        ("Bb", "Bb", "major"),
        ("bb", "Bb", "major"),
        ("b minor", "B", "minor"),
        ("d DORIAN", "D", "dorian"),
        ("Eb Mixolydian", "Eb", "mixolydian"),
        ("A aeolian", "A", "aeolian"),
        ("G ionian", "G", "ionian"),
        ("Bm", "B", "minor"),
        ("Bbm", "Bb", "minor"),
        ("C  min", "C", "minor"),
        ("CM", "C", "major"),
    ],
)
def test_a_key_is_read(text: str, tonic: str, mode: str) -> None:
    assert parse_key(text) == Key(parse_note(tonic), Mode(mode))


@pytest.mark.parametrize("text", ["", " ", "H", "D majr", "D major blues", "Dx", "1", "D#b", "#"])
def test_what_is_no_key_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="not a key"):
        parse_key(text)


@pytest.mark.parametrize(
    ("text", "better"),
    [
        ("G# major", "Ab major"),
        ("D# major", "Eb major"),
        ("Fb major", "E major"),
        ("Db minor", "C# minor"),
        ("B# minor", "C minor"),
        ("Cb minor", "B minor"),
        ("Fbb locrian", "D# locrian"),
    ],
)
def test_a_key_with_more_than_seven_accidentals_is_respelled(text: str, better: str) -> None:
    tonic, mode = text.split()
    key = parse_key(text)
    assert abs(judged(tonic, mode).sharps) > 7
    assert key.respelled().name == better
    assert key.respelled().tonic.pitch_class == key.tonic.pitch_class


def test_every_midi_number_has_the_name_of_music21() -> None:
    compared = 0
    for pitch in range(128):
        name = pitch_name(pitch)
        # music21 reads the minus of octave -1 as a flat, so the octave is set apart.
        judge = judge_pitch.Pitch(name[0] + ("#" if "#" in name else ""))
        judge.octave = int(name.removeprefix(judge.name))
        assert parse_pitch(name) == pitch == judge.ps
        compared += 1
    assert compared == 128


def test_note_names_are_those_of_music21() -> None:
    compared = 0
    for letter in "CDEFGAB":
        for sign in ("", "#", "b", "##", "bb"):
            judge = judge_pitch.Pitch(letter + sign.replace("b", "-") + "4")
            note = parse_note(letter + sign)
            assert note.pitch_class == judge.pitchClass
            assert (note.letter, note.accidental) == (judge.step, judge.alter)
            assert parse_pitch(f"{letter}{sign}4") == judge.ps
            compared += 1
    assert compared == 35


def test_a_transposition_has_the_fewest_accidentals() -> None:
    for semitones in range(-24, 25):
        fifths = semitones_to_fifths(semitones)
        assert SpelledPitch(fifths).pitch_class == semitones % 12
        assert -5 <= fifths <= 6


@pytest.mark.parametrize("text", ["H", "c", "C###", "Cbbb", "C#b", "", "C-"])
def test_what_is_no_note_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="not a note name"):
        parse_note(text)


@pytest.mark.parametrize("text", ["C", "E1x", "H1", "C-2", "G#9", "E"])
def test_what_is_no_pitch_is_refused(text: str) -> None:
    with pytest.raises(ValueError):
        parse_pitch(text)
