"""Takes of made-up songs with a known truth: which onset is which note, wherever they begin."""

from random import Random

import numpy
import pytest
from msgspec.structs import replace

from groove.errors import OptionError
from groove.take.alignment import Alignment, align
from groove.take.course import MeasuredBy
from groove.take.heard import HeardTake
from groove.take.judgement import judged_take
from groove.take.jumped import TakeJump, has_other_end, jumped_bars
from groove.take.pairing import Pair
from groove.take.reference import TakeReference, grid_reference
from tests.take.played import (
    Played,
    cut,
    even_reference,
    heard_at,
    jumped,
    known_alignment,
    played,
    right_share,
    song_reference,
)


def aligned(reference: TakeReference, take: Played) -> Alignment:
    return align(reference, take.take.notes)


@pytest.mark.parametrize("seed", range(4))
def test_notes_find_their_onsets_through_drift_and_slips(seed: int) -> None:
    reference = song_reference(seed)
    drift = (-6, 0, 4, 8)[seed]
    take = played(reference, seed, jitter_ms=12, drift=drift, missed=0.05, extra=0.04, wrong=0.04)
    found = aligned(reference, take)
    assert right_share(found, take) > 0.98
    assert not found.is_ambiguous
    assert found.jumps == ()
    missing = set(range(len(reference.notes))) - {p.expected for p in found.pairs}
    truth = set(range(len(reference.notes))) - set(take.truth)
    assert len(missing & truth) >= 0.8 * max(len(missing), len(truth))


@pytest.mark.parametrize("ratio", [0.5, 0.88, 1.07, 2.0])
def test_other_tempi_are_found(ratio: float) -> None:
    reference = song_reference(5)
    take = played(reference, 2, jitter_ms=8, ratio=ratio)
    found = aligned(reference, take)
    assert found.ratio == pytest.approx(ratio, rel=0.005)
    assert right_share(found, take) > 0.97


@pytest.mark.parametrize("ratio", [0.5, 1.14])
def test_a_free_tempo_is_the_players_own(ratio: float) -> None:
    reference = song_reference(4)
    take = played(reference, 8, jitter_ms=8, ratio=ratio)
    figures = judged_take(reference, take.take, free_tempo=True).figures
    assert figures.measure is MeasuredBy.OWN
    assert figures.tempo_bpm == pytest.approx(ratio * reference.tempo_bpm, rel=0.005)
    assert figures.sd_ms == pytest.approx(8, abs=2)


def test_what_was_not_played_and_what_was_more_is_told_of_midi() -> None:
    """Precision and recall of at least 0.98 each, over eight songs as a hand plays them."""
    unplayed = told_unplayed = extra = told_extra = right_unplayed = right_extra = 0
    for seed in range(8):
        reference = song_reference(seed)
        take = played(reference, 100 + seed, jitter_ms=8, missed=0.05, extra=0.04, wrong=0.03)
        found = judged_take(reference, take.take)
        gone = set(range(len(reference.notes))) - set(take.truth)
        more = {at for at, index in enumerate(take.truth) if index is None}
        unplayed, extra = unplayed + len(gone), extra + len(more)
        told_unplayed, told_extra = told_unplayed + len(found.missed), told_extra + len(found.extra)
        right_unplayed += len(gone & set(found.missed))
        right_extra += len(more & set(found.extra))
    assert unplayed > 30 and extra > 25
    assert right_unplayed >= 0.98 * max(unplayed, told_unplayed)
    assert right_extra >= 0.98 * max(extra, told_extra)


def test_what_is_far_softer_than_its_neighbours_is_no_extra() -> None:
    """The end of a note, an echo: an onset, but nothing that a hand struck."""
    reference = song_reference(2)
    take = played(reference, 9, jitter_ms=5, extra=0.08)
    more = [at for at, index in enumerate(take.truth) if index is None]
    assert len(more) > 4
    notes = list(take.take.notes)
    for at in more[::2]:
        notes[at] = replace(notes[at], is_ghost=True)
    found = judged_take(reference, replace(take.take, notes=tuple(notes)))
    assert set(found.extra) == set(more[1::2])


