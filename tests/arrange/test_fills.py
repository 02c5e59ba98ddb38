"""Fills: where they stand, who plays them, and that each ends on its target.

Common practice, no source.
"""

from fractions import Fraction
from functools import cache
from itertools import pairwise
from random import Random

import pytest
from hypothesis import given
from msgspec.structs import replace

from groove.cells.library import library_from
from groove.events import Note, Performance, PitchRule, Role
from groove.pipeline import perform_chart
from groove.text.reasons import reason_text
from groove.theory.general_midi import DRUM_KEYS
from tests.arrange.random_songs import KEYS, root_class, symbol
from tests.arrange.songs import (
    LIBRARY,
    TIGHT,
    bass,
    chart,
    charts,
    play_bass,
    play_drums,
    play_rhythm,
)
from tests.cells.cell_lines import BASS

EIGHT = ["D", "G", "Em7", "A7", "D", "Bm", "G", "A"]


def fill_notes(performance: Performance, part: str) -> list[Note]:
    """Return the notes of one part's fills."""
    return [n for n in performance.notes if n.part == part and n.origin.role is Role.FILL]


def many_sections(fills: str, seed: int = 1) -> str:
    """Return a chart with a dozen section ends."""
    names = [f"part {letter}" for letter in "abcdefghijkl"]
    return chart(dict.fromkeys(names, EIGHT), fills=fills, head=f"seed: {seed}")


def test_none_means_none() -> None:
    performance = play_rhythm(many_sections("none"))
    assert fill_notes(performance, "bass") == []
    assert fill_notes(performance, "drums") == []


def test_a_few_stand_at_section_ends_and_both_players_have_some() -> None:
    performance = play_rhythm(many_sections("few"))
    for part in ("bass", "drums"):
        notes = fill_notes(performance, part)
        assert notes
        assert {note.origin.bar.bar_in_section for note in notes} == {8}


def test_every_section_end_but_the_last_has_one_fill() -> None:
    performance = play_rhythm(many_sections("few"))
    bars = {n.origin.bar.section for p in ("bass", "drums") for n in fill_notes(performance, p)}
    assert len(bars) == 11


