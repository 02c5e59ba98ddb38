"""Figures of a line against counts by hand: lengths, levels, aims, the hand, the nearest feel."""

from fractions import Fraction
from pathlib import Path

import pytest

from groove.chart.parse import parse_chart
from groove.io.midi import midi_bytes
from groove.neck.instrument import HIGHEST_FRET, STANDARD
from groove.pipeline import PerformOptions, perform_song
from groove.study.aims import Approach, Run
from groove.study.nearest import OTHER_TEMPO
from groove.study.study_data import study_data
from groove.study.study_report import study_text
from groove.study.worth import worth_practising
from tests.study.hand_made import B1, C2, C3, E2, G1, LIBRARY, midi_file, studied

CHART = "title: Two Chairs\ntempo: 120\nkey: C\nmeter: 4/4\na:\n| C | G7 | C | % |\n"


@pytest.fixture
def chart(tmp_path: Path) -> Path:
    file = tmp_path / "song.txt"
    file.write_text(CHART, encoding="utf-8")
    return file


def test_lengths_are_shares_of_the_time_to_the_next_note(tmp_path: Path, chart: Path) -> None:
    # By hand, in quarters: 0.9 of 1 and 0.7 of 1 are held, 0.49 of 1 is short, 0.6 of 1 neither,
    # 1 of 3 fills its beat; a ghost (50 ms, soft) does not count, nor does the last note.
    notes = [
        (0, 0.9, C2, 100), (1, 0.7, C2, 90), (2, 0.49, C2, 90), (3, 0.1, C2, 20),
        (4, 0.6, G1, 100), (5, 1.0, G1, 90), (8, 1.0, C2, 90),
    ]  # fmt: skip
    study = studied(midi_file(tmp_path, notes), chart)
    assert len(study.ghosts) == 1
    assert study.lengths is not None
    assert (study.lengths.held, study.lengths.short) == (3 / 5, 1 / 5)
    # Velocity 98 is level 8, 88 is level 7: 100 and 90 are nearest to them.
    assert study.levels == {7: 4 / 6, 8: 2 / 6}
    assert "60% of the notes are held" in study_text(study)
    assert "levels 7 to 8 of 9, most notes at 7 (67%)" in study_text(study)


def test_a_run_is_three_notes_by_step_into_a_new_root(tmp_path: Path, chart: Path) -> None:
    # E F G A | ... no: C E up by E F F# into G is three notes; two by step are none.
    run = [(0, 1, C2, 90), (1, 1, E2, 90), (2, 1, E2 + 1, 90), (3, 1, E2 + 2, 90), (4, 4, 43, 90)]
    study = studied(midi_file(tmp_path, run), chart)
    assert study.runs == (Run(bar=1, beat=Fraction(2), notes=3, rises=True, to="G7"),)
    assert study.approaches == (Approach(bar=1, beat=Fraction(4), semitones=-1, to="G7"),)
    assert "runs: bar 1, 3 notes up into G7" in study_text(study)
    assert "into the next root from a half step below: bar 1 into G7" in study_text(study)
    short = [run[0], (1, 1, C2, 90), *run[2:]]
    assert studied(midi_file(tmp_path, short), chart).runs == ()
    turning = [run[0], (1, 1, E2 + 3, 90), *run[2:]]
    assert studied(midi_file(tmp_path, turning), chart).runs == ()
    late = [(0, 1, E2, 90), (1.5, 1, E2 + 1, 90), *run[3:]]
    assert studied(midi_file(tmp_path, late), chart).runs == ()


def test_the_hand_shifts_where_one_position_does_not_reach(tmp_path: Path, chart: Path) -> None:
    # F1 is fret 1 of the E string; B flat 3 lies nowhere below fret 15 of a bass in fourths.
    notes = [(0, 1, 29, 90), (1, 1, 58, 90), (4, 1, 29, 90), (8, 1, 29, 90)]
    study = studied(midi_file(tmp_path, notes), chart)
    assert study.hand is not None
    assert study.hand.tuning == STANDARD.name
    assert study.hand.top_fret == 58 - STANDARD.open_pitches[-1] == 15
    assert [(shift.bar, shift.to_fret > shift.from_fret) for shift in study.hand.shifts] == [
        (1, True),
        (2, False),
    ]
    # Half a second between two quarters at 120.
    assert study.hand.shifts[0].time_ms == pytest.approx(500, abs=1)
    low = studied(midi_file(tmp_path, [(0, 1, 24, 90), (1, 1, 36, 90)]), chart)
    assert low.hand is not None
    assert low.hand.tuning != STANDARD.name
    none = studied(midi_file(tmp_path, [(0, 1, 5, 90), (1, 1, 36, 90)]), chart)
    assert none.hand is None
    assert "no tuning of ours has all of its notes" in study_text(none)
    assert HIGHEST_FRET >= 20


