"""Where a fitted curve reaches a level, and how well that place is known.

Three intervals are given side by side, because they differ where the curve bends or flattens: the first-order one
(delta), and two from the profile of the residual sum of squares, with Student's t and with the likelihood ratio.
The place on the fitted curve is meant, not that of a single further reading.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analysis.formula import formula
from analysis.statistics.fits import CurveFit, LeastSquares, Model
from analysis.statistics.regression import linear_fit
from analysis.statistics.replication import finite, require_share

PIN = 1e4  # weight of the level as a reading that the curve must meet: relative error of the profile about 1e-8
FARTHEST = 1e4  # widths of the x range; an interval that goes on beyond is called open


@dataclass(frozen=True, slots=True)
class LevelCrossing:
    """Place where a curve reaches a level; None where it does not, ±inf for an end that is open."""

    at: float | None  # unit of x
    standard_error: float | None  # first order
    delta_low: float | None
    delta_high: float | None
    profile_low: float | None  # profile with Student's t: the one to quote
    profile_high: float | None
    likelihood_low: float | None  # profile with the likelihood ratio, chi-square with 1 df: too narrow for few readings
    likelihood_high: float | None
    level: float
    confidence: float
    note: str = ""


@dataclass(frozen=True, slots=True)
class LinearCrossing:
    """Place where a straight line reaches a level, with the intervals of Fieller and of first order."""

    at: float | None  # unit of x; None for a line without slope
    low: float | None  # Fieller; None where it is not bounded
    high: float | None
    delta_low: float | None
    delta_high: float | None
    g: float  # (t·standard error of the slope/slope)² [-]; 1 or more: not bounded
    is_bounded: bool
    level: float
    confidence: float
    note: str = ""


@formula(
    "t*: f(t*, θ̂) = L;  delta: se² = gᵀ·C·g, g = ∂t*/∂θ;  profile: {t: RSS(t) ≤ RSS·(1 + t²/(n − p))};  "
    "likelihood: {t: n·ln(RSS(t)/RSS) ≤ χ²}",
    source="bates_watts_1988",
    holds_when="readings independent with the same spread, curve of the right form",
    library="scipy.optimize.least_squares, scipy.optimize.brentq",
)
def level_crossing(
    model: Model,
    x: Sequence[float],
    y: Sequence[float],
    fit: CurveFit,
    level: float,
    within: tuple[float, float],
    confidence: float = 0.95,
    domain: tuple[float, float] = (-math.inf, math.inf),
) -> LevelCrossing:
    """Dose, time or other quantity at which a fitted curve reaches a level, with three intervals.

    Parameters
    ----------
    model, x, y, fit
        The curve, the readings and the fit, as in `nonlinear_fit`.
    level : float
        Level to be reached, unit of y.
    within : tuple of float
        Range of x that is searched, from its first end on: the first crossing counts.
    confidence : float
        Two-sided confidence [-].
    domain : tuple of float
        Where the curve has a meaning, (0, inf) for a dose; an interval ends there.

    Returns
    -------
    LevelCrossing
        In the unit of x. `at` is None with a note when the fit failed or the level is not reached in the range;
        ±inf for an end that is not bounded.

    Raises
    ------
    ValueError
        For a level that is not finite, an empty range, or a confidence outside 0 to 1.

    Source: `bates_watts_1988` for the profile; the level is made a reading of all but infinite weight.

    >>> from analysis.statistics.fits import nonlinear_fit
    >>> def curve(x, b1, b2):
    ...     return b1 * (1 - np.exp(-b2 * x))
    >>> t, y = [1, 2, 3, 5, 7, 10], [109, 149, 149, 191, 213, 224]
    >>> found = level_crossing(curve, t, y, nonlinear_fit(curve, t, y, (100, 0.75)), 150, (0, 10))
    >>> [round(value, 4) for value in (found.at, found.profile_low, found.profile_high)]
    [2.2096, 1.3775, 3.1909]
    """
    require_share("confidence", confidence)
    abscissa, readings = finite(x), finite(y)
    if not math.isfinite(level):
        raise ValueError(f"the level must be a finite number, not {level}")
    if not within[0] < within[1] or not np.all(np.isfinite(within)):
        raise ValueError(f"the range {within} is empty or has no end")
    if not fit.is_fitted:
        return _not_found(level, confidence, fit.note)
    at = _first_crossing(lambda t: float(_curve_at(model, t, fit.parameters)) - level, within)
    if at is None:
        note = f"the curve does not reach {level:g} between {within[0]:g} and {within[1]:g}"
        return _not_found(level, confidence, note)
    scale = min(float(np.ptp(abscissa)), abs(at - domain[0]), abs(domain[1] - at))
    error = _first_order_error(model, fit, at, max(scale, 1e-6 * float(np.ptp(abscissa))))
    from scipy.special import stdtrit
    from scipy.stats import chi2

    quantile = float(stdtrit(fit.df, (1 + confidence) / 2))
    delta = at - quantile * error, at + quantile * error
    profile = _Profile(model, abscissa, readings, fit, level, at, domain)
    rises = 1 + quantile**2 / fit.df, math.exp(float(chi2.ppf(confidence, 1)) / fit.n)
    ends = [profile.end(rise, side, quantile * error) for rise in rises for side in (-1, 1)]
    note = "the interval is not bounded" if any(map(math.isinf, ends[:2])) else ""
    return LevelCrossing(at, error, *delta, *ends, level, confidence, note)


@formula(
    "t* = x̄ + u, (d − b·u)² ≤ t²s²(1/n + u²/Sxx),  d = L − ȳ,  g = t²s²/(b²·Sxx)",
    source="fieller_1954",
    holds_when="straight line, readings independent with the same normal spread; bounded only for g < 1",
    library="statsmodels.api.OLS",
)
def linear_crossing(x: Sequence[float], y: Sequence[float], level: float, confidence: float = 0.95) -> LinearCrossing:
    """Where a straight trend reaches a level, with Fieller's interval, or the statement that it has no bound.

    Parameters
    ----------
    x, y : sequence of float
        Dose, time or other quantity, and readings, any units, at least three.
    level : float
        Level to be reached, unit of y.
    confidence : float
        Two-sided confidence [-].

    Returns
    -------
    LinearCrossing
        In the unit of x; `is_bounded` is False when the slope cannot be told from 0 at this confidence (g ≥ 1), and
        then there is no interval, neither Fieller's nor the first-order one.

    Raises
    ------
    ValueError
        For NaN, fewer than three readings, x of several columns or without spread, or a confidence outside 0 to 1.

    Source: `fieller_1954`.

    >>> found = linear_crossing([0, 1, 2, 3, 4], [10.1, 11.9, 14.0, 16.1, 17.9], 20)
    >>> round(found.at, 3), round(found.low, 2), round(found.high, 2)
    (5.03, 4.85, 5.23)
    """
    require_share("confidence", confidence)
    if not math.isfinite(level):
        raise ValueError(f"the level must be a finite number, not {level}")
    abscissa, readings = finite(x), finite(y)
    if abscissa.ndim != 1:
        raise ValueError(f"x must be one column of numbers, not an array of shape {abscissa.shape}")
    centre = float(abscissa.mean())
    fit = linear_fit(abscissa - centre, readings)  # centred: its intercept is the mean reading
    mean, slope = fit.coefficients
    from scipy.special import stdtrit

    quantile = float(stdtrit(fit.df, (1 + confidence) / 2))
    if abs(slope) * np.ptp(abscissa) <= 1e-13 * np.max(np.abs(readings)):  # nothing but rounding
        note = "not bounded: the trend has no slope"
        return LinearCrossing(None, *(None,) * 4, math.inf, False, level, confidence, note)
    g = (quantile * fit.standard_errors[1] / slope) ** 2
    u = (level - mean) / slope
    if g >= 1:
        note = "not bounded: the slope cannot be told from 0"
        return LinearCrossing(centre + u, *(None,) * 4, g, False, level, confidence, note)
    spread = (quantile * fit.standard_errors[0] / slope) ** 2  # t²·s²/(n·b²)
    root = math.sqrt(u**2 * g + (1 - g) * spread)
    first_order = math.sqrt(spread + g * u**2)
    fieller = (centre + (u - root) / (1 - g), centre + (u + root) / (1 - g))
    delta = (centre + u - first_order, centre + u + first_order)
    return LinearCrossing(centre + u, *fieller, *delta, g, True, level, confidence)


def _not_found(level: float, confidence: float, note: str) -> LevelCrossing:
    return LevelCrossing(None, *(None,) * 7, level, confidence, note)


def _curve_at(model: Model, place: float, parameters) -> float:
    with np.errstate(all="ignore"):  # far outside the readings a curve may overflow
        return np.broadcast_to(model(np.array([place], dtype=float), *parameters), 1)[0]


def _first_crossing(difference, within: tuple[float, float]) -> float | None:
    from scipy.optimize import brentq

    places = np.linspace(*within, 1001)
    signs = np.sign([difference(place) for place in places])
    exact = np.flatnonzero(signs == 0)
    change = np.flatnonzero(signs[:-1] * signs[1:] < 0)
    if exact.size and (not change.size or exact[0] <= change[0]):
        return float(places[exact[0]])
    if not change.size:
        return None
    size = max(map(abs, within))
    return float(brentq(difference, places[change[0]], places[change[0] + 1], xtol=1e-14 * size))


def _first_order_error(model: Model, fit: CurveFit, at: float, scale: float) -> float:
    """From the slopes of the curve at that place; over the scale it has no kink and no end."""
    parameters = np.array(fit.parameters)
    place = LeastSquares(model, np.array([at]), np.zeros(1), np.abs(parameters))
    by_parameters = place.jacobian(parameters)[0]
    step = 1e-3 * scale
    near, far = (
        _curve_at(model, at + k * step, parameters) - _curve_at(model, at - k * step, parameters) for k in (1, 2)
    )
    slope = (8 * near - far) / (12 * step)
    if not (np.isfinite(slope) and slope != 0):
        return math.inf
    gradient = by_parameters / slope
    return float(np.sqrt(gradient @ np.array(fit.covariance) @ gradient))


class _Profile:
    """Smallest residual sum of squares of curves that go through the level at a given place."""

    def __init__(self, model, x, y, fit, level, at, domain):
        self.model, self.x, self.y, self.fit, self.level, self.at, self.domain = model, x, y, fit, level, at, domain
        self.scale = np.maximum(np.abs(fit.parameters), 1e-3 * np.array(fit.standard_errors))
        self.known = {at: np.array(fit.parameters)}  # place -> parameters, for a start close by

    def rise(self, place: float) -> float:
        """Sum of squares through the level at this place, over the smallest there is."""
        pinned = LeastSquares(
            lambda _, *point: np.append(
                np.broadcast_to(self.model(self.x, *point), self.y.shape), PIN * _curve_at(self.model, place, point)
            ),
            self.x,
            np.append(self.y, PIN * self.level),
            self.scale,
        )
        best = pinned.solve(self.known[min(self.known, key=lambda known: abs(known - place))])
        if best is None:
            best = pinned.solve(np.array(self.fit.parameters))
        if best is None:
            return math.inf
        self.known[place] = best
        return pinned.sum_of_squares(best) / self.fit.residual_sum_of_squares

    def end(self, rise: float, side: int, step: float) -> float:
        """Where the rise reaches its limit on one side: the end of the domain, or ±inf, where it never does."""
        if self.fit.residual_sum_of_squares <= (1e-10 * np.linalg.norm(self.y)) ** 2 or step == 0:
            return self.at  # the curve goes through every reading: nothing but rounding is left
        from scipy.optimize import brentq

        edge = self.domain[0] if side < 0 else self.domain[1]
        farthest = FARTHEST * float(np.ptp(self.x))
        inside, distance = self.at, min(step, farthest)
        while True:
            outside = self.at + side * distance
            if side * (outside - edge) >= 0:
                outside = edge
            if self.rise(outside) > rise:
                break
            if outside == edge:
                return edge
            if distance >= farthest:
                return side * math.inf
            inside, distance = outside, min(2 * distance, farthest)
        tolerance = 1e-10 * max(abs(inside), abs(outside))
        return float(brentq(lambda place: self.rise(place) - rise, inside, outside, xtol=tolerance, rtol=1e-12))
