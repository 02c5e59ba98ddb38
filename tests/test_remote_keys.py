"""No key of a song has more than seven sharps or flats, however its chart spells it.

Standard MIDI Files 1.0 (MMA, 1996), meta event 59: sf is −7 to 7; what a key's signature is, and
which notes sound alike, says music21.
"""

import io
from itertools import groupby, product
from xml.etree import ElementTree

import mido
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from music21 import harmony, key, pitch

from groove.cells.model import Library
from groove.chart.parse import parse_chart
from groove.events import Performance
from groove.harmony.analysis import analyse
from groove.io.midi import midi_bytes
from groove.neck.fingering import finger_performance
from groove.neck.instrument import STANDARD
from groove.pipeline import PerformOptions, moved_song, perform_song
from groove.sheet.build import build_score
from groove.sheet.musicxml import musicxml_text
from groove.text.notices import notice_texts
from groove.theory.keys import parse_key
from tests.cli.command import Command

MOST_SIGNS = 7
NAMES = [letter + sign for letter, sign in product("CDEFGAB", ("bb", "b", "", "#", "##"))]


def outside_name(name: str) -> str:
    """Return a note's name as music21 writes it."""
    return name[0] + name[1:].replace("b", "-")


def outside_class(name: str) -> int:
    return int(pitch.Pitch(outside_name(name)).pitchClass)


def midi_signatures(performance: Performance) -> list[str]:
    file = mido.MidiFile(file=io.BytesIO(midi_bytes(performance)))
    return [m.key for track in file.tracks for m in track if m.type == "key_signature"]


def musicxml_fifths(text: str) -> list[int]:
    root = ElementTree.fromstring(text)
    return [int(found.text or "") for found in root.iter("fifths")]


def test_every_stated_key_is_one_that_has_a_signature() -> None:
    remote = 0
    for name, mode in product(NAMES, ("major", "minor")):
        outside = key.Key(outside_name(name if mode == "major" else name[0].lower() + name[1:]))
        song = parse_chart(f"key: {name} {mode}\nverse:\n| {name} |")
        found = song.settings.key
        assert found is not None
        is_remote = abs(outside.sharps) > MOST_SIGNS
        remote += is_remote
        assert abs(found.signature_fifths) <= MOST_SIGNS
        assert outside_class(found.tonic.name) == outside_class(name)
        assert (found == parse_key(f"{name} {mode}")) is not is_remote
        assert len(notice_texts(song.notices)) == is_remote
        symbol = song.sections[0].bars[0].chords[0].symbol
        assert outside_class(symbol) == outside_class(name)
        assert symbol == (found.tonic.name if is_remote else name)
    # 70 keys, of which 15 major and 15 minor ones have a signature.
    assert remote == 40


@pytest.mark.parametrize(
    ("bars", "spelled", "fifths"),
    [
        ("| A#m | D# | A#m | D# |", "Bbm Eb Bbm Eb", -4),  # B flat dorian
        ("| Fb | Bbb | Cb | Fb |", "E A B E", 4),
        ("| G# | C#/E# | D#7 | G# |", "Ab Db/F Eb7 Ab", -4),
        ("| E#m | B#7 | E#m | E#m |", "Fm C7 Fm Fm", -4),
        # Seven are not too many, and stay as they are.
        ("| C# | F# | G# | C# |", "C# F# G# C#", 7),
        ("| Cb | Fb | Gb | Cb |", "Cb Fb Gb Cb", -7),
    ],
)
def test_chords_that_speak_for_a_remote_key(
    bars: str, spelled: str, fifths: int, library: Library
) -> None:
    song = moved_song(parse_chart(f"verse:\n{bars}"), PerformOptions())
    found = [span.written for bar in song.sections[0].bars for span in bar.chords]
    assert found == spelled.split()
    for old, new in zip(bars.replace("|", " ").split(), found, strict=True):
        sounding = [harmony.ChordSymbol(outside_name(name)).pitchClasses for name in (old, new)]
        assert set(sounding[0]) == set(sounding[1])
    assert sum("read as" in notice for notice in notice_texts(song.notices)) == (
        abs(fifths) < MOST_SIGNS
    )
    assert moved_song(song, PerformOptions()) == song
    performance = perform_song(song, library, PerformOptions(tight=True))
    assert {bar.key.signature_fifths for bar in performance.bars} == {fifths}
    placed, _ = finger_performance(performance, tuning=STANDARD)
    score = build_score(placed, song)
    assert set(musicxml_fifths(musicxml_text(score, song))) == {fifths}


@given(
    st.lists(
        st.tuples(st.sampled_from(NAMES), st.sampled_from(["", "m", "7", "m7", "°", "maj7"])),
        min_size=1,
        max_size=6,
    ),
    st.sampled_from(["", "key: {}\n", "key: {}m\n", "key: {} locrian\n", "key: {} lydian\n"]),
    st.sampled_from(NAMES),
    st.integers(-12, 12),
    st.integers(-6, 6),
)
@settings(max_examples=20, deadline=None)
def test_any_chords_in_any_key_and_moved_anyhow(
    library: Library,
    chords: list[tuple[str, str]],
    head: str,
    tonic: str,
    moved: int,
    own: int,
) -> None:
    bars = " | ".join(root + quality for root, quality in chords)
    text = f"transpose: {own}\n{head.format(tonic)}a:\n| {bars} |\nb:\nkey: {tonic}\n| {bars} |"
    options = PerformOptions(transpose=moved, tight=True)
    performance = perform_song(parse_chart(text), library, options)
    keys = [bar.key.nearest for bar in performance.bars]
    fifths = [key.signature_fifths for key, _ in groupby(keys)]
    assert fifths
    assert all(abs(each) <= MOST_SIGNS for each in fifths)
    # mido knows the 30 keys of the standard and no others.
    assert len(midi_signatures(performance)) == len(fifths)


