"""Rhythms of the shipped cells against their published onsets in shared/tables/rhythms.toml."""

import tomllib
from itertools import accumulate
from pathlib import Path
from typing import Any

from groove.cells.model import Library
from tests.cells.cell_lines import DrumBar, phrase_end

TABLE = tomllib.loads(
    (Path(__file__).parents[2] / "shared/tables/rhythms.toml").read_text(encoding="utf-8")
)
TIMELINES: dict[str, dict[str, Any]] = {entry["name"]: entry for entry in TABLE["timelines"]}
KITS: dict[str, dict[str, Any]] = {entry["name"]: entry for entry in TABLE["kits"]}


def onsets(bars: tuple[DrumBar, ...], key: str, slots: int, beats: int = 4) -> list[int]:
    """Return the onsets of a drum over some bars, in slots of ``slots`` to all of them."""
    per_beat = slots // (beats * len(bars))
    return sorted(
        int((index * beats + stroke.start_beats) * per_beat)
        for index, bar in enumerate(bars)
        for stroke in bar
        if stroke.key == key
    )


def test_every_row_of_the_table_names_its_source() -> None:
    assert (len(TIMELINES), len(KITS)) == (5, 10)
    assert [e["name"] for e in (*TIMELINES.values(), *KITS.values()) if len(e["source"]) < 20] == []


def test_printed_intervals_add_up_to_the_printed_onsets() -> None:
    compared = 0
    for line in TIMELINES.values():
        first = line["onsets"][0]
        sums = accumulate(line["intervals"][:-1], initial=first)
        assert list(sums) == line["onsets"]
        assert sum(line["intervals"]) == line["slots"]
        compared += 1
    assert compared == 5


def test_bossa_rim_is_the_bossa_clave_over_two_bars(library: Library) -> None:
    line = TIMELINES["bossa-nova clave"]
    assert onsets(library.drums["bossa"].bars, "side_stick", line["slots"]) == line["onsets"]


def test_bossa_phrase_end_keeps_the_second_half_of_the_clave(library: Library) -> None:
    """Phrases end in an even bar: the clave goes on, with one stroke into the next bar."""
    cell, line = library.drums["bossa"], TIMELINES["bossa-nova clave"]
    second_half = [slot - 8 for slot in line["onsets"] if slot >= 8]
    assert second_half == [2, 5]
    assert onsets(phrase_end(cell), "side_stick", 8) == [*second_half, 7]


def test_bossa_kick_and_eighths(library: Library) -> None:
    kit = KITS["bossa kit"]
    bars = library.drums["bossa"].bars
    assert len(bars) == 2
    for bar in bars:
        assert onsets((bar,), "kick", 8) == kit["kick"]
        assert onsets((bar,), "hat", 8) == kit["hat"]


def test_samba_rim_is_the_samba_timeline_over_two_bars(library: Library) -> None:
    """In choruses the same accents stand on the snare, ghosts between them."""
    cell, line = library.drums["samba"], TIMELINES["samba, E(7,16) from its last onset"]
    assert onsets(cell.bars, "side_stick", line["slots"]) == line["onsets"]
    loud = tuple(tuple(s for s in bar if s.level > 4) for bar in dict(cell.when)["chorus"])
    assert onsets(loud, "snare", line["slots"]) == line["onsets"]


def test_samba_kick_is_the_bossas(library: Library) -> None:
    bars = library.drums["samba"].bars
    assert onsets(bars, "kick", 16) == KITS["samba kit"]["kick"]
    assert [slot for slot in KITS["samba kit"]["kick"] if slot < 8] == KITS["bossa kit"]["kick"]


def test_second_line_accents_the_son_clave(library: Library) -> None:
    """Common practice, no source, that it is this one; where its five strokes lie is published."""
    cell, line = library.drums["second line"], TIMELINES["son clave, three-two form"]
    assert cell.bars and dict(cell.when)["chorus"]
    for bar in cell.bars:
        accents = tuple(stroke for stroke in bar if stroke.level > 4)
        assert onsets((accents,), "snare", line["slots"]) == line["onsets"]
    for bar in dict(cell.when)["chorus"]:
        assert onsets((bar,), "cowbell", line["slots"]) == line["onsets"]


def test_cha_cha_bass_and_kick_are_the_tresillo(library: Library) -> None:
    line = TIMELINES["tresillo, E(3,8)"]
    first = library.bass["cha-cha"].bars[0]
    assert [int(stroke.start_beats * 2) for stroke in first.strokes] == line["onsets"]
    assert onsets(library.drums["cha-cha"].bars, "kick", 8) == line["onsets"]


