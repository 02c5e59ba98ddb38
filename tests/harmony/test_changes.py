"""Names of chords in keys: handbook tables, all thirty keys, and the chorales' analyses.

Numerals: *Open Music Theory*, "Triads and seventh chords".  Numbers: T. de Clercq and teaching
handouts on the number system (1 2- 3- 4 5 6- 7°).  Spelling: seven letters in order, the
signature by the circle of fifths.  Chorales: music21's analyses against the bass part of the
scores.
"""

from typing import Any

import pytest
from msgspec.structs import replace
from music21 import chord as m21_chord
from music21 import corpus, pitch, roman
from music21 import key as m21_key

from groove.chart.degrees import parse_degree_chord
from groove.chart.parse import parse_chart
from groove.harmony.analysis import analyse
from groove.harmony.changes import (
    Function,
    Surroundings,
    change,
    home_pull,
)
from groove.harmony.numerals import degree_of, number_name, numeral
from groove.text.harmony import harmony_text
from groove.theory.chords import Chord, parse_chord
from groove.theory.keys import Key, Mode, parse_key
from groove.theory.pitch import SpelledPitch
from tests.harmony.analysts import analysed_chord
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
FAR_AND_NEAR = [KEYS[start + signs] for start in (0, 15) for signs in (0, 4, 7, 9, 14)]
"""Major and minor keys of 7 flats, 3, none, 2 sharps and 7: music21 takes long for one numeral."""


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


def sounds(chord: Chord) -> set[int]:
    return {tone.pitch_class for tone in chord.tones}


@pytest.mark.parametrize("key", FAR_AND_NEAR, ids=lambda key: key.name)
def test_every_secondary_dominant_both_ways(key: Key) -> None:
    # The notes by music21's numerals.  Common practice, no source: III and VII7 of a minor key
    # and a plain I are the key's own; the dominant that is itself aimed at is V in minor too.
    minor = key.mode is Mode.MINOR
    tonic = key.tonic.name.replace("b", "-")
    own = {"V/VI": "III", "V/III": "VII", "V7/III": "VII7"} if minor else {"V/IV": "I"}
    targets = ("III", "iv", "V", "VI", "VII") if minor else ("ii", "iii", "IV", "V", "vi")
    compared = 0
    for target in targets:
        goal = parse_degree_chord(target, key)
        for seventh in ("", "7"):
            name = f"V{seventh}/{target}"
            wanted = roman.RomanNumeral(name, m21_key.Key(tonic.lower() if minor else tonic))
            chord = parse_degree_chord(name, key)
            assert [t.name.replace("b", "-") for t in chord.tones] == [
                pitch.name for pitch in wanted.pitches
            ]
            before = parse_degree_chord("i" if minor else "I", key)
            told = change(chord, key, Surroundings(before, (goal,))).numeral
            assert told == own.get(name, name)
            assert sounds(parse_degree_chord(told, key)) == sounds(chord)
            compared += 1
    assert compared == 10


@pytest.mark.parametrize(
    ("key", "symbols", "numerals"),
    [
        # V/x where the dominant goes to x, its inversions by their figures; the plain degree where
        # it goes elsewhere (common practice, no source).
        ("E", "F#m7 F#7 B", "ii7 V7/V V"),
        ("E", "F#m7 F#7 Bsus4", "ii7 V7/V Vsus4"),
        ("E", "F#7 A", "II7 IV"),
        ("Eb", "F7/A Bb7", "V6/5/V V7"),
        ("Eb", "C7 Fm7", "V7/ii ii7"),
        ("G", "A7b9 D", "V7b9/V V"),
        ("G", "A/C# D", "V6/V V"),
        ("G", "A7/D D", "V7/V/5 V"),
        ("A minor", "B7 E7 Am", "V7/V V7 i"),
        ("A minor", "B7 Em Am", "V7/v v i"),
        ("A minor", "Am C7 F", "i V7/VI VI"),
        ("A", "A7 D7 A7 E7", "I7 IV7 I7 V7"),
    ],
)
def test_an_applied_dominant_is_named_where_it_goes_home(
    key: str, symbols: str, numerals: str
) -> None:
    assert [name for name, _ in named(key, symbols)] == numerals.split()
    for symbol, name in zip(symbols.split(), numerals.split(), strict=True):
        again = parse_degree_chord(name, parse_key(key))
        assert sounds(again) == sounds(parse_chord(symbol))
        assert again.bass_note.pitch_class == parse_chord(symbol).bass_note.pitch_class


