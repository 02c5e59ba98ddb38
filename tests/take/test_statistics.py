"""The numbers of takes whose truth is drawn: means, spreads, drifts, and how sure they are."""

import numpy
import pytest
from msgspec.structs import replace

from groove.take.course import MeasuredBy
from groove.take.reference import TakeReference
from groove.take.regression import fit_carried_over, quantile
from groove.take.statistics import Known, TakeFigures, take_figures
from groove.verdict import Lean, Trend, lean, trend
from tests.take.played import (
    carried_over,
    drifted,
    even_reference,
    heard_at,
    known_alignment,
)

TAKES = 500


def figures_of(
    reference: TakeReference, onsets: list[float], *, is_known: bool = True
) -> TakeFigures:
    return take_figures(
        reference,
        heard_at(onsets),
        known_alignment(reference, onsets),
        start_sec=1.0 if is_known else None,
        known_by=Known.LATENCY if is_known else Known.NOTHING,
    )


def test_quantiles_of_student() -> None:
    """Student's 97.5 % points of printed tables: 2.228 at 10, 2.042 at 30, 1.984 at 100."""
    for freedom, point in ((3, 3.182), (10, 2.228), (30, 2.042), (100, 1.984)):
        assert quantile(freedom) == pytest.approx(point, rel=0.011)


def test_a_fit_of_independent_values_is_the_least_squares_fit() -> None:
    """numpy.polyfit gives the coefficients, and its covariance their errors, for white noise."""
    rng = numpy.random.default_rng(3)
    x = numpy.linspace(-1, 1, 400)
    y = 2 + 3 * x + rng.normal(0, 0.5, 400)
    fit = fit_carried_over(numpy.array([numpy.ones(400), x]).T, y)
    plain, covariance = numpy.polyfit(x, y, 1, cov=True)
    assert fit.values == pytest.approx(plain[::-1], abs=0.01)
    assert fit.errors == pytest.approx(numpy.sqrt(numpy.diag(covariance))[::-1], rel=0.2)


@pytest.mark.parametrize("share", [0.0, 0.5])
def test_intervals_cover_the_truth(share: float) -> None:
    """Of 250 simulated takes 90 to 98 in 100: what a 95 % interval is (half of them each way)."""
    reference = even_reference(8)
    rng = numpy.random.default_rng(5)
    due = [note.sec for note in reference.notes]
    mean = drift = 0
    takes = TAKES // 4
    for _ in range(takes):
        strays = carried_over(rng, len(due), share, 0.012)
        found = figures_of(
            reference, [1.02 + sec + away for sec, away in zip(due, strays, strict=True)]
        )
        assert found.mean_interval_ms and found.drift_interval
        mean += found.mean_interval_ms[0] <= 20 <= found.mean_interval_ms[1]
        drift += found.drift_interval[0] <= 0 <= found.drift_interval[1]
    assert 0.90 <= mean / takes <= 0.98
    assert 0.90 <= drift / takes <= 0.98


def test_a_constant_lead_without_spread() -> None:
    """Constant -15 ms, SD 0: ahead, and no drift."""
    reference = even_reference(8)
    found = figures_of(reference, [0.985 + note.sec for note in reference.notes])
    assert found.mean_ms == pytest.approx(-15, abs=1e-6)
    assert found.sd_ms == pytest.approx(0, abs=1e-6)
    assert found.drift_bpm_per_min == pytest.approx(0, abs=1e-6)
    assert lean(found.mean_ms, found.error_ms, found.notes) is Lean.AHEAD
    assert found.tempo_bpm == pytest.approx(100)


def test_a_ramp_of_five_percent() -> None:
    """120 to 126 bpm over 32 beats is +5 %, and what it moves grows with the square of time."""
    reference = even_reference(8, 120.0)
    # 6 bpm over 32 beats at 123 on average: 15.61 s.
    drift = 6 / (32 / 123)
    onsets = [1 + drifted(note.sec, 120, drift) for note in reference.notes]
    found = figures_of(reference, onsets, is_known=False)
    assert found.change_percent == pytest.approx(5, abs=0.2)
    assert found.begin_bpm == pytest.approx(120, abs=0.3)
    assert found.drift_bpm_per_min == pytest.approx(drift, rel=0.03)
    assert found.drift_interval
    assert trend(found.change_percent, found.drift_interval, 64, 32) is Trend.RUSHING
    early = [sec - 1 - note.sec for sec, note in zip(onsets, reference.notes, strict=True)]
    assert early[32] / early[-1] == pytest.approx(0.25, abs=0.03)
    assert found.measure is not MeasuredBy.REFERENCE


