"""Notes that work: R. Hutchinson's chord-scale table and its context rule, and common practice."""

import tomllib
from pathlib import Path
from typing import Any

import pytest
from music21 import scale

from groove.cells.model import Style
from groove.chart.degrees import parse_degree_chord
from groove.chart.parse import parse_chart
from groove.harmony.analysis import analyse
from groove.harmony.tones import chord_tones_in, run_notes
from groove.neck.instrument import STANDARD
from groove.text.neck_map import neck_map_text, working_notes_text
from groove.theory.chords import parse_chord
from groove.theory.keys import parse_key
from groove.theory.pitch import SpelledPitch
from groove.theory.scales import SCALES, chord_scales

TABLE = tomllib.loads(
    (Path(__file__).parents[2] / "shared" / "tables" / "chord_scales.toml").read_text("utf-8")
)


def names(pitches: tuple[SpelledPitch, ...]) -> str:
    return " ".join(pitch.name for pitch in pitches)


def test_scales_of_the_handbook() -> None:
    compared = 0
    for row in TABLE["scale"]:
        assert list(SCALES[row["name"]].semitones) == row["semitones"], row["name"]
        compared += 1
    assert compared == 19


def test_chord_scales_of_the_handbook() -> None:
    compared = 0
    for row in TABLE["chord"]:
        found = [scale.name for scale in chord_scales(parse_chord("C" + row["suffix"]))]
        assert found == row["scales"], row["suffix"]
        compared += 1
    assert compared == 18


def test_the_sixth_degree_takes_natural_minor() -> None:
    # Hutchinson 31.10: Fm7 as vi of A flat is F natural minor, not dorian
    tones = chord_tones_in(parse_chord("Fm7"), parse_key("Ab"), None)
    assert tones.scale.name == "natural minor"
    assert names(tones.scale_notes) == "F G Ab Bb C Db Eb"
    # and as ii of E flat it is dorian
    assert chord_tones_in(parse_chord("Fm7"), parse_key("Eb"), None).scale.name == "dorian"


MAJOR_TONICS = ["Cb", "Gb", "Db", "Ab", "Eb", "Bb", "F", "C", "G", "D", "A", "E", "B", "F#", "C#"]
MINOR_TONICS = ["Ab", "Eb", "Bb", "F", "C", "G", "D", "A", "E", "B", "F#", "C#", "G#", "D#", "A#"]
MUSIC21: Any = scale
MUSIC21_MODES = {
    "major": MUSIC21.MajorScale,
    "dorian": MUSIC21.DorianScale,
    "phrygian": MUSIC21.PhrygianScale,
    "lydian": MUSIC21.LydianScale,
    "mixolydian": MUSIC21.MixolydianScale,
    "natural minor": MUSIC21.MinorScale,
    "locrian": MUSIC21.LocrianScale,
}


@pytest.mark.parametrize(
    ("tonics", "mode", "numerals"),
    [
        (MAJOR_TONICS, "major", "I ii iii IV V vi vii° Imaj7 ii7 iii7 IVmaj7 V7 vi7 viiø7"),
        (MINOR_TONICS, "minor", "i ii° III iv v VI VII i7 iiø7 IIImaj7 iv7 v7 VImaj7 VII7"),
    ],
)
def test_a_chord_of_the_key_takes_the_keys_notes(
    tonics: list[str], mode: str, numerals: str
) -> None:
    # The notes, their spelling and the mode's name by music21's scales.
    compared = 0
    for tonic in tonics[::5]:
        key = parse_key(f"{tonic} {mode}")
        name = tonic.replace("b", "-")
        whole = MUSIC21.MajorScale(name) if mode == "major" else MUSIC21.MinorScale(name)
        wanted = {pitch.name for pitch in whole.getPitches()}
        for word in numerals.split():
            tones = chord_tones_in(parse_degree_chord(word, key), key, None)
            root = tones.chord.root.name.replace("b", "-")
            mode_there = MUSIC21_MODES[tones.scale.name](root)
            found = [note.name.replace("b", "-") for note in tones.scale_notes]
            assert found == [pitch.name for pitch in mode_there.getPitches()[:7]]
            assert set(found) == wanted
            compared += 1
    assert compared == 3 * 14