def test_both_positions_of_a_dominant_lead_to_the_chord_after_them() -> None:
    song = parse_chart("key: C\nverse:\n| D7 | D7/F# | G | C |\n")
    found = [placed.change.numeral for placed in analyse(song).changes]
    assert found == ["V7/V", "V6/5/V", "V", "I"]


def test_the_pull_of_a_secondary_dominant_says_what_it_is_of() -> None:
    # Common practice, no source: A sharp is the leading note of B, E falls to its third.
    song = parse_chart("key: E\nverse:\n| F#m7 | F#7 | B7 | E |\n")
    told = harmony_text(analyse(song))
    assert "F♯7, V7/V, resolves to B: A♯ leads up to it, E falls to D♯\n" in told
    assert "B7 resolves to E: D♯ leads up to it, A falls to G♯\n" in told


@pytest.mark.parametrize(
    ("symbol", "key", "name", "number"),
    [
        # The letter names the degree (music21's scaleDegreeWithAlteration agrees, below).
        ("C°7", "A", "♭iii°7", "♭3°7"),
        ("Gb°7", "Eb", "♭iii°7", "♭3°7"),
        ("F#°7", "Eb", "♯ii°7", "♯2°7"),
        ("B#°7", "A", "♯ii°7", "♯2°7"),
        ("A°7", "Eb", "♯iv°7", "♯4°7"),
        ("C#7", "C", "♯I7", "♯17"),
        ("Db7", "C", "♭II7", "♭27"),
        ("A#°7", "C", "♯vi°7", "♯6°7"),
        ("Db", "A minor", "♭IV", "♭4"),
        # A note of the key keeps its plain degree, however it is spelled; so does the leading
        # note of a minor key under its diminished chord (common practice, no source).
        ("A#", "F", "IV", "4"),
        ("Fb", "C", "III", "3"),
        ("G#°7", "A minor", "vii°7", "♯7°7"),
        ("Gb", "A minor", "♯VI", "♯6"),
    ],
)
def test_degrees_follow_the_spelling(symbol: str, key: str, name: str, number: str) -> None:
    chord, there = parse_chord(symbol), parse_key(key)
    assert numeral(chord, there) == name
    assert number_name(chord, there) == number
    for text in (name, number):
        assert sounds(parse_degree_chord(text, there)) == sounds(chord)


def test_chromatic_degrees_are_music21s() -> None:
    compared = 0
    for tonic in MAJOR_TONICS[4:11]:
        key = parse_key(tonic)
        theirs: Any = m21_key.Key(tonic.replace("b", "-"))
        for fifths in (*range(-6, -1), *range(6, 11)):
            note = key.tonic.up(fifths)
            number, accidental = theirs.getScaleDegreeAndAccidentalFromPitch(
                pitch.Pitch(note.name.replace("b", "-"))
            )
            sign = {1: "♯", -1: "♭"}[int(accidental.alter)]
            assert degree_of(note, key) == (sign, number)
            compared += 1
    assert compared == 7 * 10