def test_ska_has_the_steppers_pulse_in_its_chorus(library: Library) -> None:
    (bar,) = dict(library.drums["ska"].when)["chorus"]
    assert onsets((bar,), "kick", 4) == KITS["steppers"]["kick"]


def test_tumbao_clave_is_the_son_clave_two_three(library: Library) -> None:
    cell, line = library.drums["tumbao"], TIMELINES["son clave, two-three form"]
    assert onsets(cell.bars, "high_block", line["slots"]) == line["onsets"]
    three_side = [slot - 8 for slot in line["onsets"] if slot >= 8]
    assert onsets(phrase_end(cell), "high_block", 8) == three_side == [0, 3, 6]


def test_bass_tumbao_strikes_bombo_and_ponche_and_ties_the_downbeat(library: Library) -> None:
    kit = KITS["bass tumbao"]
    cell = library.bass["tumbao"]
    bars = [*cell.bars, *(bar for _, own in cell.when for bar in own)]
    assert len(bars) >= 7
    for bar in bars:
        struck = [int(stroke.start_beats * 2) for stroke in bar.strokes]
        assert struck == kit["bass"] or bar not in cell.bars
        assert set(kit["bass"]) <= set(struck)
        assert bar.head_hold_beats * 2 in (kit["bass"][0], struck[0])
    assert onsets(library.drums["tumbao"].bars[:1], "kick", 8) == kit["bass"]


def test_three_three_two_is_the_tresillo(library: Library) -> None:
    (bar,) = library.bass["three three two"].bars
    assert [int(s.start_beats * 2) for s in bar.strokes] == TIMELINES["tresillo, E(3,8)"]["onsets"]


def test_straight_eighths_begin_with_the_rock_beat(library: Library) -> None:
    first = library.drums["straight eighths"].bars[:1]
    kit = KITS["rock beat"]
    assert {key: onsets(first, key, 8) for key in ("kick", "snare", "hat")} == {
        key: kit[key] for key in ("kick", "snare", "hat")
    }


def test_one_drop_counted_at_double_tempo(library: Library) -> None:
    """The source counts the bar at twice our tempo: each half of our bar is one of its bars.

    Our half bar has eight sixteenths for its eight eighths.  The hat is counted there in eighths;
    the cell plays every second of them, as the feel's tempo has it (common practice, no source).
    """
    (bar,) = library.drums["one drop"].bars
    kit = KITS["one drop"]
    compared = 0
    for half in (0, 8):
        for key in ("kick", "side_stick"):
            in_half = [s - half for s in onsets((bar,), key, 16) if half <= s < half + 8]
            assert in_half == kit[key]
            compared += 1
        hat = [s - half for s in onsets((bar,), "hat", 16) if half <= s < half + 8]
        assert hat == kit["hat"][::2]
    assert compared == 4


def test_backbeats(library: Library) -> None:
    """Snare accents on 2 and 4 in quadruple meter, in every cell with such a backbeat."""
    names = ("straight eighths", "sixteenths", "broken sixteenths", "broken sixteenths fast")
    new = (
        "ska",
        "driving eighths",
        "one-chord funk",
        "laid-back sixteenths",
        "gospel twelve-eight",
    )
    compared = 0
    for name in (*names, *new, "octaves", "soul", "shuffle", "slow twelve-eight", "two-beat"):
        for bar in library.drums[name].bars:
            accents = sorted(s.start_beats for s in bar if s.key == "snare" and s.level >= 8)
            assert accents == KITS["backbeat"]["snare"], name
            compared += 1
    assert compared == 19


def test_octaves_have_four_on_the_floor(library: Library) -> None:
    (bar,) = library.drums["octaves"].bars
    assert onsets((bar,), "kick", 4) == KITS["four on the floor"]["kick"]


def test_shuffle_hat_and_bass_play_first_and_third_triplet(library: Library) -> None:
    kit = KITS["shuffle"]
    assert onsets(library.drums["shuffle"].bars, "hat", 12) == kit["hat"]
    cell = library.bass["shuffle"]
    bars = [*cell.bars, *(bar for _, own in cell.when for bar in own)]
    assert len(bars) >= 13
    for bar in bars:
        assert [int(stroke.start_beats * 3) for stroke in bar.strokes] == kit["hat"]


def test_two_beat_snare_is_a_train_beat(library: Library) -> None:
    (bar,) = library.drums["two-beat"].bars
    assert onsets((bar,), "snare", 16) == KITS["train beat"]["snare"]