@pytest.mark.parametrize(
    ("symbol", "key", "told"),
    [
        # The key's own notes from the root, the slash note included: the modes of the major scale.
        ("E", "A", "mixolydian"),
        ("E/D", "A", "mixolydian"),
        ("D/E", "A", "lydian"),
        ("Esus4", "A", "mixolydian"),
        ("Em7", "C", "phrygian"),
        ("A5", "A", "major"),
        # Outside the key (common practice, no source): I over the minor seventh is its seventh
        # chord; V7 of ii has the flat thirteenth, V7 of vi the flat ninth as well; ♭VI and ♭VII
        # are lydian; a minor subdominant keeps the key's other notes.
        ("A/G", "A", "mixolydian"),
        ("A7", "A", "mixolydian"),
        ("B7", "A", "mixolydian"),
        ("F#7", "A", "mixolydian ♭6"),
        ("C#7", "A", "phrygian dominant"),
        ("E7", "A minor", "phrygian dominant"),
        ("F", "A", "lydian"),
        ("G", "A", "lydian"),
        ("Dm6", "A", "melodic minor"),
        ("Db7", "C", "lydian dominant"),
        ("Cdim7", "A", "whole–half"),
        ("E7alt", "A minor", "altered"),
    ],
)
def test_scales_of_single_chords(symbol: str, key: str, told: str) -> None:
    tones = chord_tones_in(parse_chord(symbol), parse_key(key), None)
    assert tones.scale.name == told
    notes = {pitch.pitch_class for pitch in tones.scale_notes}
    assert tones.chord.pitch_classes | {tones.chord.bass_note.pitch_class} <= notes


def test_phrygian_dominant_is_harmonic_minor_from_its_fifth() -> None:
    # music21's harmonic minor scale
    wanted = {pitch.name for pitch in MUSIC21.HarmonicMinorScale("A").getPitches()}
    found = SCALES["phrygian dominant"].notes(SpelledPitch(4))
    assert found[0].name == "E"
    assert {pitch.name for pitch in found} == wanted


def test_guide_tones_of_two_five_one() -> None:
    # Common practice, no source: the seventh falls to the third, the third stays as the seventh.
    key = parse_key("C")
    chords = [parse_chord(symbol) for symbol in ("Dm7", "G7", "Cmaj7")]
    first = chord_tones_in(chords[0], key, chords[1]).guide_tones
    second = chord_tones_in(chords[1], key, chords[2]).guide_tones
    moves = [(g.note.name, g.goal.name, g.step) for g in (*first, *second)]
    assert moves == [("F", "F", 0), ("C", "B", -1), ("B", "B", 0), ("F", "E", -1)]


def test_approaches_lie_beside_the_next_bass_note() -> None:
    tones = chord_tones_in(parse_chord("C"), parse_key("C"), parse_chord("F"))
    assert names(tones.approaches) == "E Gb G"
    below, above = (p.pitch_class for p in tones.approaches[:2])
    assert (5 - below, above - 5) == (1, 1)


@pytest.mark.parametrize(
    ("symbol", "ninth"), [("C", "D"), ("Em7", ""), ("Am7", "B"), ("E7b9", "F"), ("Bø7", "")]
)
def test_ninths_only_where_they_belong(symbol: str, ninth: str) -> None:
    # Common practice, no source: F sharp over Em7 and C sharp over B half-diminished leave C major.
    found = chord_tones_in(parse_chord(symbol), parse_key("C"), None).ninth
    assert (found.name if found else "") == ninth


def test_runs_take_the_chords_note_where_the_key_has_another() -> None:
    found = run_notes(parse_chord("E7"), parse_key("A minor"))
    assert names(found) == "E F G# A B C D"


def test_the_map_marks_every_note_at_its_place() -> None:
    # A C major chord, open strings to the fourth fret, read off a standard-tuned neck by hand.
    tones = chord_tones_in(parse_chord("C"), parse_key("C"), None)
    text = neck_map_text(tones, tones.scale_notes, tuning=STANDARD)
    rows = text.splitlines()
    marks = ["".join(m if m in "◎●○" else "." for m in row[5::4][:5]) for row in rows[:4]]
    assert marks == ["●.○.○", "○.●○.", "○.○◎.", "●○.●."]


