"""What of a song is practised: places that the charts below have by construction."""

import dataclasses

from groove.events import Part, Performance
from groove.neck.fingering import FingeredLine, Shift
from groove.practice.exercises import ExerciseKind, fill_loops, section_loops, shift_loops
from groove.practice.plan_text import exercise_name, exercise_reason
from tests.practice.practising import usual

ONE, NINE = "-1-1-1-1-", "-9-9-9-9-"
BARS = [ONE, "-1-1-1-3-", ONE, ONE, NINE, NINE]
EMPTY = "|".join(["---------"] * len(BARS))
LEAPS = f"""title: Leaps
tempo: 120
key: D
fills: none
feel: straight eighths
verse:
| D | D | D | D | D | D |
G |{EMPTY}|
D |{EMPTY}|
A |{EMPTY}|
E |{"|".join(BARS)}|
chorus:
| G | G |
"""
"""All on the E string, so that no hand has a choice: from fret 1 to fret 9 between bars 4 and 5, in
a quarter, 0.5 s; to fret 3 under the same hand."""


def test_the_longest_leap_comes_first_with_the_bar_that_leads_there() -> None:
    whole, line, _ = usual(LEAPS)
    loops = shift_loops(whole, line, within=range(len(whole.bars)))
    first = loops[0]
    assert exercise_name(first) == "bars 4-5" and first.bars == (3, 4)
    assert first.shift is not None and first.shift.time_ms == 500
    assert exercise_reason(first).endswith("in 0.50 s")
    speeds = [loop.shift.travel_mm / loop.shift.time_ms for loop in loops if loop.shift]
    assert speeds == sorted(speeds, reverse=True) and len(speeds) == len(loops)
    bars = [number for loop in loops for number in (loop.first_bar, loop.last_bar)]
    assert len(bars) == len(set(bars)) >= 2
    assert all(len(loop.bars) == 2 for loop in loops)


def test_no_bar_is_in_two_loops() -> None:
    """Up to the ninth fret in bar 3 and down in bar 4: bar 3 would be in both."""
    there = "|".join([ONE, ONE, NINE, ONE, ONE, ONE])
    text = LEAPS.replace("|".join(BARS), there)
    whole, line, _ = usual(text)
    names = [exercise_name(loop) for loop in shift_loops(whole, line, within=range(6))]
    assert names in (["bars 2-3"], ["bars 3-4"])


def test_shifts_are_looked_for_where_they_are_asked_for() -> None:
    whole, line, _ = usual(LEAPS)
    assert shift_loops(whole, line, within=range(3)) == []


def moves(whole: Performance, line: FingeredLine, *asked: tuple[int, float, float]) -> list[str]:
    """Return the loops of moves made up: each in a played bar, so many mm in so many ms."""
    firsts: dict[int, int] = {}
    for index, note in enumerate(line.notes):
        firsts.setdefault(note.origin.bar.played_bar, index)
    shifts = tuple(
        Shift(
            note_index=firsts[bar], from_fret=1, to_fret=2, travel_mm=travel_mm, time_ms=time_ms,
            is_hard=False,
        )
        for bar, travel_mm, time_ms in asked
    )  # fmt: skip
    moved = dataclasses.replace(line, shifts=shifts)
    loops = shift_loops(whole, moved, within=range(len(whole.bars)))
    return [exercise_name(loop) for loop in loops]


def test_fast_moves_come_before_long_ones_and_slow_ones_not_at_all() -> None:
    """By hand: 0.25 and 0.5 mm a ms; more than a second is no matter, and no time no move."""
    whole, line, _ = usual(LEAPS)
    assert moves(whole, line, (2, 200, 800), (6, 50, 100)) == ["bars 5-6", "bars 1-2"]
    assert moves(whole, line, (2, 200, 1001), (6, 200, 1000), (4, 9, 0)) == ["bars 5-6"]
    # Bars 2 and 3 are taken by the faster one: no second loop has either, wherever it begins.
    assert moves(whole, line, (3, 90, 90), (2, 80, 90)) == ["bars 2-3"]
    assert moves(whole, line, (2, 90, 90), (3, 80, 90)) == ["bars 1-2"]


def test_a_move_in_the_first_bar_is_practised_with_the_next_and_no_pickup() -> None:
    whole, line, _ = usual(LEAPS.replace("verse:", "pickup: 1 | D |\nverse:", 1))
    assert whole.bars[0].ref.is_pickup
    first = whole.bars[1].ref.played_bar
    assert moves(whole, line, (first, 90, 90)) == ["bars 1-2"]


FORM = """title: Form
tempo: 100
key: C
seed: 2
feel: straight eighths
form: verse, chorus, verse, chorus
verse:
| C | F | (fill) G | G7 |
chorus:
| Am | F | C | G |
"""


def test_fills_are_the_ends_of_sections_and_what_is_asked_for_in_a_bar() -> None:
    """By hand: bars 4 and 5, 8 and 1, and bar 3 into bar 4; with this seed the bass has the turn
    in bar 3 and at the chorus's end, the drums lead into the chorus.
    """
    whole, _, _ = usual(FORM)
    bass = whole.part_notes(Part.BASS)
    assert {n.origin.bar.written_bar for n in bass if not n.origin.time_keeping} == {3, 8}
    loops = fill_loops(whole, within=range(len(whole.bars)))
    names = {exercise_name(loop): loop.into for loop in loops}
    assert names == {"bars 3-4": "", "bars 8 and 1": "verse", "bars 4-5": "chorus"}
    assert exercise_name(loops[-1]) == "bars 4-5"  # no fill of the bass: the least busy
    told = {exercise_reason(loop) for loop in loops}
    assert told == {"the fill", "the way from chorus into verse", "the way from verse into chorus"}


def test_a_section_comes_once_and_the_whole_last() -> None:
    whole, line, exercises = usual(FORM)
    sections = [exercise_name(loop) for loop in section_loops(whole, line)]
    assert sorted(sections) == ["chorus", "verse"]
    kinds = [one.kind for one in exercises]
    assert kinds == sorted(kinds, key=list(ExerciseKind).index)
    assert kinds[-1] is ExerciseKind.SONG and exercises[-1].bars == tuple(range(16))


BUSY = """title: Busy
tempo: 100
key: C
fills: none
calm:
bass: long notes
| C | C | C | C |
busy:
bass: sixteenths
| C | F | G | C |
calm 2:
as: calm
form: calm, busy, calm 2
"""


def test_the_section_with_more_to_do_comes_first() -> None:
    whole, line, _ = usual(BUSY)
    assert [exercise_name(loop) for loop in section_loops(whole, line)] == ["busy", "calm"]
    # Where the hand has to go somewhere in the calm one alone, that is the harder.
    shift = Shift(
        note_index=1, from_fret=1, to_fret=9, travel_mm=300, time_ms=900, is_hard=True
    )  # fmt: skip
    led = dataclasses.replace(line, shifts=(shift,))
    assert [exercise_name(loop) for loop in section_loops(whole, led)] == ["calm", "busy"]
