"""Tolerance factors against published values and against the definition by direct integration."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import integrate, optimize, stats

from analysis.statistics.tolerance import (
    coupon_tolerance_limit,
    tolerance_factor_howe,
    tolerance_factor_natrella,
    tolerance_factor_one_sided,
    tolerance_factor_two_sided,
    tolerance_interval,
    tolerance_limit,
)
from tests.analysis.tables import table

# from memory: example of ISO 16269-6, breaking loads of yarn; arithmetic computed apart
YARN = [228.6, 232.7, 238.8, 317.2, 315.8, 275.1, 222.2, 236.7, 224.7, 251.2, 210.4, 270.7]


@pytest.mark.parametrize(
    ("n", "coverage", "confidence", "factor", "tolerance"),
    [
        (43, 0.90, 0.99, 1.8740, 5e-5),  # published: NIST/SEMATECH e-Handbook 7.2.6.3
        (20, 0.99, 0.90, 3.051543, 5e-7),  # published: R package EnvStats, tolIntNormK
        (8, 0.95, 0.95, 3.187294, 5e-7),  # published: R package EnvStats, tolIntNormK
    ],
)
def test_published_factors(n, coverage, confidence, factor, tolerance):
    assert_allclose(tolerance_factor_one_sided(n, coverage, confidence), factor, atol=tolerance)


def test_table_of_factors():
    rows = table("tolerance_factors_one_sided")
    found = [tolerance_factor_one_sided(*row) for row in rows.drop(columns="factor").itertuples(index=False)]
    assert len(found) == 108
    assert_allclose(found, rows["factor"], atol=6e-5)


@pytest.mark.parametrize(("n", "coverage", "confidence"), [(3, 0.9, 0.95), (6, 0.9, 0.9), (12, 0.99, 0.99)])
def test_factor_holds_the_share_with_the_stated_confidence(n, coverage, confidence):
    # independent: P(mean + k·sd ≥ quantile) by integration over the chi distribution of the sd (scipy quad)
    factor = tolerance_factor_one_sided(n, coverage, confidence)
    quantile = stats.norm.ppf(coverage)

    def chance(chi):
        sd = chi / math.sqrt(n - 1)
        return stats.norm.cdf(math.sqrt(n) * (factor * sd - quantile)) * stats.chi.pdf(chi, n - 1)

    held, _ = integrate.quad(chance, 0, math.inf)
    assert_allclose(held, confidence, atol=1e-7)


@pytest.mark.parametrize(("coverage", "limit"), [(0.90, 173.451), (0.95, 154.747)])
def test_lower_limit_of_yarn_loads(coverage, limit):
    found = tolerance_limit(YARN, coverage, 0.95, side="lower")
    assert_allclose((found.mean, found.sd, found.limit), (252.0083, 35.5447, limit), atol=2e-3)


def test_upper_and_lower_limit_mirror_each_other():
    upper, lower = tolerance_limit([1.0, 2.0, 4.0]), tolerance_limit([-1.0, -2.0, -4.0], side="lower")
    assert_allclose(upper.limit, -lower.limit, rtol=1e-14)  # limit


@pytest.mark.parametrize("values", [[], [1.0], [1.0, math.nan], [1.0, math.inf]])
def test_limit_refuses_too_few_and_nan(values):
    with pytest.raises(ValueError):
        tolerance_limit(values)


@pytest.mark.parametrize(("coverage", "confidence"), [(1.0, 0.9), (0.9, 0), (90, 0.9)])
def test_factor_refuses_what_is_no_share(coverage, confidence):
    with pytest.raises(ValueError, match="between 0 and 1"):
        tolerance_factor_one_sided(5, coverage, confidence)


def test_limit_refuses_an_unknown_side():
    with pytest.raises(ValueError, match="side"):
        tolerance_limit([1.0, 2.0], side="both")


# independent: Gauss–Legendre with 200 nodes (numpy, scipy 1.17.1), four decimals
@pytest.mark.parametrize("row", list(table("tolerance_factors_two_sided").itertuples(index=False)))
def test_table_of_two_sided_factors(row):
    assert_allclose(tolerance_factor_two_sided(row.n, row.coverage, row.confidence), row.factor, atol=5.01e-5)


@pytest.mark.parametrize("row", list(table("tolerance_factors_howe").itertuples(index=False)))
def test_table_of_factors_by_howe(row):
    assert_allclose(tolerance_factor_howe(row.n, row.coverage, row.confidence), row.factor, atol=5.01e-5)


def test_two_sided_factor_of_a_library():
    # published: R package EnvStats, tolIntNormK
    assert_allclose(tolerance_factor_two_sided(20, 0.95, 0.95), 2.760346, atol=5.01e-7)


@pytest.mark.parametrize(
    ("function", "n", "factor"),
    [  # published to 3 or 4 decimals: NIST/SEMATECH e-Handbook 7.2.6.3, n = 43; the last digits and n = 6 independent
        # (scipy 1.17.1; the two-sided one by adaptive quadrature over the mean and, apart, over the sd)
        (tolerance_factor_howe, 43, 2.217316),
        (tolerance_factor_two_sided, 43, 2.222825),
        (tolerance_factor_natrella, 43, 1.875190),
        (tolerance_factor_one_sided, 43, 1.873954),
        (tolerance_factor_one_sided, 6, 4.411081),
        (tolerance_factor_natrella, 6, 5.280827),
    ],
)
def test_exact_and_approximate_factors_of_the_handbook(function, n, factor):
    assert_allclose(function(n, 0.90, 0.99), factor, atol=5.01e-7)


def test_limits_of_the_handbook_example():
    # published: e-Handbook 7.2.6.3, mean 97.07 and sd 0.0268 (an older page took sd = 2.68 by mistake); it works with
    # Howe's and Natrella's factors
    two_sided, one_sided = tolerance_factor_howe(43, 0.90, 0.99), tolerance_factor_natrella(43, 0.90, 0.99)
    found = 97.07 - two_sided * 0.0268, 97.07 + two_sided * 0.0268, 97.07 + one_sided * 0.0268
    assert_allclose(found, (97.0106, 97.1294, 97.1203), atol=5.01e-5)


@pytest.mark.parametrize(("n", "coverage", "confidence"), [(2, 0.9, 0.95), (5, 0.95, 0.9), (30, 0.99, 0.99)])
def test_two_sided_factor_by_its_definition(n, coverage, confidence):
    # independent: P(the interval holds the share) by integration over the chi distribution of the sd; for each sd
    # the mean may lie up to a distance that brentq finds (scipy 1.17.1)
    factor = tolerance_factor_two_sided(n, coverage, confidence)
    half = stats.norm.isf((1 - coverage) / 2)

    def chance(chi):
        width = factor * chi / math.sqrt(n - 1)
        if width <= half:
            return 0.0

        def held(z):
            return stats.norm.cdf(z + width) - stats.norm.cdf(z - width) - coverage

        reach = optimize.brentq(held, 0, width + 10)
        return (1 - 2 * stats.norm.sf(reach * math.sqrt(n))) * stats.chi.pdf(chi, n - 1)

    start = half * math.sqrt(n - 1) / factor
    held, _ = integrate.quad(chance, start, start + 40, limit=200)
    assert_allclose(held, confidence, atol=1e-6)


def test_factors_approach_the_normal_quantile():
    # limit: with very many values only the population itself is left
    assert_allclose(tolerance_factor_two_sided(10**8, 0.95, 0.95), 1.959964, atol=3e-4)
    assert_allclose(tolerance_factor_one_sided(10**8, 0.95, 0.95), 1.644854, atol=3e-4)


def test_factors_of_arrays():
    n, coverage = np.array([[3], [10], [100]]), np.array([0.9, 0.95])
    for function in (tolerance_factor_one_sided, tolerance_factor_two_sided, tolerance_factor_howe):
        found = function(n, coverage, 0.95)
        assert found.shape == (3, 2)
        assert found[1, 1] == function(10, 0.95, 0.95)
        assert type(function(10, 0.95, 0.95)) is float
        assert function(np.array([], dtype=int), 0.9, 0.95).shape == (0,)


def test_a_pooled_standard_deviation_narrows_the_factor():
    # limit: with the usual n − 1 degrees of freedom nothing changes; more of them come closer to a known spread
    for function in (tolerance_factor_one_sided, tolerance_factor_two_sided):
        assert function(7, 0.9, 0.95, 6) == function(7, 0.9, 0.95)
        assert function(7, 0.9, 0.95, 60) < function(7, 0.9, 0.95)
    # limit: known spread, one-sided: z_p + z_γ/√n = 1.281552 + 1.644854/√7
    assert_allclose(tolerance_factor_one_sided(7, 0.9, 0.95, 1e9), 1.281552 + 1.644854 / math.sqrt(7), atol=1e-4)


def test_interval_of_yarn_loads():
    found = tolerance_interval(YARN, 0.95, 0.95)
    factor = tolerance_factor_two_sided(12, 0.95, 0.95)
    assert_allclose((found.low, found.high), (252.0083 - factor * 35.5447, 252.0083 + factor * 35.5447), atol=2e-3)
    assert found.n == 12


def test_normal_limits_near_a_bound_leave_the_physical_range():
    # independent: numpy and scipy 1.17.1, made-up angles: why near 0° the logarithm is used, and what it gives
    angles = np.array([0.4, 0.6, 0.9, 1.1, 1.5, 2.2, 3.9, 6.3])
    plain, logs = tolerance_interval(angles, 0.95, 0.95), tolerance_interval(np.log(angles), 0.95, 0.95)
    assert_allclose((plain.low, plain.high), (-5.49, 9.71), atol=5.01e-3)
    assert_allclose(tolerance_limit(angles, 0.95, 0.95).limit, 8.58, atol=5.01e-3)
    assert_allclose(np.exp((logs.low, logs.high)), (0.044464, 47.1178), rtol=2e-5)
    # the six digits of that figure rest on a rounded factor
    assert_allclose(np.exp(tolerance_limit(np.log(angles), 0.95, 0.95).limit), 28.0388, rtol=1e-5)


def test_logit_limit_near_a_straight_angle():
    # independent: numpy and scipy 1.17.1, made-up angles; the plain upper limit would be 184.67°
    angles = np.array([171.2, 172.8, 174.5, 175.1, 176.9, 177.8, 178.4, 179.1])
    assert_allclose(tolerance_limit(angles, 0.95, 0.95).limit, 184.67, atol=5.01e-3)
    lower = tolerance_limit(np.log(angles / (180 - angles)), 0.95, 0.95, side="lower").limit
    assert_allclose(180 / (1 + math.exp(-lower)), 144.031, atol=5.01e-4)


def test_limit_of_coupons_counts_coupons_not_drops():
    drops = {"A": [1.0, 3.0], "B": [5.0, 7.0], "C": [3.0, 5.0], "D": []}
    found = coupon_tolerance_limit(drops, 0.9, 0.95)
    assert (found.limit, found.n, found.note) == (tolerance_limit([2.0, 6.0, 4.0], 0.9, 0.95).limit, 3, "")
    uneven = coupon_tolerance_limit({"A": [1.0, 3.0], "B": [5.0]}, 0.9, 0.95)
    assert "approximate" in uneven.note


@pytest.mark.parametrize(
    "call",
    [
        lambda: tolerance_factor_two_sided(1, 0.9, 0.9),
        lambda: tolerance_factor_two_sided(2.5, 0.9, 0.9),
        lambda: tolerance_factor_two_sided(math.nan, 0.9, 0.9),
        lambda: tolerance_factor_two_sided(5, 1.0, 0.9),
        lambda: tolerance_factor_two_sided(5, 0.9, math.nan),
        lambda: tolerance_factor_one_sided(5, 0.9, 0.9, 0),
        lambda: tolerance_factor_one_sided(np.array([5, 1]), 0.9, 0.9),
        lambda: tolerance_factor_natrella(2, 0.9, 0.95),
        lambda: tolerance_factor_howe(1, 0.9, 0.95),
        lambda: tolerance_interval([1.0]),
        lambda: tolerance_interval([1.0, math.nan]),
        lambda: coupon_tolerance_limit({"A": [1.0, 2.0]}),
        lambda: coupon_tolerance_limit({"A": [1.0, 2.0], "B": [math.nan]}),
    ],
)
def test_out_of_range_is_refused(call):
    with pytest.raises(ValueError):
        call()
