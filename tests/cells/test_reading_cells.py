"""Every way in which a cell can be wrong: the file, the path inside it, found and expected."""

from collections.abc import Callable
from fractions import Fraction
from typing import Any

import pytest

from groove.cells.model import Aim, AimKind
from groove.cells.read import read_bass_cell, read_drum_cell, read_keys_cell
from groove.errors import CellError
from groove.timing import Meter
from tests.cells.cell_lines import BASS, DRUMS, KEYS

Reader = Callable[[dict[str, Any], str], object]
Change = dict[str, Any]

LONG_NAME = "n" * 61
END = {"steps": "R . 5 5", "levels": "9 . 7 6"}

COMMON: list[tuple[Change, str, str]] = [
    ({"format": 2}, "format", "found 2, expected 1"),
    ({"format": None}, "format", "found nothing, expected 1"),
    ({"format": True}, "format", "found True, expected 1"),
    ({"format": 1.0}, "format", "found 1.0, expected 1"),
    ({"name": 7}, "name", "found 7, expected a text in quotes"),
    ({"name": " "}, "name", "expected a name of up to 60 letters, and none of: out, none, tacet"),
    ({"name": "OUT"}, "name", "found 'OUT'"),
    ({"name": LONG_NAME}, "name", "expected a name of up to 60 letters"),
    ({"summary": None}, "summary", "found nothing, expected a text in quotes"),
    ({"meter": "four"}, "meter", "found 'four', expected a meter, e.g. 4/4 or 12/8, or any"),
    ({"meter": "0/4"}, "meter", "found '0/4'"),
    ({"meter": "25/4"}, "meter", "found '25/4'"),
    ({"meter": "4/3"}, "meter", "found '4/3'"),
    ({"meter": "any"}, "meter", "found 'any', expected a meter"),
    ({"slots_per_beat": 0}, "slots_per_beat", "found 0, expected a whole number from 1 to 12"),
    ({"slots_per_beat": 13}, "slots_per_beat", "found 13"),
    ({"slots_per_beat": "4"}, "slots_per_beat", "found '4'"),
    ({"tempo": 90}, "tempo", "unknown key"),
]
STEPS: list[tuple[Change, str, str]] = [
    ({"steps": None}, "steps", "found nothing, expected a text in quotes"),
    ({"levels": ["9"]}, "levels", "found ['9'], expected a text in quotes"),
    ({"levels": "9 . 7 . | 9 . 7 ."}, "levels", "found 2 bars, expected 1 as in steps"),
]
BASS_FAULTS: list[tuple[Change, str, str]] = [
    ({"steps": "R - 5"}, "steps: bar 1", "found 3 slots, expected 4"),
    ({"steps": "|".join(["R - 5 ."] * 9)}, "steps", "found 9 bars, expected at most 8"),
    ({"steps": "R - 5 . | R - 5 4"}, "levels", "found 1 bars, expected 2 as in steps"),
    ({"steps": "R - 12 ."}, "steps: bar 1, slot 3", "found '12', expected a step"),
    ({"steps": "R - >+3 ."}, "steps: bar 1, slot 3", "found '>+3'"),
    ({"steps": "R - >R, ."}, "steps: bar 1, slot 3", "found '>R,'"),
    ({"steps": "R - sx ."}, "steps: bar 1, slot 3", "found 'sx'"),
    (
        {"steps": "R . - .", "levels": "9 . . ."},
        "steps: bar 1, slot 3",
        "found a hold after a rest",
    ),
    ({"steps": "R-. . 5 ."}, "steps: bar 1, slot 1", "found 'R-.', expected a step"),
    ({"levels": "9 3 7 ."}, "levels: bar 1, slot 2", "found '3' under '-', expected a point"),
    ({"levels": "9 . . ."}, "levels: bar 1, slot 3", "found '.' under '5', expected a level"),
    ({"levels": "0 . 7 ."}, "levels: bar 1, slot 1", "found '0' under 'R'"),
    ({"levels": "٩ . 7 ."}, "levels: bar 1, slot 1", "found '٩' under 'R'"),
    ({"when": "R"}, "when", "found 'R', expected a table [when]"),
    ({"when": {"phrase end": "R"}}, "when.phrase end", "expected a table [phrase end]"),
    ({"when": {"phrase end": {**END, "fill": 1}}}, "when.phrase end.fill", "unknown key"),
    (
        {"when": {"phrase end": {**END, "steps": "R"}}},
        "when.phrase end.steps: bar 1",
        "found 1 slots, expected 4",
    ),
    (
        {"when": {"phrase end": {"steps": "R . . . | R . . .", "levels": "9 . . . | 9 . . ."}}},
        "when.phrase end.steps",
        "found 2 bars, expected one",
    ),
    ({"when": {"chorus": {**END, "fill": 1}}}, "when.chorus.fill", "unknown key"),
    ({"when": {"chrous": END}}, "when.chrous", "no such condition"),
    ({"when": {"full moon": END}}, "when.full moon", "no such condition"),
    ({"phrase_end": END}, "phrase_end", "unknown key"),
    ({"generator": "walk"}, "generator", "found 'walk', expected one of: walking, long"),
    ({"generator": "walking"}, "steps", "found beside a generator"),
]
DRUM_FAULTS: list[tuple[Change, str, str]] = [
    ({"kick": None, "snare": None}, "kick", "found no row, expected at least one"),
    ({"kik": "9 . . ."}, "kik", "unknown key"),
    ({"kick": 9}, "kick", "found 9, expected a text in quotes"),
    ({"kick": "9 . 8"}, "kick: bar 1", "found 3 slots, expected 4"),
    ({"kick": "9 . x ."}, "kick: bar 1, slot 3", "found 'x', expected a level from 1 to 9"),
    (
        {"kick": "9 . . . | 9 . . .", "snare": "9 . . . | . 9 . . | . . 9 ."},
        "kick",
        "found 2 bars beside 3, expected a divisor",
    ),
    ({"when": {"phrase end": {}}}, "when.phrase end.kick", "found no row"),
    (
        {"when": {"answer": {"kick": "9 . . . | 9 . . ."}}},
        "when.answer.kick",
        "found 2 bars, expected one",
    ),
    ({"when": {"chorus": {"beats": 1}}}, "when.chorus.beats", "unknown key"),
    ({"fill": {"snare": "9"}}, "fill.beats", "found nothing, expected beats up to 4, e.g."),
    ({"fill": {"beats": 5, "snare": "9"}}, "fill.beats", "found 5"),
    ({"fill": {"beats": 0, "snare": "9"}}, "fill.beats", "found 0"),
    ({"fill": {"beats": True, "snare": "9"}}, "fill.beats", "found True"),
    ({"fill": {"beats": float("nan"), "snare": "9"}}, "fill.beats", "found nan"),
    ({"fill": {"beats": "1/0", "snare": "9"}}, "fill.beats", "found '1/0'"),
    ({"fill": {"beats": 0.5, "snare": "9"}}, "fill.beats", "found 0.5, expected whole slots"),
    ({"fill": "9"}, "fill", "found '9', expected a table [fill]"),
    ({"fill": [{"beats": 1, "snare": "9"}, 4]}, "fill 2", "found 4, expected a table [[fill]]"),
    ({"fill": [{"beats": 1, "snare": "9"}, {"beats": 9}]}, "fill 2.beats", "found 9"),
    ({"fill": {"beats": 1}}, "fill.kick", "found no row"),
    ({"fill": {"beats": 1, "snare": "9 | 9"}}, "fill.snare", "found 2 bars, expected one"),
    ({"fill": {"beats": 1, "slots_per_beat": 4, "snare": "9"}}, "fill.snare: bar 1", "expected 4"),
]
KEYS_FAULTS: list[tuple[Change, str, str]] = [
    ({"steps": "V - 5 2o"}, "steps: bar 1, slot 3", "found '5', expected V, or rising voices"),
    ({"steps": "V - 31 2o"}, "steps: bar 1, slot 3", "found '31'"),
    ({"steps": "V - 11 2o"}, "steps: bar 1, slot 3", "found '11'"),
    ({"steps": "V - Vo 2o"}, "steps: bar 1, slot 3", "found 'Vo'"),
    ({"steps": "V - 14 2o", "voices": 3}, "steps: bar 1, slot 3", "rising voices from 1 to 3"),
    ({"voices": 5}, "voices", "found 5, expected a whole number from 3 to 4"),
    ({"generator": "held"}, "steps", "found beside a generator"),
    ({"generator": "pad"}, "generator", "found 'pad', expected one of: held"),
]
ALL: list[tuple[Reader, dict[str, Any], Change, str, str]] = [
    *((read_bass_cell, BASS, *fault) for fault in (*COMMON, *STEPS, *BASS_FAULTS)),
    *((read_drum_cell, DRUMS, *fault) for fault in (*COMMON, *DRUM_FAULTS)),
    *((read_keys_cell, KEYS, *fault) for fault in (*COMMON, *STEPS, *KEYS_FAULTS)),
]


