"""Chord symbols against mir_eval and music21, row by row, symbol by symbol."""

import tomllib
import warnings
from itertools import product
from pathlib import Path
from typing import Any

import music21
import pytest
from music21 import converter, harmony

from groove.theory.chords import QUALITIES, Chord, parse_chord
from groove.theory.pitch import parse_note
from tests.mir_judge import chord as chord_judge

TABLE = tomllib.loads(
    (Path(__file__).parents[2] / "shared/tables/chord_qualities.toml").read_text(encoding="utf-8")
)
ROWS = TABLE["quality"]
ROOTS = ["C", "C#", "Db", "D", "D#", "Eb", "E", "F", "F#", "Gb", "G", "G#", "Ab", "A", "A#", "Bb"]
ROOTS += ["B"]
"""The twelve keys of the piano, the black ones in both spellings."""

MUSIC21 = Path(music21.__file__).parent
ALL_KINDS = MUSIC21 / "musicxml/lilypondTestSuite/71f-AllChordTypes.xml"
MANY_SYMBOLS = MUSIC21 / "corpus/demos/ComprehensiveChordSymbolsTestFile.mxl"
NAMED_CHORDS = {"Neapolitan", "Italian", "French", "German", "Tristan"}


def moved(symbol: str, root: str) -> Chord:
    """Return the chord of a symbol on C, put on another root."""
    assert symbol.startswith("C")
    return parse_chord(root + symbol[1:])


def placed(chord: Chord) -> set[int]:
    """Return the semitones above the root, extensions not folded into the octave."""
    return {degree.semitones for degree in chord.degrees}


def music21_name(name: str) -> str:
    return name.replace("b", "-")


def own_name(name: str) -> str:
    """Return music21's name of a pitch as a chart has it: ``B--`` is ``Bbb``."""
    return name.replace("-", "b")


def mir_eval_classes(label: str) -> set[int]:
    """Return the pitch classes that mir_eval reads in a label, extended qualities reduced."""
    root, bitmap, _ = chord_judge.encode(label, reduce_extended_chords=True)
    return {(root + step) % 12 for step in range(12) if bitmap[step]}


def symbols_by_root() -> list[tuple[dict[str, Any], str, str]]:
    return [(row, symbol, root) for row in ROWS for symbol in row["symbols"] for root in ROOTS]


def test_every_quality_has_the_printed_semitones() -> None:
    compared = 0
    for row, symbol, root in symbols_by_root():
        assert placed(moved(symbol, root)) == set(row["semitones"]), root + symbol[1:]
        compared += 1
    assert compared == 33 * 17


def test_every_quality_is_what_mir_eval_says() -> None:
    compared = 0
    for row, symbol, root in symbols_by_root():
        if "mir_eval" in row:
            label = f"{root}:{row['mir_eval']}"
            assert moved(symbol, root).pitch_classes == mir_eval_classes(label), label
            compared += 1
    assert compared == 28 * 17


def test_every_quality_is_what_music21_says() -> None:
    """Every symbol on two or three roots: how chords are moved, mir_eval judges on all."""
    compared = 0
    for row, symbol, root in symbols_by_root()[::7]:
        if "music21" in row:
            judge = harmony.ChordSymbol(root=music21_name(root), kind=row["music21"])
            assert moved(symbol, root).pitch_classes == {p.pitchClass for p in judge.pitches}
            assert {t.name for t in moved(symbol, root).tones} == {
                own_name(p.name) for p in judge.pitches
            }
            compared += 1
    assert compared == 33 * 17 // 7 + 1


def music21_degrees(text: str) -> set[int]:
    """Return the semitones of music21's row of a kind: ``1,-3,5``."""
    major = TABLE["degrees"]["semitones"]
    return {
        major[int(word.strip("#-")) - 1] + word.count("#") - word.count("-")
        for word in text.split(",")
    }


