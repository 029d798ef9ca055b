"""Removal and reduction: the worked example, what a count of zero can say, and intervals against scipy."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from analysis.measures import (
    AGAINST_CONTROL,
    BEFORE_AFTER,
    log10_reduction,
    log_reduction,
    reduction_percent,
    removal_percent,
)


def test_worked_example():
    # from memory (usual definitions): 4.0e5 -> 1.0e4 is 97.5 %, log 1.602
    assert_allclose(removal_percent(4.0e5, 1.0e4), 97.5)
    assert_allclose(log10_reduction(4.0e5, 1.0e4).log10, 1.602, atol=5e-4)
    found = log_reduction(4.0e5, 1.0e4)
    assert_allclose([found.log10, found.percent], [math.log10(40), 97.5], rtol=1e-12)  # hand
    assert (found.low, found.u_log10, found.is_at_least) == (None, None, False)


@pytest.mark.parametrize(("percent", "log10"), [(0, 0), (90, 1), (99, 2), (99.9, 3), (-900, -1)])
def test_percent_and_logarithm_say_the_same(percent, log10):
    test = 1e6 * (1 - percent / 100)
    assert_allclose(reduction_percent(1e6, test), percent, atol=1e-9)  # limit
    assert_allclose(log10_reduction(1e6, test).log10, log10, atol=1e-9)


def test_a_count_of_zero_says_at_least():
    with pytest.raises(ValueError, match="needs a detection limit"):
        log10_reduction(1e5, 0)
    found = log10_reduction(1e5, [0, 5, 10, 1000], detection_limit=10)
    assert_allclose(found.log10, [4, 4, 4, 2])  # hand: below the limit the limit stands in
    assert found.is_at_least.tolist() == [True, True, False, False]
    mean = log_reduction([1e5, 1e5], [0, 1000], detection_limit=10)
    assert_allclose(mean.log10, 3)  # hand: mean of 4 and 2
    assert mean.is_at_least
    assert (mean.low, mean.high, mean.u_log10, mean.n_below_limit) == (None, None, None, 1)
    assert mean.sentence == "log10 reduction against control: at least 3.00 (at least 99.9 %)"


def test_a_reference_below_its_limit_is_refused():
    for function in (log10_reduction, log_reduction):
        with pytest.raises(ValueError, match="reference lies below the detection limit"):
            function([1e5, 5], [10, 10], detection_limit=10)


def test_interval_against_control():
    from scipy.stats import ttest_ind

    control, test = [2.1e5, 3.4e5, 1.8e5, 2.6e5], [3.0e3, 9.0e3, 5.5e3]
    found = log_reduction(control, test)
    welch = ttest_ind(np.log10(control), np.log10(test), equal_var=False).confidence_interval()  # independent: scipy
    assert_allclose([found.low, found.high], [welch.low, welch.high], rtol=1e-9)
    assert_allclose(found.u_log10, (np.log10(control).var(ddof=1) / 4 + np.log10(test).var(ddof=1) / 3) ** 0.5)


def test_interval_before_and_after_is_of_the_coupons_own_differences():
    from scipy.stats import ttest_rel

    before, after = [2.1e5, 3.4e4, 1.8e6], [3.0e3, 9.0e2, 2.5e4]
    found = log_reduction(before, after, comparison=BEFORE_AFTER, confidence=0.9)
    paired = ttest_rel(np.log10(before), np.log10(after)).confidence_interval(0.9)  # independent: scipy
    assert_allclose([found.low, found.high], [paired.low, paired.high], rtol=1e-9)
    assert "before and after" in found.sentence
    with pytest.raises(ValueError, match="same coupons"):
        log_reduction(before, after[:2], comparison=BEFORE_AFTER)


def test_growth_is_negative_and_kept():
    assert removal_percent(10, 25) == -150
    assert log_reduction([10, 10], [100, 100]).log10 == pytest.approx(-1)


def test_arrays_keep_shape_and_nan():
    found = log10_reduction([[1e4], [1e5]], [10, math.nan], detection_limit=1)
    assert_allclose(found.log10, [[3, math.nan], [4, math.nan]])
    assert np.isnan(removal_percent([math.nan, 1], 1)).tolist() == [True, False]
    assert type(log10_reduction(10, 1).log10) is float
    assert type(log10_reduction(10, 1).is_at_least) is bool


@pytest.mark.parametrize(
    "call",
    [
        lambda: removal_percent(0, 1),
        lambda: removal_percent(1, -1),
        lambda: reduction_percent(0, 1),
        lambda: log10_reduction(0, 1),
        lambda: log10_reduction(1, 1, detection_limit=0),
        lambda: log_reduction([], [1]),
        lambda: log_reduction([1, math.nan], [1]),
        lambda: log_reduction([1], [math.inf]),
        lambda: log_reduction([1], [1], comparison="of old"),
        lambda: log_reduction([1, 2], [1, 2], confidence=1),
        lambda: log_reduction([1, 2], [1, 2], comparison=BEFORE_AFTER, confidence=0),
    ],
)
def test_impossible_arguments_are_refused(call):
    with pytest.raises(ValueError):
        call()


@pytest.mark.parametrize(
    ("reference", "test", "limit", "words"),
    [  # hand
        (1e5, 1, None, "5.00 (99.999 %)"),
        (1e7, 3, None, "6.52 (99.99997 %)"),
        (4e5, 0, 10, "at least 4.60 (at least 99.9975 %)"),
        (1e9, 0, 1, "at least 9.00 (at least 99.9999999 %)"),
        (1e6, 0, 24.7, "at least 4.60 (at least 99.9975 %)"),  # 4.6073, 99.99753: a lower limit is not rounded up
        (100, 50, None, "0.30 (50 %)"),
        (10, 20, None, "-0.30 (-100 %)"),
        (10, 10, None, "0.00 (0 %)"),
    ],
)
def test_a_count_that_is_left_is_never_called_100_percent(reference, test, limit, words):
    assert log_reduction(reference, test, detection_limit=limit).sentence == f"log10 reduction against control: {words}"


@pytest.mark.parametrize("comparison", [AGAINST_CONTROL, BEFORE_AFTER])
def test_coupons_without_spread_have_no_interval(comparison):
    found = log_reduction([1e7, 1e6], [3e3, 3e2], comparison=BEFORE_AFTER)
    same = log_reduction([1e7, 1e7], [3, 3], comparison=comparison)
    for one in (found, same):
        assert_allclose(one.u_log10, 0, atol=1e-12)
        assert (one.low, one.high) == (None, None)


@pytest.mark.parametrize("comparison", [AGAINST_CONTROL, BEFORE_AFTER])
def test_every_reference_is_looked_at(comparison):
    with pytest.raises(ValueError, match="count of the reference must be a finite number"):
        log_reduction([1e5, math.inf], [10, 10], comparison=comparison)
    with pytest.raises(ValueError, match="reference lies below the detection limit"):
        log_reduction([1e5, 1], [10, 10], detection_limit=5, comparison=comparison)
    with pytest.raises(ValueError, match="one detection limit"):
        log_reduction([1e5, 1], [10, 10], detection_limit=[5, 5], comparison=comparison)


def test_the_mark_has_the_shape_of_the_numbers():
    found = log10_reduction([[1e4], [1e5]], [0, 5, 50], detection_limit=10)
    assert found.log10.shape == found.is_at_least.shape == (2, 3)
    assert found.is_at_least.tolist() == [[True, True, False]] * 2
    assert log10_reduction([1e4, 1e5], 0, 10).is_at_least.tolist() == [True, True]