def changed(values: dict[str, Any], change: Change) -> dict[str, Any]:
    """Return a mapping with some keys changed; None takes a key out."""
    return {key: value for key, value in {**values, **change}.items() if value is not None}


def test_number_of_faults() -> None:
    assert len(ALL) == 3 * 18 + 2 * 3 + 24 + 22 + 8


@pytest.mark.parametrize(("read", "values", "change", "path", "message"), ALL)
def test_fault_is_told_with_its_path(
    read: Reader, values: dict[str, Any], change: Change, path: str, message: str
) -> None:
    with pytest.raises(CellError) as caught:
        read(changed(values, change), "own/cell.toml")
    assert (caught.value.source, caught.value.path) == ("own/cell.toml", path)
    assert message in caught.value.message
    assert caught.value.report().startswith(f"own/cell.toml: {path}: ")


def test_a_later_format_is_refused_as_later() -> None:
    with pytest.raises(CellError) as caught:
        read_bass_cell(changed(BASS, {"format": 2}), "x.toml")
    assert caught.value.hint == "this file is for a later version of groove"


def test_an_unknown_key_names_the_nearest() -> None:
    with pytest.raises(CellError) as caught:
        read_bass_cell(changed(BASS, {"stepps": "R"}), "x.toml")
    assert caught.value.hint == "nearest: steps"
    with pytest.raises(CellError) as caught:
        read_drum_cell(changed(DRUMS, {"snar": "9 . . ."}), "x.toml")
    assert caught.value.hint == "nearest: snare"