@given(charts())
def test_bass_and_drums_never_share_the_beats_of_a_fill(text: str) -> None:
    performance = play_rhythm(text)
    beats = [
        {note.grid_tick // 960 for note in fill_notes(performance, part)}
        for part in ("bass", "drums")
    ]
    assert not beats[0] & beats[1]


@pytest.mark.parametrize("seed", range(3))
def test_a_bass_fill_ends_on_its_target(seed: int) -> None:
    performance = play_bass(many_sections("many", seed))
    line = bass(performance)
    ends = 0
    for before, after in pairwise(line):
        if before.origin.role is Role.FILL and after.origin.role is not Role.FILL:
            assert after.pitch == before.origin.target_pitch
            assert after.grid_tick == before.grid_tick + before.written_ticks
            assert after.grid_tick % 3840 == 0
            assert before.origin.reason
            ends += 1
    assert ends >= 3


def rule_of(note: Note) -> PitchRule:
    """Return by which rule a note of a fill has its pitch."""
    assert note.origin.reason is not None
    return note.origin.reason.rule


def test_every_kind_of_fill_comes_up() -> None:
    kinds: set[PitchRule] = set()
    for seed in range(6):
        # From another bar each time: not every kind begins near the line in every place.
        bars = EIGHT[seed % 8 :] + EIGHT[: seed % 8]
        sections = {f"part {letter}": bars for letter in "abcdefghijkl"}
        performance = play_bass(chart(sections, fills="many", head=f"seed: {seed}"))
        kinds |= {rule_of(note) for note in fill_notes(performance, "bass")}
    assert kinds == {
        PitchRule.TONE_AND_STEP,
        PitchRule.SCALE_RUN,
        PitchRule.CHORD_FIGURE,
        PitchRule.TURNAROUND,
    }


def filled_bars(text: str) -> set[tuple[str, int]]:
    """Return where somebody fills, as (section, bar)."""
    performance = play_rhythm(text)
    return {
        (n.origin.bar.section, n.origin.bar.bar_in_section)
        for part in ("bass", "drums")
        for n in fill_notes(performance, part)
    }


METERS = ("2/4", "3/4", "4/4", "5/4", "2/2", "6/8", "9/8", "12/8", "5/8", "7/8")


@pytest.mark.parametrize("meter", METERS)
def test_many_fill_every_fourth_bar_and_few_the_ends_in_every_meter(meter: str) -> None:
    chords = ["D", "G", "Em7", "A7"] * 3
    lengths = {"part a": 4, "part b": 6, "part c": 7, "part d": 8, "part e": 12}
    many = {"part a": {4}, "part b": {6}, "part c": {4, 7}, "part d": {4, 8}, "part e": {4, 8, 12}}
    few = {name: {length} for name, length in lengths.items()}
    parts = {name: chords[:length] for name, length in lengths.items()}
    for fills, expected in (("few", few), ("many", many)):
        text = chart({**parts, "end": ["D", "D"]}, fills=fills, head=f"meter: {meter}")
        filled = filled_bars(text.replace("feel: sixteenths\n", ""))
        assert filled == {(name, bar) for name, own in expected.items() for bar in own}, fills


def test_many_leave_the_first_bars_of_a_soft_section_alone() -> None:
    sections = {"intro": EIGHT, "verse": EIGHT, "breakdown": EIGHT, "end": ["D", "D"]}
    bars = filled_bars(chart(sections, fills="many"))
    # A breakdown keeps the time thin all through; the drums come back from it with a pick-up.
    assert bars == {("intro", 8), ("verse", 4), ("verse", 8), ("breakdown", 8)}
    soft = filled_bars(chart({"verse": EIGHT, "end": ["D", "D"]}, fills="many", head="loudness: p"))
    assert soft == {("verse", 8)}


def test_the_hat_hand_stops_while_both_hands_fill() -> None:
    performance = play_drums(many_sections("few"))
    hats = {DRUM_KEYS[name] for name in ("hat", "open_hat", "ride")}
    starts: dict[int, int] = {}
    for note in fill_notes(performance, "drums"):
        starts.setdefault(note.origin.bar.played_bar, note.grid_tick)
    assert starts
    for bar, start in starts.items():
        end = performance.bars[bar - 1].end_tick
        late = [
            n
            for n in performance.notes
            if n.part == "drums" and start <= n.grid_tick < end and n.pitch in hats
        ]
        assert late == []


def test_a_new_section_begins_with_a_crash() -> None:
    performance = play_drums(many_sections("few"))
    crashes = [
        n.grid_tick
        for n in performance.notes
        if n.pitch == DRUM_KEYS["crash"] and n.part == "drums"
    ]
    section_starts = [marker.tick for marker in performance.markers[1:]]
    assert set(section_starts) <= set(crashes)
    assert 0 not in crashes


def test_runs_draw_from_the_key_and_ninths_stand_where_they_belong() -> None:
    # D major by its printed scale: D E F# G A B C#.  A run under plain chords of the key stays in
    # it, and F#m7, iii of the key, has no natural ninth there (G# is not in D).
    scale = {2, 4, 6, 7, 9, 11, 1}
    runs = ninths = 0
    for seed in range(6):
        performance = play_bass(many_sections("many", seed))
        for note in fill_notes(performance, "bass"):
            if rule_of(note) is PitchRule.SCALE_RUN:
                assert note.pitch % 12 in scale
                runs += 1
            if rule_of(note) is PitchRule.CHORD_FIGURE:
                assert note.origin.symbol != "F#m7"
                ninths += 1
    assert runs >= 10
    assert ninths >= 4
    iii = chart({f"part {n}": ["D", "G", "A", "F#m7"] for n in range(20)}, fills="many")
    rules = {rule_of(note) for note in fill_notes(play_bass(iii), "bass")}
    assert rules
    assert PitchRule.CHORD_FIGURE not in rules


def fills_over(bars: list[str]) -> list[Note]:
    """Return the bass's fills at the ends of sections of these bars, over four seeds."""
    sections = {f"part {n}": bars for n in range(12)}
    text = chart(sections, fills="many")
    songs = [play_bass(text, replace(TIGHT, seed=seed)) for seed in range(4)]
    return [note for song in songs for note in fill_notes(song, "bass")]


def test_a_run_into_the_lowest_root_comes_from_above() -> None:
    # E1 (28) is the lowest open string.
    notes = fills_over(["E", "A", "F#m", "E"])
    runs = [note for note in notes if rule_of(note) is PitchRule.SCALE_RUN]
    assert len(runs) >= 5
    assert {reason_text(note.origin) for note in runs} == {"scale run down to E1"}
    assert min(note.pitch for note in notes) >= 28


def test_a_fill_that_begins_with_its_chord_begins_on_the_root() -> None:
    # The bar's second half is A (9); a run up to D from its seventh, G, would not state it.
    firsts = [n for n in fills_over(["D", "G", "Em", "D A"]) if n.grid_tick % 3840 == 1920]
    assert len(firsts) >= 5
    assert {note.pitch % 12 for note in firsts} == {9}


def test_a_breakdowns_drums_are_fewer_and_softer() -> None:
    four = ["D", "G", "A", "D"]
    text = chart({"verse": four, "breakdown": four, "end": ["D"]})
    performance = play_drums(text)
    counts, loudest = {}, {}
    for name in ("verse", "breakdown"):
        own = [n for n in performance.notes if n.origin.bar.section == name]
        hats = [n.velocity for n in own if n.pitch == DRUM_KEYS["hat"]]
        counts[name], loudest[name] = len(own), max(hats)
    assert counts["breakdown"] < counts["verse"] / 2
    # The section alone takes 18 off; the drummer plays two levels softer on top.
    assert loudest["breakdown"] < loudest["verse"] - 25


# Frets of a four-string from its open strings, for the test's own reckoning.
OPENS = (28, 33, 38, 43)


def fits_a_hand(pitches: list[int]) -> bool:
    """Return whether four frets somewhere on the neck and the open strings hold these pitches."""
    return any(
        all(
            any(pitch == low or start <= pitch - low < start + 4 for low in OPENS)
            for pitch in pitches
        )
        for start in range(1, 10)
    )


def test_a_fill_lies_under_one_hand_with_the_roots_around_it() -> None:
    # From D to G a turnaround from the high D would reach from the third fret to the seventh.
    fills = 0
    sections = {f"part {number}": ["G", "A", "Em", "D"] for number in range(12)}
    for seed in range(4):
        performance = play_bass(chart(sections, fills="many", head=f"seed: {seed}"))
        line = bass(performance)
        for bar in {note.origin.bar.played_bar for note in fill_notes(performance, "bass")}:
            own = [n for n in line if n.origin.bar.played_bar == bar]
            after = next(n for n in line if n.origin.bar.played_bar == bar + 1)
            roots = [n.pitch for n in own if n.origin.role is Role.ROOT]
            played = [n.pitch for n in own if n.origin.role is Role.FILL]
            assert fits_a_hand([*roots, *played, after.pitch]), (bar, played)
            fills += 1
    assert fills >= 16


def test_a_fill_is_the_same_at_a_slow_tempo() -> None:
    text = many_sections("many", 3)
    slow = replace(TIGHT, tempo_percent=Fraction(50))
    lines = [
        [(n.grid_tick, n.pitch) for n in bass(play_bass(text, options))]
        for options in (TIGHT, slow)
    ]
    assert len(lines[0]) > 400
    assert lines[0] == lines[1]


@cache
def random_fills() -> list[Performance]:
    """Return songs of two random chords a bar with many fills, of long notes and short ones."""
    played = []
    for seed in range(32):
        random = Random(f"fills {seed}")
        bars = [f"{symbol(random)} {symbol(random)}" for _ in range(8)]
        feel = ("two-beat", "half-time", "soul", "sixteenths")[seed % 4]
        text = chart({"verse": bars, "end": ["C", "C"]}, feel=feel, fills="many", head="seed: 2")
        played.append(play_bass(text.replace("key: D", f"key: {random.choice(KEYS)}")))
    return played


def test_a_fill_that_takes_a_whole_chord_states_its_root() -> None:
    compared = 0
    for performance in random_fills():
        onsets = {
            bar.start_tick + onset.tick: onset.symbol
            for bar in performance.bars
            for onset in bar.chords
        }
        for note in fill_notes(performance, "bass"):
            if note.grid_tick in onsets:
                assert note.pitch % 12 == root_class(onsets[note.grid_tick])
                compared += 1
    assert compared >= 8


def test_the_line_ends_where_a_fill_begins() -> None:
    compared = 0
    for performance in random_fills():
        for before, after in pairwise(bass(performance)):
            if after.origin.role is Role.FILL:
                assert before.grid_tick + before.written_ticks <= after.grid_tick
                compared += 1
    assert compared >= 100


def test_no_fill_leads_to_a_bar_that_may_not_strike_its_head() -> None:
    """Whether the next chord holds or not: a cell that ties its held bars over takes no fill.

    The drums fill in its place.
    """
    tied = {"steps": "- - 5 -", "levels": ". . 7 ."}
    cell = {**BASS, "name": "tied", "steps": "R - 5 R", "levels": "9 . 7 7"}
    filled = []
    for when in ({}, {"held chord": tied}):
        library = library_from([("bass", "own/tied.toml", {**cell, "when": when})], LIBRARY)
        sections = {f"part {n}": ["D", "G", "Em", "A7"] for n in range(8)}
        text = chart(sections, fills="few", head="bass: tied")
        performance = perform_chart(text, library, TIGHT)
        filled.append([len(fill_notes(performance, part)) > 0 for part in ("bass", "drums")])
    assert filled == [[True, True], [False, True]]