@pytest.mark.parametrize(
    ("symbol", "key", "name"),
    [
        # One rule (common practice, no source): figures where the bass is a tone of the chord,
        # a slash and a degree where it is not.
        ("Bm7/A", "A", "ii4/2"),
        ("A/C#", "A", "I6"),
        ("A/E", "A", "I6/4"),
        ("A/G#", "A", "I/7"),
        ("D/E", "A", "IV/5"),
        ("E/D", "A", "V/4"),
        ("Aadd9/C#", "A", "I(add9)/3"),
        ("Am6", "A minor", "i(add6)"),
        ("D6", "A", "IV(add6)"),
    ],
)
def test_figures_are_for_inversions_alone(symbol: str, key: str, name: str) -> None:
    chord = parse_chord(symbol)
    assert numeral(chord, parse_key(key)) == name
    again = parse_degree_chord(name, parse_key(key))
    assert (sounds(again), again.bass_note) == (sounds(chord), chord.bass_note)


def test_inversions_have_the_figures_of_music21() -> None:
    compared = 0
    for tonic in MAJOR_TONICS[4:11:3]:
        key, theirs = parse_key(tonic), m21_key.Key(tonic.replace("b", "-"))
        for names in TABLE[Mode.MAJOR]:
            for name in names:
                chord = parse_degree_chord(name, key)
                for bass in chord.tones[1:]:
                    turned = replace(chord, bass=bass)
                    upper = [t.name.replace("b", "-") for t in chord.tones if t != bass]
                    sounding = [f"{bass.name.replace('b', '-')}2", *(f"{n}4" for n in upper)]
                    found = roman.romanNumeralFromChord(m21_chord.Chord(sounding), theirs)
                    ours = numeral(turned, key).replace("maj", "").replace("/", "")
                    assert ours.replace("42", "2") == found.figure.replace("o", "°").replace(
                        "42", "2"
                    ), (name, bass.name)
                    compared += 1
    assert compared == 3 * (7 * 2 + 7 * 3)


@pytest.mark.parametrize(
    ("name", "key", "pitches", "bass"),
    [
        # Figures of *Open Music Theory*, "Generating Roman numerals", spelled with music21.
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
        # Spelled by music21: its ``71f-AllChordTypes.xml``.
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
    song = parse_chart(f"key: {key}\nverse:\n| {' | '.join(symbols.split())} |\n")
    return [(p.change.numeral, p.change.function_text) for p in analyse(song).changes]


@pytest.mark.parametrize(
    ("key", "symbols", "numerals"),
    [
        # twelve-bar blues: R. Hutchinson, 12.4; the others: common practice, no source
        ("A", "A7 D7 A7 E7 D7 A7", "I7 IV7 I7 V7 IV7 I7"),
        ("C", "Dm7 G7 Cmaj7", "ii7 V7 Imaj7"),
        ("C", "C G Am F", "I V vi IV"),
        ("A minor", "Am G F E", "i VII VI V"),
        ("C", "E7 A7 D7 G7", "V7/vi V7/ii V7/V V7"),
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
    dominant = parse_chord(key.tonic.up(1).name + "7")
    tonic = parse_chord(key.tonic.name + ("m" if key.mode is Mode.MINOR else ""))
    pull = home_pull(dominant, tonic)
    assert pull
    assert (key.tonic.pitch_class - pull.leading_note.pitch_class) % 12 == 1
    assert pull.leading_note.letter != key.tonic.letter
    assert pull.seventh == SpelledPitch(key.tonic.fifths - 1)
    assert pull.seventh_goal == tonic.tones[1]
    assert change(dominant, key, Surroundings(None, (tonic,))).function is Function.DOMINANT


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
    aligned = [analysis for analysis in analyses() if analysis.bwv not in NOT_ALIGNED]
    # The scores of every second one: music21 takes long to read them.
    for analysis in aligned[::2]:
        bass = list(corpus.parse(f"bach/bwv{analysis.bwv}").parts[-1].flatten().notes)
        for n in analysis.numerals:
            sounding = [x for x in bass if x.offset <= n.offset < x.offset + x.quarterLength]
            if not sounding:
                continue
            compared += 1
            chord = analysed_chord(n.figure, n.key)
            right += chord.bass_note.pitch_class == sounding[0].pitch.pitchClass
    assert compared == 532
    assert right >= 0.97 * 532
