"""What may be said, against the figures of the papers that each limit comes from."""

import ast

import pytest

from groove import verdict
from groove.verdict import (
    LIMITS,
    NEVER_SAID,
    Comparison,
    Evenness,
    Grade,
    Lean,
    Length,
    Steadiness,
    Trend,
    compared,
    evenness,
    grade,
    is_louder,
    is_usual_lead,
    lean,
    length,
    steadiness,
    tight_limit_ms,
    trend,
    verdict_data,
    widest_by_chance_ms,
)
from tests.conftest import ROOT


@pytest.mark.parametrize(
    ("interval_ms", "limit_ms"),
    # STL-QPSR 33(4), 1992: about 10 ms below 240 ms, about 5 % above; by hand at 60 to 200 bpm.
    [(1000, 35), (600, 30), (500, 25), (300, 15), (240, 12), (150, 10), (75, 10)],
)
def test_tight_by_the_interval(interval_ms: float, limit_ms: float) -> None:
    """A second's 5 % would be 50 ms, which is heard on the bass (OSF jsg94: 31-35 ms)."""
    assert tight_limit_ms(interval_ms) == pytest.approx(limit_ms)
    assert grade(limit_ms, interval_ms) is Grade.TIGHT
    assert grade(-limit_ms - 0.1, interval_ms) is not Grade.TIGHT


def test_grades_at_the_thresholds_of_the_bass() -> None:
    """OSF jsg94: a bass is heard apart from 31-35 ms on; mir_eval matches within 50 ms."""
    found = [grade(sign * size, 150) for size in (10, 35, 36, 50, 51) for sign in (1, -1)]
    assert found[::2] == found[1::2]
    assert found[::2] == [Grade.TIGHT, Grade.BORDERLINE, Grade.AUDIBLE, Grade.AUDIBLE, Grade.OFF]


def test_a_mean_within_its_error_is_no_verdict() -> None:
    """SD 20 ms and 64 notes have a standard error of 2.5 ms: 4 ms is neither sure nor heard."""
    assert lean(4, 20 / 64**0.5, 64) is Lean.ON
    assert lean(-15, 0.0, 64) is Lean.AHEAD
    assert lean(15, 20 / 64**0.5, 64) is Lean.BEHIND
    assert lean(15, 8.0, 64) is Lean.ON  # wide: not sure
    assert lean(-40, 1.0, 15) is Lean.UNKNOWN


def test_the_widest_of_some_bars_is_wide_by_chance() -> None:
    """Chi-square in printed tables: 15.507 at 95 % and 8 degrees, 12.838 at 99.5 % and 3."""
    assert widest_by_chance_ms(10, 8, 1) == pytest.approx(10 * (15.507 / 8) ** 0.5, rel=0.01)
    assert widest_by_chance_ms(10, 3, 10) == pytest.approx(10 * (12.838 / 3) ** 0.5, rel=0.01)


def test_a_little_early_is_usual() -> None:
    """B. H. Repp 2005: musicians tap 10 to 30 ms ahead (from memory)."""
    assert is_usual_lead(-29) and not is_usual_lead(-31) and not is_usual_lead(3)


def test_drift_must_be_sure_and_heard() -> None:
    """CHARM: 60 to 62.0 bpm (3.3 %) is noticed over five clicks, and a ramp of 5 % so too."""
    assert trend(3.3, (0.1, 2.0), 64, 32) is Trend.RUSHING
    assert trend(-5, (-3.0, -1.0), 64, 32) is Trend.DRAGGING
    assert trend(5, (-0.1, 2.0), 64, 32) is Trend.HOLDING
    assert trend(2.9, (0.1, 2.0), 64, 32) is Trend.HOLDING
    assert trend(5, (0.1, 2.0), 23, 32) is trend(5, (0.1, 2.0), 64, 15) is Trend.UNKNOWN


def test_a_tempo_moves_where_it_rushes_or_drags() -> None:
    assert [trend for trend in Trend if trend.moves] == [Trend.RUSHING, Trend.DRAGGING]


def test_steady_is_what_nobody_hears() -> None:
    """Two standard deviations are 95 of 100 notes: within 35 ms, what is heard on the bass."""
    found = [steadiness(sd, 150, 40) for sd in (10, 17.5, 18, 35, 36)]
    assert found == [
        Steadiness.STEADY,
        Steadiness.FAIRLY,
        Steadiness.UNEVEN,
        Steadiness.UNEVEN,
        Steadiness.UNSTEADY,
    ]
    assert steadiness(5, 150, 15) is None


def test_lengths_differ_by_what_ends_differ_by() -> None:
    """mir_eval, transcription: an end is the same within 50 ms or 20 % of the note's length."""
    sure = (0.1, 0.95)
    found = [length(share, sure, 500, 40) for share in (0.81, 0.79)]
    assert found == [Length.AS_LONG, Length.SHORTER]
    assert length(0.61, sure, 125, 40) is Length.AS_LONG  # 49 ms of 125
    assert length(0.59, sure, 125, 40) is Length.SHORTER
    assert length(1.3, (1.1, 1.5), 500, 40) is Length.LONGER
    assert length(1.3, (0.9, 1.7), 500, 40) is Length.AS_LONG  # not sure
    assert length(0.5, sure, 500, 15) is Length.UNKNOWN


def test_loudness_is_even_uneven_or_not_told() -> None:
    found = [evenness(sd, 40) for sd in (3, 3.1, 5, 5.1)]
    assert found == [Evenness.EVEN, Evenness.FAIRLY, Evenness.FAIRLY, Evenness.UNEVEN]
    assert evenness(9, 15) is None
    assert is_louder(-3.1, (-5, -1)) and is_louder(3.1, (1, 5))
    assert not is_louder(2.9, (1, 5)) and not is_louder(9, (-1, 19))


def test_takes_are_told_apart_where_that_is_sure() -> None:
    """The F distribution's 97.5 % point at 60 and 60 degrees is 1.67 (printed tables)."""
    just, enough = 1.60**0.5, 1.75**0.5
    assert compared(10 * just, 60, 10, 60) is Comparison.NO_DIFFERENCE
    assert compared(10 * enough, 60, 10, 60) is Comparison.LESS_STEADY
    assert compared(10, 60, 10 * enough, 60) is Comparison.STEADIER
    assert compared(10, 60, 0, 60) is compared(10, 0, 30, 60) is Comparison.NO_DIFFERENCE


def test_every_limit_has_a_source_and_is_read() -> None:
    text = "".join(path.read_text("utf-8") for path in (ROOT / "groove").rglob("*.py"))
    scripts = "".join(path.read_text("utf-8") for path in (ROOT / "groove/page").glob("*.js"))
    for name, each in LIMITS.items():
        assert each.source and each.unit
        assert f'limit("{name}")' in text or f"limits.{name}" in scripts, name
    assert verdict_data()["never_said"] == list(NEVER_SAID)


def test_the_table_needs_no_numpy() -> None:
    tree = ast.parse((ROOT / "groove" / "verdict.py").read_text("utf-8"))
    found = {
        node.module if isinstance(node, ast.ImportFrom) else node.names[0].name
        for node in ast.walk(tree)
        if isinstance(node, ast.Import | ast.ImportFrom)
    }
    assert found == {"collections.abc", "enum", "math", "statistics", "typing", "msgspec"}
    assert verdict.limit("heard_ms") == 35
