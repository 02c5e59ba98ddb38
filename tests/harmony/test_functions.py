"""What chords do where they stand: common forms worked bar by bar, and music21's numerals.

The forms are worked by hand from common practice, no source, but for the twelve bars of R.
Hutchinson, *Music Theory for the 21st-Century Classroom*, 12.4.  A numeral stands under every bar.
"""

import pytest
from msgspec.structs import replace
from music21 import chord as m21_chord
from music21 import key as m21_key
from music21 import roman

from groove.chart.degrees import parse_degree_chord
from groove.chart.parse import parse_chart
from groove.harmony.analysis import analyse
from groove.harmony.changes import Surroundings, change
from groove.theory.chords import parse_chord
from groove.theory.keys import parse_key

FORMS = {
    "twelve bars (Hutchinson 12.4), in A": (
        "A",
        "A7 | A7 | A7 | A7 | D7 | D7 | A7 | A7 | E7 | D7 | A7 | A7",
        "I7 | I7 | I7 | I7 | IV7 | IV7 | I7 | I7 | V7 | IV7 | I7 | I7",
    ),
    "quick change, in Bb": (
        "Bb",
        "Bb7 | Eb9 | Bb7 | Bb7/D | Eb9 | Eb9 | Bb7 | Bb7 | F9 | Eb9 | Bb7 Eb7 | Bb7 F7",
        "I7 | IV9 | I7 | I6/5 | IV9 | IV9 | I7 | I7 | V9 | IV9 | I7 IV7 | I7 V7",
    ),
    "jazz blues, in F": (
        "F",
        "F7 | Bb7 | F7 | Cm7 F7 | Bb7 | B°7 | F7 | Am7b5 D7 | Gm7 | C7 | F7 D7 | Gm7 C7",
        "I7 | IV7 | I7 | ii7/IV V7/IV | IV7 | ♯iv°7 | I7 | iiø7/ii V7/ii | ii7 | V7 "
        "| I7 V7/ii | ii7 V7",
    ),
    "minor blues, in C minor": (
        "C minor",
        "Cm7 | Cm7 | Cm7 | C7 | Fm7 | Fm7 | Cm7 | Cm7 | Ab7 | G7 | Cm7 | Dm7b5 G7",
        "i7 | i7 | i7 | V7/iv | iv7 | iv7 | i7 | i7 | VI7 | V7 | i7 | iiø7 V7",
    ),
    "eight bars with triads, in E": (
        "E",
        "E | E7 | A | Am6 | E/B C#7 | F#7 B7 | E | B7",
        "I | V7/IV | IV | iv(add6) | I6/4 V7/ii | V7/V V7 | I | V7",
    ),
    "first eight of a thirty-two-bar song, in B flat": (
        "Bb",
        "Bbmaj7 G7 | Cm7 F7 | Bbmaj7 | Fm7 Bb7 | Ebmaj7 | Ebm7 Ab7 | Bb6 G7 | Cm7 F7",
        "Imaj7 V7/ii | ii7 V7 | Imaj7 | ii7/IV V7/IV | IVmaj7 | iv7 ♭VII7 | I(add6) V7/ii | ii7 V7",
    ),
    "the bridge of dominants, in B flat": (
        "Bb",
        "D7 | D7 | G7 | G7 | C7 | C7 | F7 | F7 | Bb",
        "V7/vi | V7/vi | V7/ii | V7/ii | V7/V | V7/V | V7 | V7 | I",
    ),
    "the bridge to IV and V, in C": (
        "C",
        "Gm7 | C7 | Fmaj7 | Fmaj7 | Am7 | D7 | Dm7 | G7 | Cmaj7",
        "ii7/IV | V7/IV | IVmaj7 | IVmaj7 | vi7 | V7/V | ii7 | V7 | Imaj7",
    ),
    "minor ii-V's, in A minor": (
        "A minor",
        "Bm7b5 | E7 | Am | Am/G | F#m7b5 B7 | E7 | Gm7 C7 | F",
        "iiø7 | V7 | i | i/7 | iiø7/V V7/V | V7 | ii7/VI V7/VI | VI",
    ),
    "tritone substitutes, in B flat": (
        "Bb",
        "Bbmaj7 | Db7 | Cm7 | B7 | Bbmaj7 | Ab7 | Gm7 | E7 | Ebmaj7 | Gb7 | F7 | Bb6",
        "Imaj7 | ♭III7 | ii7 | ♭II7 | Imaj7 | ♭VII7 | vi7 | ♭V7 | IVmaj7 | ♭VI7 | V7 | I(add6)",
    ),
    "goals over holds, slash chords and a chord in between, in C": (
        "C",
        "C | A7 | N.C. | Dm7 | D7 | C/D | G | E7 | Bm7b5 | E7/G# | Am | A7 | F | Dm | B7 | C | Em",
        "I | V7/ii | N.C. | ii7 | V7/V | I/2 | V | V7/vi | iiø7/vi | V6/5/vi | vi | V7/ii | IV "
        "| ii | V7/iii | I | iii",
    ),
    "the seventh in the bass, in C": (
        "C",
        "C | C7/Bb | F/A | Fm/Ab | C/G | D7/F# | G | C",
        "I | V4/2/IV | IV6 | iv6 | I6/4 | V6/5/V | V | I",
    ),
}
"""Name: key, bars, numerals."""


