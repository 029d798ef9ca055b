"""How large a difference is against the spread between coupons, and how many coupons it takes to see it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analysis.formula import formula
from analysis.ranges import within
from analysis.statistics.comparison import lacking_spread, mean_difference, sample
from analysis.statistics.replication import require_share

LARGEST_T = 1e5  # beyond it the normal part of t is nothing against the spread, and the library has no number
LARGEST_COUNT = 100_000  # beyond it the normal approximation is exact to less than one coupon


@dataclass(frozen=True, slots=True)
class EffectSize:
    """Difference of two means in units of their common standard deviation; None without any spread."""

    d: float | None  # Cohen
    g: float | None  # Hedges: d times the exact small-sample factor
    correction: float | None  # that factor
    low: float | None  # exact interval of the true effect, from the noncentral t
    high: float | None
    confidence: float


@dataclass(frozen=True, slots=True)
class SampleSize:
    """Coupons needed in each group."""

    n: int
    power: float  # reached with n
    normal_approximation: float  # before rounding up, with normal in place of t quantiles


@formula(
    "d = (x̄1 − x̄2)/s,  g = J·d,  J = Γ(m/2)/(√(m/2)·Γ((m − 1)/2)),  m = n1 + n2 − 2",
    source="hedges_1981",
    holds_when="one value a coupon, coupons independent, normal with one common spread",
    library="scipy.special.nctdtr",
)
def hedges_g(first: Sequence[float], second: Sequence[float], confidence: float = 0.95) -> EffectSize:
    """How large is the difference of two recipes against the spread between their coupons?

    Parameters
    ----------
    first, second : sequence of float
        One value a coupon of each recipe, any unit.
    confidence : float
        Two-sided confidence [-].

    Returns
    -------
    EffectSize
        The interval is that of the true effect, exact for normal values of one common spread, and not scaled by J.
        All None with fewer than two coupons in a group, or without spread.

    Raises
    ------
    ValueError
        For NaN, no values, or a confidence outside 0 to 1.

    Source: `hedges_1981`.

    >>> round(hedges_g([3.1, 2.9, 3.4, 3.0], [4.0, 4.4, 4.1, 4.6]).g, 3)
    -4.124
    """
    require_share("confidence", confidence)
    one, two = sample(first), sample(second)
    if lacking_spread(one, two):
        return EffectSize(None, None, None, None, None, confidence)
    from scipy.special import gammaln

    m = one.size + two.size - 2
    pooled = math.sqrt((np.sum((one - one.mean()) ** 2) + np.sum((two - two.mean()) ** 2)) / m)
    factor = math.sqrt(1 / one.size + 1 / two.size)
    d = mean_difference(one, two) / pooled
    correction = math.exp(float(gammaln(m / 2) - gammaln((m - 1) / 2))) / math.sqrt(m / 2)
    tail = (1 - confidence) / 2
    low, high = (factor * _noncentrality(d / factor, m, share) for share in (1 - tail, tail))
    return EffectSize(d, correction * d, correction, low, high, confidence)


@formula(
    "n ≈ k·(zα + zβ)²·(σ/δ)², k = 2 for two groups, 1 for one;  exact: power of the noncentral t",
    source="nist_handbook_7_2_2_2",
    holds_when="one value a coupon, normal, the same spread in both groups; σ known from earlier coupons",
    library="statsmodels.stats.power.TTestIndPower, TTestPower",
)
def coupons_needed(
    difference: float, sd: float, *, alpha: float = 0.05, power: float = 0.9, sides: int = 2, groups: int = 2
) -> SampleSize:
    """How many coupons a group does it take to see a difference of a given size?

    Parameters
    ----------
    difference : float
        Difference that must not be missed, unit of the values, above 0.
    sd : float
        Standard deviation between coupons, same unit, above 0.
    alpha : float
        Chance of seeing a difference where there is none [-].
    power : float
        Chance of seeing the difference where it is there [-], above alpha.
    sides : int
        2 when either direction counts, 1 for one.
    groups : int
        2 for two recipes (n in each), 1 for one recipe against a fixed value or for pairs.

    Returns
    -------
    SampleSize
        At least two coupons.

    Raises
    ------
    ValueError
        For a difference or sd not above 0, shares outside 0 to 1, or power not above alpha.

    Source: `nist_handbook_7_2_2_2`.

    >>> found = coupons_needed(1, 1, alpha=0.05, power=0.9, sides=1, groups=1)
    >>> found.n, round(found.normal_approximation, 4)
    (11, 8.5638)
    """
    within("difference", difference, above=0, has_nan=False)
    within("standard deviation", sd, above=0, has_nan=False)
    require_share("alpha", alpha)
    require_share("power", power)
    if power <= alpha:
        raise ValueError(f"power must lie above alpha, {alpha}, not {power}")
    if sides not in (1, 2) or groups not in (1, 2):
        raise ValueError(f"sides and groups must be 1 or 2, not {sides} and {groups}")
    from scipy.special import ndtri
    from statsmodels.stats.power import TTestIndPower, TTestPower

    effect = difference / sd
    about = groups * float(ndtri(1 - alpha / sides) + ndtri(power)) ** 2 / effect**2
    alternative = "two-sided" if sides == 2 else "larger"
    test = TTestIndPower() if groups == 2 else TTestPower()

    def reached(n: int) -> float:
        found = float(test.power(effect, n, alpha, alternative=alternative))
        # for a large effect the library has no number for the far tail, which then adds nothing
        return float(test.power(effect, n, alpha / sides, alternative="larger")) if math.isnan(found) else found

    n = max(math.ceil(about), 2)
    if n > LARGEST_COUNT:
        return SampleSize(n, power, about)
    while reached(n) < power:
        n += 1
    while n > 2 and reached(n - 1) >= power:
        n -= 1
    return SampleSize(n, reached(n), about)


def _noncentrality(t: float, df: int, share: float) -> float:
    """Noncentrality at which this t is the quantile of that share."""
    from scipy.optimize import brentq
    from scipy.special import chdtri, nctdtr

    if abs(t) > LARGEST_T:  # t = nc/√(χ²/df), where the normal part no longer counts
        return t * math.sqrt(float(chdtri(df, share if t > 0 else 1 - share)) / df)

    def below(nc: float) -> float:
        found = float(nctdtr(df, nc, t))
        return float(t > nc) if math.isnan(found) else found  # too close to 0 or 1 for the library

    reach = 10 + abs(t)
    while below(t - reach) < share or below(t + reach) > share:
        reach *= 2
    return float(brentq(lambda nc: below(nc) - share, t - reach, t + reach, xtol=1e-12))