def test_positions_lengths_and_levels_of_a_bass_cell() -> None:
    """By hand: two slots a beat, a tie over the bar line, a rest before the end."""
    cell = read_bass_cell(
        changed(
            BASS, {"slots_per_beat": 2, "steps": "- - R -  - x . >R", "levels": ". . 9 .  . 3 . 7"}
        ),
        "x.toml",
    )
    (bar,) = cell.bars
    assert bar.head_hold_beats == 1
    assert [(s.step, s.start_beats, s.length_beats, s.level) for s in bar.strokes] == [
        (2, 1, Fraction(3, 2), 9),
        (5, Fraction(5, 2), Fraction(1, 2), 3),
        (7, Fraction(7, 2), Fraction(1, 2), 7),
    ]
    assert (cell.meter, cell.slots_per_beat, cell.source) == (Meter(4, 4), 2, "x.toml")


@pytest.mark.parametrize(
    ("token", "aim"),
    [
        ("R", Aim(kind=AimKind.DEGREE)),
        ("8", Aim(kind=AimKind.DEGREE, number=8)),
        ("10", Aim(kind=AimKind.DEGREE, number=10)),
        ("5,", Aim(kind=AimKind.DEGREE, number=5, octaves=-1)),
        ("b7", Aim(kind=AimKind.DEGREE, number=7, alter=-1, is_altered=True)),
        ("#5,", Aim(kind=AimKind.DEGREE, number=5, alter=1, is_altered=True, octaves=-1)),
        ("s3", Aim(kind=AimKind.DEGREE, number=3, slide=True)),
        ("x", Aim(kind=AimKind.GHOST)),
        (">R", Aim(kind=AimKind.NEXT, offset=0)),
        (">-1", Aim(kind=AimKind.NEXT, offset=-1)),
        (">+2", Aim(kind=AimKind.NEXT, offset=2)),
        (">*", Aim(kind=AimKind.NEXT, offset=None)),
        ("s>-2", Aim(kind=AimKind.NEXT, offset=-2, slide=True)),
    ],
)
def test_every_kind_of_bass_token(token: str, aim: Aim) -> None:
    """What each sign means, by hand from the README's table of signs."""
    cell = read_bass_cell(changed(BASS, {"steps": f"R - {token} ."}), "x.toml")
    assert cell.bars[0].strokes[1].aim == aim


