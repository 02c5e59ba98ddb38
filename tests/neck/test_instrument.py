"""Frets, tunings, harmonics and places against handbook tables."""

import tomllib
from math import log2
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from groove.errors import OptionError
from groove.neck.instrument import (
    TUNINGS,
    Tuning,
    fret_mm,
    fret_ruler,
    hand_frets,
    parse_scale_length,
    parse_tuning,
    root_pitch,
    tunings_with,
)

TABLES = Path(__file__).parents[2] / "shared" / "tables"


def table(name: str) -> dict[str, Any]:
    return tomllib.loads((TABLES / name).read_text(encoding="utf-8"))


def test_frets_lie_where_the_handbooks_have_them() -> None:
    # Exact formula; the constant 17.817 is Koch's, "Building Electric Guitars".
    data = table("fret_positions.toml")
    ruler_mm = fret_ruler(24, data["scale_length_mm"])[1:]
    exact = list(zip(ruler_mm, data["exact_mm"], strict=True))
    assert len(exact) == 24
    assert all(abs(found - expected) <= 0.00051 for found, expected in exact)
    by_rule = list(zip(ruler_mm, data["rule_of_17817_mm"], strict=True))
    assert all(abs(found - expected) < 0.0035 for found, expected in by_rule)


def test_each_fret_is_the_17_817th_part_of_what_is_left() -> None:
    # Koch's rule, worked step by step.
    left, position = 863.6, 0.0
    for fret in range(1, 25):
        position += left / 17.817154
        left = 863.6 - position
        assert fret_mm(fret) == pytest.approx(position, abs=0.001)


def test_tunings_are_the_published_ones() -> None:
    # LilyPond 2.24 string-tunings-init.ly and the sources named in the table.
    expected = table("tunings.toml")["open_pitches"]
    assert len(expected) == 6
    assert {name: list(TUNINGS[name].open_pitches) for name in TUNINGS} == expected


def test_open_strings_sound_the_published_frequencies() -> None:
    # Frequencies of the encyclopedia article; equal temperament from A4 = 440 Hz.
    hz = {k: v for k, v in table("tunings.toml")["open_hz"].items() if k != "source"}
    used = {str(p) for t in TUNINGS.values() for p in t.open_pitches} & hz.keys()
    assert len(used) == 7
    for pitch in used:
        assert abs(69 + 12 * log2(hz[pitch] / 440) - int(pitch)) < 0.001


def test_places_of_a_pitch() -> None:
    # Radicioni and Lombardo, ICMC 2005, figure 1, and arithmetic on the bass.
    lists = table("places.toml")["place_list"]
    assert len(lists) == 5
    for entry in lists:
        tuning = Tuning("test", tuple(entry["open_pitches"]))
        places = [list(place) for place in tuning.places(entry["pitch"], entry["max_fret"])]
        assert places == entry["places"]


def test_published_tab_part_sounds_its_notes() -> None:
    # MusicXML test collection, 71e-TabStaves.xml.
    notes = table("places.toml")["tab"]["notes"]
    assert len(notes) == 5
    for pitch, string, fret in notes:
        assert TUNINGS["four"].pitch_at(string, fret) == pitch


@given(st.sampled_from(list(TUNINGS.values())), st.integers(20, 90), st.integers(0, 24))
@settings(derandomize=True, deadline=None)
def test_every_place_sounds_its_pitch(tuning: Tuning, pitch: int, max_fret: int) -> None:
    places = tuning.places(pitch, max_fret)
    assert all(tuning.open_pitches[::-1][s - 1] + f == pitch for s, f in places)
    # Every string that has the pitch within the frets is there: counted the other way round.
    assert len(places) == sum(o <= pitch <= o + max_fret for o in tuning.open_pitches)


def test_roots_live_in_the_lowest_octave() -> None:
    # Home is the octave from the lowest string, E1 to D#2 (common practice, no source).
    roots = [root_pitch(pitch_class) for pitch_class in range(12)]
    assert sorted(roots) == list(range(28, 40))
    assert [root % 12 for root in roots] == list(range(12))


@pytest.mark.parametrize(
    ("text", "mm"),
    [("34", 863.6), ("34 in", 863.6), ('30"', 762.0), ("864 mm", 864), ("86,4 cm", 864)],
)
def test_scale_lengths(text: str, mm: float) -> None:
    assert parse_scale_length(text) == pytest.approx(mm)


@pytest.mark.parametrize("text", ["", "long", "12 in", "5 m", "1200"])
def test_scale_lengths_that_no_bass_has(text: str) -> None:
    with pytest.raises(OptionError, match="no such scale length"):
        parse_scale_length(text)


def test_own_tuning_and_names_of_strings() -> None:
    tuning = parse_tuning("D1 A1 D2 G2")
    assert tuning.open_pitches == TUNINGS["drop D"].open_pitches
    flat = TUNINGS["half step down"]
    assert [flat.string_name(string) for string in flat.strings] == ["Gb", "Db", "Ab", "Eb"]


def test_tunings_that_would_do() -> None:
    # D1 = 26 lies on drop D and on the two with a low B (B0 = 23).
    assert [tuning.name for tuning in tunings_with([26], 20)] == ["five", "six", "drop D"]


@pytest.mark.parametrize(
    ("pitches", "frets"),
    [
        ([28, 33, 38, 43], 0),  # the open strings
        ([29], 1),
        ([33, 40, 45], 1),  # A1 open, its fifth and octave both on the second fret
        ([30, 37, 42], 3),  # F#1, C#2, F#2: frets 2, 4, 4
        ([34, 38, 41, 43], 3),  # Bb1 D2 F2 G2: frets 1 and 3, and two open strings
        ([51, 49, 46, 34], 3),  # Eb3 Db3 Bb2 Bb1: frets 8, 6, 8, 6
        ([50, 48, 45, 32], 4),  # D3 C3 A2 G#1: frets 7, 5, 7, 4
        ([50, 48, 45, 31], 5),  # the same with G1, on the third fret
        ([27], 12),  # below the lowest string
    ],
)
def test_how_many_frets_a_hand_reaches_over(pitches: list[int], frets: int) -> None:
    assert hand_frets(pitches) == frets


def test_a_tuning_like_no_other_has_no_nearest() -> None:
    with pytest.raises(OptionError) as caught:
        parse_tuning("xylophone")
    assert caught.value.hint.endswith("as 'D1 A1 D2 G2'")
