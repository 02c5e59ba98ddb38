"""A fit with errors that carry over, beside generalised least squares with the whole covariance."""

import numpy
import pytest

from groove.take import regression
from groove.take.regression import fit_carried_over


@pytest.mark.parametrize("carried", [-0.4, 0.0, 0.5, 0.9])
def test_a_fit_is_that_of_generalised_least_squares(
    carried: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A. C. Aitken, Proc. Royal Society of Edinburgh 55, 1935 (from memory).

    An AR(1)'s covariance at a lag k is c ** k / (1 - c ** 2) of what is new in each value; the
    variance is that of what is left over n - p degrees of freedom.
    """
    monkeypatch.setattr(regression, "CARRIED_OVER", (carried,))
    rng = numpy.random.default_rng(7)
    x = numpy.array([numpy.ones(9), numpy.arange(9.0)]).T
    y = rng.normal(3, 1, 9)
    y[0] += 4  # what the first row counts for is seen
    lags = abs(numpy.arange(9)[:, None] - numpy.arange(9)[None, :])
    inverse = numpy.linalg.inv(carried**lags / (1 - carried**2))
    spread = numpy.linalg.inv(x.T @ inverse @ x)
    values = spread @ x.T @ inverse @ y
    left = y - x @ values
    variance = left @ inverse @ left / (9 - 2)
    found = fit_carried_over(x, y)
    assert found.values == pytest.approx(values)
    assert found.errors == pytest.approx(numpy.sqrt(variance * numpy.diag(spread)))
    assert found.freedom == 7


def test_what_carries_over_is_weighed_by_its_likelihood(monkeypatch: pytest.MonkeyPatch) -> None:
    """Patterson and Thompson's restricted likelihood, written out with the whole covariance."""
    shares = (0.0, 0.6)
    monkeypatch.setattr(regression, "CARRIED_OVER", shares)
    x = numpy.array([numpy.ones(12), numpy.arange(12.0)]).T
    y = numpy.random.default_rng(3).normal(0, 1, 12).cumsum()
    lags = abs(numpy.arange(12)[:, None] - numpy.arange(12)[None, :])
    logs, values, variances = [], [], []
    for share in shares:
        covariance = share**lags / (1 - share**2)
        inverse = numpy.linalg.inv(covariance)
        square = x.T @ inverse @ x
        value = numpy.linalg.solve(square, x.T @ inverse @ y)
        left = y - x @ value
        variance = left @ inverse @ left / 10
        whole = numpy.linalg.slogdet(covariance)[1] + numpy.linalg.slogdet(square)[1]
        logs.append(-0.5 * (10 * numpy.log(variance) + whole))
        values.append(value)
        variances.append(variance * numpy.diag(numpy.linalg.inv(square)))
    weights = numpy.exp(numpy.array(logs) - max(logs))
    weights /= weights.sum()
    assert weights.min() > 0.02  # both count
    mean = weights @ numpy.array(values)
    between = weights @ (numpy.array(values) - mean) ** 2
    found = fit_carried_over(x, y)
    assert found.values == pytest.approx(mean)
    assert found.errors == pytest.approx(numpy.sqrt(weights @ numpy.array(variances) + between))
