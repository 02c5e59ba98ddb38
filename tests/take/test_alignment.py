"""Takes of made-up songs with a known truth: which onset is which note, wherever they begin."""

import pytest

from groove.errors import OptionError
from groove.take.alignment import Alignment, align
from groove.take.heard import HeardTake
from groove.take.judgement import judged_take
from groove.take.reference import TakeReference
from tests.take.played import Played, cut, jumped, played, right_share, song_reference


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


@pytest.mark.parametrize("ratio", [0.5, 0.88, 0.95, 1.07, 1.14, 2.0])
def test_other_tempi_are_found(ratio: float) -> None:
    reference = song_reference(5)
    take = played(reference, 2, jitter_ms=8, ratio=ratio)
    found = aligned(reference, take)
    assert found.ratio == pytest.approx(ratio, rel=0.005)
    assert right_share(found, take) > 0.97


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


def test_a_loop_of_one_bar_is_ambiguous_without_its_start() -> None:
    """Eight equal bars of which six are played: no ear could tell which six."""
    from tests.take.played import even_reference

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
