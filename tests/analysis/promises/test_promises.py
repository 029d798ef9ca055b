"""What simulation shows of the promises, the quick share; and that the simulated rules are those of the product.

Bounds of shares allow four Monte Carlo standard errors (`Share.is_at_most`); seeds are fixed.
"""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from analysis.batch import analyse_batch
from analysis.criteria import judge_one
from analysis.records import NOT_MOVED, Criterion, Reading, Run
from analysis.statistics.acceptance import acceptance_probability
from analysis.statistics.intraclass import intraclass_correlation
from analysis.statistics.nested import nested_components
from analysis.statistics.order_statistics import distribution_free_limit
from analysis.statistics.replication import mean_interval, variance_components
from analysis.statistics.tolerance import coupon_tolerance_limit, tolerance_interval
from tests.analysis.promises import components, limits, rules, table
from tests.analysis.promises.simulation import Case, Share, batches, cases, score

VERDICTS = {1: "pass", 0: "inconclusive", -1: "fail"}
CENTRE = 45.0  # [deg], far from both ends of the range of sliding angles
SOME = [
    Case(3, 5), Case(6, 10, 1.0, is_balanced=False), Case(3, 5, 1.0, 0.1), Case(4, 5, 3.0, 0.2), Case(3, 10, 0.0, 0.4),
    Case(3, 5, 3.0, 0.4), Case(6, 5, 1.0, 0.4), Case(4, 10, 0.5, 0.2, False), Case(3, 5, 3.0, 0.2, False),
]  # fmt: skip


def runs_of(values, stays):
    """One run a coupon; drop standard deviation 1°, true mean 45°."""
    runs = []
    for coupon, (drops, marks) in enumerate(zip(values, stays, strict=True), 1):
        seen = [(value, mark) for value, mark in zip(drops, marks, strict=True) if not math.isnan(value)]
        readings = tuple(
            Reading("sliding_angle", CENTRE + value, NOT_MOVED if mark else "measured", drop=drop)
            for drop, (value, mark) in enumerate(seen, 1)
        )
        runs.append(Run(f"R{coupon}", f"C{coupon}", "sliding_angle", readings))
    return runs


def hold_against_product(kinds, replicates, seed):
    """Each verdict of the product, and each interval that an outcome prints, is that of the simulated rule."""
    for case in kinds:
        (batch,) = batches(case, replicates, seed)
        found = {"mean": rules.by_means(batch), "median": rules.by_medians(batch)}
        wanted = {
            (name, side): rule.verdict(0.0, side) for name, rule in found.items() for side in ("at_most", "at_least")
        }
        for row, (values, stays) in enumerate(zip(batch.values, batch.stays, strict=True)):
            result = analyse_batch(runs_of(values, stays))
            for (name, side), verdicts in wanted.items():
                criterion = Criterion("C", "mean_interval", "sliding_angle", CENTRE, {"statistic": name}, side)
                outcome = judge_one(criterion, result)
                assert outcome.verdict == VERDICTS[int(verdicts[row])], (str(case), row, outcome.why)
                if outcome.low is not None:
                    ends = [found[name].low[row] + CENTRE, found[name].high[row] + CENTRE]
                    ends = [math.inf if end > 90 else max(end, 0) for end in ends]  # the product stays in 0 to 90°
                    assert_allclose((outcome.low, outcome.high), ends, rtol=1e-6)
            hold_tolerance_against_product(batch, row, result)


def hold_tolerance_against_product(batch, row, result):
    one = rules.Batches(batch.values[row : row + 1], batch.stays[row : row + 1], batch.stage_limit)
    for limit in (0.0, 2.0, 4.0, 8.0):
        criterion = Criterion("C", "tolerance_limit", "sliding_angle", CENTRE + limit)
        verdict = int(limits.tolerance_verdict(one, limit)[0])
        outcome = judge_one(criterion, result)
        assert outcome.verdict == VERDICTS[verdict], outcome.why


