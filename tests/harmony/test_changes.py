"""Names of chords in keys: handbook tables, all thirty keys, and the chorales' analyses.

Numerals: *Open Music Theory*, "Triads and seventh chords".  Numbers: T. de Clercq and teaching
handouts (shared reference 4.4).  Spelling: seven letters in order, the signature by the circle of
fifths.  Chorales: music21's analyses against the bass part of the scores.
"""

import pytest
from music21 import corpus

from groove.chart.degrees import parse_degree_chord
from groove.harmony.changes import (
    Function,
    applied_name,
    change,
    dominant_of,
    home_pull,
    number_name,
    numeral,
)
from groove.harmony.numerals import analysed_chord
from groove.theory.chords import Chord, parse_chord
from groove.theory.keys import Key, Mode, parse_key
from groove.theory.pitch import SpelledPitch
from tests.harmony.chorales import NOT_ALIGNED, analyses

MAJOR_TONICS = ["Cb", "Gb", "Db", "Ab", "Eb", "Bb", "F", "C", "G", "D", "A", "E", "B", "F#", "C#"]
MINOR_TONICS = ["Ab", "Eb", "Bb", "F", "C", "G", "D", "A", "E", "B", "F#", "C#", "G#", "D#", "A#"]
SHARPS = "FCGDAEB"
TABLE = {
    Mode.MAJOR: (
        ("I", "ii", "iii", "IV", "V", "vi", "vii°"),
        ("Imaj7", "ii7", "iii7", "IVmaj7", "V7", "vi7", "viiø7"),
    ),
    Mode.MINOR: (
        ("i", "ii°", "III", "iv", "v", "VI", "VII"),
        ("i7", "iiø7", "IIImaj7", "iv7", "v7", "VImaj7", "VII7"),
    ),
}
KEYS = [Key(parse_key(t).tonic, Mode.MAJOR) for t in MAJOR_TONICS]
KEYS += [Key(parse_key(t).tonic, Mode.MINOR) for t in MINOR_TONICS]


def spelled_scale(key: Key) -> list[str]:
    """The scale by letters and signature alone: -7 to 7 signs, in the order in which they come."""
    if key.mode is Mode.MAJOR:
        signs = MAJOR_TONICS.index(key.tonic.name) - 7
    else:
        signs = MINOR_TONICS.index(key.tonic.name) - 7
    marked = {
        **{letter: "#" for letter in SHARPS[: max(0, signs)]},
        **{letter: "b" for letter in SHARPS[::-1][: max(0, -signs)]},
    }
    start = "CDEFGAB".index(key.tonic.letter)
    letters = ("CDEFGAB" * 2)[start : start + 7]
    return [letter + marked.get(letter, "") for letter in letters]


@pytest.mark.parametrize("key", KEYS, ids=lambda key: key.name)
def test_diatonic_chords_in_thirty_keys_both_ways(key: Key) -> None:
    scale = spelled_scale(key)
    compared = 0
    for size, names in zip((3, 4), TABLE[key.mode], strict=True):
        for degree, name in enumerate(names):
            chord = parse_degree_chord(name, key)
            wanted = [(scale * 2)[degree + 2 * step] for step in range(size)]
            assert [tone.name for tone in chord.tones] == wanted
            assert numeral(chord, key) == name
            assert parse_degree_chord(number_name(chord, key), key).tones == chord.tones
            compared += 1
    assert compared == 14


@pytest.mark.parametrize("key", KEYS, ids=lambda key: key.name)
def test_every_secondary_dominant_both_ways(key: Key) -> None:
    targets = [name for name in TABLE[key.mode][0] if "°" not in name]
    compared = 0
    for target in targets:
        goal = parse_degree_chord(target, key)
        for seventh in ("", "7"):
            name = f"V{seventh}/{target}"
            chord = parse_degree_chord(name, key)
            # Common practice, no source: a major triad a fifth above, its third the leading note.
            assert chord.root == goal.root.up(1)
            assert chord.tones[1] == goal.root.up(5)
            assert applied_name(chord, key) == name
            again = parse_degree_chord(numeral(chord, key), key)
            assert {t.pitch_class for t in again.tones} == {t.pitch_class for t in chord.tones}
            compared += 1
    assert compared == 12


@pytest.mark.parametrize(
    ("name", "key", "pitches", "bass"),
    [
        # shared reference 4.3, computed with music21
        ("V7", "C", "G B D F", "G"),
        ("V6/5", "C", "G B D F", "B"),
        ("V4/2", "C", "G B D F", "F"),
        ("V7/V", "C", "D F# A C", "D"),
        ("V7/IV", "C", "C E G Bb", "C"),
        ("vii°7", "C minor", "B D F Ab", "B"),
        ("♭VI", "C", "Ab C Eb", "Ab"),
        ("♭VII", "C", "Bb D F", "Bb"),
        ("iv", "C", "F Ab C", "F"),
        ("♭II6", "C", "Db F Ab", "F"),
        ("I6/4", "C", "C E G", "G"),
        ("ii", "Eb", "F Ab C", "F"),
        ("IV", "F#", "B D# F#", "B"),
        ("vi", "G", "E G B", "E"),
    ],
)
def test_figures_spelled_and_named_again(name: str, key: str, pitches: str, bass: str) -> None:
    chord = analysed_chord(name, parse_key(key))
    assert " ".join(tone.name for tone in chord.tones) == pitches
    assert chord.bass_note.name == bass
    if "/V" not in name and "/I" not in name:
        assert numeral(chord, parse_key(key)) == name


