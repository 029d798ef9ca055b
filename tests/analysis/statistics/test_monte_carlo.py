"""Simulation against closed forms: sums of rectangular variables and squares of normal ones."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from analysis.statistics.monte_carlo import (
    check_first_order,
    coverage_interval,
    draws,
    monte_carlo,
    numerical_tolerance,
)
from analysis.statistics.uncertain_inputs import UncertainInput, type_b
from analysis.statistics.uncertainty_budget import uncertainty_budget

FOUR = {name: type_b(0.0, math.sqrt(3)) for name in "abcd"}  # rectangular, u = 1 each
SQUARES = {"x1": UncertainInput(0.0, 0.005), "x2": UncertainInput(0.0, 0.005)}


def total(a, b, c, d):
    return a + b + c + d


def squares(x1, x2):
    return x1**2 + x2**2


def test_four_rectangular_variables():
    # limit: Irwin–Hall; JCGM 101, 9.2.3. Tolerance: 4 Monte Carlo errors of a 2.5 % point of 10⁶ trials (0.004)
    found = monte_carlo(total, FOUR, seed=1)
    assert_allclose((found.value, found.u), (0.0, 2.0), atol=0.008)
    ends = (found.symmetric.low, found.symmetric.high, found.shortest.low, found.shortest.high)
    assert_allclose(np.abs(ends), 3.879407, atol=0.03)
    assert_allclose(found.symmetric.high, 3.879407, atol=0.016)
    assert found.symmetric.high < 3.90 < 3.919928  # first order with a normal result is too wide
    wide = monte_carlo(total, FOUR, seed=2, coverage=0.99).symmetric
    assert_allclose((-wide.low, wide.high), 4.889350, atol=0.03)
    assert_allclose(uncertainty_budget(total, FOUR).expanded, 3.919928, rtol=1e-6)


def test_squares_at_the_minimum():
    # limit: χ² with 2 degrees of freedom times 2.5e-5: mean and sd 5e-5, intervals in closed form
    found = monte_carlo(squares, SQUARES, seed=3)
    assert_allclose((found.value, found.u), 5.0e-5, rtol=0.006)
    assert_allclose(found.shortest.high, 1.49787e-4, rtol=0.01)
    assert 0 <= found.shortest.low < 1e-7
    assert_allclose((found.symmetric.low, found.symmetric.high), (1.2659e-6, 1.84444e-4), rtol=0.03)
    budget = uncertainty_budget(squares, SQUARES)
    assert budget.u == 0
    check = check_first_order(budget, found)
    assert not check.is_valid
    assert "does not agree" in check.note


def test_squares_beside_the_minimum():
    # limit: noncentral χ²; JCGM 101, 9.4: mean 1.5e-4, sd 1.11803e-4 where first order says 1.0e-4
    known = SQUARES | {"x1": UncertainInput(0.010, 0.005)}
    found = monte_carlo(squares, known, seed=4)
    assert_allclose((found.value, found.u), (1.5e-4, 1.11803e-4), rtol=0.005)
    assert_allclose(uncertainty_budget(squares, known).u, 1.0e-4, rtol=1e-6)


def test_a_straight_function_agrees_with_first_order():
    known = {name: UncertainInput(1.0, 0.5) for name in "abcd"}
    check = check_first_order(uncertainty_budget(total, known), monte_carlo(total, known, seed=5), digits=1)
    assert check.is_valid
    assert check.tolerance == 0.5
    assert check.note.startswith("First order agrees")


@pytest.mark.parametrize("correlations", [None, {("x", "y"): 0.0}, {("x", "y"): 0.8}])
@pytest.mark.parametrize("shape", ["normal", "t", "rectangular", "triangular", "arcsine"])
def test_shapes_keep_their_distribution(shape, correlations):
    known = UncertainInput(2.0, 0.5, 5 if shape == "t" else math.inf, shape)
    drawn = draws({"x": known, "y": known}, 40_000, np.random.default_rng(6), correlations)
    expected = {
        "normal": stats.norm(2, 0.5),
        "t": stats.t(5, 2, 0.5),
        "rectangular": stats.uniform(2 - 0.5 * 3**0.5, 3**0.5),
        "triangular": stats.triang(0.5, 2 - 0.5 * 6**0.5, 6**0.5),
        "arcsine": stats.arcsine(2 - 0.5 * 2**0.5, 2**0.5),
    }[shape]
    for values in drawn.values():  # independent: scipy.stats; one draw in 10⁴ would be farther off
        assert stats.kstest(values, expected.cdf).pvalue > 1e-4
    r = stats.spearmanr(drawn["x"], drawn["y"]).statistic
    wanted = 6 / math.pi * math.asin((correlations or {}).get(("x", "y"), 0) / 2)  # limit: Gaussian copula
    assert_allclose(r, wanted, atol=0.02)


def test_correlated_normal_inputs():
    known = {"a": UncertainInput(0, 3), "b": UncertainInput(0, 4)}
    for r, u in ((1.0, 7.0), (-1.0, 1.0), (0.5, math.sqrt(37))):  # hand: 9 + 16 + 24r
        found = monte_carlo(lambda a, b: a + b, known, seed=7, trials=200_000, correlations={("a", "b"): r})
        assert_allclose(found.u, u, rtol=0.01)


def test_same_seed_same_result():
    one, two, other = (monte_carlo(total, FOUR, seed=seed, trials=1000) for seed in (1, 1, 2))
    assert one == two
    assert one.value != other.value


def test_adaptive_trials_stop_when_stable():
    found = monte_carlo(total, FOUR, seed=8, digits=1)
    assert found.is_stable
    assert 20_000 <= found.trials < 1_000_000
    assert found.trials % 10_000 == 0
    short = monte_carlo(total, FOUR, seed=8, trials=20_000, digits=4)
    assert short.is_stable is False
    assert "Not stable in 4 significant digits after 20000 trials" in short.note
    assert monte_carlo(total, FOUR, seed=8, trials=1000).is_stable is None


def test_intervals_of_sorted_trials():
    trials = np.arange(1, 101.0)
    found = coverage_interval(trials, 0.9, "symmetric")
    assert (found.low, found.high) == (5.0, 95.0)  # hand: q 90, r (100 − 90)/2 = 5
    skewed = np.concatenate([np.linspace(0, 1, 95), np.linspace(2, 50, 5)])
    short = coverage_interval(skewed, 0.9)
    assert (short.low, short.high) == (0.0, skewed[90])
    assert short.high - short.low <= (sym := coverage_interval(skewed, 0.9, "symmetric")).high - sym.low


def test_numerical_tolerance():
    # published: JCGM 101, 7.9.2, examples: 35 with two digits 0.5; 0.35 and 0.2 in the same way
    assert numerical_tolerance(35.0) == 0.5
    assert numerical_tolerance(0.35) == 0.005
    assert numerical_tolerance(0.2, 1) == 0.05
    assert numerical_tolerance(9.96, 1) == 5.0  # rounds up to 10, one digit: 1·10¹
    assert numerical_tolerance(0.0) == 0.0


def test_a_constant_function_and_a_constant_input():
    found = monte_carlo(lambda a: 3.0, {"a": UncertainInput(1, 0.1)}, seed=1, trials=100)
    assert (found.value, found.u) == (3.0, 0.0)
    with_constant = {"a": UncertainInput(1, 0), "b": UncertainInput(2, 0, shape="rectangular")}
    assert monte_carlo(lambda a, b: a + b, with_constant, seed=1, trials=100).u == 0
    coupled = monte_carlo(lambda a, b: a + b, with_constant, seed=1, trials=100, correlations={("a", "b"): 0.5})
    assert coupled.value == 3.0


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: monte_carlo(total, FOUR, seed=1, trials=99), "number of trials must be at least 100"),
        (lambda: monte_carlo(total, FOUR, seed=1, coverage=1.0), "coverage"),
        (lambda: monte_carlo(total, FOUR, seed=1, digits=0), "digits"),
        (lambda: monte_carlo(lambda: 1.0, {}, seed=1), "needs inputs"),
        (lambda: monte_carlo(lambda a: a[:3], {"a": UncertainInput(1, 0.1)}, seed=1, trials=100), "one number a trial"),
        (
            lambda: monte_carlo(
                lambda a: np.where(a > 1, np.nan, a), {"a": UncertainInput(1, 0.1)}, seed=1, trials=100
            ),
            "of 100 trials give no finite number",
        ),
        (
            lambda: monte_carlo(lambda a: np.sqrt(a), {"a": UncertainInput(1, 1)}, seed=1, trials=100),
            "no finite number",
        ),
        (lambda: monte_carlo(lambda a: 1 / a, {"a": UncertainInput(0, 0)}, seed=1, trials=100), "100 of 100 trials"),
        (lambda: monte_carlo(total, FOUR, seed=1, trials=1000.5), "must be whole, not 1000.5"),
        (lambda: monte_carlo(total, FOUR, seed=1, trials=1000, digits=1.5), "must be whole, not 1.5"),
        (lambda: draws(FOUR, -1, np.random.default_rng(1)), "number of draws must be at least 0"),
        (lambda: coverage_interval([1.0, 2.0], 0.95), "too few"),
        (lambda: coverage_interval([1.0, math.nan, 2.0], 0.5), "NaN"),
        (lambda: coverage_interval([1.0, 3.0, 2.0], 0.5, "left"), "kind"),
        (lambda: numerical_tolerance(-1), "standard uncertainty"),
        (
            lambda: check_first_order(
                uncertainty_budget(total, FOUR, confidence=0.9), monte_carlo(total, FOUR, seed=1, trials=100)
            ),
            "same coverage",
        ),
    ],
)
def test_out_of_range_is_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()


def test_adaptive_procedure_draws_as_many_blocks_as_its_digits_need():
    """Hand: u = 3, two digits: δ = 0.05. One block of 10⁴ fixes a 2.5 % point to √(0.025·0.975/10⁴)·3/φ(1.96) = 0.080,
    and 2·0.080/√h ≤ 0.05 asks for h = 10 blocks; the spread of the ends is estimated, so about as many."""
    known = {"a": UncertainInput(0.0, 3.0)}
    trials = [monte_carlo(lambda a: a, known, seed=seed, digits=2).trials for seed in range(6)]
    assert 60_000 <= np.median(trials) <= 160_000
