"""Tolerance factors against published values and against the definition by direct integration."""

import math

import pytest
from numpy.testing import assert_allclose
from scipy import integrate, stats

from analysis.statistics.tolerance import tolerance_factor_one_sided, tolerance_limit
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
