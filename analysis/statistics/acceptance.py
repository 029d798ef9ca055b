"""Acceptance by variables (s method): judging a lot by mean and spread of a few coupons, and what such a plan risks.

A plan is a number of coupons n and a constant k: the lot is accepted when the limit lies at least k standard
deviations away from the mean. Its operating characteristic says how often a lot of a given quality is accepted.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analysis.formula import formula
from analysis.ranges import plain, within
from analysis.statistics.moments import counts, finite, require_share, sample_sd, stable_mean

MOST_COUPONS = 100_000  # beyond it the two points of a design lie too close together


@dataclass(frozen=True, slots=True)
class VariablesDecision:
    """Accept or not, with the quality statistic and the constant that it was held against."""

    is_accepted: bool
    quality: float  # (limit − mean)/sd, or (mean − limit)/sd; infinite where all values are equal
    k: float
    mean: float
    sd: float
    n: int
    side: str  # "upper" or "lower": the side on which the limit lies


@dataclass(frozen=True, slots=True)
class VariablesPlan:
    """Number of coupons and acceptance constant, with the risks that they really have."""

    n: int
    k: float
    producer_quality: float  # share nonconforming that shall mostly be accepted
    producer_risk: float  # chance that it is rejected
    consumer_quality: float  # share nonconforming that shall mostly be rejected
    consumer_risk: float  # chance that it is accepted


@formula(
    "Q = (U − x̄)/s or (x̄ − L)/s; accept when Q ≥ k",
    source="iso_3951_1",
    holds_when="independent normal values, one a coupon",
)
def accept_by_variables(values: Sequence[float], limit: float, k: float, side: str = "upper") -> VariablesDecision:
    """Is the lot accepted?

    Parameters
    ----------
    values : sequence of float
        One value a coupon, any unit, at least 2.
    limit : float
        Specification limit in the unit of the values.
    k : float
        Acceptance constant of the plan for this number of coupons [-].
    side : str
        "upper" where values above the limit are nonconforming, "lower" where those below are.

    Returns
    -------
    VariablesDecision
        The limit itself is conforming. Equal values on the good side of the limit are accepted (Q infinite), on
        the limit Q is 0.

    Raises
    ------
    ValueError
        For fewer than 2 values, NaN, an infinite value, or another side.

    Source: `iso_3951_1`.

    >>> found = accept_by_variables([53, 57, 49, 58, 59, 54, 58, 56, 50, 50, 55, 54, 57], limit=60, k=1.426)
    >>> found.is_accepted, round(found.quality, 4)
    (True, 1.6169)
    """
    if side not in ("upper", "lower"):
        raise ValueError(f"side is upper or lower, not {side!r}")
    if not (math.isfinite(limit) and math.isfinite(k)):
        raise ValueError(f"limit and k must be finite numbers, not {limit} and {k}")
    numbers = finite(values)
    mean, sd = stable_mean(numbers), sample_sd(numbers)
    distance = limit - mean if side == "upper" else mean - limit
    # With no spread at all only the sign of the distance is left.
    quality = distance / sd if sd > 0 else math.copysign(math.inf, distance) if distance else 0.0
    return VariablesDecision(quality >= k, quality, k, mean, sd, numbers.size, side)


@formula(
    "P = P[t′(n − 1; z(1 − π)·√n) ≥ k·√n]",
    source="iso_3951_1",
    holds_when="normal values, one specification limit, standard deviation unknown",
    library="scipy.special.nctdtr",
)
def acceptance_probability(n, k, nonconforming):
    """How often a lot of a given quality is accepted: the operating characteristic of the plan.

    Parameters
    ----------
    n : int or array
        Number of coupons, at least 2.
    k : float or array
        Acceptance constant [-].
    nonconforming : float or array
        Share of the lot beyond the limit [-], 0 to 1 with the ends. NaN stays NaN in its place.

    Returns
    -------
    float or array
        Chance of acceptance [-].

    Raises
    ------
    ValueError
        For fewer than 2 coupons, an infinite k, or a share outside 0 to 1.

    Source: `iso_3951_1`.

    >>> round(acceptance_probability(13, 1.426, 0.05), 4)
    0.7352
    """
    n = counts("number of coupons", n, 2)
    k = within("acceptance constant k", k)
    share = within("share nonconforming", nonconforming, at_least=0, at_most=1)
    from scipy.special import nctdtr, ndtri

    # The ends are no quantiles: a lot without a single nonconforming coupon passes, one of nothing else fails.
    inner = np.where((share > 0) & (share < 1), share, 0.5)
    centre, bound = -ndtri(inner) * np.sqrt(n), k * np.sqrt(n)
    below = nctdtr(n - 1, centre, bound)
    # Where centre and bound lie far apart on two sides of 0 the library gives NaN for a chance below 1e-12.
    below = np.where(np.isnan(below), bound > centre, below)
    chance = 1 - below
    chance = np.where(share == 0, 1.0, np.where(share == 1, 0.0, chance))
    return plain(np.where(np.isnan(share) | np.isnan(k), np.nan, chance))


@formula(
    "k = t′(α; n − 1, z(1 − π₁)·√n)/√n, smallest n with P(n, k, π₂) ≤ β",
    source="iso_3951_1",
    holds_when="normal values, one specification limit, standard deviation unknown",
    library="scipy.special.nctdtrit",
)
def plan_from_two_points(
    producer_quality: float, producer_risk: float, consumer_quality: float, consumer_risk: float
) -> VariablesPlan:
    """Smallest plan that accepts a good lot and rejects a bad one often enough.

    Parameters
    ----------
    producer_quality, consumer_quality : float
        Share nonconforming of the good and of the bad lot [-], the first below the second.
    producer_risk, consumer_risk : float
        Chance that the good lot is rejected and that the bad one is accepted [-], together below 1.

    Returns
    -------
    VariablesPlan
        The producer's risk is met exactly, the consumer's is what the whole number of coupons leaves.

    Raises
    ------
    ValueError
        For shares outside 0 to 1, qualities in the wrong order, risks that add up to 1 or more, or points so
        close that more than 100 000 coupons would be needed.

    Source: `iso_3951_1`; both points exactly, by the noncentral t distribution.

    >>> plan = plan_from_two_points(0.01, 0.05, 0.08, 0.10)
    >>> plan.n, round(plan.k, 4), round(plan.consumer_risk, 4)
    (28, 1.8252, 0.0961)
    """
    _require_points(producer_quality, producer_risk, consumer_quality, consumer_risk)
    low, high = 1, 2
    while acceptance_probability(high, _constant(high, producer_quality, producer_risk), consumer_quality) > (
        consumer_risk
    ):
        if high > MOST_COUPONS:
            raise ValueError(f"the two points lie too close together: more than {MOST_COUPONS} coupons are needed")
        low, high = high, 2 * high
    while high - low > 1:
        middle = (low + high) // 2
        k = _constant(middle, producer_quality, producer_risk)
        if acceptance_probability(middle, k, consumer_quality) > consumer_risk:
            low = middle
        else:
            high = middle
    return plan_risks(high, _constant(high, producer_quality, producer_risk), producer_quality, consumer_quality)


def _constant(n: int, quality: float, risk: float) -> float:
    """k with which a lot of that quality is rejected exactly with that risk."""
    from scipy.special import nctdtrit, ndtri

    return float(nctdtrit(n - 1, -ndtri(quality) * math.sqrt(n), risk) / math.sqrt(n))


@formula(
    "k = (z(1 − β)·z(1 − π₁) + z(1 − α)·z(1 − π₂))/(z(1 − α) + z(1 − β)), "
    "n = (1 + k²/2)·((z(1 − α) + z(1 − β))/(z(1 − π₁) − z(1 − π₂)))²",
    source="iso_3951_1",
    holds_when="normal approximation for x̄ + k·s, some 20 coupons or more",
    library="scipy.special.ndtri",
)
def approximate_plan(producer_quality, producer_risk, consumer_quality, consumer_risk):
    """Plan by the normal approximation: a start for planning, not the plan to judge by.

    Parameters
    ----------
    producer_quality, producer_risk, consumer_quality, consumer_risk : float
        As in `plan_from_two_points` [-].

    Returns
    -------
    tuple of float
        Number of coupons, not rounded, and k [-].

    Raises
    ------
    ValueError
        As in `plan_from_two_points`.

    Source: `iso_3951_1`; a textbook approximation, from memory.

    >>> n, k = approximate_plan(0.01, 0.05, 0.08, 0.10)
    >>> round(n, 1), round(k, 4)
    (26.6, 1.8085)
    """
    _require_points(producer_quality, producer_risk, consumer_quality, consumer_risk)
    from scipy.special import ndtri

    z1, z2, za, zb = (-float(ndtri(x)) for x in (producer_quality, consumer_quality, producer_risk, consumer_risk))
    k = (zb * z1 + za * z2) / (za + zb)
    return (1 + k * k / 2) * ((za + zb) / (z1 - z2)) ** 2, k


@formula(
    "α = 1 − P(n, k, π₁), β = P(n, k, π₂)",
    source="iso_3951_1",
    holds_when="normal values, one specification limit, standard deviation unknown",
)
def plan_risks(n: int, k: float, producer_quality: float, consumer_quality: float) -> VariablesPlan:
    """What a given plan really risks at two qualities.

    Parameters
    ----------
    n : int
        Number of coupons, at least 2.
    k : float
        Acceptance constant [-].
    producer_quality, consumer_quality : float
        Share nonconforming of the good and of the bad lot [-], the first below the second.

    Returns
    -------
    VariablesPlan
        With both risks.

    Raises
    ------
    ValueError
        For fewer than 2 coupons, shares outside 0 to 1 or in the wrong order, or NaN.

    Source: `iso_3951_1`.

    >>> plan = plan_risks(13, 1.426, 0.01, 0.10)
    >>> round(plan.producer_risk, 4), round(plan.consumer_risk, 4)
    (0.0116, 0.3916)
    """
    _require_points(producer_quality, 0.5, consumer_quality, 0.1)
    accepted = [acceptance_probability(n, k, share) for share in (producer_quality, consumer_quality)]
    return VariablesPlan(n, k, producer_quality, 1 - accepted[0], consumer_quality, accepted[1])


def _require_points(producer_quality, producer_risk, consumer_quality, consumer_risk) -> None:
    shares = {
        "producer quality": producer_quality,
        "producer risk": producer_risk,
        "consumer quality": consumer_quality,
        "consumer risk": consumer_risk,
    }
    for name, share in shares.items():
        require_share(name, share)
    if producer_quality >= consumer_quality:
        raise ValueError(f"producer quality {producer_quality} must lie below consumer quality {consumer_quality}")
    if producer_risk + consumer_risk >= 1:
        raise ValueError(f"the risks {producer_risk} and {consumer_risk} must add up to less than 1")
