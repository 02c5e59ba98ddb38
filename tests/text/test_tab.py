"""Tab text read back into the notes it was made from, by a reader of the tests' own.

That a tab has a line a string, the highest on top, dashes, bar lines and fret digits is trade
practice; 80 columns are a terminal's usual width.
"""

from collections.abc import Sequence
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from groove.events import Note, Performance, Touch
from groove.neck.fingering import finger_line, finger_performance
from groove.neck.instrument import TUNINGS
from groove.neck.options import NeckOptions
from groove.text.tab import tab_text
from groove.text.times import ordinal
from groove.timing import Meter
from tests.neck.neck_lines import SIXTEENTHS, as_performance, cell_line, onset, plain_line, tempo
from tests.text.tab_reader import read_bars, read_notes, read_systems

CELLS = {
    "sixteenths": (SIXTEENTHS, 4, Meter(4, 4)),
    "triplets": ("R - R 3 - 3 5 - 5 8 - x", 3, Meter(4, 4)),
    "twelve-eight": ("R - - 3 - 5 5 - R 6 - -", 2, Meter(12, 8)),
    "seven-eight": ("R - R - 5 - -", 2, Meter(7, 8)),
    "five-four": ("R - - - R 5 8 - - 5", 2, Meter(5, 4)),
    "waltz": ("R - - - 5 -", 2, Meter(3, 4)),
    "sixteenth triplets": ("R - - - - - 5 - 5 - 5 - R . . . x . 8 - - - 5 .", 6, Meter(4, 4)),
    "cut time": ("R - - - 5 - - -", 2, Meter(2, 2)),
    "long notes": ("R - - -", 1, Meter(4, 4)),
    "thirty-seconds": ("R x R x " * 8, 8, Meter(4, 4)),
    "seven-four sixteenths": ("R - x 5 " * 7, 4, Meter(7, 4)),
}


def placed(notes: Sequence[Note], meter: Meter, **choices: Any) -> Performance:
    line = finger_line(notes, tempo_map=tempo(60), options=NeckOptions(**choices))
    return as_performance(line.notes, meter)


def check_round_trip(performance: Performance, text: str, opens: Sequence[int]) -> int:
    """Assert that a text reads back into a performance's notes; return how many there are."""
    read = read_notes(text)
    bars = {bar.ref.played_bar: bar for bar in performance.bars}
    assert len(read) == len(performance.notes)
    last_fret: dict[int, int] = {}
    for found, note in zip(read, performance.notes, strict=True):
        bar = bars[note.origin.bar.played_bar]
        quarters = Fraction(note.grid_tick - bar.start_tick, 960)
        assert (found.bar, found.beat) == (
            bar.ref.played_bar,
            1 + quarters / bar.meter.beat_quarters,
        )
        assert (found.sign == "x") == (note.touch is Touch.GHOST)
        assert found.slide == (note.touch is Touch.SLIDE)
        # A ghost sounds where the hand is: at the fret last named on its string.
        fret = last_fret[found.string] if found.sign == "x" else int(found.sign)
        last_fret[found.string] = fret
        assert opens[-found.string] + fret == note.pitch
    return len(read)


@pytest.mark.parametrize("name", CELLS)
@pytest.mark.parametrize("extra", [False, True])
def test_text_reads_back_into_the_notes(name: str, extra: bool) -> None:
    cell, slots, meter = CELLS[name]
    notes = cell_line(["D", "A", "Bm", "G", "Eb"], cell, slots)
    performance = placed(notes, meter)
    text = tab_text(performance, show_fingers=extra, show_pluck=extra)
    assert check_round_trip(performance, text, (28, 33, 38, 43)) == len(notes) >= 5
    assert max(map(len, text.splitlines())) <= 80
    assert len(read_bars(text)) == 5