def test_every_abbreviation_of_music21_is_read_as_its_kind() -> None:
    compared = 0
    for kind, row in harmony.CHORD_TYPES.items():
        degrees, abbreviations = str(row[0]), list(row[1])
        if kind in NAMED_CHORDS:
            continue
        for abbreviation, root in product(abbreviations, ROOTS):
            assert placed(parse_chord(root + abbreviation)) == music21_degrees(degrees), (
                root + abbreviation
            )
            compared += 1
    assert compared == 85 * 17


def chart_symbol(judge: harmony.ChordSymbol) -> str:
    """Return the symbol that a chart would have for a chord of music21, from its kind."""
    root = own_name(judge.root().name)
    kind = judge.chordKind
    if kind in NAMED_CHORDS | {"tristan"}:
        tones = str(harmony.CHORD_TYPES["Tristan" if kind == "tristan" else kind][0]).split(",")
        suffix = "1(" + ",".join(own_name(tone) for tone in tones if tone != "1") + ")"
    elif kind == "minor-major":
        suffix = judge.chordKindStr
    else:
        suffix = harmony.CHORD_TYPES[kind][1][0] if kind in harmony.CHORD_TYPES else "1"
    words = {"add": "add", "alter": "", "subtract": "no"}
    for change in judge.chordStepModifications:
        sign = {0: "", -1: "b", 1: "#"}[change.interval.semitones]
        suffix += f"({words[change.modType]}{sign}{change.degree})"
    bass = own_name(judge.bass().name)
    return root + suffix + (f"/{bass}" if bass != root else "")


def judged_classes(judge: harmony.ChordSymbol) -> set[int]:
    """Return the pitch classes of a chord of music21, two kinds that it leaves empty filled in."""
    if judge.chordKind == "minor-major":
        # MusicXML's name for it: a minor triad with a major seventh.
        return mir_eval_classes(f"{judge.root().name}:minmaj7")
    if judge.chordKind == "tristan":
        steps = music21_degrees(str(harmony.CHORD_TYPES["Tristan"][0]))
        return {(judge.root().pitchClass + step) % 12 for step in steps}
    return {pitch.pitchClass for pitch in judge.pitches}


@pytest.mark.parametrize(("path", "count"), [(ALL_KINDS, 38), (MANY_SYMBOLS, 57)])
def test_every_symbol_of_a_file_of_music21_is_read(path: Path, count: int) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        judges = list(converter.parse(path).recurse().getElementsByClass(harmony.ChordSymbol))
    for judge in judges:
        chord = parse_chord(chart_symbol(judge))
        assert chord.bass_note.name == own_name(judge.bass().name)
        # music21 counts a bass, and a root that was subtracted, among the tones.
        heard = chord.pitch_classes | {chord.bass_note.pitch_class, chord.root.pitch_class}
        assert heard == judged_classes(judge), chart_symbol(judge)
    assert len(judges) == count


def tones(symbol: str) -> set[str]:
    return {tone.pretty for tone in parse_chord(symbol).tones}


@pytest.mark.parametrize("symbol", sorted(set(TABLE["spelled"]) - {"source"}))
def test_chords_are_spelled_as_music21_spells_them(symbol: str) -> None:
    expected = TABLE["spelled"][symbol].replace("B♭♭", "B𝄫")
    assert tones(symbol) == set(expected.split())


def test_a_slash_note_is_one_of_all_that_sound() -> None:
    """C E G over F sharp, counted from C on a keyboard."""
    assert parse_chord("C/F#").pitch_classes == {0, 4, 7}
    assert parse_chord("C/F#").all_pitch_classes == {0, 4, 6, 7}
    assert parse_chord("C/E").all_pitch_classes == {0, 4, 7}


def test_a_sus_chord_has_the_fourth_for_its_third() -> None:
    assert tones("C7sus") == set(TABLE["symbol_rules"]["C7sus"].split())