def test_another_pitch_is_told_from_a_half_tone_on() -> None:
    reference = song_reference(4)
    take = played(reference, 12, wrong=0.1)
    other = [
        index
        for index, note in zip(take.truth, take.take.notes, strict=True)
        if index is not None
        and note.pitch != reference.notes[index].pitches[0]
        and not reference.notes[index].is_ghost
    ]
    assert len(other) > 4
    assert list(judged_take(reference, take.take).wrong) == other


def test_what_was_left_before_the_beginning_was_not_played() -> None:
    """The first notes of the first bar were not heard; two whole bars were never begun."""
    reference = song_reference(1)
    take = played(reference, 3, jitter_ms=6)
    late = judged_take(reference, cut(take, take.onsets[2] - 0.05, 99).take)
    assert late.missed == (0, 1)
    later = judged_take(reference, cut(take, 1 + reference.bars[2].start_sec - 0.1, 99).take)
    assert later.missed == ()
    assert later.begun is reference.bars[2]


@pytest.mark.parametrize("percent", [6, -6])
def test_bars_that_rush_are_told_from_bars_that_drag(percent: int) -> None:
    """Four bars of an even line at another tempo, the rest as written."""
    reference = even_reference(16)
    begin, end = reference.bars[6].start_sec, reference.bars[9].end_sec
    gained = percent / (100 + percent)
    onsets = [
        1 + note.sec - gained * (min(max(note.sec, begin), end) - begin) for note in reference.notes
    ]
    found = judged_take(reference, HeardTake(notes=heard_at(onsets), length_sec=40))
    spans = [each for each in found.stretches if each.percent * percent > 0]
    assert spans
    widest = max(spans, key=lambda each: each.last - each.first)
    assert 7 <= widest.first <= 8
    assert 9 <= widest.last <= 10


def test_a_take_that_starts_late_or_stops_early() -> None:
    reference = song_reference(1)
    take = played(reference, 3, jitter_ms=8)
    bar = reference.bars[0].end_sec
    for low, high in ((1 + 3 * bar - 0.1, 99), (0, 1 + 7 * bar - 0.1)):
        part = cut(take, low, high)
        assert right_share(aligned(reference, part), part) > 0.97


@pytest.mark.parametrize("bars", [-1, 1])
def test_a_bar_left_out_or_played_twice_is_found(bars: int) -> None:
    reference = song_reference(2)
    take = played(reference, 4, jitter_ms=6)
    again = jumped(reference, take, 5, bars)
    found = aligned(reference, again)
    assert [jump.bars for jump in found.jumps] == [bars]
    far = [i for i in range(len(reference.notes)) if not 4 <= reference.notes[i].bar <= 7]
    pairs = {pair.expected: pair.heard for pair in found.pairs}
    assert sum(again.truth[pairs[i]] == i for i in far if i in pairs) > 0.97 * len(far)


def test_bars_left_out_are_found_or_called_ambiguous() -> None:
    """Where the rest of the song is like what was left out, two ways explain it equally well."""
    right = 0
    for seed, bar, bars in ((0, 7, -2), (14, 5, -2), (2, 6, -1), (7, 7, -1)):
        reference = song_reference(seed % 12)
        take = jumped(reference, played(reference, seed, jitter_ms=8), bar, bars)
        found = align(reference, take.take.notes, start_sec=1.4)
        is_right = right_share(found, take) > 0.9
        assert is_right or found.is_ambiguous
        assert not found.starts_ambiguously
        right += is_right
    assert right >= 2


