"""A straight fit through what strays together: least squares with errors that carry over.

A player who is late on one note is a little late on the next one too, so the usual interval of a
mean or a slope is too narrow.  Errors are taken for a first-order autoregression; its coefficient
is weighed over a grid by its restricted likelihood (H. D. Patterson and R. Thompson, Biometrika
58(3), 1971), the rows transformed as by S. J. Prais and C. B. Winsten (Cowles Commission
discussion paper 383, 1954), and the spread between the grid's answers is part of the interval.
"""

from typing import TYPE_CHECKING

from msgspec import Struct

from groove.verdict import sure_deviations

if TYPE_CHECKING:
    from groove.arrays import Doubles

CARRIED_OVER = (
    *(-0.4, -0.3, -0.2, -0.1, 0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7),
    *(0.8, 0.85, 0.9, 0.94),
)
"""How much of a note's deviation may be carried over into the next one."""


class LineFit(Struct, frozen=True, kw_only=True):
    """What a fit tells: a coefficient a column, its standard error, and the freedom left."""

    values: tuple[float, ...]
    errors: tuple[float, ...]
    freedom: int

    def interval(self, column: int, scale: float = 1.0) -> tuple[float, float]:
        """Return the interval of a coefficient, times a factor, that covers the truth in 95 %."""
        half = abs(scale) * quantile(self.freedom) * self.errors[column]
        middle = scale * self.values[column]
        return middle - half, middle + half


def fit_carried_over(columns: "Doubles", values: "Doubles") -> LineFit:
    """Return the fit of some values (n) by some columns (n, p), n at least p + 3."""
    import numpy

    rows, width = columns.shape
    chances, found, spreads = [], [], []
    ways = [(_transformed(columns, each), _transformed(values, each)) for each in CARRIED_OVER]
    squares = numpy.array([x.T @ x for x, _ in ways])
    inverses, (_, log_sizes) = numpy.linalg.pinv(squares), numpy.linalg.slogdet(squares)
    for carried, (x, y), inverse, log_size in zip(
        CARRIED_OVER, ways, inverses, log_sizes, strict=True
    ):
        coefficients = inverse @ (x.T @ y)
        left = float(((y - x @ coefficients) ** 2).sum())
        variance = max(left / (rows - width), 1e-12)
        chance = -0.5 * (rows - width) * numpy.log(variance) - 0.5 * log_size
        chances.append(chance + 0.5 * numpy.log(1 - carried**2))
        found.append(coefficients)
        spreads.append(variance * numpy.diag(inverse))
    weights = numpy.exp(numpy.array(chances) - max(chances))
    weights /= weights.sum()
    coefficients = weights @ numpy.array(found)
    between = weights @ (numpy.array(found) - coefficients) ** 2
    errors = numpy.sqrt(weights @ numpy.array(spreads) + between)
    return LineFit(
        values=tuple(coefficients.tolist()),
        errors=tuple(errors.tolist()),
        freedom=rows - width,
    )


def _transformed(rows: "Doubles", carried: float) -> "Doubles":
    """Return rows without what each carries over from the one before."""
    out = rows.copy()
    out[1:] -= carried * rows[:-1]
    out[0] *= (1 - carried**2) ** 0.5
    return out


def quantile(freedom: int) -> float:
    """Return Student's quantile for the table's confidence, on both sides.

    By the expansion of R. A. Fisher and E. A. Cornish (Technometrics 2(2), 1960); within 1 % from
    three degrees of freedom on.
    """
    z = sure_deviations()
    n = max(3, freedom)
    first = (z**3 + z) / 4
    second = (5 * z**5 + 16 * z**3 + 3 * z) / 96
    third = (3 * z**7 + 19 * z**5 + 17 * z**3 - 15 * z) / 384
    return z + first / n + second / n**2 + third / n**3
