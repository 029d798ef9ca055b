"""Survival curves against published output, independent libraries and hand calculations."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy import stats

from analysis.statistics.survival import kaplan_meier, log_rank, restricted_mean, survival_time
from tests.analysis.tables import table


def remission(group):
    data = table("remission_times")
    rows = data[data["group"] == group]
    return rows["weeks"].to_numpy(float), rows["censored"].to_numpy(bool)


@pytest.mark.parametrize("row", [*table("remission_survival").itertuples()], ids=lambda row: f"week{row.weeks}")
def test_treated_group_as_printed(row):
    # published: S, se and log-log limits in the output file of the R package MASS; plain limits independent
    times, censored = remission("treated")
    log_log, plain = kaplan_meier(times, censored), kaplan_meier(times, censored, "plain")
    place = row.Index
    assert (log_log.times[place], log_log.at_risk[place], log_log.events[place]) == (row.weeks, row.at_risk, row.events)
    assert_allclose((log_log.survival[place], log_log.standard_error[place]), row[4:6], atol=5.1e-7)
    assert_allclose((log_log.low[place], log_log.high[place]), (row.log_log_low, row.log_log_high), atol=5.1e-5)
    assert_allclose((plain.low[place], plain.high[place]), (row.plain_low, row.plain_high), atol=5.1e-5)


def test_control_group():
    expected = table("remission_control_survival")  # independent: lifelines 0.30.3; also 1 − share failed
    curve = kaplan_meier(*remission("control"))
    assert curve.times.tolist() == expected["weeks"].tolist()
    assert_allclose(curve.survival, expected["survival"], atol=5.1e-7)


@pytest.mark.parametrize("interval", ["plain", "log-log"])
@pytest.mark.parametrize("group", ["treated", "control"])
def test_limits_as_scipy_gives_them(interval, group):
    times, censored = remission(group)
    curve = kaplan_meier(times, censored, interval, 0.9)
    is_left = curve.survival > 0  # scipy warns at 0, where no limit is defined
    last = np.searchsorted(np.unique(times), curve.times[is_left].max())
    method = {"plain": "linear", "log-log": "log-log"}[interval]
    found = stats.ecdf(stats.CensoredData.right_censored(times, censored)).sf
    with np.errstate(all="ignore"):
        if is_left.all():
            limits = found.confidence_interval(0.9, method=method)  # independent: scipy 1.17
            assert_allclose(curve.low, limits.low.evaluate(curve.times), rtol=1e-12)
            assert_allclose(curve.high, limits.high.evaluate(curve.times), rtol=1e-12)
        else:
            assert np.isnan(curve.low[last + 1 :]).all()
            assert np.isnan(curve.standard_error[-1])


def test_the_log_interval_is_the_hand_formula():
    curve = kaplan_meier(*remission("treated"), "log")
    # hand: S = 18/21, se = S·√(3/(21·18)); 18/21·exp(−1.959964·0.0890871)
    assert_allclose(curve.low[0], 18 / 21 * math.exp(-1.959963985 * math.sqrt(3 / (21 * 18))), rtol=1e-9)
    assert curve.high[0] == 1.0
    assert curve.interval == "log"


@pytest.mark.parametrize(
    ("group", "interval", "median", "low", "high"),
    [
        # medians 23 and 8: independent (lifelines 0.30.3); limits by hand from the printed limits of S
        ("treated", "log-log", 23, 13, math.inf),
        ("treated", "plain", 23, 13, math.inf),
        ("treated", "log", 23, 16, math.inf),  # from memory: R prints 23, 16, NA
        ("control", "log-log", 8, 4, 11),
        ("control", "log", 8, 4, 12),  # from memory: R prints 8, 4, 12
    ],
)
def test_median_and_its_limits(group, interval, median, low, high):
    found = survival_time(kaplan_meier(*remission(group), interval))
    assert (found.value, found.low, found.high) == (median, low, high)


def test_median_on_a_step_at_one_half_is_its_middle():
    assert survival_time(kaplan_meier([1, 2, 5, 9], [False] * 4)).value == 3.5  # hand
    assert survival_time(kaplan_meier([1, 2, 5, 9], [True, False, False, False])).value == 5  # hand: 2/3, 1/3, 0
    assert survival_time(kaplan_meier([1, 2], [False, True])).value == 1  # hand: the step has no end


def test_median_is_not_reached():
    curve = kaplan_meier([10, 90, 90], [False, True, True])
    assert survival_time(curve).value == math.inf
    assert_allclose(survival_time(curve, 0.3).value, 10)


def test_restricted_mean_to_35_weeks():
    found = restricted_mean(*remission("treated"), until=35)
    assert_allclose(found.mean, 23.287395, atol=5e-7)  # independent: lifelines 0.30.3
    assert_allclose(found.standard_error, 2.83, atol=5e-3)  # from memory: R prints 2.83
    assert found == restricted_mean(*remission("treated"))


def test_restricted_mean_of_a_complete_sample_is_the_mean():
    times = np.array([3.0, 4.0, 4.0, 7.0, 12.0])
    found = restricted_mean(times, [False] * 5)
    assert_allclose(found.mean, times.mean(), rtol=1e-14)  # limit
    assert_allclose(found.standard_error, times.std() / math.sqrt(5), rtol=1e-12)  # limit: Greenwood divides by n
    assert_allclose(restricted_mean(times, [False] * 5, until=20).mean, times.mean(), rtol=1e-14)
    assert_allclose(restricted_mean(times, [False] * 5, until=4).mean, (3 + 4 * 4) / 5, rtol=1e-14)  # hand


def test_log_rank_of_the_two_groups():
    test = log_rank({name: remission(name) for name in ("treated", "control")})
    # independent: scipy 1.17 and lifelines 0.30.3
    assert test.observed == {"treated": 9, "control": 21}
    assert_allclose(test.expected["treated"], 19.2505, atol=5e-5)
    assert_allclose(test.variance[0, 0], 6.25696, atol=5e-6)
    assert_allclose((test.chi_square, test.p_value), (16.7929, 4.17e-5), rtol=1e-3)
    ours = stats.logrank(*(stats.CensoredData.right_censored(*remission(name)) for name in test.observed))
    assert_allclose((test.chi_square, test.p_value), (ours.statistic**2, ours.pvalue), rtol=1e-10)


def test_log_rank_of_three_groups_as_statsmodels_gives_it():
    from statsmodels.duration.survfunc import survdiff

    rng = np.random.default_rng(5)
    times, names = np.ceil(rng.exponential(8, 60)), np.repeat(["A", "B", "C"], 20)
    censored = times > 12
    times = np.minimum(times, 12)
    test = log_rank({name: (times[names == name], censored[names == name]) for name in "ABC"})
    chi_square, p = survdiff(times, (~censored).astype(int), names)  # independent: statsmodels 0.15
    assert_allclose((test.chi_square, test.p_value), (chi_square, p), rtol=1e-9)
    assert test.degrees_of_freedom == 2


def test_log_rank_without_events_says_so():
    test = log_rank({"A": ([30, 30], [True, True]), "B": ([30], [True])})
    assert math.isnan(test.p_value)
    assert "no event" in test.note


@pytest.mark.parametrize(("stays", "survival"), [(False, [0.0]), (True, [])])
def test_one_drop_and_nothing_happened(stays, survival):
    curve = kaplan_meier([30.0], [stays])
    assert curve.survival.tolist() == survival
    assert curve.n == 1
    assert survival_time(curve).value == (math.inf if stays else 30.0)


@given(st.lists(st.tuples(st.integers(0, 20), st.booleans()), min_size=1, max_size=30), st.randoms())
def test_curve_falls_and_its_limits_enclose_it_in_any_order(drops, random):
    for interval in ("plain", "log", "log-log"):
        curve = kaplan_meier(*zip(*drops, strict=True), interval)
        assert np.all(np.diff(curve.survival) < 0)
        is_known = ~np.isnan(curve.low)
        # rounding of a power may move a limit past the curve by an ulp
        assert np.all(curve.low[is_known] <= curve.survival[is_known] + 1e-15)
        assert np.all(curve.high[is_known] >= curve.survival[is_known] - 1e-15)
        assert np.all((curve.low[is_known] >= 0) & (curve.high[is_known] <= 1))
    shuffled = random.sample(drops, len(drops))
    assert kaplan_meier(*zip(*shuffled, strict=True)).survival.tolist() == curve.survival.tolist()


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: kaplan_meier([], []), "no times"),
        (lambda: kaplan_meier([1, math.nan], [False, False]), "finite number"),
        (lambda: kaplan_meier([-1], [False]), "at least 0"),
        (lambda: kaplan_meier([1], [False, True]), "2 marks for 1 times"),
        (lambda: kaplan_meier([1], [False], "arcsine"), "interval is one of"),
        (lambda: restricted_mean([1, 9], [False, True], until=10), "unknown beyond"),
        (lambda: restricted_mean([1, 9], [False, True], until=0), "above 0"),
        (lambda: log_rank({"A": ([1], [False])}), "at least 2 groups"),
    ],
)
def test_what_makes_no_sense_is_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()