def test_a_cell_may_have_bars_for_every_condition() -> None:
    lifted = {"steps": "R - 8 . | R - 8 5", "levels": "9 . 7 . | 9 . 7 6"}
    when = {"chorus": lifted, "held chord": {"steps": "8 - 5 .", "levels": "9 . 7 ."}}
    cell = read_bass_cell(changed(BASS, {"when": when}), "x.toml")
    degrees = {
        name: [[stroke.aim.number for stroke in bar.strokes] for bar in bars]
        for name, bars in cell.when
    }
    assert degrees == {"chorus": [[1, 8], [1, 8, 5]], "held chord": [[8, 5]]}
    assert read_bass_cell(BASS, "x.toml").when == ()


def test_drum_rows_of_fewer_bars_are_repeated() -> None:
    cell = read_drum_cell(changed(DRUMS, {"kick": "9 . . . | 8 . . ."}), "x.toml")
    assert [[(s.key, int(s.start_beats), s.level) for s in bar] for bar in cell.bars] == [
        [("kick", 0, 9), ("snare", 1, 9), ("snare", 3, 9)],
        [("kick", 0, 8), ("snare", 1, 9), ("snare", 3, 9)],
    ]


def test_a_fill_counts_from_its_own_start() -> None:
    cell = read_drum_cell(DRUMS, "x.toml")
    (fill,) = cell.fills
    assert (float(fill.beats), fill.slots_per_beat) == (1, 2)
    assert [(s.key, s.start_beats, s.level) for s in fill.strokes] == [
        ("snare", 0, 7),
        ("snare", Fraction(1, 2), 8),
    ]


def test_a_drummer_has_as_many_fills_as_tables_from_half_a_beat_to_a_bar() -> None:
    half = {"beats": 0.5, "slots_per_beat": 4, "snare": "7 8"}
    third = {"beats": "2/3", "slots_per_beat": 3, "snare": "7 8"}
    bar = {"beats": 4, "snare": "7 8 7 8"}
    cell = read_drum_cell(changed(DRUMS, {"fill": [half, third, bar]}), "x.toml")
    assert [fill.beats for fill in cell.fills] == [Fraction(1, 2), Fraction(2, 3), 4]
    assert [[float(s.start_beats) for s in fill.strokes] for fill in cell.fills] == [
        [0, 0.25],
        [0, pytest.approx(1 / 3)],
        [0, 1, 2, 3],
    ]


def test_a_drummer_who_rests_serves_any_meter() -> None:
    silent = {"format": 1, "name": "out of it", "summary": "", "meter": "any"}
    assert read_drum_cell(silent, "x.toml").bars == ()
    with pytest.raises(CellError) as caught:
        read_drum_cell({**silent, "fill": {"beats": 1, "snare": "9"}}, "x.toml")
    assert caught.value.path == "meter"


def test_voices_of_a_keys_cell() -> None:
    (bar,) = read_keys_cell(KEYS, "x.toml").bars
    assert [(s.voices, s.octaves, int(s.length_beats)) for s in bar] == [
        ((), False, 2),
        ((1, 3), False, 1),
        ((2,), True, 1),
    ]
