"""Scale degrees as chords: Roman numerals and the number system, as printed and by music21."""

import tomllib
from pathlib import Path

import pytest
from music21 import roman as judge_roman

from groove.chart.degrees import number_of, parse_degree_chord
from groove.theory.chords import parse_chord
from groove.theory.keys import Key, parse_key
from groove.theory.pitch import parse_note
from tests.theory.test_key_names import THIRTY

TABLES = Path(__file__).parents[2] / "shared/tables"
NUMERALS = tomllib.loads((TABLES / "numerals.toml").read_text(encoding="utf-8"))
NUMBERS = tomllib.loads((TABLES / "number_system.toml").read_text(encoding="utf-8"))


def names(figure: str, key: str) -> set[str]:
    """Return the spelled tones of a degree in a key."""
    return {tone.pretty for tone in parse_degree_chord(figure, parse_key(key)).tones}


@pytest.mark.parametrize("row", NUMERALS["worked"], ids=lambda row: f"{row['figure']}-{row['key']}")
def test_a_worked_numeral_has_its_pitches_and_bass(row: dict[str, str]) -> None:
    assert names(row["figure"], row["key"]) == set(row["pitches"].split())
    chord = parse_degree_chord(row["figure"], parse_key(row["key"]))
    assert chord.bass_note.pretty == row.get("bass", chord.root.pretty)


def test_there_are_fourteen_worked_numerals() -> None:
    assert len(NUMERALS["worked"]) == 14


def scale_tones(key: Key, degree: int, count: int) -> set[str]:
    """Return a chord in thirds on a degree of a key's own scale."""
    return {key.scale[(degree - 1 + 2 * step) % 7].pretty for step in range(count)}


@pytest.mark.parametrize("mode", ["major", "minor"])
def test_the_scale_triads_are_those_printed(mode: str) -> None:
    compared = 0
    for tonic in [tonic for tonic, own in THIRTY if own == mode]:
        key = parse_key(f"{tonic} {mode}")
        for degree, numeral in enumerate(NUMERALS["triads"][mode], start=1):
            assert names(numeral, key.name) == scale_tones(key, degree, 3), (numeral, key.name)
            compared += 1
    assert compared == 7 * 15


def test_the_harmonic_minor_triads_have_the_leading_note() -> None:
    expected = {"V": "E G♯ B", "vii°": "G♯ B D", "III+": "C E G♯"}
    assert set(expected) == set(NUMERALS["triads"]["harmonic_minor"])
    for numeral, tones in expected.items():
        assert names(numeral, "A minor") == set(tones.split())


@pytest.mark.parametrize("mode", ["major", "minor"])
def test_the_sevenths_are_those_printed(mode: str) -> None:
    for numeral, quality in NUMERALS["sevenths"][mode].items():
        sign = {"m7": "7", "dim7": "°7"}.get(quality, quality)
        chord = parse_degree_chord(numeral + sign, parse_key(f"C {mode}"))
        assert chord.pitch_classes == parse_chord(chord.root.name + quality).pitch_classes
    assert len(NUMERALS["sevenths"][mode]) >= 7


@pytest.mark.parametrize("figure", sorted(set(NUMERALS["figures"]) - {"source", "5/3"}))
def test_a_figure_puts_the_root_where_the_book_has_it(figure: str) -> None:
    above = NUMERALS["figures"][figure]
    letters = "CDEFGAB"
    for numeral in ("I", "ii", "IV", "V"):
        chord = parse_degree_chord(numeral + figure, parse_key("C"))
        step = letters.index(chord.root.letter) - letters.index(chord.bass_note.letter)
        assert step % 7 + 1 == above


def test_bass_degree_and_figure_give_the_numeral() -> None:
    key = parse_key("C")
    for row in NUMERALS["figured"]:
        numeral = row["numeral"] if row["numeral"] != "II" else "ii"
        chord = parse_degree_chord(numeral + row["figure"], key)
        assert chord.bass_note == key.scale[row["bass"] - 1]
    assert len(NUMERALS["figured"]) == 4


FIGURES = ["V7", "V6/5", "V4/3", "V4/2", "V7/V", "V6/5/V", "viio7", "viio6/5", "I6", "I6/4"]
MAJOR_FIGURES = [*FIGURES, "ii7", "ii6/5", "iii", "IV", "vi7", "viiø7", "V7/ii", "V7/vi", "bVI"]
MAJOR_FIGURES += ["bVII", "iv", "bII6", "bIII", "viio7/V", "V4/3/IV", "viiø6/5", "ii4/2"]
MINOR_FIGURES = ["V7", "V6/5", "V4/2", "i6", "i6/4", "iiø7", "iiø6/5", "iio6", "III", "iv7"]
MINOR_FIGURES += ["VI", "VII", "v", "viio7", "V7/III", "V7/V", "V7/iv", "viio7/V", "V7/VII"]