@pytest.mark.parametrize("form", FORMS)
def test_forms_worked_bar_by_bar(form: str) -> None:
    key, bars, wanted = FORMS[form]
    song = parse_chart(f"key: {key}\nverse:\n| {bars} |\n")
    rows: dict[int, list[str]] = {}
    for placed in analyse(song).changes:
        rows.setdefault(placed.bar.ref.played_bar, []).append(placed.change.numeral)
    assert [" ".join(row) for row in rows.values()] == wanted.split(" | ")


def test_there_are_enough_worked_bars() -> None:
    assert sum(len(bars.split(" | ")) for _, bars, _ in FORMS.values()) >= 120


@pytest.mark.parametrize(
    ("key", "bars", "told"),
    [
        # Common practice, no source: what a chord does, in words.
        ("Bb", "Fm7 Bb7 Ebmaj7", "subdominant of IV; secondary dominant of IV; subdominant"),
        ("Bb", "B7 Bbmaj7", "tritone substitute of V; tonic"),
        ("Bb", "Db7 Cm7", "tritone substitute of V/ii; subdominant"),
        ("C", "F/G C", "dominant; tonic"),
        ("C", "Dm7/G C", "dominant; tonic"),
        ("C", "F F#°7 C/G", "subdominant; passing diminished to I; tonic"),
        ("C", "F7 F#°7 C7", "subdominant; passing diminished to I; tonic"),
        ("C", "Eb7 Ab C", "secondary dominant of ♭VI; borrowed from C minor; tonic"),
        ("C", "C F7 Bb C", "tonic; secondary dominant of ♭VII; borrowed from C minor; tonic"),
        ("C", "C7 F7 Bb7 C7", "tonic; subdominant; borrowed from C minor; tonic"),
        ("C", "Em Eb°7 Dm/A", "tonic; passing diminished to ii; subdominant"),
        ("C", "C F#°7 C/G", "tonic; passing diminished to I; tonic"),
        ("D mixolydian", "D C G D", "tonic; dominant; subdominant; tonic"),
        ("A minor", "Am C#5 E7", "tonic; borrowed from A major; dominant"),
        ("E", "E5 G5 A5 E5", "tonic; borrowed from E minor; subdominant; tonic"),
        ("C", "C F7 Em7 C", "tonic; tritone substitute of V/iii; tonic; tonic"),
        ("C", "C7 F7 Em7 C7", "tonic; subdominant; tonic; tonic"),
    ],
)
def test_functions_in_words(key: str, bars: str, told: str) -> None:
    song = parse_chart(f"key: {key}\nverse:\n| {' | '.join(bars.split())} |\n")
    assert "; ".join(p.change.function_text for p in analyse(song).changes) == told