def test_bars_left_out_before_the_last_ones_are_called_ambiguous() -> None:
    """The song's last two bars in the place of the two before: as if those were played otherwise.

    A player who only stops two bars early leaves no doubt, nor does one who plays to the end.
    """
    doubted = 0
    for seed in range(4):
        reference = song_reference(seed)
        whole = played(reference, seed, jitter_ms=8)
        for take, is_clear in (
            (jumped(reference, whole, 8, -2), False),
            (jumped(reference, whole, 10, -2), True),
            (whole, True),
        ):
            found = align(reference, take.take.notes, start_sec=1.0)
            if is_clear:
                assert not found.has_other_end and not found.is_ambiguous
            else:
                assert right_share(found, take) > 0.9 or found.is_ambiguous
                doubted += found.has_other_end
    assert doubted >= 3


@pytest.mark.parametrize(
    ("heard", "others", "is_other"),
    [(16, 3, True), (16, 2, False), (16, 0, False), (2, 1, True), (4, 1, False), (32, 16, False)],
)
def test_how_many_other_pitches_make_another_end(heard: int, others: int, is_other: bool) -> None:
    """Four bars of eight notes; more than 15 % of the last as many notes as were not heard, or of
    one note more than a quarter."""
    reference = even_reference(4)
    pairs = [Pair(row, row) for row in range(heard)]
    worth = numpy.full((32, 32), 0.6)  # an unknown pitch is no other one
    for row in range(heard - others, heard):
        worth[row, row] = 0.3
    assert has_other_end(reference, pairs, worth, []) is is_other
    jump = TakeJump(at=1, shift_sec=2.0, bars=1)
    assert not has_other_end(reference, pairs, worth, [jump])


def test_a_turn_explains_no_onset_twice() -> None:
    """A verse of four bars twice, its second bar left out the second time, as in a real take.

    All bars have the same rhythm: by time alone the turn could lie anywhere in two bars, and what
    the notes before explain already must not count again.
    """
    even = even_reference(12)
    roots = (40, 45, 43, 38, 40, 45, 43, 38, 36, 41, 36, 41)
    reference = replace(
        even, notes=tuple(replace(note, pitches=(roots[note.bar],)) for note in even.notes)
    )
    take = jumped(reference, played(reference, 3, jitter_ms=5), 5, -1)
    report = judged_take(reference, take.take)
    assert report.left_out == (6,)
    assert report.wrong == ()
    assert {reference.notes[index].bar for index in report.missed} <= {5}
    assert not report.extra


@pytest.mark.parametrize("seed", [0, 1, 3])
def test_a_line_of_ones_own_goes_through_any_notes(seed: int) -> None:
    """Two notes in three are the part's, one of three another: the time is that of the grid.

    Sixteenths of 135 ms and more; of shorter ones a line of many is a matter of luck.
    """
    part = song_reference(seed)
    reference = grid_reference(part)
    take = played(part, seed, jitter_ms=7, missed=0.25)
    rng = Random(seed)
    notes = tuple(
        replace(note, pitch=(note.pitch or 0) + rng.choice((0, 0, 5, 7, -2, 1)))
        for note in take.take.notes
    )
    found = judged_take(reference, replace(take.take, notes=notes))
    assert found.figures.sd_ms == pytest.approx(7, abs=2.5)
    assert found.figures.tempo_bpm == pytest.approx(part.tempo_bpm, rel=0.005)
    assert found.missed == found.wrong == found.extra == ()


def test_what_is_no_line_of_this_song_does_not_fit_its_grid() -> None:
    """Strokes drawn without any time: nobody is told that another free line would help."""
    reference = grid_reference(song_reference(0))
    rng = Random(1)
    struck = heard_at(sorted(rng.uniform(1, 38) for _ in range(80)))
    heard = tuple(replace(note, pitch=float(rng.randrange(28, 50))) for note in struck)
    with pytest.raises(OptionError, match="does not fit") as caught:
        judged_take(reference, HeardTake(notes=heard, length_sec=40))
    assert "--free-line" not in str(caught.value.hint)


