"""Onsets of made takes, against the samples at which their notes were added; mir_eval scores.

The limits are those of ``tests.benchmarks.bench_onsets``, which takes more takes and every kind of
recording; the takes here are of seeds on which the network was not fitted.
"""

import numpy
import pytest

from groove.take.attack import attacks
from groove.take.onsets import detect_onsets, look_again
from groove.take.working_rate import WORKING_RATE_HZ
from tests.benchmarks.bench_onsets import LIMITS, scored
from tests.take.bass_sounds import SAMPLE_RATE_HZ
from tests.take.made_takes import CONDITIONS, SOUNDS, MadeTake, PlayerSettings, made_take


@pytest.fixture(scope="module")
def clean_take() -> MadeTake:
    return made_take(3, SOUNDS[0], CONDITIONS["clean"], bars=4)


@pytest.mark.parametrize("condition", ["clean", "noise -20", "all"])
def test_onsets_lie_where_notes_were_added(condition: str) -> None:
    score, _ = scored(condition, range(90_000, 90_003))
    least_f, least_ghosts, most_bias_ms, most_p95_ms = LIMITS[condition]
    assert score.true > 80 and score.ghosts >= 8
    assert score.f_measure >= least_f - 0.01  # three takes stray by so much
    assert score.ghosts_found / score.ghosts >= least_ghosts - 0.1
    assert abs(score.bias_ms) <= most_bias_ms
    assert score.p95_ms <= most_p95_ms
    assert score.pitch_right >= 0.95 * score.pitched
    assert score.kinds_right >= 0.9 * score.matched


def test_a_clear_attack_is_found_to_half_a_millisecond() -> None:
    """Of half of all notes and more, the fitted distance alone is off by twice as much."""
    score, _ = scored("clean", range(90_000, 90_003))
    assert numpy.median(numpy.abs(score.errors_ms)) < 0.4


def test_what_has_no_clear_attack_stays_where_it_was_seen() -> None:
    """A tone that swells evenly has no attack; one that is cut in has it at that sample."""
    times = numpy.arange(WORKING_RATE_HZ) / WORKING_RATE_HZ
    tone = numpy.sin(2 * numpy.pi * 82.4 * times)
    noise = 1e-4 * numpy.random.default_rng(2).standard_normal(len(times))
    frames = numpy.array([11_000])
    swelling = (times * tone + noise).astype(numpy.float32)
    assert attacks(swelling, frames).tolist() == [11_000]
    cut_in = tone * (times >= 11_040 / WORKING_RATE_HZ) * numpy.cos(2 * numpy.pi * 1000 * times)
    struck = (0.3 * tone + cut_in + noise).astype(numpy.float32)
    assert abs(attacks(struck, frames)[0] - 11_040) <= 8
    assert attacks(struck, numpy.array([11_300])).tolist() == [11_300]  # too far to be the same


@pytest.mark.parametrize("late_ms", [-25.0, 25.0])
def test_drums_do_not_draw_a_late_player_to_them(late_ms: float) -> None:
    """A player 25 ms late is 21 to 29 ms late: what was asked for of audible drums."""
    player = PlayerSettings(seed=5, jitter_ms=4.0, late_ms=late_ms)
    take = made_take(5, SOUNDS[3], CONDITIONS["drums -20"], player=player, bars=8)
    heard = numpy.array([onset.sec for onset in detect_onsets(take.samples, SAMPLE_RATE_HZ)])
    late = []
    for note in take.played:
        nearest = heard[abs(heard - note.onset_sec).argmin()]
        if note.wanted is not None and abs(nearest - note.onset_sec) < 0.025:
            due_sec = take.wanted[note.wanted].due_sec + take.start_sec
            late.append(1000 * (nearest - due_sec))
    assert len(late) > 40
    assert abs(numpy.mean(late) - late_ms) <= 4


def test_a_note_that_is_due_is_believed_sooner_and_none_is_made_up(clean_take: MadeTake) -> None:
    plainly = detect_onsets(clean_take.samples, SAMPLE_RATE_HZ)
    due = [note.due_sec + clean_take.start_sec for note in clean_take.wanted]
    sooner = detect_onsets(clean_take.samples, SAMPLE_RATE_HZ, expected=due)
    assert len(sooner) >= len(plainly)
    nowhere = [0.1 * number for number in range(9)]  # the silence before the take
    told = detect_onsets(clean_take.samples, SAMPLE_RATE_HZ, expected=nowhere)
    assert [onset.sec for onset in told] == [onset.sec for onset in plainly]


def test_looking_again_makes_nothing_up(clean_take: MadeTake) -> None:
    """Before the first note there is silence: nothing rises there."""
    assert look_again(clean_take.samples, SAMPLE_RATE_HZ, [(0.2, 0.6)]) == []
    first = clean_take.played[0].onset_sec
    (found,) = look_again(clean_take.samples, SAMPLE_RATE_HZ, [(first - 0.05, first + 0.05)])
    assert abs(found.sec - first) < 0.025


def test_looking_again_finds_what_is_too_weak_to_be_told_unasked() -> None:
    """Soft notes in a room with drums: some are found only where they are asked for."""
    take = made_take(8, SOUNDS[2], CONDITIONS["all"], bars=6)
    heard = numpy.array([onset.sec for onset in detect_onsets(take.samples, SAMPLE_RATE_HZ)])
    lost = [note.onset_sec for note in take.played if abs(heard - note.onset_sec).min() > 0.04]
    assert lost
    windows = [(sec - 0.03, sec + 0.03) for sec in lost]
    found = look_again(take.samples, SAMPLE_RATE_HZ, windows)
    assert found
    for onset in found:
        assert any(first <= onset.sec <= last for first, last in windows)