def test_a_small_mean_of_many_notes_is_no_verdict() -> None:
    """SD 20 ms, 64 notes, a mean of 4 ms: the standard error is 2.5 ms."""
    reference = even_reference(8)
    rng = numpy.random.default_rng(9)
    strays = rng.normal(0, 1, 64)
    strays = (strays - strays.mean()) / strays.std(ddof=1) * 0.020 + 0.004
    onsets = [1 + n.sec + float(s) for n, s in zip(reference.notes, strays, strict=True)]
    found = figures_of(reference, onsets)
    assert found.mean_ms == pytest.approx(4, abs=1e-6)
    assert found.error_ms == pytest.approx(2.5, rel=0.35)
    assert lean(found.mean_ms, found.error_ms, found.notes) is Lean.ON


def test_a_slot_that_is_early_is_found_and_leaves_the_spread_alone() -> None:
    reference = even_reference(16)
    rng = numpy.random.default_rng(4)
    strays = rng.normal(0, 6, len(reference.notes))
    strays[3::8] -= 30
    onsets = [1 + n.sec + s / 1000 for n, s in zip(reference.notes, strays.tolist(), strict=True)]
    found = figures_of(reference, onsets)
    for slot, first in ((0, 0), (6, 3), (14, 7)):
        truth = strays[first::8].mean() - strays.mean()
        assert found.slot_bias_ms[slot].mean_ms == pytest.approx(truth, abs=1)
    assert found.slot_bias_ms[6].mean_ms < -20
    assert found.sd_ms == pytest.approx(6, abs=1)


@pytest.mark.parametrize(("own_ms", "heard_ms"), [(3.0, 3.0), (12.0, 3.0), (1.0, 3.0)])
def test_the_spread_is_the_players_and_not_the_ears(own_ms: float, heard_ms: float) -> None:
    """Variances add up; of an ear that strays more than the player half of the spread is left."""
    reference = even_reference(32)
    rng = numpy.random.default_rng(6)
    strays = rng.normal(0, own_ms, 256) + rng.normal(0, heard_ms, 256)
    onsets = [1 + n.sec + s / 1000 for n, s in zip(reference.notes, strays.tolist(), strict=True)]
    heard = [replace(note, error_sec=heard_ms / 1000) for note in heard_at(onsets)]
    found = take_figures(reference, heard, known_alignment(reference, onsets))
    whole = (own_ms**2 + heard_ms**2) ** 0.5
    assert found.sd_ms == pytest.approx(max(own_ms, whole / 2), rel=0.15)
    plain = take_figures(reference, heard_at(onsets), known_alignment(reference, onsets))
    assert plain.sd_ms == pytest.approx(whole, rel=0.1)


def test_drums_leave_a_mean_less_sure_than_a_number_that_is_given() -> None:
    """3 ms of two standard errors, as heard strokes begin; squares add up."""
    reference = even_reference(16)
    rng = numpy.random.default_rng(15)
    strays = rng.normal(0.01, 0.006, 128).tolist()
    onsets = [1 + n.sec + s for n, s in zip(reference.notes, strays, strict=True)]
    alignment = known_alignment(reference, onsets)
    half = {}
    for known_by in (Known.LATENCY, Known.CLICK):
        found = take_figures(
            reference, heard_at(onsets), alignment, start_sec=1.0, known_by=known_by
        )
        assert found.mean_interval_ms
        half[known_by] = (found.mean_interval_ms[1] - found.mean_interval_ms[0]) / 2
    assert half[Known.CLICK] ** 2 - half[Known.LATENCY] ** 2 == pytest.approx(9, rel=0.01)


