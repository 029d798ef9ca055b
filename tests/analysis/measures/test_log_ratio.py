"""Ratio of groups: exact limits, scale and order; the interval itself is held against scipy with ice adhesion."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from analysis.measures import log_ratio


def test_turned_round_it_is_the_reciprocal():
    forward, backward = log_ratio([3, 4, 6], [1, 2]), log_ratio([1, 2], [3, 4, 6])
    assert_allclose(
        [backward.ratio, backward.low, backward.high], [1 / forward.ratio, 1 / forward.high, 1 / forward.low]
    )
    assert forward.u_ln == backward.u_ln
    assert (forward.n_above, forward.n_below) == (3, 2)


@pytest.mark.parametrize("scale", [1e-300, 1e-9, 1e12, 1e300])
def test_the_unit_drops_out(scale):
    usual, scaled = log_ratio([3, 4, 6], [1, 2]), log_ratio([3 * scale, 4 * scale, 6 * scale], [scale, 2 * scale])
    assert_allclose([scaled.ratio, scaled.low, scaled.high], [usual.ratio, usual.low, usual.high], rtol=1e-9)


def test_order_of_coupons_does_not_matter():
    assert_allclose(log_ratio([6, 3, 4], [2, 1]).high, log_ratio([3, 4, 6], [1, 2]).high)
    assert_allclose(log_ratio([8, 8], [2, 8]).log10, np.log10(2))  # hand: geometric means 8 and 4


def test_covers_the_true_ratio():
    # limit: nominal coverage of the interval, 400 groups of lognormal values; 3 standard errors of the count
    random = np.random.default_rng(20261125)
    hits = 0
    for _ in range(400):
        found = log_ratio(5 * np.exp(random.normal(0, 0.5, 5)), np.exp(random.normal(0, 0.2, 4)))
        hits += found.low <= 5 <= found.high
    assert abs(hits / 400 - 0.95) < 3 * (0.95 * 0.05 / 400) ** 0.5


def test_few_coupons_at_a_high_confidence_have_no_ends():
    """Limit: t grows without bound; the interval opens to 0 and infinity, without a warning."""
    found = log_ratio([1, 2], [3, 3], confidence=0.9999)
    assert (found.low, found.high) == (0.0, np.inf)
    assert np.isfinite(found.ratio)