def test_the_map_stands_at_any_position() -> None:
    tones = chord_tones_in(parse_chord("A7"), parse_key("D"), None)
    rows = neck_map_text(tones, tones.scale_notes, position=5).splitlines()
    assert rows[3].startswith("E  |-◎-")
    assert rows[4].split() == ["5", "6", "7", "8", "9"]


def test_approaches_have_simple_names() -> None:
    # Common practice, no source: sharps rise, flats fall, no double sign, white keys by letter.
    compared = 0
    for tonic in MAJOR_TONICS:
        key = parse_key(tonic)
        for goal in key.scale:
            chord = parse_chord(goal.name)
            found = chord_tones_in(parse_chord(tonic), key, chord).approaches
            below, above = found[:2]
            assert ((goal.pitch_class - below.pitch_class) % 12) == 1
            assert ((above.pitch_class - goal.pitch_class) % 12) == 1
            for note, sign in ((below, 1), (above, -1)):
                own = {pitch.pitch_class: pitch for pitch in key.scale}.get(note.pitch_class)
                assert note == own if own else note.accidental in (0, sign)
                # A natural is told by its letter unless the key itself has it under another name.
                assert own or note.accidental == 0 or note.pitch_class in {1, 3, 6, 8, 10}
                compared += 1
    assert compared == 15 * 7 * 2


@pytest.mark.parametrize(
    ("symbol", "told"),
    [
        # Common practice of lead sheets, no source.
        ("Cdim7", "C Eb Gb A"),
        ("Gb°7", "Gb A C Eb"),
        ("Ab°7", "Ab B D F"),
        ("G#°7", "G# B D F"),
        ("D#dim7", "D# F# A C"),
        ("E#°7", "E# G# B D"),
        # Others keep their spelling: music21's reading of its ``71f-AllChordTypes.xml``.
        ("C#13", "C# E# G# B D# F# A#"),
        ("C°", "C Eb Gb"),
    ],
)
def test_diminished_sevenths_are_told_by_plain_names(symbol: str, told: str) -> None:
    tones = chord_tones_in(parse_chord(symbol), parse_key("C"), None)
    assert names(tones.chord_tones) == told
    assert [t.pitch_class for t in tones.chord_tones] == [t.pitch_class for t in tones.chord.tones]


def working_notes(bars: str, key: str = "C", style: Style | None = None) -> str:
    song = parse_chart(f"key: {key}\nverse:\n{bars}\n")
    return working_notes_text(analyse(song), style=style)


def test_notes_in_words() -> None:
    text = working_notes("| G7 | C |", style=Style.JAZZ)
    assert text.startswith("G7: G B D F   bar 1\n")
    assert "scale: G mixolydian: G A B C D E F\n" in text
    assert "  safe: G B D F\n  colour: A E\n  avoid: C\n" in text
    assert "into C: by B D♭ D; guide tones B goes to C, F goes to E\n" in text


def test_every_different_chord_is_told_once_with_its_bars() -> None:
    # Read off the chart by hand: four chords, C with two basses, its ways on in order.
    text = working_notes("| C | F | C/E | F |\n| C | C | G7 / C / | Am |")
    heads = [line for line in text.splitlines() if ": " in line and line[0] in "CFGA"]
    assert heads == [
        "C (also C/E): C E G   bars 1, 3, 5, 6, 7",
        "F: F A C   bars 2, 4",
        "G7: G B D F   bar 7",
        "Am: A C E   bar 8",
    ]
    assert [line.split(":")[0] for line in text.splitlines() if "into" in line] == [
        "  into F", "  into G7", "  into Am", "  into C/E", "  into C", "  into C",
    ]  # fmt: skip
    assert text.count("root") == 1


def test_a_chord_in_two_keys_is_told_in_both() -> None:
    song = parse_chart("key: C\nverse:\n| Em | C |\nlast:\nkey: D\n| Em | D |\n")
    text = working_notes_text(analyse(song), style=Style.JAZZ)
    # iii of C, ii of D: the modes of the major scale.
    assert "scale: E phrygian:" in text
    assert "scale: E dorian:" in text