def test_the_simulated_rules_are_those_of_the_product():
    hold_against_product(SOME, replicates=2, seed=7)


def test_what_is_simulated_at_once_is_what_the_product_gives_one_by_one():
    for case in (Case(3, 5, 1.0), Case(4, 10, 0.5, is_balanced=False)):
        (batch,) = batches(case, 20, seed=3)
        means, many = rules.plain_means(batch), components.components(batch)
        student, upper, both = rules.student(means), limits.one_sided(means), limits.two_sided(means)
        total, correlation = many.total, many.correlation
        for row, values in enumerate(batch.values):
            groups = {str(place): drops[~np.isnan(drops)] for place, drops in enumerate(values)}
            interval, parts = mean_interval(means[row]), variance_components(groups)
            assert_allclose((student[0][row], student[1][row]), (interval.low, interval.high), rtol=1e-9)
            assert_allclose(upper[row], coupon_tolerance_limit(groups).limit, rtol=1e-9)
            two_sided = tolerance_interval(means[row])
            assert_allclose((both[0][row], both[1][row]), (two_sided.low, two_sided.high), rtol=1e-9)
            one = many.between[row], many.within[row]
            assert_allclose(one, (parts.between_variance, parts.within_variance), rtol=1e-9, atol=1e-12)
            readings = np.concatenate(list(groups.values()))
            labels = {"coupon": [name for name, drops in groups.items() for _ in drops]}
            nested = nested_components(readings, labels)
            nested_total = nested.total_sd, nested.total_sd_low, nested.total_sd_high
            assert_allclose([part[row] for part in total], nested_total, rtol=1e-9)
            if case.is_balanced:
                held = intraclass_correlation(groups)
                assert_allclose([part[row] for part in correlation], (held.low, held.high), rtol=1e-9)


def test_distribution_free_limits_are_at_the_extremes_that_are_simulated_and_refuse_few_coupons():
    values = np.random.default_rng(4).exponential(size=46)
    assert distribution_free_limit(values[:29]).high == values[:29].max()
    both = distribution_free_limit(values, side="both")
    assert (both.low, both.high) == (values.min(), values.max())
    for coupons in (3, 4, 6, 10):
        with pytest.raises(ValueError, match="at least 29 values"):
            distribution_free_limit(values[:coupons])


def test_interval_of_the_batch_mean_covers_with_every_drop_measured():
    for case in cases(coupons=(3, 10), drops=(5,), balance=(True, False)):
        found = score(rules.by_means, case, 10_000)
        # exact for equal numbers of drops: 95 %; four standard errors are 0.9 %
        assert abs(found.covered.value - 0.95) < found.covered.error(0.95, times=4) + 0.01 * (not case.is_balanced)
        assert found.passed.is_at_most(0.025 + 0.005 * (not case.is_balanced))


@pytest.mark.parametrize(
    "case",
    [Case(3, 5, 1.0, 0.2), Case(4, 10, 3.0, 0.2), Case(6, 5, 0.5, 0.4), Case(6, 10, 0.0, 0.1, is_balanced=False)],
    ids=str,
)
def test_interval_of_the_batch_mean_covers_with_drops_that_did_not_move(case):
    found = score(rules.by_means, case, 1500)
    assert found.answered.value > 0.97
    assert found.covered.is_at_least(0.93)
    assert found.covered.is_at_most(0.97)
    assert found.passed.is_at_most(0.025)


def test_the_rule_never_pools():
    """Drops of one coupon are alike: as if independent, they pass a batch at the limit in one case of four."""
    case = Case(3, 10, 1.25)
    wrong, ours = score(rules.pooled, case, 10_000), score(rules.by_means, case, 10_000)
    # hand: the mean has the variance (1.25² + 1/10)/3 = 0.554, pooled drops say about (1.25² + 1)/30 = 0.085, so that
    # t = 2.05 stands for 2.05·√(0.085/0.554) = 0.80 standard errors, which a mean at the limit exceeds in 21 %
    assert wrong.passed.value > 0.20
    assert wrong.covered.value < 0.60
    assert ours.passed.is_at_most(0.025)
    assert ours.covered.is_at_least(0.93)


