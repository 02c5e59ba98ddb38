"""The tokens of a row: what each asks for, however it is typed, and what it sounds over chords.

The expected notes are worked by hand from the intervals of a major scale (perfect fourth 5 half
steps, major sixth 9, …; any harmony handbook); what a phone makes of dashes and points is from
memory of phones.
"""

import pretty_midi

from groove.arrange.degree_tones import aim_semitones
from groove.cells.model import Aim, AimKind
from groove.cells.tokens import (
    TOKEN_TABLE,
    parse_token,
    read_tokens,
    token_text,
)
from groove.theory.chords import parse_chord
from groove.theory.keys import parse_key


def words(text: str) -> list[str]:
    return [token for token, _ in read_tokens(text)]


def test_a_row_is_read_as_it_was_typed() -> None:
    rows = {
        "R - - - 5 . . .": "R - - - 5 . . .",
        "R — - 5 …": "R - - - 5 . . .",
        "R --- 5 ...": "R - - - 5 . . .",
        "R  –  -  –- 5 _ _ .": "R - - - - - 5 . . .",
        "\u00a0R\u00a0- − ‑ 5\t…": "R - - - 5 . . .",
    }
    for row, meant in rows.items():
        assert words(row) == meant.split(), row
    assert len(rows) == 5
    assert [column for _, column in read_tokens("R — 5 …")] == [0, 2, 2, 4, 6, 6, 6]


def test_case_means_nothing_and_a_digit_with_b_is_a_degree() -> None:
    pairs = [("r", "R"), ("X", "x"), ("B3", "b3"), ("S5", "s5"), (">r", ">R"), ("@e1", "@E1")]
    for other, usual in pairs:
        assert parse_token(other) == parse_token(usual) is not None
    assert parse_token("B2") == Aim(kind=AimKind.DEGREE, number=2, alter=-1, is_altered=True)
    assert parse_token("@B2") == Aim(kind=AimKind.FIXED, pitch=47)
    assert parse_token("@bb2") == Aim(kind=AimKind.FIXED, pitch=46)


def test_fixed_notes_are_the_pitches_of_scientific_naming() -> None:
    """Middle C is C4 and MIDI 60, E1 is 28 (MMA, MIDI 1.0; pretty_midi's note names agree)."""
    names = [f"{note}{octave}" for note in ("C", "Db", "D#", "E", "F#", "Ab", "Bb", "B")
             for octave in range(0, 5)]  # fmt: skip
    for name in names:
        aim = parse_token("@" + name)
        assert aim is not None and aim.pitch == pretty_midi.note_name_to_number(name)
    assert len(names) == 40
    assert parse_token("@C4") == Aim(kind=AimKind.FIXED, pitch=60)


def test_what_is_no_token_is_none() -> None:
    wrong = ["12", "1", "0", "R5", "bb3", "5,,", "@H2", "@E", "@E99", ">3", ">", "sx", "V", "", "s"]
    assert [token for token in wrong if parse_token(token)] == []
    assert len(wrong) == 15


def test_tokens_are_written_as_they_are_read() -> None:
    degrees = ["R", "2", "3", "4", "5", "6", "7", "8", "9", "10", "11", "13"]
    tokens = [s + b + d + c for s in ("", "s") for b in ("", "b", "#") for d in degrees
              for c in ("", ",")]  # fmt: skip
    tokens += ["x", ">R", ">*", ">-1", ">+1", ">-2", ">+2", "s>R", "@E1", "@A#2", "s@D2"]
    for token in tokens:
        aim = parse_token(token)
        assert aim is not None and token_text(aim) == token
    assert len(tokens) == 155


DEGREES = {
    # chord in C: semitones above the bass note, worked by hand
    "C": {"2": 2, "4": 5, "11": 17, "13": 21, "b3": 3, "b7": 10, "#4": 6, "b2": 1, "5,": -5},
    "Cm7": {"2": 2, "4": 5, "11": 17, "13": 21, "3": 3, "b3": 3, "10": 15},
    "C7#11": {"4": 6, "11": 18, "2": 2},
    "C7b9": {"2": 1, "4": 5},
    "C7b13": {"13": 20},
    "Csus4": {"3": 5, "4": 5, "2": 2},
    "Csus2": {"3": 2, "2": 2, "4": 5},
    "Cdim": {"5": 6, "2": 2, "4": 5},
}


def test_degrees_sound_as_worked_by_hand_in_twelve_keys() -> None:
    compared = 0
    for tonic in ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"):
        for symbol, wanted in DEGREES.items():
            chord = parse_chord(tonic + symbol[1:])
            for token, semitones in wanted.items():
                aim = parse_token(token)
                assert aim is not None
                assert aim_semitones(aim, chord, parse_key(tonic)) == semitones, (symbol, token)
                compared += 1
    assert compared == 12 * 31


def test_the_examples_of_the_table_are_tokens() -> None:
    examples = [token for row in TOKEN_TABLE for token in row.tokens.split()]
    struck = [token for token in examples if token not in ("-", ".", "_", "|")]
    assert all(parse_token(token) for token in struck) and len(struck) == 28