@pytest.mark.parametrize("mode", ["major", "minor"])
def test_numerals_are_those_of_music21_in_every_key(mode: str) -> None:
    """In the first key all figures, in each of the others every fourth, by turns."""
    compared = set()
    figures = MAJOR_FIGURES if mode == "major" else MINOR_FIGURES
    tonics = [tonic for tonic, own in THIRTY if own == mode]
    for number, tonic in enumerate(tonics):
        name = tonic.replace("b", "-")
        for figure in figures[number % 4 :: 4] if number else figures:
            # music21 writes 65 for 6/5, and a slash for "of" alone.
            theirs = figure
            for stacked in ("6/5", "6/4", "4/3", "4/2"):
                theirs = theirs.replace(stacked, stacked.replace("/", ""))
            judge = judge_roman.RomanNumeral(theirs, name if mode == "major" else name.lower())
            chord = parse_degree_chord(figure, parse_key(f"{tonic} {mode}"))
            assert chord.pitch_classes == {p.pitchClass for p in judge.pitches}, (figure, tonic)
            assert chord.bass_note.pitch_class == judge.bass().pitchClass, (figure, tonic)
            compared.add((figure, tonic))
    assert len(compared) >= 4 * len(figures) and len(tonics) == 15
    assert {tonic for _, tonic in compared} == set(tonics)


def test_figures_without_a_slash_are_inversions_too() -> None:
    key = parse_key("C")
    for plain, stacked in (("V65", "V6/5"), ("V43", "V4/3"), ("V42", "V4/2"), ("I64", "I6/4")):
        assert parse_degree_chord(plain, key) == parse_degree_chord(stacked, key)


@pytest.mark.parametrize("row", NUMBERS["chart"], ids=lambda row: f"{row['key']}-{row['numbers']}")
def test_numbers_are_the_chords_printed(row: dict[str, str]) -> None:
    key = parse_key(row["key"])
    pairs = list(zip(row["numbers"].split(), row["chords"].split(), strict=True))
    for number, symbol in pairs:
        chord, judge = parse_degree_chord(number, key), parse_chord(symbol)
        assert (chord.root, chord.bass_note) == (judge.root, judge.bass_note)
        assert chord.tones == judge.tones
    assert pairs


@pytest.mark.parametrize(
    ("number", "key", "symbol"),
    [
        # Design: 57 is 5 with a seventh; after the slash the bass degree.
        ("57", "C", "G7"),
        ("5/7", "C", "G/B"),
        ("57/7", "C", "G7/B"),
        ("17/3", "G", "G7/B"),
        ("6-7", "C", "Am7"),
        ("4maj7", "C", "Fmaj7"),
        ("16/9", "C", "C6/9"),
        ("16/9/3", "C", "C6/9/E"),
        ("#4°", "C", "F#°"),
        ("b7", "C", "Bb"),
        ("♭7/1", "C", "Bb/C"),
        ("b7/b3", "C", "Bb/Eb"),
        ("5sus4", "C", "Gsus4"),
        # Degrees are those of the key's own scale.
        ("1", "B minor", "Bm"),
        ("3", "B minor", "D"),
        ("2", "B minor", "C#°"),
        ("5", "B minor", "F#m"),
        ("57", "B minor", "F#7"),
        ("7", "B minor", "A"),
        ("1/3", "B minor", "Bm/D"),
        ("1", "D dorian", "Dm"),
        ("4", "D dorian", "G"),
        ("7", "G mixolydian", "F"),
        ("1", "C lydian", "C"),
        # A numeral after the slash is "of", a sign names a degree that is low already.
        ("V7/V", "C", "D7"),
        ("V/ii", "C", "A"),
        ("V7/V/V", "C", "A7"),
        ("♭VII", "C minor", "Bb"),
        ("bVI", "A minor", "F"),
        ("VII", "A minor", "G"),
        ("bVII", "G mixolydian", "F"),
        ("bII", "E phrygian", "F"),
        ("#IV°", "F lydian", "B°"),
        ("vii°7", "A minor", "G#°7"),
        ("IV/5", "C", "F/G"),
        ("Imaj7/3", "C", "Cmaj7/E"),
        ("Vsus4", "C", "Gsus4"),
        ("iv6", "C", "Fm/Ab"),
        ("I6/9", "C", "C6/9"),
        ("Imaj4/3", "C", "Cmaj7/G"),
    ],
)
def test_a_degree_is_this_chord(number: str, key: str, symbol: str) -> None:
    chord, judge = parse_degree_chord(number, parse_key(key)), parse_chord(symbol)
    assert (chord.root, chord.bass_note) == (judge.root, judge.bass_note)
    assert set(chord.tones) == set(judge.tones)


NO_DEGREES = (
    "0 8 9 D Dm7 H VIII IIII iV 1/ 5/8 V7/ /V b x1 V/x I4/2x V7/VIII ii6/5/ 1m7b5x V°sus26/4"
)


@pytest.mark.parametrize("text", [*NO_DEGREES.split(), "", "V/" * 40 + "V", "1" * 60])
def test_what_is_no_degree_is_refused(text: str) -> None:
    with pytest.raises(ValueError):
        parse_degree_chord(text, parse_key("C"))


def test_a_number_names_a_note_in_a_key() -> None:
    compared = 0
    for tonic, mode in THIRTY:
        key = parse_key(f"{tonic} {mode}")
        for note in ("C", "D", "E", "F", "G", "A", "B", "F#", "Bb"):
            number = number_of(parse_note(note), key)
            alter = number.count("#") - number.count("b")
            assert key.degree(int(number[-1]), alter) == parse_note(note)
            compared += 1
    assert compared == 270
