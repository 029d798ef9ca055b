"""Fouling cover: the interval against a robust fractional logit of statsmodels, and its limits."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from analysis.measures import cover_percent, mean_cover


@pytest.mark.parametrize("covers", [[5, 10, 20, 5], [0, 1, 0, 4, 2], [100, 98, 70, 91, 88, 100], [50, 60]])
def test_interval_against_statsmodels(covers):
    import statsmodels.api as sm
    from scipy.stats import t

    shares = np.array(covers) / 100
    fit = sm.GLM(shares, np.ones(len(shares)), family=sm.families.Binomial()).fit(cov_type="HC0")
    # independent: statsmodels 0.15.0, robust variance of a logit; it divides by n, so n/(n − 1) is put on here, and t
    # stands in place of its normal limits
    n = len(shares)
    reach = t.ppf(0.975, n - 1) * fit.bse[0] * (n / (n - 1)) ** 0.5
    expected = 100 / (1 + np.exp(-(fit.params[0] + np.array([-reach, reach]))))
    found = mean_cover(covers)
    assert_allclose(found.mean, np.mean(covers))
    assert_allclose([found.low, found.high], expected, rtol=1e-6)
    assert 0 < found.low < found.mean < found.high < 100


def test_clean_and_fouled_turned_round():
    covered, clean = mean_cover([5, 10, 20]), mean_cover([95, 90, 80])
    assert_allclose([covered.low, covered.high], [100 - clean.high, 100 - clean.low])  # limit


@pytest.mark.parametrize("covers", [[0, 0, 0], [100, 100], [20, 20, 20], 7.5])
def test_no_interval_without_spread_or_with_one_coupon(covers):
    found = mean_cover(covers)
    assert (found.low, found.high) == (None, None)
    assert "no interval" in found.note
    assert_allclose(found.mean, np.mean(covers))


def test_share_of_area():
    assert cover_percent(30, 120) == 25.0
    found = cover_percent([[0, 50], [math.nan, 100]], 100)
    assert_allclose(found, [[0, 50], [math.nan, 100]])
    with pytest.raises(ValueError, match="covered area 101 is above"):
        cover_percent([5, 101], 100)
    for bad in ((-1, 10), (1, 0), (1, math.inf)):
        with pytest.raises(ValueError):
            cover_percent(*bad)


@pytest.mark.parametrize("bad", [[], [-1, 5], [101], [math.nan, 5]])
def test_impossible_covers_are_refused(bad):
    with pytest.raises(ValueError):
        mean_cover(bad)
    with pytest.raises(ValueError, match="confidence"):
        mean_cover([1, 2], 0)
