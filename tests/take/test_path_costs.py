"""Costs that decide which onset is which note, against brute force and by cases worked by hand."""

from itertools import pairwise, product

import numpy
import pytest
from msgspec.structs import replace

from groove.take.alignment import _robust_value, align
from groove.take.heard import HeardNote, in_time
from groove.take.offsets import (
    AGAIN_COST,
    BIN_SEC,
    LEFT_OUT_COST,
    MOST_MOVED,
    MOVE_COST,
    _best_path,
    find_offsets,
)
from tests.take.played import even_reference, heard_at

BINS, SEGMENTS = 9, 4


def step_cost(before: int, after: int, rate: float, jump_cost: float) -> float:
    """Return what it costs to go from a bin to another: a small move, or a jump on or back."""
    away = after - before
    share = AGAIN_COST * away if away >= 0 else -LEFT_OUT_COST * away
    jump = share * rate * BIN_SEC + jump_cost
    return min(jump, MOVE_COST * abs(away)) if abs(away) <= MOST_MOVED else jump


@pytest.mark.parametrize("seed", range(4))
def test_the_best_path_is_the_best_of_all(seed: int) -> None:
    # Every path is tried: 9 bins in 4 segments are 6,561.
    rng = numpy.random.default_rng(seed)
    scores = rng.uniform(0, 2, (SEGMENTS, BINS))
    prior = rng.uniform(0, 0.5, BINS)
    rate, jump_cost = (30.0, 0.05) if seed % 2 else (4.0, 0.2)

    def worth(path: tuple[int, ...]) -> float:
        steps = pairwise(path)
        moved = sum(step_cost(before, after, rate, jump_cost) for before, after in steps)
        return float(prior[path[0]] + sum(scores[range(SEGMENTS), path]) - moved)

    value, path = _best_path(scores, prior, rate, jump_cost)
    best = max(worth(each) for each in product(range(BINS), repeat=SEGMENTS))
    assert value == pytest.approx(best)
    assert worth(tuple(path.tolist())) == pytest.approx(best)


def test_a_bar_more_costs_less_than_a_bar_left_out() -> None:
    # A player who starts again plays its notes, one who leaves out does not (common practice, no
    # source): of two jumps that are worth the same the one that repeats is believed.
    assert 0 < AGAIN_COST < LEFT_OUT_COST


@pytest.mark.parametrize(("octaves", "start_sec"), [(3, 1.0), (5, 1.0 - 4.8)])
def test_a_take_begins_at_the_start_unless_its_notes_say_otherwise(
    octaves: int, start_sec: float
) -> None:
    # Seven of eight equal bars of 4.8 s, 56 notes; some of the first bar's are written an octave
    # higher, which costs 0.2 of a note and half as much again, as it was not heard: 0.3.  To begin
    # a bar later costs 0.02 x 56 = 1.12 notes: more than three of them, less than five.
    even = even_reference(8, 50.0)
    notes = [
        replace(note, pitches=(52,)) if at < octaves else note for at, note in enumerate(even.notes)
    ]
    found = find_offsets(notes, heard_at([1 + note.sec for note in even.notes[:56]]))
    assert found.offsets_sec[0] == pytest.approx(start_sec, abs=0.03)


@pytest.mark.parametrize(("wrong", "start_sec"), [(6, 1.0 - 9.6), (10, 1.0)])
def test_a_note_that_was_not_heard_costs_half_a_note(wrong: int, start_sec: float) -> None:
    # Sixteen strokes fit the first four bars, where 16 more are due: 16 - 16 / 2 = 8 notes.  They
    # fit the last four bars, where some are of another pitch, with 0.3 of a note, 0.7 of which is
    # not heard: less by 1.05 each, and 0.32 for a late start.  6 of them leave 9.38, 10 leave 5.18.
    even, rhythm = even_reference(8), (0, 3, 8, 14)
    due = [note for note in even.notes if note.bar < 4 or note.slot in rhythm]
    late = [note for note in due if note.bar >= 4]
    other = {note.sec for note in [*late[::2], *late[1::2]][:wrong]}
    notes = [replace(note, pitches=(45,)) if note.sec in other else note for note in due]
    strokes = [1 + note.sec for note in due if note.bar < 4 and note.slot in rhythm]
    assert (len(due), len(strokes)) == (48, 16)
    assert find_offsets(notes, heard_at(strokes)).offsets_sec[0] == pytest.approx(
        start_sec, abs=0.03
    )


@pytest.mark.parametrize(("octaves", "is_ambiguous"), [(1, True), (3, False)])
def test_a_start_is_ambiguous_where_the_next_best_is_as_good_but_for_a_hundredth(
    octaves: int, is_ambiguous: bool
) -> None:
    # Seven of eight equal bars, 56 onsets: to begin a bar later would be worth 0.3 of a note less
    # for each note of the last bar that is written an octave higher: 0.0054 of 56, or 0.0161.
    even = even_reference(8)
    notes = tuple(
        replace(note, pitches=(52,)) if at >= 64 - octaves else note
        for at, note in enumerate(even.notes)
    )
    found = align(replace(even, notes=notes), heard_at([1 + n.sec for n in even.notes[:56]]))
    assert found.path.margin == pytest.approx(0.3 * octaves / 56, abs=1e-4)
    assert found.starts_ambiguously is is_ambiguous


def test_one_far_point_does_not_move_a_line() -> None:
    # By hand: the line is y = x; least squares with the far point gives 0.05 s more at its middle.
    at = numpy.arange(11) / 2
    sounded = at.copy()
    sounded[5] += 0.55
    assert _robust_value(at, sounded, 2.5) == pytest.approx(2.5, abs=0.001)
    assert float(numpy.polyval(numpy.polyfit(at, sounded, 1), 2.5)) == pytest.approx(2.55)


def test_the_right_pitch_wins_over_a_nearer_onset() -> None:
    reference = even_reference()
    heard = [
        HeardNote(sec=note.sec + late, pitch=pitch, pitch_confidence=1.0)
        for index, note in enumerate(reference.notes)
        for late, pitch in (((-0.01, 46.0), (0.025, 40.0)) if index % 8 == 4 else ((0.0, 40.0),))
    ]
    onsets = in_time(heard)
    pairs = align(reference, onsets, start_sec=0.0).pairs
    found = {pair.expected: onsets[pair.heard].pitch for pair in pairs}
    assert [found.get(index) for index in range(4, len(reference.notes), 8)] == [40.0] * 8