def test_lateness_is_unknown_without_a_click() -> None:
    reference = even_reference(8)
    found = figures_of(reference, [1.025 + n.sec for n in reference.notes], is_known=False)
    assert found.mean_ms == 0
    assert found.known_by is Known.NOTHING
    assert found.offset_sec == pytest.approx(1.025)
    late = figures_of(reference, [1.025 + n.sec for n in reference.notes])
    assert (late.mean_ms, late.offset_sec) == pytest.approx((25, 1.0))


def test_holds_and_ritards_are_left_out_of_the_drift() -> None:
    """A last bar held to twice its length is no dragging."""
    reference = even_reference(8)
    notes = tuple(replace(note, is_timed=note.bar < 7) for note in reference.notes)
    held = replace(reference, notes=notes)
    last = reference.bars[7].start_sec
    onsets = [1 + n.sec + max(0.0, n.sec - last) for n in notes]
    found = figures_of(held, onsets)
    assert found.drift_bpm_per_min == pytest.approx(0, abs=1e-6)
    assert found.end_bpm == pytest.approx(100, abs=1e-3)
    assert abs(figures_of(reference, onsets).drift_bpm_per_min or 0) > 1


def test_the_error_of_a_place_is_that_of_a_mean() -> None:
    """SD over the root of n: 6 ms and 16 notes are 1.5 ms."""
    reference = even_reference(16)
    rng = numpy.random.default_rng(8)
    strays = rng.normal(0, 6, 128).tolist()
    onsets = [1 + n.sec + s / 1000 for n, s in zip(reference.notes, strays, strict=True)]
    found = figures_of(reference, onsets)
    errors = [place.error_ms for place in found.slot_bias_ms.values()]
    assert len(errors) == 8
    assert numpy.mean(errors) == pytest.approx(1.5, rel=0.15)


def test_the_spread_of_a_short_take_is_not_too_small() -> None:
    """Places and course take ten of 24 degrees of freedom: variances are right on average."""
    reference = even_reference(3)
    rng = numpy.random.default_rng(12)
    variances = []
    for _ in range(60):
        strays = rng.normal(0, 0.010, 24).tolist()
        onsets = [1 + n.sec + s for n, s in zip(reference.notes, strays, strict=True)]
        variances.append((figures_of(reference, onsets).sd_ms or 0.0) ** 2)
    assert numpy.mean(variances) == pytest.approx(100, rel=0.15)


def test_one_slip_is_no_spread() -> None:
    """One note of 128 comes 150 ms late; the others stray by 5 ms."""
    reference = even_reference(16)
    rng = numpy.random.default_rng(13)
    strays = rng.normal(0, 0.005, 128)
    strays[50] += 0.15
    onsets = [1 + n.sec + s for n, s in zip(reference.notes, strays.tolist(), strict=True)]
    assert figures_of(reference, onsets).sd_ms == pytest.approx(5, rel=0.15)


def test_swing_is_the_share_of_the_pair() -> None:
    """A band at two to one (66.7 %), a player whose second eighths lie at 60 % of the beat."""
    even = even_reference(16, 60.0)
    offbeats = {6.0, 10.0, 14.0}
    notes = tuple(
        replace(n, sec=n.sec + 2 / 3 - 0.5, is_swung=True) if n.slot in offbeats else n
        for n in even.notes
    )
    bars = tuple(replace(bar, swing_pair_sec=1.0) for bar in even.bars)
    reference = replace(even, notes=notes, bars=bars)
    rng = numpy.random.default_rng(14)
    strays = rng.normal(0, 0.004, 128).tolist()
    onsets = [
        1 + n.sec - (2 / 3 - 0.6 if n.is_swung else 0) + s
        for n, s in zip(notes, strays, strict=True)
    ]
    swing = figures_of(reference, onsets).swing
    assert swing is not None
    assert swing.band_percent == pytest.approx(66.7, abs=0.1)
    assert swing.own_percent == pytest.approx(60, abs=0.5)
    assert swing.apart_ms == pytest.approx(-66.7, abs=4)
    # Two means, of 48 and of 80 notes: the squares of their errors add up.
    away = numpy.array(strays) * 1000
    swung = numpy.array([note.is_swung for note in notes])
    square = away[swung].var(ddof=1) / 48 + away[~swung].var(ddof=1) / 80
    assert swing.error_ms == pytest.approx(square**0.5, rel=0.03)
