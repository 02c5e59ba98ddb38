"""What to practise after a take: which bars, how fast, and the options that play them."""

from random import Random

from msgspec.structs import replace

from groove.take.heard import HeardTake
from groove.take.judgement import judged_take
from groove.take.practice_next import NextStep, _around, next_step
from tests.take.played import drifted, even_reference, heard_at


def test_some_bars_are_practised_with_the_one_that_leads_there() -> None:
    # Common practice, no source; the first bar of all has none before it.
    numbers = list(range(1, 9))
    assert _around([5], numbers) == (4, 5)
    assert _around([3, 4], numbers) == (2, 4)
    assert _around([1], numbers) == (1, 1)


def test_a_piece_is_looped_and_the_whole_is_not() -> None:
    piece = NextStep(bars=(4, 5), percent=80, why="these strayed the most")
    assert piece.options() == [
        "--without", "bass", "--click", "--tempo", "80%", "--bars", "4-5", "--times", "8",
    ]  # fmt: skip
    whole = NextStep(bars=None, percent=105, why="it holds: a little faster")
    assert whole.options() == ["--without", "bass", "--click", "--tempo", "105%"]


def judged(
    *, worst: dict[int, float] | None = None, sd_ms: float = 6.0, drift: float = 0.0
) -> NextStep | None:
    """Return what comes next of sixteen even bars at 100, some of them strayed in by so many ms."""
    reference = even_reference(16)
    rng = Random(3)
    onsets = [
        1
        + drifted(note.sec, 100, drift)
        + rng.gauss(0, (worst or {}).get(note.bar + 1, sd_ms)) / 1000
        for note in reference.notes
    ]
    heard = heard_at(onsets)
    return next_step(judged_take(reference, HeardTake(notes=heard, length_sec=60)))


def test_each_finding_has_its_step() -> None:
    """Four fifths of the tempo for a bar, seven tenths for all, a twentieth more where it holds.

    All common practice, no source: slower than the player can do it, and up by little.
    """
    assert judged(worst={9: 45.0}) == NextStep(
        bars=(8, 9), percent=80, why="these strayed the most"
    )
    uneven = judged(sd_ms=25.0)
    assert uneven and (uneven.bars, uneven.percent) == (None, 70)
    rushing, dragging = judged(drift=12), judged(drift=-12)
    assert rushing and (rushing.percent, rushing.why) == (100, "against rushing, with the click")
    assert dragging and (dragging.percent, dragging.why) == (
        100,
        "against dragging, with the click",
    )
    assert judged() == NextStep(bars=None, percent=105, why="it holds: a little faster")


def test_a_bar_at_another_pitch_is_not_played_faster() -> None:
    """Two wrong notes in a bar are practised, one anywhere is a slip (common practice, no source).

    Eight notes a bar: the 18th and 20th stand in bar 3.
    """
    reference = even_reference(8)
    heard = list(heard_at([1 + note.sec for note in reference.notes]))
    heard[17] = replace(heard[17], pitch=42.0)
    one = judged_take(reference, HeardTake(notes=tuple(heard), length_sec=30))
    assert one.wrong == (17,)
    assert next_step(one) == NextStep(bars=None, percent=105, why="it holds: a little faster")
    heard[19] = replace(heard[19], pitch=38.0)
    two = judged_take(reference, HeardTake(notes=tuple(heard), length_sec=30))
    assert next_step(two) == NextStep(bars=(2, 3), percent=80, why="heard at another pitch")


def test_a_step_is_a_share_of_the_references_tempo() -> None:
    report = judged_take(
        even_reference(8),
        HeardTake(notes=heard_at([1 + n.sec for n in even_reference(8).notes]), length_sec=30),
    )
    assert NextStep(bars=None, percent=80, why="").tempo_bpm(report) == 80  # of 100