def test_a_rest_is_no_bar_played_again() -> None:
    """A pause of three beats is no whole bar: it goes on later, and nothing is told as repeated."""
    reference = song_reference(6)
    take = played(reference, 6, jitter_ms=5)
    at = 1 + reference.bars[6].start_sec - 0.05
    pause = 3 * reference.beat_sec
    notes = tuple(
        replace(note, sec=note.sec + (pause if note.sec > at else 0)) for note in take.take.notes
    )
    found = align(reference, notes)
    assert [jump.bars for jump in found.jumps] == [0]
    assert found.jumps[0].shift_sec == pytest.approx(pause, abs=0.05)
    assert right_share(found, take) > 0.97
    report = judged_take(reference, replace(take.take, notes=notes))
    assert report.left_out == report.again == ()


def test_bars_left_out_and_again_are_told_by_the_charts_numbers() -> None:
    reference = song_reference(2)
    for bars in (-1, 1):
        take = jumped(reference, played(reference, 4, jitter_ms=6), 5, bars)
        report = judged_take(reference, take.take)
        told = report.left_out if bars < 0 else report.again
        assert told == (reference.bars[5].number,)
        assert not (report.again if bars < 0 else report.left_out)


@pytest.mark.parametrize(("slot", "bar"), [(4, 4), (14, 5)])
@pytest.mark.parametrize("bars", [-1, 1])
def test_a_note_of_a_bars_second_half_may_lead_into_the_next_one(
    slot: int, bar: int, bars: int
) -> None:
    """What is played first after a jump: in the fifth bar's first half it is of that bar, in the
    second half it leads into the sixth.  Left out is the bar before; repeated what was heard so.
    """
    reference = even_reference(8)
    onsets = [1 + note.sec for note in reference.notes]
    at = next(n for n, note in enumerate(reference.notes) if (note.bar, note.slot) == (4, slot))
    jump = TakeJump(at=at, shift_sec=bars * reference.bars[0].end_sec, bars=bars)
    left_out, again = jumped_bars(reference, heard_at(onsets), [jump], onsets)
    told, nothing = (left_out, again) if bars < 0 else (again, left_out)
    assert nothing == ()
    # Bars' numbers count from 1: ``bar`` is the number of the bar before the one that follows.
    assert told == ((bar,) if bars < 0 else (bar + 1,))


@pytest.mark.parametrize("bars", [-1, 1])
def test_which_bar_was_left_out_or_repeated_is_told_by_its_own_notes(bars: int) -> None:
    """Twelve bars of one rhythm, each with its own root: any other bar would leave eight notes
    with another pitch, and each of them would be worth 0.7 less.  Of two alike none can be told.
    """
    even = even_reference(12)
    roots = (40, 45, 43, 38, 36, 41, 47, 39, 44, 42, 37, 46)
    for pitches, margin in ((roots, 8 * 0.7), ((*roots[:6], 41, *roots[7:]), 0.0)):
        notes = tuple(replace(note, pitches=(pitches[note.bar],)) for note in even.notes)
        reference = replace(even, notes=notes)
        take = jumped(reference, played(reference, 5, jitter_ms=5), 5, bars)
        found = align(reference, take.take.notes, start_sec=1.0)
        assert [jump.bars for jump in found.jumps] == [bars]
        assert found.jump_margin == pytest.approx(margin)
        assert found.is_ambiguous is (margin == 0)
    assert align(reference, played(reference, 5).take.notes).jump_margin == float("inf")


@pytest.mark.parametrize("turn", [5, 6])
def test_a_bar_was_repeated_whichever_of_its_times_is_the_first(turn: int) -> None:
    """The sixth bar twice: its notes are those heard last, or first, by where the jump is set."""
    even = even_reference(8)
    roots = (40, 45, 43, 38, 36, 41, 47, 39)
    notes = tuple(replace(note, pitches=(roots[note.bar],)) for note in even.notes)
    reference = replace(even, notes=notes)
    take = jumped(reference, played(reference, 1, jitter_ms=0), 5, 1)
    bar_sec = even.bars[0].end_sec
    predicted = [1 + note.sec + bar_sec * (note.bar >= turn) for note in notes]
    jump = TakeJump(at=8 * turn, shift_sec=bar_sec, bars=1)
    assert jumped_bars(reference, take.take.notes, [jump], predicted) == ((), (6,))