@pytest.mark.parametrize("symbol", sorted(set(TABLE["slash"]) - {"source"}))
def test_a_slash_note_is_the_bass(symbol: str) -> None:
    assert parse_chord(symbol).bass_note.pretty == TABLE["slash"][symbol]


TRADE = {
    # Altered and added tones, plain and in brackets.
    "Cmaj7#5": "1 3 #5 7", "C7#5": "1 3 #5 b7", "C-7b5": "1 b3 b5 b7", "C7b9": "1 3 5 b7 b9",
    "C7(#9)": "1 3 5 b7 #9", "C7(b9,#11)": "1 3 5 b7 b9 #11", "C7(b9)(b13)": "1 3 5 b7 b9 b13",
    "C7#5#9": "1 3 #5 b7 #9", "C7b5b9": "1 3 b5 b7 b9", "C13#11": "1 3 5 b7 9 #11 13",
    "C13b9": "1 3 5 b7 b9 11 13", "C9#11": "1 3 5 b7 9 #11", "Cmaj7#11": "1 3 5 7 #11",
    "C7-9": "1 3 5 b7 b9", "C7+9": "1 3 5 b7 #9", "C7-5": "1 3 b5 b7", "C7+5": "1 3 #5 b7",
    "Cadd9": "1 3 5 9", "C(add9)": "1 3 5 9", "Cmadd9": "1 b3 5 9", "Cm(9)": "1 b3 5 9",
    "Cadd11": "1 3 5 11", "Cadd#11": "1 3 5 #11", "Cm7add11": "1 b3 5 b7 11",
    "C6add9": "1 3 5 6 9", "C6/9": "1 3 5 6 9", "C69": "1 3 5 6 9", "Cm6/9": "1 b3 5 6 9",
    "C7/13": "1 3 5 b7 13", "Cm7/11": "1 b3 5 b7 11", "C/9": "1 3 5 9", "C(9)": "1 3 5 9",
    "C(4)": "1 3 4 5", "Cm2": "1 b3 5 9", "Cm4": "1 b3 4 5", "C(b7)": "1 3 5 b7",
    "C5(b7)": "1 5 b7",
    # Words and signs.
    "Cmi7": "1 b3 5 b7", "CMi7": "1 b3 5 b7", "Cma7": "1 3 5 7", "CMaj7": "1 3 5 7",
    "CMAJ7": "1 3 5 7", "CMIN7": "1 b3 5 b7", "Cminor7": "1 b3 5 b7", "C-": "1 b3 5",
    "C−7": "1 b3 5 b7", "CM": "1 3 5", "CM7": "1 3 5 7", "Cm(maj7)": "1 b3 5 7",
    "CmMaj7": "1 b3 5 7", "Cm(M7)": "1 b3 5 7", "C-maj7": "1 b3 5 7", "Cm△7": "1 b3 5 7",
    "CΔ": "1 3 5 7", "C∆7": "1 3 5 7", "C△9": "1 3 5 7 9", "C°": "1 b3 b5", "Cº7": "1 b3 b5 bb7",
    "Co7": "1 b3 b5 bb7", "CØ": "1 b3 b5 b7", "C∅7": "1 b3 b5 b7", "Cø9": "1 b3 b5 b7 9",
    "C°(maj7)": "1 b3 b5 7", "C+": "1 3 #5", "Caug": "1 3 #5", "C+7": "1 3 #5 b7",
    "C⁷": "1 3 5 b7", "C7♭9": "1 3 5 b7 b9", "C7♯11": "1 3 5 b7 #11",
    # Suspended, shortened, altered.
    "Csus": "1 4 5", "CSus4": "1 4 5", "C4": "1 4 5", "C2": "1 3 5 9", "Csus2": "1 2 5",
    "Csus2sus4": "1 2 4 5", "C7sus": "1 4 5 b7", "C9sus": "1 4 5 b7 9", "C9sus4": "1 4 5 b7 9",
    "C13sus": "1 4 5 b7 9 13", "C7sus2": "1 2 5 b7", "C7sus4b9": "1 4 5 b7 b9",
    "Cmaj7sus4": "1 4 5 7", "C5": "1 5", "C7no5": "1 3 b7", "Cno3": "1 5", "C(no3)": "1 5",
    "C7omit3": "1 5 b7", "C11no3": "1 5 b7 9 11", "C13no11": "1 3 5 b7 9 13",
    "C7alt": "1 3 #5 b7 b9 #9", "C7(alt)": "1 3 #5 b7 b9 #9", "Calt": "1 3 #5 b7 b9 #9",
}  # fmt: skip
"""What players type, as degrees (common practice, no source; the degree numbers as in music21)."""


