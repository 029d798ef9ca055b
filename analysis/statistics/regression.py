"""Least squares for curves that are linear in their coefficients: straight lines, polynomials, several columns.

Columns are centred and scaled before the solving and the coefficients turned back afterwards, in extended precision: a
polynomial in the raw quantity loses half of its digits (StRD Pontius). The independent unit is one row; drops of one
coupon are not.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analysis.formula import formula
from analysis.statistics.moments import counts, finite

ROUNDING = 4 * np.finfo(float).eps  # of the largest reading: what is no larger was left by rounding


@dataclass(frozen=True, slots=True)
class LinearFit:
    """Coefficients (intercept first, where there is one) with their standard errors and what is left over."""

    coefficients: tuple[float, ...]
    standard_errors: tuple[float, ...]
    covariance: tuple[tuple[float, ...], ...]
    residual_sd: float
    r_squared: float | None  # about the mean with an intercept, about 0 without; None where y has no spread
    f: float | None  # of the whole fit against none; inf for a fit without residual, None without any spread
    durbin_watson: float | None  # of the residuals in the order given; None where there is no residual
    n: int
    df: int


@dataclass(frozen=True, slots=True)
class LogFit:
    """A straight line through logarithms: y = prefactor·x^rate (log-log) or prefactor·exp(rate·x) (log-linear)."""

    prefactor: float
    prefactor_standard_error: float  # first order
    rate: float
    rate_standard_error: float
    r_squared: float | None  # of the logarithms
    residual_sd: float  # of ln y [-]
    n: int
    df: int


@formula(
    "y = b0 + b1·x1 + … + bp·xp + e,  b = (XᵀX)⁻¹Xᵀy,  cov b = s²(XᵀX)⁻¹",
    source="nist_strd_linear",
    holds_when="rows independent, the same spread at every row, x known without error",
    library="statsmodels.api.OLS",
)
def linear_fit(columns, y: Sequence[float], intercept: bool = True) -> LinearFit:
    """Straight-line dependence of a reading on one or several quantities.

    Parameters
    ----------
    columns : array of float, shape (n,) or (n, p)
        Quantities that y is explained with, one a column, any unit, without NaN.
    y : sequence of float
        Readings, any unit, n of them.
    intercept : bool
        Off: the line goes through the origin, and R² is about 0 in place of the mean.

    Returns
    -------
    LinearFit
        `coefficients` hold the intercept first; units of y over units of the column.

    Raises
    ------
    ValueError
        For NaN, an infinite value, another length, a column without spread (with an intercept), columns that
        depend on each other, or no more rows than coefficients (so also for n = 1).

    Source: `nist_strd_linear`, data sets Norris, NoInt1 and Longley.

    >>> fit = linear_fit([60, 61, 62, 63, 64, 65, 66, 67, 68, 69, 70], range(130, 141), intercept=False)
    >>> round(fit.coefficients[0], 10)
    2.0743801653
    """
    matrix, readings = _rows(columns, y)
    _require_more(readings.size, matrix.shape[1] + intercept)
    matrix = matrix.astype(np.longdouble)
    centre = matrix.mean(axis=0) if intercept else np.zeros_like(matrix[0])
    scale = np.abs(matrix - centre).max(axis=0)
    if np.any(scale <= 1e-14 * np.abs(centre)):
        raise ValueError("a column has no spread: its coefficient cannot be told")
    back = np.diag(1 / scale)
    if intercept:
        back = np.block([[np.ones((1, 1)), -(centre / scale)[None, :]], [np.zeros((scale.size, 1)), back]])
    ones, scaled = np.ones((readings.size, int(intercept))), (matrix - centre) / scale
    return _solved(np.hstack([ones, scaled]), readings, back, intercept)


@formula(
    "y = b0 + b1·x + … + bd·x^d + e,  least squares in Chebyshev polynomials of the centred and scaled x",
    source="nist_strd_linear",
    holds_when="readings independent, the same spread at every x, inside the range of x only",
    library="statsmodels.api.OLS, numpy.polynomial.Chebyshev",
)
def polynomial_fit(x: Sequence[float], y: Sequence[float], degree: int) -> LinearFit:
    """Polynomial through readings, with coefficients of the raw x from a well-conditioned basis.

    Parameters
    ----------
    x, y : sequence of float
        Quantity and readings, any units, of the same length.
    degree : int
        Highest power, 1 or more [-].

    Returns
    -------
    LinearFit
        `coefficients` b0 … bd, units of y over x to the power.

    Raises
    ------
    ValueError
        For NaN, another length, x of several columns, a degree that is not a whole number from 1 on, no more readings
        than coefficients, or fewer different x than coefficients.

    Source: `nist_strd_linear`, data sets Pontius and Wampler1 to Wampler5.

    >>> fit = polynomial_fit([0, 1, 2, 3, 4], [1, 3, 7, 13, 21], 2)
    >>> [round(value, 9) for value in fit.coefficients]
    [1.0, 1.0, 1.0]
    """
    degree = int(counts("degree", degree, 1))
    matrix, readings = _rows(_one_column(x), y)
    abscissa = matrix[:, 0].astype(np.longdouble)
    _require_more(readings.size, degree + 1)
    if np.unique(abscissa).size <= degree:
        raise ValueError(f"degree {degree} needs {degree + 1} different x, not {np.unique(abscissa).size}")
    from numpy.polynomial.chebyshev import cheb2poly, chebvander

    centre, scale = (abscissa.max() + abscissa.min()) / 2, np.ptp(abscissa) / 2
    powers = np.zeros((degree + 1, degree + 1), dtype=np.longdouble)  # column k: ((x − centre)/scale)^k in powers of x
    powers[0, 0] = 1
    for k in range(degree):
        powers[1:, k + 1] = powers[:-1, k]
        powers[:, k + 1] = (powers[:, k + 1] - centre * powers[:, k]) / scale
    chebyshev = np.zeros_like(powers)
    for k in range(degree + 1):
        chebyshev[: k + 1, k] = cheb2poly(np.eye(degree + 1)[k])[: k + 1]
    return _solved(chebvander((abscissa - centre) / scale, degree), readings, powers @ chebyshev, intercept=True)


@formula(
    "ln y = ln A + b·ln x + e",
    source="nist_strd_linear badr_2024",
    holds_when="x and y above 0, the same relative spread at every x",
    library="statsmodels.api.OLS",
)
def log_log_fit(x: Sequence[float], y: Sequence[float]) -> LogFit:
    """Power law y = A·x^b as a straight line through the logarithms.

    Parameters
    ----------
    x, y : sequence of float
        Quantity and readings, above 0, any units, at least three.

    Returns
    -------
    LogFit
        A [unit of y at x = 1] and b [-], with standard errors.

    Raises
    ------
    ValueError
        For a value at or below 0, NaN, fewer than three points, or x so far from 1 that A is no float.

    Source: `badr_2024` (drop friction against speed).

    >>> speed = [0.01, 0.05, 0.1, 0.5, 1, 5, 10, 15]
    >>> fit = log_log_fit(speed, [17.8, 22.7, 29.7, 42.7, 51.9, 85.9, 97.4, 92.9])
    >>> round(fit.prefactor, 2), round(fit.rate, 5)
    (52.23, 0.24787)
    """
    return _log_fit(_logarithm("x", _one_column(x)), y)


@formula(
    "ln y = ln A + b·x + e",
    source="nist_strd_linear",
    holds_when="y above 0, the same relative spread at every x",
    library="statsmodels.api.OLS",
)
def log_linear_fit(x: Sequence[float], y: Sequence[float]) -> LogFit:
    """Exponential y = A·exp(b·x) as a straight line through the logarithms of y.

    Parameters
    ----------
    x, y : sequence of float
        Quantity, and readings above 0, any units, at least three.

    Returns
    -------
    LogFit
        A [unit of y] and b [1/unit of x], below 0 for a decay. It weights small readings more than a nonlinear fit
        of y itself does, so the two differ.

    Raises
    ------
    ValueError
        For a y at or below 0, NaN, fewer than three points, or x so far from 0 that A is no float.

    Source: `nist_strd_linear` for the least squares.

    >>> round(log_linear_fit([0, 1, 2], [8, 4, 2]).rate, 6)
    -0.693147
    """
    return _log_fit(_one_column(x), y)


def _log_fit(x: np.ndarray, y: Sequence[float]) -> LogFit:
    fit = linear_fit(x, _logarithm("y", y))
    with np.errstate(over="ignore", under="ignore"):  # told below
        prefactor = float(np.exp(fit.coefficients[0]))
    if not np.isfinite(prefactor) or prefactor == 0:
        raise ValueError(f"A = exp({fit.coefficients[0]:g}) is beyond the range of a float: count x from nearer by")
    return LogFit(
        prefactor,
        prefactor * fit.standard_errors[0],
        fit.coefficients[1],
        fit.standard_errors[1],
        fit.r_squared,
        fit.residual_sd,
        fit.n,
        fit.df,
    )


def _one_column(x: Sequence[float]) -> np.ndarray:
    numbers = finite(x)
    if numbers.ndim != 1:
        raise ValueError(f"x must be one column of numbers, not an array of shape {numbers.shape}")
    return numbers


def _logarithm(name: str, values: Sequence[float]) -> np.ndarray:
    numbers = finite(values)
    if np.any(numbers <= 0):
        raise ValueError(f"{name} must lie above 0 for a logarithm, not {numbers.min():g}")
    return np.log(numbers)


def _rows(columns, y: Sequence[float]) -> tuple[np.ndarray, np.ndarray]:
    readings, matrix = finite(y), finite(columns)
    matrix = matrix.reshape(-1, 1) if matrix.ndim == 1 else matrix
    if readings.ndim != 1 or matrix.ndim != 2 or len(matrix) != readings.size:
        raise ValueError(f"{readings.size} readings for x of shape {matrix.shape}")
    return matrix, readings


def _require_more(n: int, count: int) -> None:
    if n <= count:
        raise ValueError(f"{n} readings cannot give {count} coefficients and their errors")


def _solved(design: np.ndarray, y: np.ndarray, back: np.ndarray, intercept: bool) -> LinearFit:
    """Least squares in the scaled columns, the coefficients then turned back to the raw ones."""
    n, count = design.shape
    columns = design.astype(float)
    if np.linalg.matrix_rank(columns) < count:
        raise ValueError("the columns depend on each other: their coefficients cannot be told apart")
    from statsmodels.api import OLS
    from statsmodels.stats.stattools import durbin_watson

    fit, df = OLS(y, columns).fit(), n - count
    solution, residuals = _refined(OLS, design, columns, y, fit.params)
    left = float(residuals @ residuals)
    covariance = (back @ np.asarray(fit.normalized_cov_params) @ back.T).astype(float) * (left / df)
    total = (float(np.sum((y - y.mean()) ** 2)) if _has_spread(y) else 0.0) if intercept else float(y @ y)
    explained, r_squared, f = count - intercept, None, None
    if total > 0:
        r_squared = 1 - left / total
        f = float("inf") if left == 0 else (total - left) / explained / (left / df)
    return LinearFit(
        tuple(map(float, back @ solution)),
        tuple(map(float, np.sqrt(np.diag(covariance)))),
        tuple(tuple(map(float, row)) for row in covariance),
        (left / df) ** 0.5,
        r_squared,
        f,
        float(durbin_watson(residuals)) if left > 0 else None,
        n,
        df,
    )


def _refined(ols, design, columns, y, solution) -> tuple[np.ndarray, np.ndarray]:
    """Solution corrected twice by what it leaves over in extended precision, and what is left then."""
    solution = solution.astype(np.longdouble)
    for _ in range(2):
        solution = solution + ols((y - design @ solution).astype(float), columns).fit().params
    residuals = (y - design @ solution).astype(float)
    is_rounding = np.max(np.abs(residuals)) <= ROUNDING * np.max(np.abs(y))
    return solution, np.zeros(y.size) if is_rounding else residuals


def _has_spread(y: np.ndarray) -> bool:
    return bool(np.ptp(y) > ROUNDING * np.max(np.abs(y)))