def test_reading_each_drop_twice_makes_no_interval_shorter():
    for case in (Case(3, 5, 1.0), Case(4, 5, 0.0, 0.2), Case(6, 5, 3.0, 0.4)):
        (batch,) = batches(case, 40, seed=5)
        twice = rules.Batches(
            np.concatenate([batch.values] * 2, axis=2), np.concatenate([batch.stays] * 2, axis=2), batch.stage_limit
        )
        once, again = rules.by_means(batch), rules.by_means(twice)
        ratio = (again.high - again.low) / (once.high - once.low)
        known = np.isfinite(ratio)
        assert known.sum() > 30
        # pooled drops would give 1/√2 = 0.71; a likelihood gains a little where it learns the drops' spread
        assert np.median(ratio[known]) > 0.93
        if not case.censored:
            assert_allclose(ratio, 1, rtol=1e-9)


def test_a_limit_in_the_place_of_a_drop_passes_too_often():
    """Why a drop that did not move is never given a number: one batch in five at the limit would pass."""
    assert score(rules.limit_for_the_drop, Case(10, 10, 0.0, 0.2), 4000).passed.value > 0.15


@pytest.mark.parametrize("case", [Case(3, 5, 0.0), Case(4, 10, 1.0), Case(10, 5, 3.0)], ids=str)
def test_tolerance_limits_reach_their_confidence(case):
    for holds in (limits.holds_one_sided, limits.holds_two_sided):
        found = holds(case, 10_000)
        assert abs(found.value - 0.95) <= found.error(0.95, times=4)  # exact factors
    assert limits.passes_at_the_quantile(case, 10_000).is_at_most(0.05)
    assert limits.drops_held(case, 150).is_at_least(0.95)
    for depth, needed in ((1, 29), (2, 46)):  # published: Wilks' numbers for 90 % and 95 %
        n, found = limits.holds_without_distribution(depth, 10_000)
        assert n == needed
        assert found.is_at_least(0.95)


def test_acceptance_by_variables_follows_its_characteristic():
    for quality in (0.01, 0.10):
        found, expected = (
            limits.accepted_by_variables(Case(6, 5, 1.0), 1.3, quality, 10_000),
            acceptance_probability(6, 1.3, quality),
        )
        assert abs(found.value - expected) <= found.error(expected, times=4)


@pytest.mark.parametrize("is_balanced", [True, False])
def test_variances_are_right_on_average_and_restricted_likelihood_is_never_negative(is_balanced):
    for spread in (0.0, 1.0):
        case = Case(4, 5, spread, is_balanced=is_balanced)
        between, within = components.average_moments(case, 10_000)
        assert abs(between.value - spread**2) <= 2 * between.error
        assert abs(within.value - 1) <= 2 * within.error
    by_likelihood = components.by_restricted_likelihood(Case(3, 5, 0.0, is_balanced=is_balanced), 60)
    assert np.isfinite(by_likelihood).all()
    assert by_likelihood.min() >= 0
    assert (by_likelihood[:, 0] == 0).any()  # where the moments are negative


def test_a_share_knows_its_monte_carlo_error():
    # hand: √(0.025·0.975/10000) = 0.00156, four of them 0.0062
    assert_allclose(Share(250, 10_000).error(), 2 * 0.00156125, rtol=1e-4)
    assert Share(312, 10_000).is_at_most(0.025)
    assert not Share(313, 10_000).is_at_most(0.025)
    assert not Share(850, 1000).is_at_least(0.93)


def test_tables_stand_as_markdown():
    shown = table.as_markdown(("a", "b"), [("1", "2")])
    assert shown.splitlines() == ["| a | b |", "| --- | --- |", "| 1 | 2 |"]