@pytest.mark.parametrize("symbol", TRADE)
def test_what_players_type_is_read(symbol: str) -> None:
    expected = music21_degrees(TRADE[symbol].replace(" ", ",").replace("b", "-"))
    assert placed(parse_chord(symbol)) == expected
    for root in ROOTS:
        assert placed(moved(symbol, root)) == expected


@pytest.mark.parametrize(
    ("name", "pitch_class"),
    [("B#", 0), ("E#", 5), ("Fb", 4), ("Cb", 11), ("F♯", 6), ("B♭", 10), ("Bbb", 9), ("F##", 7)],
)
def test_roots_may_have_any_accidental(name: str, pitch_class: int) -> None:
    judge = music21.pitch.Pitch(music21_name(name.replace("♯", "#").replace("♭", "b")))
    assert judge.pitchClass == pitch_class == parse_chord(f"{name}m7").root.pitch_class
    assert parse_chord(f"C/{name}").bass_note.pitch_class == pitch_class


def test_the_longest_quality_is_taken_first() -> None:
    assert parse_chord("C6/9").bass is None
    assert parse_chord("C6/9/E").bass == parse_note("E")
    assert placed(parse_chord("C6/9/E")) == {0, 4, 7, 9, 14}
    assert parse_chord("C6/E").bass == parse_note("E")
    assert placed(parse_chord("C6/E")) == {0, 4, 7, 9}


WRONG = (
    "H c Cmjor C/ C// C/G/ C7(b9 C7b9) C() C, C7((b9)) C/4 C/H C/e C/Gm C/Add9 C8 Cb8 C1no1 Cadd "
    "Cno C7( 1 N.C. % Cm7b5x Cxyz C##b#5"
)
NO_CHORDS = [
    *WRONG.split(),
    *["", "C7 ", " C", "D A", "C" + "7" * 50, "C" + "(" * 30, "C(b9)" * 9],
]


@pytest.mark.parametrize("text", NO_CHORDS)
def test_what_is_no_chord_is_refused(text: str) -> None:
    with pytest.raises(ValueError):
        parse_chord(text)


def test_no_two_qualities_are_the_same() -> None:
    degrees = [frozenset(quality.degrees) for quality in QUALITIES]
    spellings = [spelling for quality in QUALITIES for spelling in quality.spellings]
    assert len(set(degrees)) == len(degrees) == 38
    assert len(set(spellings)) == len(spellings) > 200


def test_a_quality_is_named_by_what_it_is() -> None:
    assert parse_chord("C-7(b5)").quality == parse_chord("Cø").quality == "half-diminished"
    assert parse_chord("C7#5").quality == parse_chord("C+7").quality == "augmented seventh"


@pytest.mark.parametrize("symbol", ["F#b5", "F♯♭5", "Fb#9", "E(b5)", "A#5b9", "Bb#11", "Gb9"])
def test_a_symbol_is_read_as_its_chord_after_any_move(symbol: str) -> None:
    chord = parse_chord(symbol)
    assert parse_chord(chord.symbol) == chord
    for fifths in range(-11, 12):
        there = chord.transposed(fifths)
        again = parse_chord(there.symbol)
        assert again == there
        assert placed(again) == placed(chord)
        assert again.root.pitch_class == (chord.root.pitch_class + 7 * fifths) % 12
