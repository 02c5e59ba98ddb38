"""Where a song begins by drums beside the bass: the truth is the grid that strokes are put on."""

from collections.abc import Sequence
from functools import cache
from random import Random

import pytest
from msgspec.structs import replace

from groove.take.alignment import Alignment, align
from groove.take.drum_grid import clicked_start
from groove.take.heard import HeardNote, HeardTake
from tests.take.played import even_reference, heard_at

REFERENCE = even_reference(8)  # notes on sixteenths of 150 ms, an eighth is 300
BEGIN_SEC = 1.0
SLOT_SEC = 0.15


@cache
def aligned(late_sec: float) -> tuple[tuple[HeardNote, ...], Alignment]:
    """Return what is heard of a player as late as that, beside the reference."""
    rng = Random(2)
    onsets = [BEGIN_SEC + late_sec + n.sec + rng.gauss(0, 0.004) for n in REFERENCE.notes]
    heard = heard_at(onsets)
    return heard, align(REFERENCE, heard)


def start(clicks: Sequence[float], *, late_sec: float = 0.0) -> float | None:
    """Return where the reference begins by these strokes, for a player as late as that."""
    heard, alignment = aligned(late_sec)
    take = HeardTake(notes=heard, length_sec=25, click_secs=tuple(clicks))
    return clicked_start(REFERENCE, take, alignment)


def strokes(step: int, first: int = 0) -> list[float]:
    """Return a stroke every so many sixteenths of eight bars."""
    return [BEGIN_SEC + SLOT_SEC * slot for slot in range(first, 128, step)]


@pytest.mark.parametrize(
    ("step", "late_sec"),
    [(1, 0.0), *((step, late) for step in (1, 2, 4) for late in (-0.035, 0.03, 0.05))],
)
def test_drums_in_sixteenths_eighths_or_quarters_tell_where_it_begins(
    step: int, late_sec: float
) -> None:
    """Strokes between the eighths, and those that fall on notes, make nobody early by a sixteenth.

    The player is late by less than half a sixteenth.
    """
    assert start(strokes(step), late_sec=late_sec) == pytest.approx(BEGIN_SEC, abs=0.002)


def test_strokes_on_every_note_and_between_them() -> None:
    """All strokes on eighths fall on notes of an even line: only those between are apart."""
    clicks = strokes(2, 1) + [BEGIN_SEC + note.sec for note in REFERENCE.notes]
    assert start(sorted(clicks)) == pytest.approx(BEGIN_SEC, abs=0.002)


def test_strokes_anywhere_tell_nothing() -> None:
    """The hand and the room: 60 strokes that know no grid, of four draws."""
    for seed in range(4):
        rng = Random(seed)
        assert start(sorted(rng.uniform(1, 20) for _ in range(60))) is None


def test_the_bass_itself_and_a_few_strokes_tell_nothing() -> None:
    assert start([BEGIN_SEC + note.sec for note in REFERENCE.notes]) is None
    assert start(strokes(2)[:9], late_sec=0.03) is None
    assert start(strokes(4)) is None  # all of them on notes: they may be the bass


def test_a_few_strokes_between_the_eighths_are_no_heap() -> None:
    """A player 100 ms late is 50 ms before the next sixteenth: to which of the two he belongs.

    Of 64 strokes on eighths and 19 between (3 in 10) those between are chance; with 38 (6 in 10)
    the drums play sixteenths, and the nearer one is his beginning.
    """
    between = strokes(2, 1)
    assert len(strokes(2)) == len(between) == 64
    few, many = sorted(strokes(2) + between[:19]), sorted(strokes(2) + between[:38])
    assert start(few, late_sec=0.1) == pytest.approx(BEGIN_SEC, abs=0.002)
    assert start(many, late_sec=0.1) == pytest.approx(BEGIN_SEC + SLOT_SEC, abs=0.002)


def test_it_takes_strokes_on_three_eighths_of_ten() -> None:
    """From first to last note are 63 eighths: 15 strokes on the grid may be the hand, 25 not."""
    assert start(strokes(2)[:15], late_sec=0.1) is None
    assert start(strokes(2)[:25], late_sec=0.1) == pytest.approx(BEGIN_SEC, abs=0.002)


def test_three_strokes_of_ten_must_lie_on_the_grid() -> None:
    """32 strokes on eighths, beside others that lie evenly from 20 to 130 ms after one.

    Of 192 that is a share of 0.17, of 64 one half.
    """
    first = strokes(2)[:32]
    for others, is_known in ((160, False), (32, True)):
        away = [0.02 + 0.11 * (at * 7 % others) / others for at in range(others)]
        beside = [BEGIN_SEC + 2 * SLOT_SEC * (at % 64) + sec for at, sec in enumerate(away)]
        found = start(sorted(first + beside), late_sec=-0.07)
        assert (found is not None) is is_known
        if found is not None:
            assert found == pytest.approx(BEGIN_SEC, abs=0.002)


def test_a_tempo_of_ones_own_is_not_that_of_the_drums() -> None:
    rng = Random(2)
    onsets = [BEGIN_SEC + n.sec / 1.05 + rng.gauss(0, 0.004) for n in REFERENCE.notes]
    heard = heard_at(onsets)
    take = HeardTake(notes=heard, length_sec=25, click_secs=tuple(strokes(2)))
    found = align(REFERENCE, heard)
    assert clicked_start(REFERENCE, take, found) is None
    assert clicked_start(REFERENCE, take, replace(found, ratio=1.0)) is not None
