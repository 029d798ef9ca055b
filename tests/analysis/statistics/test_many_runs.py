"""Many runs at once give what the one-run functions give, and say why a run has no fit."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal
from scipy import stats

from analysis.statistics import run_likelihoods, segments
from analysis.statistics.censoring import censored_normal_fit
from analysis.statistics.many_runs import censored_normal_fits, hysteresis_statistics
from analysis.statistics.replication import mean_interval


def ragged_runs(seed, runs):
    """Invented readings of very different scale, with limits that are shared, scattered or on both sides."""
    rng = np.random.default_rng(seed)
    sizes = rng.integers(0, 25, runs)
    offsets = np.concatenate(([0], np.cumsum(sizes)))
    values = rng.normal(size=offsets[-1]) * np.repeat(10 ** rng.uniform(-2, 2, runs), sizes)
    values += np.repeat(rng.uniform(-200, 200, runs), sizes)
    above, below = np.zeros(values.size, dtype=bool), np.zeros(values.size, dtype=bool)
    for run in np.flatnonzero(sizes):
        part = slice(offsets[run], offsets[run + 1])
        upper, lower = np.quantile(values[part], [min(1, rng.uniform(0.1, 1.4)), 0.15])
        above[part] = values[part] > upper
        limits = upper + rng.choice([0, 0.1]) * rng.normal(size=sizes[run])
        below[part] = (values[part] < lower) & ~above[part] & (rng.random() < 0.2)
        values[part] = np.where(above[part], limits, np.where(below[part], lower, values[part]))
    return values, above, below, offsets


def test_censored_fits_are_those_of_the_one_run_function():
    values, above, below, offsets = ragged_runs(3, 250)
    fits = censored_normal_fits(values, above, below, offsets)
    assert 100 < fits.is_fitted.sum() < 250
    for run in np.flatnonzero(np.diff(offsets)):
        part = slice(offsets[run], offsets[run + 1])
        alone = censored_normal_fit(values[part], above[part], below[part])
        assert (fits.n[run], fits.n_measured[run]) == (alone.n, alone.n_measured)
        assert fits.is_fitted[run] == alone.is_fitted
        if alone.is_fitted:  # limit: another algorithm for the same number, in units of the spread
            many = np.array([fits.mu[run], fits.sigma[run], fits.low[run], fits.high[run]])
            expected = np.array([alone.mu, alone.sigma, alone.low, alone.high])
            widths = [alone.sigma, alone.sigma, alone.high - alone.low, alone.high - alone.low]
            assert_allclose((many - expected) / widths, 0, atol=1e-8)
            assert_allclose(fits.log_likelihood[run], alone.log_likelihood, rtol=1e-10, atol=1e-8)


def test_sliding_angles_with_three_that_stayed():
    # independent: likelihood and profile computed apart with scipy 1.17
    seen = np.array([[12, 18, 25, 31, 44, 57, 73, 90, 90, 90.0]])
    fits = censored_normal_fits(seen, seen == 90)
    assert_allclose((fits.mu[0], fits.sigma[0]), (60.0163, 40.3096), atol=5e-5)
    assert_allclose((fits.low[0], fits.high[0]), (32.362, 95.589), atol=5e-4)
    assert_allclose(fits.log_likelihood[0], -38.760208, atol=1e-6)


def test_wald_limits_come_from_the_information_of_the_likelihood():
    seen = np.array([[12, 18, 25, 31, 44, 57, 73, 90, 90, 90.0]])
    fits = censored_normal_fits(seen, seen == 90, interval="wald")

    def loss(mu, sigma):
        return stats.norm.logpdf(seen[0, :7], mu, sigma).sum() + 3 * stats.norm.logsf(90, mu, sigma)

    # independent: second differences of scipy's likelihood; their step sets the tolerance
    mu, sigma, step = fits.mu[0], fits.sigma[0], 0.02
    bends = np.empty((2, 2))
    for row in range(2):
        for column in range(2):
            shifts = [(a, b) for a in (step, -step) for b in (step, -step)]
            ends = []
            for a, b in shifts:
                point = [mu, sigma]
                point[row] += a
                point[column] += b
                ends.append(math.copysign(1, a * b) * loss(*point))
            bends[row, column] = sum(ends) / (4 * step * step)
    error = math.sqrt(np.linalg.inv(-bends)[0, 0])
    assert_allclose((fits.low[0], fits.high[0]), (mu - 1.959964 * error, mu + 1.959964 * error), rtol=1e-5)


def test_without_censoring_the_fit_is_mean_and_standard_deviation():
    rng = np.random.default_rng(2)
    values = rng.normal(30, 4, (50, 6))
    fits = censored_normal_fits(values, np.zeros(values.shape, dtype=bool))
    assert_allclose(fits.mu, values.mean(axis=1), rtol=1e-13)  # limit
    assert_allclose(fits.sigma, values.std(axis=1), rtol=1e-12)
    # hand: n·ln(1 + ((m − mean)/sd)²) = chi-square quantile
    half = fits.sigma * math.sqrt(math.expm1(stats.chi2.ppf(0.95, 1) / 6))
    assert_allclose((fits.low, fits.high), (fits.mu - half, fits.mu + half), rtol=1e-9)


def test_runs_without_a_fit_say_why():
    rows = [
        ([30, 30, 30, 30], [1, 1, 1, 1], "no reading measured"),
        ([30, 30, 12, 9], [1, 1, 0, 0], "fewer than three"),
        ([5, 5, 5, 30], [0, 0, 0, 1], "equal"),
        ([0.1, 0.1, 0.1, 30], [0, 0, 0, 1], "equal"),  # 0.1 + 0.1 + 0.1 is not 3 · 0.1 exactly
        ([5, math.nan, 6, 7], [0, 0, 0, 0], "NaN"),
        ([5, 6, 7, math.inf], [0, 0, 0, 1], "infinite"),
        ([5, 6, 7, 30], [0, 0, 0, 1], ""),
    ]
    fits = censored_normal_fits([row[0] for row in rows], np.array([row[1] for row in rows], dtype=bool))
    for run, (_, _, words) in enumerate(rows):
        assert words in fits.reason(run)
        numbers = [fits.mu[run], fits.sigma[run], fits.low[run], fits.high[run], fits.log_likelihood[run]]
        assert np.isnan(numbers).all() == bool(words)
        assert fits.is_fitted[run] == (fits.reason(run) == "")


def test_a_fit_whose_iteration_does_not_end_says_so(monkeypatch):
    monkeypatch.setattr(run_likelihoods, "MOST_STEPS", 2)
    fits = censored_normal_fits([[12.0, 18, 25, 31, 44, 90, 90, 90]], [[False] * 5 + [True] * 3])
    assert fits.reason(0) == "the fit did not converge"
    assert np.isnan(fits.mu[0])


def test_one_reading_no_reading_and_no_run():
    fits = censored_normal_fits([7.0], [False], offsets=[0, 0, 1, 1])
    assert [fits.reason(run) for run in range(3)] == [
        "no readings",
        "fewer than three readings measured",
        "no readings",
    ]
    assert censored_normal_fits(np.empty((0, 20)), np.empty((0, 20), dtype=bool)).mu.shape == (0,)
    assert hysteresis_statistics([], [], [0]).mean.shape == (0,)
    assert np.isnan(hysteresis_statistics(np.empty((3, 0)), np.empty((3, 0)), has_extremes=True).least).all()


def test_hysteresis_is_that_of_the_one_run_function():
    rng = np.random.default_rng(8)
    sizes = rng.integers(0, 8, 60)
    offsets = np.concatenate(([0], np.cumsum(sizes)))
    advancing = rng.uniform(100, 120, offsets[-1])
    receding = advancing - rng.uniform(0, 20, offsets[-1])
    found = hysteresis_statistics(advancing, receding, offsets, has_extremes=True)
    for run, size in enumerate(sizes):
        difference = (advancing - receding)[offsets[run] : offsets[run + 1]]
        if size == 0:
            assert np.isnan([found.mean[run], found.sd[run], found.low[run], found.least[run]]).all()
            continue
        alone = mean_interval(difference)
        assert_allclose(found.mean[run], alone.mean, rtol=1e-12)
        assert (found.least[run], found.greatest[run]) == (difference.min(), difference.max())
        if size == 1:
            assert np.isnan([found.sd[run], found.low[run], found.high[run]]).all()
        else:
            expected = (alone.sd, max(alone.low, 0), alone.high)  # no hysteresis lies below 0
            assert_allclose((found.sd[run], found.low[run], found.high[run]), expected, rtol=1e-11, atol=1e-12)


def test_runs_by_readings_and_flat_are_the_same_and_chunks_do_not_show(monkeypatch):
    rng = np.random.default_rng(4)
    advancing = rng.uniform(100, 120, (40, 5))
    receding = advancing - rng.uniform(0, 20, (40, 5))
    whole = hysteresis_statistics(advancing, receding)
    monkeypatch.setattr(segments, "READINGS_AT_ONCE", 7)  # one run a chunk
    parts = hysteresis_statistics(advancing.ravel(), receding.ravel(), np.arange(0, 201, 5))
    stayed = advancing > 115
    fits = censored_normal_fits(np.minimum(advancing, 115), stayed)
    monkeypatch.undo()
    again = censored_normal_fits(np.minimum(advancing, 115), stayed)
    for name in ("n", "mean", "sd", "low", "high"):
        assert_array_equal(getattr(whole, name), getattr(parts, name))
    for name in ("mu", "sigma", "low", "high", "code"):
        assert_allclose(getattr(fits, name), getattr(again, name), rtol=1e-12)


def test_a_missing_angle_leaves_its_run_open_and_no_other():
    found = hysteresis_statistics([[110.0, math.nan], [110.0, 112.0]], [[100.0, 100.0], [100.0, 100.0]])
    assert math.isnan(found.mean[0])
    assert found.mean[1] == 11.0


@settings(deadline=None)
@given(st.floats(1e-3, 1e3), st.floats(-1e3, 1e3), st.permutations(range(8)))
def test_unit_origin_and_order_of_the_readings_do_not_matter(scale, shift, order):
    seen, stayed = np.array([12, 18, 25, 31, 44, 57, 60, 60.0]), np.array([False] * 6 + [True] * 2)
    first = censored_normal_fits(seen[None], stayed[None])
    again = censored_normal_fits((shift + scale * seen)[order][None], stayed[order][None])
    for name in ("mu", "low", "high"):
        expected = shift + scale * getattr(first, name)
        assert_allclose(getattr(again, name), expected, rtol=1e-9, atol=1e-9 * (scale + abs(shift)))


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: hysteresis_statistics([[181.0]], [[90.0]]), "advancing angle must be at most 180 deg, not 181"),
        (lambda: hysteresis_statistics([[90.0]], [[-1.0]]), "receding angle must be at least 0"),
        (lambda: hysteresis_statistics([[90.0]], [[90.0, 80.0]]), "one shape"),
        (lambda: hysteresis_statistics([90.0], [80.0]), "offsets"),
        (lambda: hysteresis_statistics([90.0], [80.0], [0, 2]), "rise from 0"),
        (lambda: hysteresis_statistics([90.0], [80.0], [0.0, 1.0]), "whole numbers"),
        (lambda: censored_normal_fits([[1.0]], [[True]], [[True]]), "both"),
        (lambda: censored_normal_fits([[1.0]], [[True]], interval="exact"), "profile or wald"),
        (lambda: censored_normal_fits([[1.0]], [[True]], confidence=95), "confidence"),
    ],
)
def test_what_makes_no_sense_is_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()