@pytest.mark.parametrize(
    ("symbol", "tones"),
    [
        # shared reference 4.2, spelled by music21
        ("C°7", "C Eb Gb Bbb"),
        ("Cø7", "C Eb Gb Bb"),
        ("C7+", "C E G# Bb"),
        ("C13", "C E G Bb D F A"),
        ("B9", "B D# F# A C#"),
        ("Gbm11", "Gb Bbb Db Fb Ab Cb"),
        ("C#13", "C# E# G# B D# F# A#"),
    ],
)
def test_spelled_examples(symbol: str, tones: str) -> None:
    assert " ".join(tone.name for tone in parse_chord(symbol).tones) == tones


@pytest.mark.parametrize(
    ("key", "symbols", "numbers"),
    [
        ("C", "C Dm Em F G Am B°", "1 2- 3- 4 5 6- 7°"),
        ("G", "G C D G", "1 4 5 1"),
        ("D", "G A Bm D A/C#", "4 5 6- 1 5/7"),
    ],
)
def test_numbers_of_the_handouts(key: str, symbols: str, numbers: str) -> None:
    found = [number_name(parse_chord(symbol), parse_key(key)) for symbol in symbols.split()]
    assert found == numbers.split()


def named(key: str, symbols: str) -> list[tuple[str, str]]:
    chords: list[Chord | None] = [parse_chord(symbol) for symbol in symbols.split()]
    around = [None, *chords, None]
    rows = []
    for n, chord in enumerate(chords):
        assert chord
        found = change(chord, parse_key(key), around[n], around[n + 2])
        rows.append((found.numeral, found.function_text))
    return rows


@pytest.mark.parametrize(
    ("key", "symbols", "numerals"),
    [
        # twelve-bar blues: R. Hutchinson, 12.4; the others: common practice, no source
        ("A", "A7 D7 A7 E7 D7 A7", "I7 IV7 I7 V7 IV7 I7"),
        ("C", "Dm7 G7 Cmaj7", "ii7 V7 Imaj7"),
        ("C", "C G Am F", "I V vi IV"),
        ("A minor", "Am G F E", "i VII VI V"),
        ("C", "E7 A7 D7 G7", "III7 VI7 II7 V7"),
    ],
)
def test_progressions_as_handbooks_print_them(key: str, symbols: str, numerals: str) -> None:
    assert [name for name, _ in named(key, symbols)] == numerals.split()


@pytest.mark.parametrize(
    ("key", "symbols", "functions"),
    [
        # common practice, no source
        ("A", "A7 D7 E7 A7", ["tonic", "subdominant", "dominant", "tonic"]),
        (
            "C",
            "E7 A7 D7 G7 C",
            [
                "secondary dominant of vi",
                "secondary dominant of ii",
                "secondary dominant of V",
                "dominant",
                "tonic",
            ],
        ),
        (
            "C",
            "C C#°7 Dm7 Db7 C",
            [
                "tonic",
                "passing diminished to ii",
                "subdominant",
                "tritone substitute of V",
                "tonic",
            ],
        ),
        ("C", "Fm Bb C", ["borrowed from C minor", "borrowed from C minor", "tonic"]),
        ("A minor", "Dm E7 Am D", ["subdominant", "dominant", "tonic", "borrowed from A major"]),
        ("C", "C C7 F", ["tonic", "secondary dominant of IV", "subdominant"]),
    ],
)
def test_functions(key: str, symbols: str, functions: list[str]) -> None:
    assert [function for _, function in named(key, symbols)] == functions


@pytest.mark.parametrize("key", KEYS, ids=lambda key: key.name)
def test_the_dominant_pulls_home(key: Key) -> None:
    # Common practice, no source: major in minor keys too; its third is the leading note, and its
    # seventh falls to the third of the tonic.
    dominant = dominant_of(key)
    tonic = parse_chord(key.tonic.name + ("m" if key.mode is Mode.MINOR else ""))
    pull = home_pull(dominant, tonic)
    assert pull
    assert (key.tonic.pitch_class - pull.leading_note.pitch_class) % 12 == 1
    assert pull.leading_note.letter != key.tonic.letter
    assert pull.seventh == SpelledPitch(key.tonic.fifths - 1)
    assert pull.seventh_goal == tonic.tones[1]
    assert change(dominant, key, None, tonic).function is Function.DOMINANT


def test_the_relative_major_lies_a_minor_third_up() -> None:
    # Common practice, no source.
    minors = KEYS[15:]
    assert len(minors) == 15
    for key in minors:
        third = parse_degree_chord("III", key).root
        assert (third.pitch_class - key.tonic.pitch_class) % 12 == 3
        assert Key(third, Mode.MAJOR).signature_fifths == key.signature_fifths


def test_numerals_give_the_bass_that_the_chorales_sing() -> None:
    compared = right = 0
    for analysis in analyses():
        if analysis.bwv in NOT_ALIGNED:
            continue
        bass = list(corpus.parse(f"bach/bwv{analysis.bwv}").parts[-1].flatten().notes)
        for n in analysis.numerals:
            sounding = [x for x in bass if x.offset <= n.offset < x.offset + x.quarterLength]
            if not sounding:
                continue
            compared += 1
            chord = analysed_chord(n.figure, n.key)
            right += chord.bass_note.pitch_class == sounding[0].pitch.pitchClass
    assert compared == 959
    assert right >= 0.97 * 959
