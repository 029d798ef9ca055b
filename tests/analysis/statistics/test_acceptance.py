"""Acceptance by variables against an example of a standard, its operating characteristics, and simulation."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import integrate, stats

from analysis.statistics.acceptance import (
    accept_by_variables,
    acceptance_probability,
    approximate_plan,
    plan_from_two_points,
    plan_risks,
)
from analysis.statistics.tolerance import tolerance_factor_one_sided
from tests.analysis.tables import table

# from memory: ISO 3951, example of operating temperatures, limit 60, n = 13, k = 1.426 (older edition)
TEMPERATURES = [53, 57, 49, 58, 59, 54, 58, 56, 50, 50, 55, 54, 57]
ROWS = list(table("acceptance_characteristics").itertuples(index=False))


def test_example_of_operating_temperatures():
    found = accept_by_variables(TEMPERATURES, limit=60, k=1.426)
    assert_allclose((found.mean, found.sd, found.quality), (54.6154, 3.3301, 1.6169), atol=5.01e-5)
    assert found.is_accepted
    assert not accept_by_variables(TEMPERATURES, limit=60, k=1.62).is_accepted


@pytest.mark.parametrize("row", ROWS)
def test_operating_characteristic(row):
    assert_allclose(acceptance_probability(row.n, row.k, row.nonconforming), row.accepted, atol=5.01e-5)


@pytest.mark.parametrize(("n", "k", "share"), [(3, 0.5, 0.2), (13, 1.426, 0.05), (40, 2.2, 0.01)])
def test_operating_characteristic_by_its_definition(n, k, share):
    # independent: P(mean + k·sd ≤ limit) by integration over the chi distribution of the sd (scipy quad)
    limit = stats.norm.isf(share)

    def chance(chi):
        sd = chi / math.sqrt(n - 1)
        return stats.norm.cdf(math.sqrt(n) * (limit - k * sd)) * stats.chi.pdf(chi, n - 1)

    accepted, _ = integrate.quad(chance, 0, math.inf)
    assert_allclose(acceptance_probability(n, k, share), accepted, atol=1e-7)


def test_a_tolerance_factor_accepts_its_own_coverage_with_the_rest_of_the_confidence():
    # limit: k of a 95 % confidence and 90 % coverage accepts a lot with 10 % beyond the limit 5 times in 100
    factor = tolerance_factor_one_sided(9, 0.90, 0.95)
    assert_allclose(acceptance_probability(9, factor, 0.10), 0.05, rtol=1e-9)


def test_design_from_two_points():
    # independent: scipy 1.17.1; smallest n = 28 with k = 1.8252, β reached 0.0961
    plan = plan_from_two_points(0.01, 0.05, 0.08, 0.10)
    assert plan.n == 28
    assert_allclose((plan.k, plan.producer_risk, plan.consumer_risk), (1.8252, 0.05, 0.0961), atol=5.01e-5)
    one_less = tolerance_factor_one_sided(27, 0.99, 0.05)
    assert acceptance_probability(27, one_less, 0.08) > 0.10


def test_design_by_the_normal_approximation():
    n, k = approximate_plan(0.01, 0.05, 0.08, 0.10)  # independent: scipy 1.17.1
    assert_allclose((n, k), (26.6, 1.8085), atol=(0.05001))
    assert_allclose(k, 1.8085, atol=5.01e-5)


def test_plan_check_gives_both_risks():
    plan = plan_risks(13, 1.426, 0.01, 0.10)
    assert_allclose((1 - plan.producer_risk, plan.consumer_risk), (0.9884, 0.3916), atol=5.01e-5)


@pytest.mark.parametrize("points", [(1e-4, 0.01, 0.5, 0.01), (0.01, 0.05, 0.02, 0.10), (0.2, 0.4, 0.9, 0.5)])
def test_designs_keep_both_risks(points):
    plan = plan_from_two_points(*points)
    assert_allclose(plan.producer_risk, points[1], rtol=1e-8)
    assert plan.consumer_risk <= points[3]
    assert plan == plan_risks(plan.n, plan.k, points[0], points[2])


def test_lower_limit_mirrors_the_upper_one():
    upper = accept_by_variables(TEMPERATURES, 60, 1.426)
    lower = accept_by_variables([-value for value in TEMPERATURES], -60, 1.426, side="lower")
    assert_allclose(lower.quality, upper.quality, rtol=1e-14)


def test_equal_values_are_judged_by_the_side_they_lie_on():
    assert accept_by_variables([1.0, 1.0], 2.0, 1.5).quality == math.inf
    assert accept_by_variables([1.0, 1.0], 2.0, 1.5).is_accepted
    assert accept_by_variables([1.0, 1.0], 0.5, 1.5).quality == -math.inf
    assert accept_by_variables([1.0, 1.0], 1.0, 1.5).quality == 0


def test_characteristic_reaches_both_ends_and_keeps_nan():
    found = acceptance_probability(8, 1.5, [0.0, 0.1, math.nan, 1.0])
    assert (found[0], found[3]) == (1.0, 0.0)
    assert np.isnan(found).tolist() == [False, False, True, False]
    assert acceptance_probability(2, 0, 0.5) == 0.5  # limit: the mean lies on either side alike
    assert acceptance_probability(10_000, -1.5, 0.05) == 1.0
    assert type(acceptance_probability(8, 1.5, 0.1)) is float


def test_characteristic_falls_with_the_share():
    shares = np.linspace(0, 1, 501)
    for n in (2, 5, 50, 2000):
        assert np.all(np.diff(acceptance_probability(n, 1.8, shares)) <= 1e-12)


def test_arrays_broadcast():
    assert acceptance_probability(np.array([[5], [9]]), 1.5, np.array([0.01, 0.05, 0.1])).shape == (2, 3)


@pytest.mark.parametrize(
    "call",
    [
        lambda: accept_by_variables([1.0], 2.0, 1.5),
        lambda: accept_by_variables([1.0, math.nan], 2.0, 1.5),
        lambda: accept_by_variables([1.0, 2.0], math.nan, 1.5),
        lambda: accept_by_variables([1.0, 2.0], 2.0, 1.5, side="both"),
        lambda: acceptance_probability(1, 1.5, 0.1),
        lambda: acceptance_probability(5, math.inf, 0.1),
        lambda: acceptance_probability(5, 1.5, 1.1),
        lambda: plan_from_two_points(0.08, 0.05, 0.01, 0.10),
        lambda: plan_from_two_points(0.01, 0.5, 0.08, 0.5),
        lambda: plan_from_two_points(0.0, 0.05, 0.08, 0.10),
        lambda: plan_from_two_points(0.01, 0.05, 0.010001, 0.10),
        lambda: approximate_plan(0.01, 0.05, 0.01, 0.10),
        lambda: plan_risks(1, 1.5, 0.01, 0.1),
        lambda: plan_risks(5, math.nan, 0.1, 0.01),
    ],
)
def test_out_of_range_is_refused(call):
    with pytest.raises(ValueError):
        call()
