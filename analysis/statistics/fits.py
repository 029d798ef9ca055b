"""Nonlinear least squares that says when it failed.

A library's fit may stop at a wrong answer without an exception (StRD BoxBOD from its first start). So a fit counts
here only when several starts were tried, the best one passes a test of its gradient, its covariance is finite, and
starts moved away from it come back to it. Otherwise there are no parameters, only a note.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from analysis.formula import formula
from analysis.statistics.replication import finite

LARGEST_OFFSET = 1e-4  # Bates & Watts accept 1e-3; a tenth of it
AGREEMENT = 1e-4  # relative; of its standard error (at most of the start) where a parameter is near 0
LARGEST_ERROR = 1e4  # standard error over the parameter: beyond it the readings say nothing of it
STEP = 7e-4  # of a parameter: fifth root of the machine precision, for a central difference of the fourth order
ROUNDING = 1e-13  # of the readings: a parameter may differ by what moves the curve no more than that
UNREACHABLE = 1e100  # residual where the curve has no number: large, and its square still a float
FACTORS = 3.0, 1.25  # how far starts are moved: around the given start, around the answer
ERRORS = 2.0  # how far they are moved where the factor leads away, as from a narrow peak: standard errors
TOLERANCE = 1e-15  # of the optimiser: as far as double precision goes; the tests below judge, not its status

Model = Callable[..., np.ndarray]


@dataclass(frozen=True, slots=True)
class CurveFit:
    """A fitted curve; parameters and all that follows from them are None when the fit failed, and `note` says why."""

    parameters: tuple[float, ...] | None
    standard_errors: tuple[float, ...] | None
    covariance: tuple[tuple[float, ...], ...] | None
    residual_sum_of_squares: float | None
    residual_sd: float | None
    n: int
    df: int
    relative_offset: float | None  # gradient test: part of the residual that the parameters could still remove [-]
    starts_agreeing: int  # of the starts tried, those that came to the same answer
    starts_tried: int
    note: str = ""

    @property
    def is_fitted(self) -> bool:
        return self.parameters is not None


@formula(
    "θ̂ = argmin Σ(yᵢ − f(xᵢ, θ))²,  s² = RSS/(n − p),  cov θ̂ = s²(JᵀJ)⁻¹",
    source="nist_strd_nonlinear bates_watts_1988",
    holds_when="readings independent with the same spread; errors of the parameters are first order",
    library="scipy.optimize.least_squares",
)
def nonlinear_fit(model: Model, x: Sequence[float], y: Sequence[float], start: Sequence[float]) -> CurveFit:
    """Fit a curve with curved parameters to readings, or say that the fit failed.

    Parameters
    ----------
    model : callable
        `model(x, *parameters)` gives the curve at the array x, in the unit of y; written with numpy.
    x, y : sequence of float
        Dose, time or other quantity, and readings, any units; without NaN.
    start : sequence of float
        First guess of each parameter, in the right order of magnitude.

    Returns
    -------
    CurveFit
        `is_fitted` is False with a note when no start passed the tests: gradient (relative offset), finite
        covariance, effect of each parameter, agreement of restarts, or no more readings than parameters.

    Raises
    ------
    ValueError
        For NaN, an infinite value, no readings, no start, or x and y of another length.

    Source: `nist_strd_nonlinear` for the certified sets, `bates_watts_1988` for the relative offset.

    >>> t, y = [1, 2, 3, 5, 7, 10], [109, 149, 149, 191, 213, 224]
    >>> fit = nonlinear_fit(lambda x, b1, b2: b1 * (1 - np.exp(-b2 * x)), t, y, (100, 0.75))
    >>> round(fit.parameters[0], 5), round(fit.parameters[1], 7)
    (213.80941, 0.5472375)
    """
    abscissa, readings, first = finite(x), finite(y), finite(start)
    if abscissa.shape[:1] != readings.shape or readings.ndim != 1:
        raise ValueError(f"{readings.size} readings for x of shape {abscissa.shape}")
    if readings.size <= first.size:
        note = f"fit failed: {readings.size} readings cannot give {first.size} parameters and their errors"
        return _failed(readings.size, first.size, note)
    problem = LeastSquares(model, abscissa, readings, np.where(first == 0, 1.0, np.abs(first)))
    starts = [first, *_moved(first, FACTORS[0])]
    answers = [problem.solve(first, "trf"), *(problem.solve(point) for point in starts)]
    answers = [answer for answer in answers if answer is not None]
    problem.size = max(float(np.linalg.norm(readings)), 1e-9 * float(np.linalg.norm(problem.residuals(first))))
    rounding = (ROUNDING * problem.size) ** 2
    for _ in range(3):  # a restart that finds less becomes the answer, and is tested in its turn
        if not answers:
            return _failed(readings.size, first.size, "fit failed: the curve has no number at any start")
        best = min(answers, key=problem.sum_of_squares)
        again = [problem.solve(point) for point in _moved(best, FACTORS[1])]
        again = [answer for answer in again if answer is not None]
        answers += again
        if min(map(problem.sum_of_squares, answers)) >= (1 - 1e-8) * problem.sum_of_squares(best) - rounding:
            return _judged(problem, best, again, answers)
    return _failed(readings.size, first.size, "fit failed: each restart finds another, better answer")


class LeastSquares:
    """Residuals of a curve with their derivatives, safe where a trial step leaves the range of the curve."""

    def __init__(self, model: Model, x: np.ndarray, y: np.ndarray, scale: np.ndarray):
        self.model, self.x, self.y, self.scale = model, x, y, scale
        self.size = float(np.linalg.norm(y))  # of the readings: what rounding and effects are measured against

    def residuals(self, point: np.ndarray) -> np.ndarray:
        # a trial step may overflow or leave the domain of a root: the optimiser then turns back
        with np.errstate(all="ignore"):
            difference = np.broadcast_to(self.model(self.x, *point), self.y.shape) - self.y
        return np.clip(np.nan_to_num(difference, nan=UNREACHABLE), -UNREACHABLE, UNREACHABLE)

    def jacobian(self, point: np.ndarray) -> np.ndarray:
        """Central differences of the fourth order: some twelve digits, whatever the curve."""
        columns = []
        for index, size in enumerate(np.maximum(np.abs(point), 1e-3 * self.scale) * STEP):
            step = np.zeros(point.size)
            step[index] = size
            near = self.residuals(point + step) - self.residuals(point - step)
            far = self.residuals(point + 2 * step) - self.residuals(point - 2 * step)
            columns.append((8 * near - far) / (12 * size))
        return np.column_stack(columns)

    def sum_of_squares(self, point: np.ndarray) -> float:
        return float(np.sum(self.residuals(point) ** 2))

    def solve(self, start: np.ndarray, method: str = "lm") -> np.ndarray | None:
        """Where the optimiser comes to rest from this start; None where the curve has no number there."""
        if np.max(np.abs(self.residuals(start))) >= UNREACHABLE:
            return None
        from scipy.optimize import least_squares

        tolerances = {"ftol": TOLERANCE, "xtol": TOLERANCE, "gtol": TOLERANCE}
        with np.errstate(all="ignore"):  # trial steps far outside
            try:
                found = least_squares(self.residuals, start, self.jacobian, method=method, x_scale="jac", **tolerances)
            except (ValueError, np.linalg.LinAlgError):  # the derivatives have no number on its way
                return None
        return self.polished(found.x)

    def polished(self, point: np.ndarray) -> np.ndarray:
        """Gauss–Newton steps, as long as they shrink and the sum of squares does not rise: the last digits."""
        before = np.inf
        for _ in range(40):
            columns = self.jacobian(point)
            norms = np.linalg.norm(columns, axis=0)
            if not (np.all(np.isfinite(columns)) and np.all((norms > 0) & (norms < UNREACHABLE))):
                break
            scaled_step = np.linalg.lstsq(columns / norms, self.residuals(point))[0]
            size, better = float(np.linalg.norm(scaled_step)), point - scaled_step / norms
            rises = self.sum_of_squares(better) > self.sum_of_squares(point) * (1 + 1e-10)
            if rises or not size < 0.9 * before:
                break
            point, before = better, size
        return point


def _moved(point: np.ndarray, factor: float) -> list[np.ndarray]:
    """The point with its parameters multiplied or divided by a factor."""
    return [point * factor**signs for signs in _patterns(point.size)]


def _patterns(size: int) -> list[np.ndarray]:
    """Ways to move all parameters at once: up, down, and in turn."""
    alternating = (-1.0) ** np.arange(size)
    return [np.ones(size), -np.ones(size), alternating, -alternating][: 4 if size > 1 else 2]


def _judged(problem: LeastSquares, best: np.ndarray, again: list, answers: list) -> CurveFit:
    n, count = problem.y.size, best.size
    residuals, columns = problem.residuals(best), problem.jacobian(best)
    norms = np.linalg.norm(columns, axis=0)
    size = problem.size
    if not np.all(np.isfinite(columns)) or np.any(norms * np.abs(best) + norms * problem.scale <= 1e-12 * size):
        return _failed(n, count, "fit failed: a parameter has no effect on the curve where the fit stopped")
    q, values, rows = np.linalg.svd(columns / norms, full_matrices=False)
    if values[-1] <= 1e-11 * values[0]:
        return _failed(n, count, "fit failed: the readings cannot tell the parameters apart")
    rest, df = float(residuals @ residuals), n - count
    offset = _relative_offset(q, residuals, df, size)
    if offset > LARGEST_OFFSET:
        return _failed(n, count, f"fit failed: not at a minimum (relative offset {offset:.1e})")
    inverse = rows.T / values / norms[:, None]
    covariance = inverse @ inverse.T * rest / df
    errors = np.sqrt(np.diag(covariance))
    if np.any(errors > LARGEST_ERROR * np.maximum(np.abs(best), problem.scale)):
        return _failed(n, count, "fit failed: a parameter is free to move without any effect on the curve")
    reach = AGREEMENT * np.maximum(np.abs(best), np.minimum(errors, problem.scale))
    reach = np.maximum(reach, ROUNDING * size / norms)
    if not _come_back(again, best, reach):
        again = [problem.solve(best + ERRORS * errors * signs) for signs in _patterns(count)]
        again = [answer for answer in again if answer is not None]
        answers = [*answers, *again]
        if not _come_back(again, best, reach):
            return _failed(n, count, "fit failed: restarts near the answer do not come back to it")
    agreeing = [_come_back([answer], best, reach) for answer in answers]
    return CurveFit(
        tuple(map(float, best)),
        tuple(map(float, errors)),
        tuple(tuple(map(float, row)) for row in covariance),
        rest,
        (rest / df) ** 0.5,
        n,
        df,
        offset,
        sum(agreeing),
        len(answers),
    )


def _come_back(answers: list[np.ndarray], best: np.ndarray, reach: np.ndarray) -> bool:
    return any(np.all(np.abs(answer - best) <= reach) for answer in answers)


def _relative_offset(q: np.ndarray, residuals: np.ndarray, df: int, size: float) -> float:
    """Length of the residual along the tangent plane, over that across it, each by its degrees of freedom."""
    along = q.T @ residuals
    rest = float(residuals @ residuals)
    if rest <= (1e-12 * size) ** 2:  # the curve goes through every reading: rounding is all that is left
        return 0.0
    across = max(rest - float(along @ along), 0.0)
    if across == 0:
        return float("inf")
    return float(np.sqrt(along @ along / along.size) / np.sqrt(across / df))


def _failed(n: int, count: int, note: str) -> CurveFit:
    return CurveFit(None, None, None, None, None, n, n - count, None, 0, 0, note)
