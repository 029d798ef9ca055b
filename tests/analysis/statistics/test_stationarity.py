"""Steadiness within a run, against the handbook's beam deflections, the Nile and counted orders."""

import math
from itertools import permutations

import numpy as np
import pytest
from numpy.testing import assert_allclose
from statsmodels.sandbox.stats.runs import runstest_1samp

from analysis.records import CANNOT_TELL, DOES_NOT_HOLD, HOLDS
from analysis.statistics.drift import sen_slope
from analysis.statistics.serial_correlation import autocorrelation, durbin_watson
from analysis.statistics.stationarity import (
    change_point,
    runs_test,
    spread_test,
    stationarity,
)
from tests.analysis.tables import table


@pytest.fixture(scope="module")
def deflections():
    return table("strd_lew")["deflection"].to_numpy()


def test_runs_of_beam_deflections(deflections):
    # published: e-Handbook 1.3.5.13 and 1.4.2.5 print 120 runs, 101 expected, sd 7.0533, Z 2.6938
    found = runs_test(deflections)
    assert (found.runs, found.expected, found.n_above, found.n_below) == (120, 101, 100, 100)
    assert_allclose((found.sd, found.z), (7.053279, 2.693783), rtol=5e-7)
    assert_allclose(found.p, 0.007065, atol=5e-7)
    z, p = runstest_1samp(deflections, cutoff="median", correction=False)  # independent: statsmodels
    assert_allclose((found.z, found.p), (z, p), rtol=1e-10)


def test_spread_of_beam_deflections_in_quarters(deflections):
    # published: e-Handbook 1.4.2.5.3, Levene's test of the quarters 0.09378
    assert_allclose(spread_test(deflections).w, 0.0937860, rtol=5e-7)


def test_trend_alone_passes_beam_deflections_and_stationarity_does_not(deflections):
    # published: e-Handbook 1.4.2.5: no drift, constant spread, yet not random
    found = stationarity(deflections)
    assert (found.trend.s, found.outcome) == (43, DOES_NOT_HOLD)
    assert found.p_values["trend"] > 0.9
    assert found.p_values["spread"] > 0.9
    assert found.p_values["autocorrelation"] < 1e-20
    assert "trend test alone" in found.why


def test_nile_changes_after_1898():
    # published: the drop of 1899; independent: U, p, slope and z computed apart (see the data set's head)
    data = table("nile_flow")
    found = change_point(data["flow"])
    assert (found.n_before, found.u, found.is_exact) == (28, 1617, False)
    assert data["year"][found.n_before - 1] == 1898
    assert_allclose(found.p, 3.591e-7, rtol=5e-4)
    verdict = stationarity(data["flow"])
    assert verdict.outcome == DOES_NOT_HOLD
    assert (verdict.trend.s, verdict.p_values["change of level"]) == (-1387, found.p)
    assert_allclose((verdict.trend.variance, verdict.trend.z), (112728.3333, -4.128067), rtol=5e-7)
    assert_allclose(verdict.trend.p, 3.658e-5, rtol=2e-4)
    assert_allclose(sen_slope(data["flow"], data["year"]).slope, -2.6, rtol=1e-12)


def test_exact_change_counts_every_order():
    values = [3.0, 3.1, 3.1, 3.4, 3.9, 4.0]

    def largest(order):
        places = range(1, len(order))
        return max(abs(sum(np.sign(a - b) for a in order[:t] for b in order[t:])) for t in places)

    every = np.array([largest(order) for order in permutations(values)])  # hand: all 720 orders, from the definition
    found = change_point(values)
    assert found.is_exact
    assert_allclose((found.u, found.p), (largest(values), np.mean(every >= largest(values))), rtol=1e-12)


@pytest.mark.parametrize("values", [[1, 9, 2, 8, 1, 9, 2], [1, 2, 3, 8, 9, 7], [5, 1, 5, 9, 5, 2, 8, 1]])
def test_exact_runs_count_every_order(values):
    numbers = np.array(values)
    signs = np.sign(numbers - np.median(numbers))
    signs = signs[signs != 0]
    n_above, n_below = np.sum(signs > 0), np.sum(signs < 0)
    middle = 2 * n_above * n_below / (n_above + n_below) + 1
    every = np.array([1 + np.sum(np.diff(order) != 0) for order in permutations(signs)])  # hand: all orders
    found = runs_test(values)
    assert found.is_exact
    assert_allclose(found.expected, every.mean(), rtol=1e-12)
    assert_allclose(found.sd, every.std(), rtol=1e-12)
    assert_allclose(found.p, np.mean(np.abs(every - middle) >= abs(found.runs - middle) - 1e-9), rtol=1e-12)


def test_steady_and_doubtful_runs():
    steady = np.random.default_rng(7).normal(5, 1, 40)
    assert stationarity(steady).outcome == HOLDS
    # hand: five readings in order have an exact p of 2/120, between 0.05/5 and 0.05
    doubtful = stationarity([1, 2, 3, 4, 6])
    assert doubtful.outcome == CANNOT_TELL
    assert "leave doubt" in doubtful.why
    assert stationarity([1, 2, 3, 4]).outcome == CANNOT_TELL  # hand: 2/24 is above 0.05 whatever the readings
    assert stationarity([1, 2, 3, 4]).trend is None


def test_steady_runs_are_rarely_called_unsteady():
    # limit: independent readings; five questions at α/5 keep the share of false alarms at or below α = 0.05
    rng = np.random.default_rng(20)
    outcomes = [stationarity(rng.normal(size=20)).outcome for _ in range(300)]
    assert outcomes.count(DOES_NOT_HOLD) / 300 <= 0.05 + 2 * math.sqrt(0.05 * 0.95 / 300)


def test_equal_readings_are_steady():
    found = stationarity([5.0] * 16)
    assert found.outcome == HOLDS
    assert (found.autocorrelation, found.durbin_watson, found.effective_size) == (None, None, None)
    assert (found.spread.w, found.spread.p, found.runs.p, found.change.n_before) == (0, 1, 1, 0)


def test_verdict_does_not_depend_on_unit_or_shift():
    values = np.random.default_rng(3).normal(size=30).cumsum()
    one, other = stationarity(values), stationarity(1000 * values - 7)
    assert one.outcome == other.outcome == DOES_NOT_HOLD
    for question, p in one.p_values.items():
        assert_allclose(other.p_values[question], p, rtol=1e-8)


@pytest.mark.parametrize(
    "function", [runs_test, change_point, autocorrelation, durbin_watson, spread_test, stationarity]
)
@pytest.mark.parametrize("values", [[], [1.0, math.nan, 2.0] * 5, [1.0, math.inf] * 8, [[1.0, 2.0, 4.0]] * 5])
def test_samples_refuse_nan(function, values):
    with pytest.raises(ValueError):
        function(values)


def test_a_single_reading():
    assert runs_test([4.0]).p == change_point([4.0]).p == 1
    for function in (autocorrelation, durbin_watson):
        with pytest.raises(ValueError, match="all equal"):
            function([4.0])