def test_a_key_option_with_too_many_signs_is_said_and_sounds_the_same(groove: Command) -> None:
    groove.write("song.txt", "key: D\nverse:\n| D | G | A | D |\n")
    said = groove("show", "song.txt", "--key", "Fb", "--chart")
    assert said.code == 0
    assert said.err == "--key: Fb major is read as E major\n"
    assert "key: E" in said.out and "| E | A | B | E |" in said.out


@pytest.mark.parametrize("command", ["card", "show", "tab", "neck", "sheet", "render"])
def test_every_command_says_once_that_a_key_is_respelled(groove: Command, command: str) -> None:
    groove.write("song.txt", "verse:\n| Fb | Bbb | Cb | Fb |\n")
    said = groove(command, "song.txt")
    assert said.code == 0
    assert (said.out + said.err).count("Fb major, which is read as E major") == 1


def test_a_section_has_a_key_with_a_signature_too() -> None:
    # In C sharp major (seven sharps) the dominant's own key would have eight: A flat major.
    text = "a:\n| C# | F# | G#7 | C# |\n| C# | F# | G#7 | C# |\nb:\n| G# | C# | D#7 | G# |\n"
    known = analyse(moved_song(parse_chart(text), PerformOptions()))
    assert key.Key("G#").sharps == 8 and key.Key("A-").sharps == -4
    assert known.key == parse_key("C#")
    assert known.section_keys[1] == parse_key("Ab")
    for reading in (known.reading, *known.section_readings):
        for found in (reading.key, reading.runner_up):
            assert found and abs(found.signature_fifths) <= MOST_SIGNS


@pytest.mark.parametrize(
    ("tonic", "bars", "spelled"),
    [
        ("G#", "| G# | Ab | Eb | D# | C#/F | Db/E# |", "Ab Ab Eb Eb Db/F Db/F"),
        ("Fb", "| Fb | E | F | C | Cb/F | Bbb |", "E E F C B/F A"),
    ],
)
def test_a_chord_that_is_spelled_plainly_already_stays(tonic: str, bars: str, spelled: str) -> None:
    song = parse_chart(f"key: {tonic} major\nverse:\n{bars}")
    found = [bar.chords[0].written for bar in song.sections[0].bars]
    assert found == spelled.split()
    for old, new in zip(bars.strip("| ").split(" | "), found, strict=True):
        assert [outside_class(name) for name in old.split("/")] == [
            outside_class(name) for name in new.split("/")
        ]


def test_a_section_that_states_its_key_keeps_its_chords() -> None:
    text = (
        "a:\n| Fb | Bbb | Cb7 | Fb |\n| Fb | Bbb | Cb7 | Fb |\nb:\nkey: Db\n| Db | Gb | Cb | Db |"
    )
    first, second = moved_song(parse_chart(text), PerformOptions()).sections
    assert [bar.chords[0].written for bar in first.bars] == ["E", "A", "B7", "E"] * 2
    assert [bar.chords[0].written for bar in second.bars] == ["Db", "Gb", "Cb", "Db"]


@pytest.mark.parametrize(
    ("head", "wanted", "key", "chords"),
    [
        ("key: A minor\n", "Ebm", "Eb minor", "| Ebm7 | Ab9 | Bb7#9 | D/A |"),
        ("key: A minor\n", "D#m", "D# minor", "| D#m7 | G#9 | A#7#9 | D/A |"),
        ("key: Eb minor\n", "D# minor", "D# minor", None),
        ("", "Ebm", None, "| Ebm7 | Ab9 | Bb7#9 | D/A |"),
    ],
)
def test_a_key_is_spelled_as_it_is_typed(
    groove: Command, head: str, wanted: str, key: str | None, chords: str | None
) -> None:
    """Six flats or six sharps: degrees of either scale by letters, E double flat as D."""
    groove.write("song.txt", f"{head}verse:\n| Am7 | D9 | E7#9 | Ab/Eb |\n")
    said = groove("show", "song.txt", "--key", wanted, "--chart")
    assert said.code == 0
    assert key is None or f"key: {key}\n" in said.out
    assert chords is None or chords in said.out


def test_numbers_stay_numbers_in_a_key_as_typed(groove: Command) -> None:
    groove.write("song.txt", "key: C\nchords: numbers\nverse:\n| 1 4 | 5 |\n")
    flat = groove("show", "song.txt", "--key", "Gb")
    sharp = groove("show", "song.txt", "--key", "F#")
    assert "Gb major" in flat.out and "| 1 4 " in flat.out and "| 5 " in flat.out
    assert "F# major" in sharp.out and "| 1 4 " in sharp.out


def test_a_mode_that_stays_is_said(groove: Command) -> None:
    groove.write("song.txt", "key: A minor\nverse:\n| Am | Dm |\n")
    said = groove("show", "song.txt", "--key", "F major")
    assert said.err == "the song is minor and stays so: it is in F minor\n"
    assert groove("show", "song.txt", "--key", "F minor").err == ""


def test_a_key_beside_a_transposition_is_refused(groove: Command) -> None:
    groove.write("song.txt", "key: D\nverse:\n| D |\n")
    said = groove("show", "song.txt", "--key", "Eb", "--transpose", "3")
    assert said.code == 2
    assert said.err == (
        "--key Eb beside --transpose 3\n"
        "  expected one of the two: each says where the song stands\n"
    )