def test_another_way_that_explains_three_notes_fewer_leaves_no_doubt() -> None:
    reference = even_reference(4)
    known = known_alignment(reference, [1 + note.sec for note in reference.notes])
    for notes, is_ambiguous in ((2.0, True), (4.0, False)):
        assert replace(known, path=replace(known.path, way_margin=notes)).is_ambiguous is (
            is_ambiguous
        )
        assert replace(known, jump_margin=notes).is_ambiguous is is_ambiguous


def test_one_of_equal_bars_left_out_is_ambiguous() -> None:
    """Eight equal bars of which seven are played: no ear could tell which was left out."""
    reference = even_reference(8)
    take = jumped(reference, played(reference, 5, jitter_ms=5), 3, -1)
    assert aligned(reference, take).is_ambiguous
    assert not aligned(reference, played(reference, 5, jitter_ms=5)).is_ambiguous


def test_a_loop_of_one_bar_is_ambiguous_without_its_start() -> None:
    """Eight equal bars of which six are played: no ear could tell which six."""
    reference = even_reference(8)
    take = played(reference, 5, jitter_ms=5)
    part = cut(take, 1 + reference.bars[1].start_sec - 0.1, 1 + reference.bars[7].start_sec - 0.1)
    assert aligned(reference, part).is_ambiguous
    whole = aligned(reference, take)
    assert right_share(whole, take) == 1


def test_a_take_without_notes_is_one_clear_error() -> None:
    empty = HeardTake(notes=(), length_sec=12.0)
    with pytest.raises(OptionError, match="no note was heard in the take") as caught:
        judged_take(song_reference(0), empty)
    assert caught.value.hint == "expected the bass alone, louder"
    few = HeardTake(notes=heard_at([1.0, 2.0, 3.0]), length_sec=12.0)
    with pytest.raises(OptionError, match="only 3 notes heard in the take") as caught:
        judged_take(song_reference(0), few)
    assert caught.value.hint == "expected the bass alone, louder"


def test_lateness_is_known_behind_a_bar_that_was_left_out() -> None:
    """20 ms late in a file whose beginning is known: whole beats of a jump are no lateness."""
    reference = song_reference(2)
    take = jumped(reference, played(reference, 4, jitter_ms=6, late_ms=20), 5, -1)
    found = judged_take(reference, take.take, latency_ms=1000)
    assert found.figures.mean_ms == pytest.approx(20, abs=3)
    gone = [at for at, note in enumerate(reference.notes) if note.bar == 5]
    assert sum(found.alignment.pieces[at] == -1 for at in gone) >= len(gone) - 1


def test_a_known_beginning_is_the_beginning() -> None:
    """Six of eight equal bars, from the second one on: where the first would have begun is told."""
    reference = even_reference(8)
    take = played(reference, 5, jitter_ms=5)
    begin = reference.bars[1].start_sec
    part = cut(take, 1 + begin - 0.1, 1 + reference.bars[7].start_sec - 0.1)
    found = align(reference, part.take.notes, start_sec=1.2)
    assert right_share(found, part) == 1
    assert found.pairs[0].expected == 8


def test_a_likely_onset_that_nothing_is_due_for_is_a_possible_extra() -> None:
    reference = song_reference(2)
    take = played(reference, 9, jitter_ms=5, extra=0.08)
    more = [at for at, index in enumerate(take.truth) if index is None]
    assert len(more) > 4
    notes = list(take.take.notes)
    for at in more:
        notes[at] = replace(notes[at], strength=0.6 if at in more[::2] else 0.45)
    found = judged_take(reference, replace(take.take, notes=tuple(notes)))
    assert set(found.extra) == set(more[::2])
