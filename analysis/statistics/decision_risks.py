"""Risks of a decision: chance that an item conforms, that its verdict is wrong, and the shares over a process."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from analysis.formula import formula
from analysis.ranges import plain, within
from analysis.statistics.decisions import is_inside, require_limits


@dataclass(frozen=True, slots=True, eq=False)
class Posterior:
    """What is known of one item after measuring it, when it comes from a known process."""

    mean: float | np.ndarray
    sd: float | np.ndarray


@dataclass(frozen=True, slots=True, eq=False)
class SpecificRisks:
    """Chance that the decision on one measured item is wrong."""

    is_accepted: bool | np.ndarray
    false_acceptance: float | np.ndarray  # 0 where the item is rejected
    false_rejection: float | np.ndarray  # 0 where the item is accepted


@dataclass(frozen=True, slots=True, eq=False)
class GlobalRisks:
    """Chance that an item still to be drawn from the process is judged wrongly."""

    consumer: float | np.ndarray  # does not conform and is accepted
    producer: float | np.ndarray  # conforms and is rejected


@formula(
    "μ = (y/u² + μ₀/u₀²)/(1/u² + 1/u₀²);  1/σ² = 1/u² + 1/u₀²",
    source="jcgm_106",
    holds_when="normal process and normal measurement",
)
def posterior(value: ArrayLike, u: ArrayLike, prior_mean: ArrayLike, prior_sd: ArrayLike) -> Posterior:
    """Best estimate of an item from its measured value and from the process it comes from.

    Parameters
    ----------
    value, prior_mean : float or array
        Measured value and mean of the process, same unit.
    u, prior_sd : float or array
        Standard uncertainty and standard deviation of the process, same unit, above 0.

    Returns
    -------
    Posterior
        Same unit; NaN stays NaN in its place.

    Raises
    ------
    ValueError
        For a u or sd of 0 or below.

    Source: `jcgm_106`, clause 7.

    >>> found = posterior(9.4, 0.4, 8.0, 1.0)
    >>> round(found.mean, 6), round(found.sd, 6)
    (9.206897, 0.371391)
    """
    measured, middle = within("value", value), within("prior mean", prior_mean)
    own, prior = within("standard uncertainty", u, above=0), within("prior standard deviation", prior_sd, above=0)
    both = np.hypot(own, prior)
    return Posterior(plain(measured + (own / both) ** 2 * (middle - measured)), plain(prior * (own / both)))


@formula(
    "p_c = F((T_U − y)/u) − F((T_L − y)/u), F normal, or t(ν); with a process N(μ₀, u₀) the posterior in place of y, u",
    source="jcgm_106",
    holds_when="the quantity is normal (or t) about the measured value",
    library="scipy.special.ndtr scipy.special.stdtr",
)
def conformity_probability(
    value: ArrayLike,
    u: ArrayLike,
    lower: ArrayLike | None = None,
    upper: ArrayLike | None = None,
    dof: ArrayLike = math.inf,
    prior_mean: ArrayLike | None = None,
    prior_sd: ArrayLike | None = None,
):
    """Probability that the measured item conforms.

    Parameters
    ----------
    value : float or array
        Measured values, any unit.
    u : float or array
        Standard uncertainty, unit of the values, 0 or more.
    lower, upper : float or array, optional
        Tolerance limits, unit of the values; at least one.
    dof : float or array
        Degrees of freedom of u [-], above 0; infinite for a known one.
    prior_mean, prior_sd : float or array, optional
        Mean and standard deviation of the process, both or neither; with them u must be above 0 and known.

    Returns
    -------
    float or array
        0 to 1 [-]; with u = 0 either; NaN stays NaN in its place.

    Raises
    ------
    ValueError
        For u below 0, no limit, lower not below upper, half a prior, or a prior with finite degrees of freedom.

    Source: `jcgm_106`, clause 7.

    >>> round(conformity_probability(9.4, 0.4, upper=10.0), 6)
    0.933193
    """
    return plain(_conforming(*_rooms(value, u, require_limits(lower, upper), dof, prior_mean, prior_sd)))


@formula(
    "accepted: false acceptance 1 − p_c; rejected: false rejection p_c",
    source="jcgm_106 ilac_g8",
    holds_when="the quantity is normal (or t) about the measured value",
    library="scipy.special.ndtr scipy.special.stdtr",
)
def specific_risks(
    value: ArrayLike,
    u: ArrayLike,
    lower: ArrayLike | None = None,
    upper: ArrayLike | None = None,
    guard: ArrayLike = 0.0,
    dof: ArrayLike = math.inf,
    prior_mean: ArrayLike | None = None,
    prior_sd: ArrayLike | None = None,
) -> SpecificRisks:
    """Chance that the decision on a measured item is wrong.

    Parameters
    ----------
    value, u, lower, upper, dof, prior_mean, prior_sd
        As in `conformity_probability`.
    guard : float or array
        w, distance of the acceptance limits inside the tolerance limits, unit of the values; 0 is simple acceptance.

    Returns
    -------
    SpecificRisks
        0 to 1 [-]; NaN stays NaN in its place.

    Raises
    ------
    ValueError
        As `conformity_probability`.

    Source: `jcgm_106`, clause 8; `ilac_g8`, table of guard bands.

    >>> round(specific_risks(9.4, 0.4, upper=10.0).false_acceptance, 6)
    0.066807
    """
    limits, width = require_limits(lower, upper), within("guard", guard)
    over, under, nu = _rooms(value, u, limits, dof, prior_mean, prior_sd)
    wrong = np.clip(_tail(over, nu) + _tail(under, nu), 0.0, 1.0)  # added, not 1 − p: keeps the digits of a small risk
    measured = within("value", value)
    accepted = is_inside(measured, *limits, width)
    unknown = np.isnan(wrong + measured + width)
    acceptance = np.where(unknown, np.nan, np.where(accepted, wrong, 0.0))
    rejection = np.where(unknown, np.nan, np.where(accepted, 0.0, _conforming(over, under, nu)))
    return SpecificRisks(plain(accepted & ~unknown), plain(acceptance), plain(rejection))


@formula(
    "R_C = ∫(x outside T) P(y inside A | x)·g(x)dx;  R_P = ∫(x inside T) P(y outside A | x)·g(x)dx",
    source="jcgm_106",
    holds_when="normal process, normal measurement of known uncertainty, no bias",
    library="numpy.polynomial.legendre.leggauss scipy.special.ndtr",
)
def global_risks(
    process_mean: ArrayLike,
    process_sd: ArrayLike,
    u: ArrayLike,
    lower: ArrayLike | None = None,
    upper: ArrayLike | None = None,
    guard: ArrayLike = 0.0,
) -> GlobalRisks:
    """Share of items from a process that a decision rule will judge wrongly.

    Parameters
    ----------
    process_mean, process_sd : float or array
        Mean and standard deviation of the true values, any unit, sd above 0.
    u : float or array
        Standard uncertainty of a measurement, same unit, 0 or more.
    lower, upper : float or array, optional
        Tolerance limits, same unit; at least one.
    guard : float or array
        w, distance of the acceptance limits inside the tolerance limits, same unit; 0 is simple acceptance.

    Returns
    -------
    GlobalRisks
        Shares of all items, 0 to 1 [-]; NaN stays NaN in its place.

    Raises
    ------
    ValueError
        For an sd of 0 or below, u below 0, no limit, or lower not below upper.

    Source: `jcgm_106`, clause 9.

    >>> found = global_risks(0.0, 0.12, 0.04, -0.2, 0.2)
    >>> round(found.consumer, 6), round(found.producer, 6)
    (0.018942, 0.037208)
    """
    low, high = require_limits(lower, upper)
    mean, sd = within("process mean", process_mean), within("process standard deviation", process_sd, above=0)
    error, width = within("standard uncertainty", u, at_least=0), within("guard", guard)
    cases = np.broadcast_arrays(mean, sd, error, low, high, width)
    shape = cases[0].shape
    rows = np.array([case.ravel() for case in cases])
    risks = np.full((2, rows.shape[1]), np.nan)
    known = np.flatnonzero(~np.isnan(rows).any(axis=0))
    for part in np.array_split(known, math.ceil(known.size / 256)) if known.size else []:  # keeps the grid small
        risks[:, part] = _risks(*rows[:, part])
    return GlobalRisks(plain(risks[0].reshape(shape)), plain(risks[1].reshape(shape)))


def _risks(mean, sd, error, low, high, width) -> np.ndarray:
    """Both risks of one row of cases by Gauss–Legendre sums between break points set where something changes."""
    bottom, top = low + width, high - width
    steps = np.array([0.03, 0.1, 0.3, 1.0, 3.0, 6.0, 10.0])
    steps = np.concatenate([-steps[::-1], [0.0], steps])[:, None]
    anchors = [(mean, sd), *((limit, size) for limit in (low, high) for size in (sd, error))]
    anchors += [(bottom, error), (top, error)]
    finite = [np.where(np.isfinite(at), at, mean) + size * steps for at, size in anchors]
    breaks = np.sort(np.concatenate(finite), axis=0)
    first, last = breaks[0], breaks[-1]
    start, end = np.where(np.isfinite(low), low, first), np.where(np.isfinite(high), high, last)
    args = (mean, sd, error, bottom, top)
    consumer = sum(_integral(breaks, *ends, True, *args) for ends in ((first, start), (end, last)))
    return np.array([consumer, _integral(breaks, start, end, False, *args)])


def _integral(breaks, start, end, is_inside, mean, sd, error, bottom, top) -> np.ndarray:
    """Integral of the process density times the chance that the measured value falls inside (outside) A."""
    from scipy.special import ndtr

    edges = np.clip(breaks, start, end)
    node, share = np.polynomial.legendre.leggauss(20)
    half = np.diff(edges, axis=0) / 2
    x = edges[:-1] + half + half * node[:, None, None]
    density = np.exp(-(((x - mean) / sd) ** 2) / 2) / (sd * math.sqrt(2 * math.pi))
    below, above = _standardised(x - bottom, error), _standardised(top - x, error)
    if is_inside:  # from the tail that is the smaller one, so that a small chance keeps its digits
        chance = np.where(below < above, ndtr(below) - ndtr(-above), ndtr(above) - ndtr(-below))
        chance = np.maximum(chance, 0.0)  # guard bands that leave nothing to accept
    else:
        chance = np.minimum(ndtr(-below) + ndtr(-above), 1.0)
    return np.einsum("kpn,k,pn->n", density * chance, share, half)


def _standardised(distance, size) -> np.ndarray:
    """Distance over standard deviation; without spread ±∞, and +∞ on the limit itself."""
    certain = np.where(distance >= 0, np.inf, -np.inf)
    with np.errstate(invalid="ignore"):  # infinite limits stay infinite
        return np.where(
            size > 0, distance / np.where(size > 0, size, 1.0), np.where(np.isnan(distance), np.nan, certain)
        )


def _rooms(value, u, limits, dof, prior_mean, prior_sd) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Standardised room over the lower and under the upper limit, with the degrees of freedom."""
    middle, spread = within("value", value), within("standard uncertainty", u, at_least=0)
    nu = np.asarray(dof, dtype=float)
    if np.any(nu <= 0):
        raise ValueError(f"degrees of freedom must be above 0, not {nu[nu <= 0].flat[0]:g}")
    if (prior_mean is None) != (prior_sd is None):
        raise ValueError("a process needs both its mean and its standard deviation")
    if prior_mean is not None:
        if not np.all(np.isinf(nu)):
            raise ValueError("a prior goes with a known uncertainty, not with finite degrees of freedom")
        known = posterior(value, u, prior_mean, prior_sd)
        middle, spread = np.asarray(known.mean), np.asarray(known.sd)
    low, high = limits
    return _standardised(middle - low, spread), _standardised(high - middle, spread), nu


def _conforming(over: np.ndarray, under: np.ndarray, nu: np.ndarray) -> np.ndarray:
    """Chance between both limits, as a difference of the two smaller tails: keeps the digits of a small chance."""
    near, far = np.minimum(over, under), np.maximum(over, under)
    return np.clip(_tail(-near, nu) - _tail(far, nu), 0.0, 1.0)


def _tail(room: np.ndarray, nu: np.ndarray) -> np.ndarray:
    """Chance of a standardised deviation beyond the room."""
    from scipy.special import ndtr, stdtr

    return np.where(np.isinf(nu), ndtr(-room), stdtr(np.where(np.isinf(nu), 1.0, nu), -room))