@pytest.mark.parametrize(
    ("key", "bars", "numerals"),
    [
        # Common practice, no source: one chord in between and no more; I and IV at once; a triad at
        # once.
        ("C", "C A7 F G Dm", "I VI7 IV V ii"),
        ("C", "C A7 F Dm G", "I V7/ii IV ii V"),
        ("C", "C D7 C/D Am G", "I V7/V I/2 vi V"),
        ("C", "C E G F C", "I III V IV I"),
        ("C", "C C7 C7/E F7 C7 C7 C7", "I V7/IV V6/5/IV IV7 I7 I7 I7"),
        ("Bb", "Bb7 Ebmaj7 Bb7 Bb7", "V7/IV IVmaj7 I7 I7"),
        ("Bb", "Bb7/D Eb Bb7 Bb7", "V6/5/IV IV I7 I7"),
        ("C", "C7/Bb F/A C7 C7", "V4/2/IV IV6 I7 I7"),
        ("C", "C F#m7b5 B7 C", "I ♯ivø7 VII7 I"),
        ("C", "C G7 Gbmaj7 C", "I V7 ♭Vmaj7 I"),
        ("C", "Cmaj7 C7 F7 C7 C7 C7", "Imaj7 V7/IV IV7 I7 I7 I7"),
        ("C", "C D F G C", "I II IV V I"),
        ("C", "Cmaj7 C7 C7/Bb F/A C", "Imaj7 V7/IV V4/2/IV IV6 I"),
        ("C", "C Bm7b5 E7 F C", "I viiø7 III7 IV I"),
    ],
)
def test_how_far_a_goal_is_looked_for(key: str, bars: str, numerals: str) -> None:
    song = parse_chart(f"key: {key}\nverse:\n| {' | '.join(bars.split())} |\n")
    assert " ".join(p.change.numeral for p in analyse(song).changes) == numerals


def test_a_sixth_chord_and_a_first_inversion_have_two_names() -> None:
    # One way, stated in the module: the added sixth in brackets, the figure for the inversion.
    found = analyse(parse_chart("key: A\nverse:\n| A6 | A/C# | Dm6 | Dm/F |\n")).changes
    assert [p.change.numeral for p in found] == ["I(add6)", "I6", "iv(add6)", "iv6"]


def test_a_song_at_home_on_a_seventh_goes_to_four_as_a_blues_does() -> None:
    """A7 and D: at home where the song rests on a seventh, on the way where it does not."""
    blues = "key: A\nverse:\n| A7 | D | A7 | A7 | E7 | D | A7 | A7 |\n"
    plain = "key: A\nverse:\n| A | A | E | A |\nbridge:\n| E | A7 | D | E |\nend:\n| A | A |\n"
    assert analyse(parse_chart(blues)).changes[0].change.numeral == "I7"
    assert analyse(parse_chart(plain)).changes[5].change.numeral == "V7/IV"


def test_a_blues_is_at_home_in_a_song_of_another_kind() -> None:
    solo = "A7 | A7 | A7 | A7 | D7 | D7 | A7 | A7 | E7 | D7 | A7 | E7"
    text = (
        f"key: A\nverse:\n| A | A | D | E | A | A | D | E |\n| A | A | A | A |\nsolo:\n| {solo} |\n"
    )
    found = analyse(parse_chart(f"{text}form: verse x2, solo, verse\n")).changes
    played = [p.change.numeral for p in found if p.bar.ref.section == "solo"]
    assert played == ["I7", "I7", "I7", "I7", "IV7", "IV7", "I7", "I7", "V7", "IV7", "I7", "V7"]


def test_secondary_dominants_and_their_inversions_are_music21s() -> None:
    """V7 of every degree that may have one, in root position and inverted, before its goal."""
    compared = 0
    for tonic in ("A", "Ab"):
        key, theirs = parse_key(tonic), m21_key.Key(tonic.replace("b", "-"))
        home = parse_chord(tonic)
        for target in ("ii", "iii", "IV", "V", "vi"):
            chord = parse_degree_chord(f"V7/{target}", key)
            goal = parse_degree_chord(target, key)
            for bass in (None, *chord.tones[1:]):
                turned = replace(chord, bass=bass)
                names = [tone.name.replace("b", "-") for tone in chord.tones if tone != bass]
                low = (bass or chord.root).name.replace("b", "-")
                sounding = m21_chord.Chord([f"{low}2", *(f"{name}4" for name in names)])
                wanted = roman.romanNumeralFromChord(
                    sounding, theirs, preferSecondaryDominants=True
                )
                told = change(turned, key, Surroundings(home, (goal,))).numeral
                figures = told.replace("6/5", "65").replace("4/3", "43").replace("4/2", "42")
                assert figures == wanted.figure.replace("V2/", "V42/"), (tonic, target, bass)
                compared += 1
    assert compared == 2 * 5 * 4
