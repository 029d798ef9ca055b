"""Resampling intervals against the spatial test and law school data."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from analysis.statistics.bootstrap import bootstrap_interval, jackknife_acceleration

# published: Efron & Tibshirani (1993), chapter 14, spatial test A; chapter 6, law school
SPATIAL = [
    48, 36, 20, 29, 42, 42, 20, 42, 22, 41, 45, 14, 6, 0, 33, 28, 34, 4, 32, 24, 47, 41, 24, 26, 30, 41,
]  # fmt: skip
LSAT = [576, 635, 558, 578, 666, 580, 555, 661, 651, 605, 653, 575, 545, 572, 594]
GPA = [3.39, 3.30, 2.81, 3.03, 3.44, 3.07, 3.00, 3.43, 3.36, 3.13, 3.12, 2.74, 2.76, 2.88, 2.96]


def correlation(x, y):
    return np.corrcoef(x, y)[0, 1]


@pytest.mark.parametrize(
    ("method", "low", "high"), [("bca", 115.4, 260.3), ("percentile", 98.0, 235.5), ("basic", 107.6, 245.1)]
)
def test_variance_of_the_spatial_test(method, low, high):
    found = bootstrap_interval(SPATIAL, np.var, seed=1, confidence=0.9, method=method, resamples=20_000)
    # independent: scipy 1.17.1 with 200 000 resamples; ±3 is the scatter of resampling that the book's 2000 shows
    assert_allclose((found.low, found.high), (low, high), atol=3)
    assert_allclose(found.estimate, 171.534024, atol=6e-7)
    assert_allclose(found.acceleration, 0.0612401, atol=6e-8)
    assert_allclose(found.standard_error, 41.74, atol=1)


@pytest.mark.parametrize(("method", "low", "high"), [("bca", 0.324, 0.942), ("percentile", 0.458, 0.962)])
def test_correlation_of_the_law_schools(method, low, high):
    found = bootstrap_interval([LSAT, GPA], correlation, seed=1, method=method, resamples=10_000, paired=True)
    # independent: scipy 1.17.1 with 100 000 resamples; tolerance: scatter of 10 000
    assert_allclose(found.estimate, 0.776374, atol=6e-7)
    assert_allclose((found.low, found.high), (low, high), atol=0.02)
    assert_allclose(found.standard_error, 0.134, atol=0.005)


def test_the_seed_decides():
    once, again, other = (bootstrap_interval(SPATIAL, np.mean, seed=seed, resamples=1000) for seed in (7, 7, 8))
    assert (once.low, once.high) == (again.low, again.high)
    assert (once.low, once.high) != (other.low, other.high)


def test_a_symmetric_sample_has_no_acceleration():
    assert_allclose(jackknife_acceleration([[1.0, 2.0, 3.0, 4.0, 5.0]], np.mean), 0, atol=1e-15)  # limit


@pytest.mark.parametrize("method", ["bca", "percentile", "basic"])
@pytest.mark.parametrize("values", [[5.0] * 9, [1.0] * 8 + [9.0]])
def test_a_statistic_that_never_changes_has_no_interval(values, method):
    found = bootstrap_interval(values, np.median, seed=1, method=method, resamples=1000)
    assert (found.low, found.high) == (None, None)
    assert "no interval" in found.note


def test_a_statistic_at_the_edge_of_its_resamples_has_no_corrected_interval():
    found = bootstrap_interval(np.arange(9.0), np.max, seed=1, resamples=1000)
    assert found.low is None or found.low <= found.estimate
    assert found.note or found.high <= 8


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ({"values": [1.0] * 7}, "below 8"),
        ({"values": []}, "no values"),
        ({"values": [1.0] * 8 + [math.nan]}, "NaN"),
        ({"values": [1.0] * 9, "method": "student"}, "unknown method"),
        ({"values": [1.0] * 9, "resamples": 10}, "resamples"),
        ({"values": [[1.0] * 9, [1.0] * 8], "paired": True}, "one length"),
        ({"values": [1.0] * 9, "confidence": 95}, "confidence"),
    ],
)
def test_what_gives_no_interval_is_refused(arguments, words):
    with pytest.raises(ValueError, match=words):
        bootstrap_interval(statistic=np.mean, seed=1, **arguments)


VALUES = [2.1, 2.5, 1.9, 3.3, 2.2, 2.8, 2.4, 4.9]


@pytest.mark.parametrize("method", ["bca", "percentile", "basic"])
@pytest.mark.parametrize(
    ("values", "statistic", "paired"),
    [
        ([1.0] * 7 + [2.0], lambda a: a.mean() / a.std(), False),  # a resample of equal values has no spread
        ([VALUES, [1.0] * 7 + [8.0]], correlation, True),
        (VALUES, lambda a: np.log(a.max() - 4.0), False),
    ],
)
def test_a_statistic_without_a_number_for_some_resamples_has_no_interval(values, statistic, paired, method):
    found = bootstrap_interval(values, statistic, seed=1, method=method, resamples=1000, paired=paired)
    assert (found.low, found.high, found.standard_error) == (None, None, None)
    assert "no number for some of the resamples" in found.note


def test_a_statistic_below_all_its_resamples_has_no_corrected_interval():
    def repeats(a):
        return float(a.size - np.unique(a).size) + 1e-9 * a.mean()

    found = bootstrap_interval(np.arange(30.0) ** 2, repeats, seed=1, resamples=1000)  # without repeats: 1 in 10¹²
    assert found.low is None
    assert "on one side" in found.note
    assert bootstrap_interval(np.arange(30.0) ** 2, repeats, seed=1, resamples=1000, method="percentile").low > 0


@pytest.mark.parametrize("method", ["bca", "percentile", "basic"])
def test_agrees_with_scipy(method):
    from scipy import stats

    found = bootstrap_interval(VALUES, np.mean, seed=3, method=method, resamples=2000)
    expected = stats.bootstrap(  # independent: scipy, the same random numbers
        (VALUES,), np.mean, n_resamples=2000, method=method, vectorized=False, rng=np.random.default_rng(3)
    )
    assert_allclose((found.low, found.high), expected.confidence_interval, rtol=1e-12)
    assert_allclose(found.standard_error, expected.standard_error, rtol=1e-12)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: bootstrap_interval(VALUES, lambda a: math.nan, seed=1), "finite number, not nan"),
        (lambda: bootstrap_interval(VALUES, lambda a: a[:2], seed=1), r"one number, not an array of shape \(2,\)"),
        (lambda: jackknife_acceleration([], np.mean), "one length"),
        (lambda: jackknife_acceleration([1.0, 2.0, 3.0], np.mean), "one length"),
        (lambda: jackknife_acceleration([[1.0, 2.0, 3.0], [1.0, 2.0]], np.mean), "one length"),
        (lambda: jackknife_acceleration([[1.0]], np.mean), "left out"),
    ],
)
def test_what_is_no_statistic_or_sample_is_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()


def test_a_statistic_above_all_its_resamples_has_no_corrected_interval():
    def different(a):
        return float(np.unique(a).size) + 1e-9 * a.mean()

    found = bootstrap_interval(np.arange(30.0) ** 2, different, seed=1, resamples=1000)  # all different: 1 in 10¹²
    assert found.low is None
    assert "on one side" in found.note