@given(
    pitches=st.lists(st.integers(28, 60), min_size=1, max_size=24),
    step_ticks=st.sampled_from([160, 192, 240, 320, 480, 960]),
    width=st.integers(40, 120),
)
@settings(derandomize=True, deadline=None, max_examples=60)
def test_any_line_reads_back(pitches: list[int], step_ticks: int, width: int) -> None:
    notes = [
        replace(note, origin=replace(note.origin, bar=replace(note.origin.bar, played_bar=bar)))
        for note in plain_line(pitches, step_ticks)
        for bar in [note.grid_tick // 3840 + 1]
    ]
    line = finger_line(notes, tempo_map=tempo(40))
    performance = as_performance(line.notes, Meter(4, 4))
    text = tab_text(performance, width=width)
    assert check_round_trip(performance, text, (28, 33, 38, 43)) == len(pitches)
    assert max(len(row) for system in read_systems(text) for row in system.strings) <= width


@pytest.mark.parametrize("name", ["five", "six", "drop D", "half step down"])
def test_other_tunings(name: str) -> None:
    tuning = TUNINGS[name]
    notes = cell_line(["D", "A"], SIXTEENTHS)
    performance, _ = finger_performance(as_performance(notes, Meter(4, 4)), tuning=tuning)
    text = tab_text(performance, tuning=tuning)
    assert check_round_trip(performance, text, tuning.open_pitches) == 24
    assert len(read_systems(text)[0].strings) == len(tuning.open_pitches)


def test_lines_above_and_below() -> None:
    text = tab_text(placed(cell_line(["D", "A", "Bm"], SIXTEENTHS), Meter(4, 4)))
    first, second = read_systems(text)
    assert first.first_line == "verse, bar 1"
    assert second.first_line == "bar 3"
    assert first.chords.split() == ["D", "A"]
    assert first.count.split() == ["1", "2", "3", "4"] * 2
    # A chord stands over the first slot of its bar: two columns after the bar line.
    assert first.chords.index("A") == first.strings[0].index("|", 5) + 2


def test_rests_and_ties() -> None:
    notes = cell_line(["D", "A"], ". . . . R - - - . . . . . . R -", 4)
    tied = replace(notes[1], length_ticks=1440)
    performance = placed([notes[0], tied, *notes[3:]], Meter(4, 4))
    (system,) = read_systems(tab_text(performance))
    # Beats 1 and 3 are silent in bar 1; the tie fills beat 1 and half of beat 2 … of bar 2.
    assert system.count.split() == ["r", "2", "r", "4", "1", "r", "r", "4"]
    row = system.strings[2]
    line = row.index("|", 5)
    assert row[line - 1] == row[line + 1] == "="


def test_slides() -> None:
    notes = plain_line([38, 40, 45, 43])
    notes[2] = replace(notes[2], touch=Touch.SLIDE)
    performance = placed(notes, Meter(4, 4))
    text = tab_text(performance)
    assert check_round_trip(performance, text, (28, 33, 38, 43)) == 4
    assert "/ slide into" in text


def test_fingers_and_plucking_stand_under_their_notes() -> None:
    performance = placed(cell_line(["D", "A"], SIXTEENTHS), Meter(4, 4))
    lines = tab_text(performance, show_fingers=True, show_pluck=True).splitlines()
    (fingers,) = [line for line in lines if line.startswith("fi ")][:1]
    plucks = next(line for line in lines if line.startswith("pl "))
    places = [note.place for note in performance.notes]
    assert fingers[3:].split() == [str(place.finger) for place in places if place]
    assert plucks[3:].split() == [place.pluck for place in places if place]
    (system,) = read_systems("\n".join(lines))
    struck = {i for row in system.strings for i, c in enumerate(row) if c.isdigit() or c == "x"}
    assert struck == {i for i, c in enumerate(fingers) if c.isdigit()}


def legend(performance: Performance, **extra: Any) -> str:
    return tab_text(performance, **extra).rstrip().rsplit("\n\n", 1)[1]


def test_legend_names_only_what_is_there() -> None:
    # A bar of eighths, all struck: nothing is held, silent, muted or slid into.
    full = placed(plain_line([36, 38] * 4), Meter(4, 4))
    assert len(tab_text(full).split("\n\n")) == 2  # title and one system
    assert legend(full, show_pluck=True) == "pl pluck: i index, m middle, p thumb"
    assert legend(placed(cell_line(["D"], SIXTEENTHS), Meter(4, 4))) == "x ghost   = held"
    assert legend(placed(plain_line([36, 38]), Meter(4, 4))) == "r rest on that beat"


def with_refs(performance: Performance, refs: Sequence[tuple[int, int, int]]) -> Performance:
    """Return a performance whose bars have these occurrences, passes and written numbers."""
    bars = tuple(
        replace(
            bar,
            ref=replace(bar.ref, occurrence=time, pass_number=one, written_bar=number),
        )
        for bar, (time, one, number) in zip(performance.bars, refs, strict=True)
    )
    return replace(performance, bars=bars)


def test_times_and_passes_are_told_and_bars_are_counted_on() -> None:
    # |: 1 2 |1. 3 :|2. 4 | twice through the form, the second time with three bars alone.
    performance = placed(cell_line(["D", "A", "Bm", "G"] * 2, "R - - -", 1), Meter(4, 4))
    refs = [
        (1, 1, 1), (1, 1, 2), (1, 1, 3), (1, 2, 1), (1, 2, 2), (1, 2, 4), (2, 1, 1), (3, 2, 1),
    ]  # fmt: skip
    text = tab_text(with_refs(performance, refs))
    assert [system.first_line for system in read_systems(text)] == [
        "verse, bar 1",
        "verse, second pass, bar 1",
        "bar 4",
        "verse, second time, bar 1",
        "verse, third time, second pass, bar 1",
    ]
    assert len(read_bars(text)) == 8


@pytest.mark.parametrize(
    ("number", "words"), [(2, "second"), (10, "tenth"), (11, "11th"), (12, "12th"), (22, "22nd")]
)
def test_ordinals(number: int, words: str) -> None:
    assert ordinal(number) == words


def test_a_pickup_has_no_bar_number() -> None:
    performance = placed(cell_line(["D", "A"], "R - - -", 1), Meter(4, 4))
    first = performance.bars[0]
    pickup = replace(first, ref=replace(first.ref, section="pickup", written_bar=0))
    text = tab_text(replace(performance, bars=(pickup, performance.bars[1])))
    assert [system.first_line for system in read_systems(text)] == ["pickup", "verse, bar 2"]


def test_long_chord_names_have_room() -> None:
    performance = placed(cell_line(["D"], "R - - -", 1), Meter(4, 4))
    symbols = {0: "Dmaj7", 960: "C#m7b5", 1920: "F#7alt"}
    onsets = tuple(replace(onset(symbol), tick=tick) for tick, symbol in symbols.items())
    bar = replace(performance.bars[0], chords=onsets)
    text = tab_text(replace(performance, bars=(bar,)))
    (system,) = read_systems(text)
    assert system.chords.split() == ["Dmaj7", "C#m7b5", "F#7alt"]
    beat = system.count.index("r") if "r" in system.count else system.count.index("2")
    assert system.chords.index("C#m7b5") == beat


def test_notes_must_be_placed() -> None:
    with pytest.raises(ValueError, match="not placed"):
        tab_text(as_performance(plain_line([36]), Meter(4, 4)))


def test_of_a_time_that_differs_in_less_than_half_its_bars_they_alone_are_printed() -> None:
    first, second, third = ["C", "G", "C", "F", "G"], ["C", "A", "C", "E", "G"], list("CADEG")
    line = cell_line([*first, *second, *third], "R - - -", 1)
    refs = [(time, 1, number) for time in (1, 2, 3) for number in range(1, 6)]
    text = tab_text(with_refs(placed(line, Meter(4, 4)), refs))
    lines = text.splitlines()
    assert "verse, second time: as the first time, but for bars 2 and 4" in lines
    assert "verse, third time: as the second time, but for bar 3" in lines
    printed = [system.first_line for system in read_systems(text)]
    assert printed[-3:] == ["bar 2", "bar 4", "bar 3"]
    assert len(read_bars(text)) == 5 + 2 + 1
    line = cell_line([*first[:4], *second[:4]], "R - - -", 1)
    refs = [(time, 1, number) for time in (1, 2) for number in range(1, 5)]
    whole = tab_text(with_refs(placed(line, Meter(4, 4)), refs))
    assert len(read_bars(whole)) == 8


def test_a_section_that_comes_again_alike_is_told_in_one_line() -> None:
    # Twice C G, then twice C F: a reader turns back, and nothing is printed twice.
    performance = placed(
        cell_line(["C", "G", "C", "G", "C", "F", "C", "F"], "R - - -", 1), Meter(4, 4)
    )
    refs = [(1, 1, 1), (1, 1, 2), (1, 2, 1), (1, 2, 2), (2, 1, 1), (2, 1, 2), (2, 2, 1), (2, 2, 2)]
    text = tab_text(with_refs(performance, refs))
    assert len(read_bars(text)) == 4
    lines = text.splitlines()
    assert "verse, second pass: as the first time" in lines
    assert "verse, second time, second pass: as the second time" in lines
    assert [system.first_line for system in read_systems(text)] == [
        "verse, bar 1",
        "verse, second time, bar 1",
    ]