@pytest.mark.parametrize("feel", ["sixteenths", "straight eighths", "bossa", "shuffle", "octaves"])
def test_a_part_is_nearest_to_the_feel_that_it_was_played_in(feel: str, tmp_path: Path) -> None:
    # The truth is what the band was asked for.
    song = parse_chart(CHART.replace("| % |", "| Am7 |\n| F | G7 | C | C |"))
    part = perform_song(song, LIBRARY, PerformOptions(feel=feel))
    (tmp_path / "part.mid").write_bytes(midi_bytes(part))
    study = studied(tmp_path / "part.mid", None)
    assert study.feels[0].name == feel
    assert len(study.feels) == 3


def test_a_feel_for_another_tempo_comes_after_one_that_is_as_near(tmp_path: Path) -> None:
    # Roots in eighths are both straight and driving ones: the tempo decides (patterns/feels).
    notes = [(at / 2, 0.45, G1, 90) for at in range(32)]
    fast = tmp_path / "fast.txt"
    fast.write_text(CHART, encoding="utf-8")
    study = studied(midi_file(tmp_path, notes), fast)
    assert [(feel.name, feel.is_at_tempo) for feel in study.feels[:2]] == [
        ("straight eighths", True),
        ("driving eighths", False),
    ]
    assert abs(study.feels[0].distance - study.feels[1].distance) < OTHER_TEMPO
    assert "driving eighths (" in study_text(study)
    assert "at another tempo)" in study_text(study)


def test_the_data_has_the_names_that_were_agreed_and_shares_between_0_and_1(
    tmp_path: Path, chart: Path
) -> None:
    notes = [(0, 0.9, C2, 100), (1, 0.9, C3, 90), (2, 0.1, C2, 20), (3, 0.9, B1, 90), (4, 1, C2, 9)]
    for given in (chart, None):
        data = study_data(studied(midi_file(tmp_path, notes), given))
        assert {"part", "bars", "chords", "shares", "cells", "ghosts", "swing_ratio"} <= set(data)
        rows = {
            "chords": {"bar", "beat", "symbol", "confidence"},
            "cells": {"steps", "levels", "times", "bars"},
            "ghosts": {"bar", "beat"},
            "approaches": {"bar", "beat", "semitones", "to"},
            "practise": {"bars", "why"},
        }
        counted = 0
        for name, fields in rows.items():
            own = data[name]
            assert isinstance(own, list)
            for row in own:
                assert fields <= set(row), name
                counted += 1
        assert counted >= 5
        assert isinstance(data["shares"], dict)
        assert {
            "root",
            "fifth",
            "octave",
            "third",
            "seventh",
            "ninth",
            "scale",
            "chromatic",
        } <= set(data["shares"])
        shares = [*data["shares"].values()]
        assert isinstance(data["lengths"], dict)
        shares += data["lengths"].values()
        assert isinstance(data["levels"], dict)
        shares += data["levels"].values()
        assert isinstance(data["chords"], list)
        shares += [chord["confidence"] for chord in data["chords"]]
        assert len(shares) >= 15
        assert all(0 <= share <= 1 for share in shares)


def test_what_is_hardest_is_worth_practising_first(tmp_path: Path, chart: Path) -> None:
    # From fret 1 to fret 15 and back in eighths at 120: nobody's hand does that at ease.
    far = [(0, 0.4, 29, 90), (0.5, 0.4, 58, 90), (1, 0.4, 29, 90), (4, 1, 31, 90)]
    study = studied(midi_file(tmp_path, [*far, (8, 1, C2, 90)]), chart)
    worth = worth_practising(study)
    assert worth[0].bars == (1, 1)
    assert "the hand goes from fret" in worth[0].why
    # A farther move comes before a shorter one, wherever they stand.
    near = [(8, 0.4, 29, 90), (8.5, 0.4, 46, 90), (9, 0.4, 29, 90)]
    both = worth_practising(studied(midi_file(tmp_path, [*near, *far]), chart))
    assert both[0].bars == (1, 1)
    plain = [(4 * bar, 1, C2 - 5 * (bar == 1), 90) for bar in range(4)]
    [only] = worth_practising(studied(midi_file(tmp_path, plain), chart))
    assert only.why == "the most notes in a bar, 1"
    assert only.options[-4:] == ["--bars", "1", "--times", "8"]
