"""Distribution-free limits against the table of Wilks' sizes and what the extremes of a sample can promise."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from analysis.statistics.order_statistics import (
    distribution_free_confidence,
    distribution_free_limit,
    distribution_free_size,
)
from tests.analysis.tables import table

SIZES = list(table("distribution_free_sizes").itertuples(index=False))


@pytest.mark.parametrize("row", SIZES)
def test_table_of_smallest_sizes(row):
    assert distribution_free_size(row.coverage, row.confidence, row.sides) == row.n
    assert distribution_free_confidence(row.n - 1, row.coverage, row.sides) < row.confidence
    assert distribution_free_confidence(row.n, row.coverage, row.sides) >= row.confidence


def test_confidence_of_smallest_and_largest_of_twenty():
    # published: R package EnvStats prints 60.8253 %
    assert_allclose(distribution_free_confidence(20, 0.90, depth=2), 0.608253, atol=5.01e-7)


@pytest.mark.parametrize("n", [1, 2, 20, 459])
@pytest.mark.parametrize("coverage", [0.5, 0.9, 0.99])
def test_confidence_follows_the_closed_forms(n, coverage):
    # hand: 1 − pⁿ and 1 − n·pⁿ⁻¹ + (n − 1)·pⁿ
    one, two = 1 - coverage**n, 1 - n * coverage ** (n - 1) + (n - 1) * coverage**n
    assert_allclose(distribution_free_confidence(n, coverage), one, rtol=1e-12)
    assert_allclose(distribution_free_confidence(n, coverage, 2), two, rtol=1e-10, atol=1e-15)


@pytest.mark.parametrize(("n", "depth"), [(50, 3), (100, 7), (5, 5)])
def test_confidence_of_inner_values_is_binomial(n, depth):
    # independent: scipy.stats.binom (scipy 1.17.1)
    assert_allclose(distribution_free_confidence(n, 0.9, depth), stats.binom.cdf(n - depth, n, 0.9), rtol=1e-12)


def test_fewer_values_than_depth_promise_nothing():
    assert distribution_free_confidence(1, 0.9, depth=2) == 0


def test_a_confidence_met_exactly_counts():
    assert distribution_free_size(0.5, 0.75) == 2  # hand: 1 − 0.5² = 0.75
    assert distribution_free_size(0.9, 0.1) == 1  # hand: 1 − 0.9 = 0.1
    assert distribution_free_size(0.1, 0.5) == 1


def test_arrays_broadcast():
    found = distribution_free_size(np.array([[0.90], [0.95]]), 0.95, np.array([1, 2]))
    assert found.tolist() == [[29, 46], [59, 93]]
    assert found.dtype.kind == "i"
    assert type(distribution_free_size(0.9, 0.9)) is int
    assert distribution_free_confidence(np.arange(1, 7).reshape(2, 3), 0.9).shape == (2, 3)


def test_limit_sits_at_the_innermost_value_that_keeps_the_confidence():
    # hand: 0.90/0.90 needs 22 values for the largest and 38 for the second largest (1 − pⁿ − n·pⁿ⁻¹(1 − p) ≥ 0.9)
    found = distribution_free_limit(range(1, 38), 0.90, 0.90)
    assert (found.high, found.rank_high, found.low) == (37.0, 37, None)
    found = distribution_free_limit(range(38, 0, -1), 0.90, 0.90)
    assert (found.high, found.rank_high) == (37.0, 37)
    assert found.confidence_reached >= 0.90
    lower = distribution_free_limit(range(1, 39), 0.90, 0.90, side="lower")
    assert (lower.low, lower.rank_low, lower.high) == (2.0, 2, None)
    both = distribution_free_limit(range(1, 39), 0.90, 0.90, side="both")
    assert (both.low, both.high, both.rank_low, both.rank_high) == (1.0, 38.0, 1, 38)


@pytest.mark.parametrize("side", ["upper", "lower", "both"])
def test_no_more_is_promised_than_the_number_allows(side):
    with pytest.raises(
        ValueError, match=r"20 values hold 0\.9 .* confidence of .*, not 0\.95: at least (29|46) values"
    ):
        distribution_free_limit(range(20), 0.90, 0.95, side=side)


def test_limit_keeps_its_confidence():
    # independent: 4000 samples of 29 exponential values (numpy, seed 5); 1 − 0.9²⁹ = 0.9529, 3 standard errors 0.010
    samples = np.random.default_rng(5).exponential(size=(4000, 29))
    highs = [distribution_free_limit(sample, 0.90, 0.95).high for sample in samples]
    assert abs(np.mean(np.array(highs) >= -math.log(0.1)) - 0.9529) < 0.010


@pytest.mark.parametrize(
    "call",
    [
        lambda: distribution_free_limit([], 0.9, 0.9),
        lambda: distribution_free_limit([1.0] * 30 + [math.nan], 0.9, 0.9),
        lambda: distribution_free_limit([1.0] * 30, 0.9, 0.9, side="outer"),
        lambda: distribution_free_size(1.0, 0.9),
        lambda: distribution_free_size(0.9, 1.0),
        lambda: distribution_free_size(0.9, 0.9, 0),
        lambda: distribution_free_confidence(0, 0.9),
        lambda: distribution_free_confidence(math.nan, 0.9),
        lambda: distribution_free_confidence(5.5, 0.9),
        lambda: distribution_free_confidence(5, 90),
    ],
)
def test_out_of_range_is_refused(call):
    with pytest.raises(ValueError):
        call()
