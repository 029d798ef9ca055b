"""Acceptance rules: the three invented batches, and every way in which a rule must not pass."""

import math
from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from analysis.batch import analyse_batch
from analysis.criteria import CRITERION_KINDS, judge
from analysis.records import (
    CONTROL,
    FAIL,
    INCONCLUSIVE,
    LOST,
    PASS,
    Criterion,
    Material,
    Reading,
    Run,
    as_data,
)
from tests.analysis.demo_batches import angle_run, batch, coupons, mass_run, sliding_run, split, water_run

HYSTERESIS = Criterion("C1", "mean_interval", "hysteresis", 3.5, liquid="WATER", drop_volume_ul=10)
SLIDING = Criterion(
    "C2", "mean_interval", "sliding_angle", 8, {"statistic": "median"}, liquid="WATER", drop_volume_ul=10
)
STAYED = Criterion("C2b", "count_not_moved", "sliding_angle", 1, {"fewest_drops": 30})
WORST = Criterion("C4", "worst_coupon", "receding_angle", 103, side="at_least")


def outcome(criterion, runs):
    (found,) = judge([criterion], runs).outcomes
    return found


def of_medians(medians, stage_limit=30.0):
    """Runs of three drops whose median is as given; inf = two of three drops stayed."""
    runs = []
    for number, median in enumerate(medians, 1):
        stuck = f">{stage_limit:g}"
        texts = [stuck, stuck, "1.0"] if math.isinf(median) else [f"{median}"] * 3
        runs.append(sliding_run(f"S{number:02}", texts))
    return runs


def of_masses(before, after):
    runs = [mass_run(f"M{i}", mass) for i, mass in enumerate(before)]
    return runs + [mass_run(f"M{i}", mass, dose=60) for i, mass in enumerate(after)]


@pytest.mark.parametrize(
    ("letter", "verdict", "printed"),
    [  # invented data; printed with the scenario; the interval itself is checked apart in test_batch
        ("A", PASS, (1.97, 1.59, 2.34)),
        ("B", FAIL, (6.35, 4.65, 8.05)),
        ("C", INCONCLUSIVE, (2.89, 1.35, 4.42)),
    ],
)
def test_hysteresis_verdicts_of_the_three_batches(letter, verdict, printed):
    found = outcome(HYSTERESIS, batch(letter))
    assert found.verdict == verdict
    assert tuple(round(number, 2) for number in (found.value, found.low, found.high)) == printed
    assert (found.n_coupons, found.n_drops, found.confidence, found.unit) == (6, 30, 0.95, "°")
    assert found.runs == tuple(f"{coupon}-angles" for coupon in coupons(letter))
    assert [item.coupon for item in found.coupon_values] == coupons(letter)


@pytest.mark.parametrize(("letter", "verdict"), [("A", PASS), ("B", FAIL), ("C", INCONCLUSIVE)])
def test_sliding_verdicts_of_the_three_batches(letter, verdict):
    assert outcome(SLIDING, batch(letter)).verdict == verdict


@pytest.mark.parametrize(("letter", "verdict", "count"), [("A", PASS, 0), ("B", FAIL, 3), ("C", PASS, 0)])
def test_counts_of_the_three_batches(letter, verdict, count):
    found = outcome(STAYED, batch(letter))
    assert (found.verdict, found.value, found.n_drops) == (verdict, count, 30)
    bound = stats.beta.ppf(0.95, count + 1, 30 - count)  # independent: scipy beta quantile
    assert f"at most {100 * bound:.1f} % (exact one-sided 95 % bound)" in found.why


@pytest.mark.parametrize(("letter", "verdict"), [("A", PASS), ("B", FAIL), ("C", INCONCLUSIVE)])
def test_the_batch_verdict_is_the_worst_of_its_outcomes(letter, verdict):
    judgement = judge([HYSTERESIS, SLIDING, STAYED, WORST], batch(letter))
    assert judgement.verdict == verdict
    assert as_data(judgement)["verdict"] == verdict


def test_a_batch_fails_although_another_criterion_is_inconclusive():
    missing = replace(HYSTERESIS, label="C9", liquid="BRINE")
    assert judge([missing, HYSTERESIS], batch("B")).verdict == FAIL
    assert judge([missing, HYSTERESIS], batch("A")).verdict == INCONCLUSIVE


def test_interval_sentence_and_rule_say_everything():
    found = outcome(HYSTERESIS, batch("A"))
    assert found.requirement == (
        "Contact angle hysteresis, mean of coupon means (treated coupons, WATER, 10 µL, fresh): at most 3.50°"
    )
    assert found.why == ("The mean of 6 coupons is 1.97°, 95 % interval 1.59° to 2.34°: wholly inside the limit 3.50°.")
    for words in ("ISO/IEC 17025:2017, 7.8.6", "ISO 10576", "Student t", "risk of at most 2.5 %"):
        assert words in found.rule


@pytest.mark.parametrize(
    ("side", "limit", "verdict"),
    [  # shares 90, 80, 85: mean 85, interval 72.6 to 97.4 (scipy t)
        ("at_least", 70, PASS),
        ("at_least", 80, INCONCLUSIVE),
        ("at_least", 98, FAIL),
        ("at_most", 98, PASS),
        ("at_most", 72, FAIL),
    ],
)
def test_retained_share_is_an_interval_rule(side, limit, verdict):
    runs = of_masses([20.0, 10.0, 40.0], [18.0, 8.0, 34.0])
    criterion = Criterion("C3", "retained_share", "lubricant_mass", limit, side=side, dose=60, dose_kind="min")
    found = outcome(criterion, runs)
    assert found.verdict == verdict
    assert_allclose((found.low, found.high), stats.t.interval(0.95, 2, 85, stats.sem([90, 80, 85])))
    assert (found.quantity, found.unit) == ("retained_share", "%")
    assert len(found.runs) == 6  # before and after


def test_an_interval_that_touches_the_limit_is_inside():
    found = outcome(replace(HYSTERESIS, limit=2.0), [angle_run("A01")])
    assert found.verdict == INCONCLUSIVE  # one coupon
    level = [water_run(f"R{i}", f"X{i}", "advancing_receding", [Reading("advancing_angle", 110.0),
             Reading("receding_angle", 108.0)]) for i in range(3)]  # fmt: skip
    assert outcome(replace(HYSTERESIS, limit=2.0), level).verdict == PASS  # limit: interval of no width


@pytest.mark.parametrize("count", [1, 2])
def test_an_interval_rule_needs_three_coupons(count):
    runs = [angle_run(coupon) for coupon in coupons("A")[:count]]
    for kind in ("mean_interval", "tolerance_limit"):
        found = outcome(replace(HYSTERESIS, kind=kind), runs)
        assert found.verdict == INCONCLUSIVE
        assert "at least 3 coupons" in found.why


@pytest.mark.parametrize(
    "changed",
    [
        {"liquid": "BRINE"},
        {"drop_volume_ul": 20},
        {"role": CONTROL},
        {"dose": 20, "dose_kind": "cycles"},
        {"quantity": "static_angle"},
    ],
)
@pytest.mark.parametrize("kind", [kind for kind in CRITERION_KINDS if kind != "retained_share"])
def test_missing_runs_never_pass(kind, changed):
    criterion = replace(HYSTERESIS, kind=kind, parameters={}, limit=1e6, **changed)
    found = outcome(criterion, batch("A"))
    assert found.verdict == INCONCLUSIVE
    assert found.why.startswith("No run of")
    named = {"liquid": "BRINE", "drop_volume_ul": "20 µL", "role": "untreated control", "dose": "20 cycles"}
    for key, words in named.items():
        assert key not in changed or words in found.why


def test_no_runs_at_all_never_pass():
    for kind in CRITERION_KINDS:
        criterion = Criterion("C", kind, "sliding_angle", 1e6)
        assert judge([criterion], []).verdict == INCONCLUSIVE


@pytest.mark.parametrize(
    ("other", "words"),
    [
        ({"liquid": Material("ETHANOL10", "10 % ethanol")}, "liquid ETHANOL10, WATER"),
        ({"drop_volume_ul": 20.0}, "drop volume 10.0, 20.0"),
    ],
)
def test_liquids_and_volumes_are_never_pooled(other, words):
    runs = batch("A") + [replace(run, code=f"{run.code}-2", **other) for run in batch("A")]
    found = outcome(Criterion("C1", "mean_interval", "hysteresis", 3.5), runs)
    assert found.verdict == INCONCLUSIVE
    assert words in found.why
    assert "never pooled" in found.why


def test_a_criterion_that_names_its_liquid_takes_only_that():
    other = Material("ETHANOL10", "10 % ethanol")
    runs = batch("A") + [replace(run, code=f"{run.code}-2", liquid=other) for run in batch("B")]
    assert outcome(HYSTERESIS, runs).verdict == PASS
    assert outcome(replace(HYSTERESIS, liquid="ETHANOL10"), runs).verdict == FAIL


def test_worst_coupon_is_each_coupon_not_the_mean():
    # invented data; hand: receding means of D-B from 104.7; a limit between the worst and the mean
    means = [np.mean([r for _, r, _ in split(coupon)]) for coupon in coupons("B")]
    found = outcome(WORST, batch("B"))
    assert found.verdict == PASS
    assert_allclose(found.value, min(means), rtol=1e-12)
    limit = (min(means) + np.mean(means)) / 2
    failed = outcome(replace(WORST, limit=limit), batch("B"))
    assert failed.verdict == FAIL
    assert "B05" in failed.why


@pytest.mark.parametrize(
    ("limit", "side", "verdict"),
    [
        (8, "at_most", FAIL),  # more than 30° is beyond 8°
        (45, "at_most", INCONCLUSIVE),  # more than 30° says nothing about 45°
        (3, "at_least", PASS),  # more than 30° is more than 3°
        (45, "at_least", FAIL),  # the coupons that moved lie below
    ],
)
def test_worst_coupon_beyond_the_stage_limit(limit, side, verdict):
    criterion = Criterion("C", "worst_coupon", "sliding_angle", limit, {"statistic": "median"}, side)
    assert outcome(criterion, of_medians([4.0, 5.0, math.inf])).verdict == verdict


def test_worst_coupon_at_least_is_not_told_by_a_lower_stage_limit():
    criterion = Criterion("C", "worst_coupon", "sliding_angle", 45, {"statistic": "median"}, "at_least")
    assert outcome(criterion, of_medians([math.inf] * 3)).verdict == INCONCLUSIVE


def test_count_asks_for_enough_drops():
    few = [sliding_run("A01")]
    assert outcome(STAYED, few).verdict == INCONCLUSIVE
    assert outcome(STAYED, [sliding_run("A01", [">30", ">30", "4"])]).verdict == FAIL  # more cannot undo it
    assert outcome(replace(STAYED, parameters={}), few).verdict == PASS


def test_count_of_the_control_is_a_least_count():
    control = Criterion("C6", "count_not_moved", "sliding_angle", 10, side="at_least", role=CONTROL)
    runs = [sliding_run(f"K{i}", [">30"] * 5, role=CONTROL) for i in range(2)]
    found = outcome(control, runs)
    assert (found.verdict, found.value) == (PASS, 10)
    bound = 0.05 ** (1 / 10)  # hand: lower bound of 10 of 10
    assert f"at least {100 * bound:.1f} %" in found.why
    runs[0] = sliding_run("K0", [">30"] * 4 + ["29.0"], role=CONTROL)
    assert outcome(control, runs).verdict == FAIL


def test_lost_drops_are_not_counted_as_moved():
    lost = [Reading("sliding_angle", None, LOST, drop=i, reason="dust") for i in range(1, 31)]
    found = outcome(STAYED, [water_run("R", "A01", "sliding_angle", lost)])
    assert found.verdict == INCONCLUSIVE
    assert found.n_drops == 0


@pytest.mark.parametrize(
    ("limit", "verdict"),
    [  # D-A hysteresis: mean 1.967, sd 0.3566 (numpy); k(6, 0.9, 0.95) = 3.0063 by table: 3.039
        (3.05, PASS),
        (3.03, INCONCLUSIVE),
        (2.2, INCONCLUSIVE),
        (2.0, FAIL),
    ],
)
def test_tolerance_limit_over_coupon_means(limit, verdict):
    means = [np.mean([a - r for a, r, _ in split(coupon)]) for coupon in coupons("A")]
    expected = np.mean(means) + 3.0063 * np.std(means, ddof=1)
    criterion = Criterion("T", "tolerance_limit", "hysteresis", limit, {"coverage": 0.9, "confidence": 0.95})
    found = outcome(criterion, batch("A"))
    assert_allclose(found.value, expected, atol=5e-5)
    assert found.verdict == verdict
    assert "coverage 90 %, confidence 95 %" in found.rule


def test_tolerance_fails_only_when_too_few_coupons_are_shown_inside():
    # independent: bound of the 0.9 quantile from below, noncentral t by scipy, 5 %
    means = [np.mean([a - r for a, r, _ in split(coupon)]) for coupon in coupons("A")]
    factor = stats.nct.ppf(0.05, 5, stats.norm.ppf(0.9) * math.sqrt(6)) / math.sqrt(6)
    bound = np.mean(means) + factor * np.std(means, ddof=1)
    verdicts = [
        outcome(Criterion("T", "tolerance_limit", "hysteresis", bound + shift), batch("A")).verdict
        for shift in (-0.001, 0.001)
    ]
    assert verdicts == [FAIL, INCONCLUSIVE]


@pytest.mark.parametrize(
    ("medians", "verdict", "words"),
    [
        ([2.0, 2.1, 2.2, 1.9, 2.0, math.inf], INCONCLUSIVE, "profile likelihood"),
        ([2.0, 2.1, math.inf], INCONCLUSIVE, "2 of 3 readings measured"),
        ([2.0, math.inf, 9.0], FAIL, "at least half"),  # 9 and "more than 30" lie beyond 8
        ([math.inf] * 3, FAIL, "at least half"),
        ([7.9, 7.95, 8.0, 7.9, 7.8, 7.9, 7.95, math.inf], INCONCLUSIVE, "profile likelihood"),
    ],
)
def test_a_batch_with_a_coupon_that_never_moved_does_not_pass(medians, verdict, words):
    found = outcome(SLIDING, of_medians(medians))
    assert found.verdict == verdict
    assert words in found.why


def test_a_likelihood_interval_inside_the_limit_still_does_not_pass():
    # many alike coupons below 8 and one of which only "more than 2" is known
    medians = [3.0, 3.1, 2.9, 3.2, 2.8, 3.0, math.inf]
    found = outcome(SLIDING, of_medians(medians, stage_limit=2.5))
    assert found.high < 8
    assert found.verdict == INCONCLUSIVE
    assert "such a batch does not pass" in found.why


def test_a_likelihood_interval_wholly_outside_fails():
    medians = [28.0, 29.0, 27.0, 28.5, math.inf]
    criterion = replace(SLIDING, limit=5, side="at_least")
    # "More than 30" can only speak for "at least 5" (as a count below its detection limit speaks for a reduction).
    assert outcome(criterion, of_medians(medians)).verdict == PASS
    # at most 31: "more than 30" is not known to lie beyond, and the rest lies below
    assert outcome(replace(SLIDING, limit=31), of_medians(medians)).verdict == INCONCLUSIVE
    above = of_medians([29.0, 28.7, 28.75, 28.7, 29.1, math.inf])
    assert outcome(replace(SLIDING, limit=20), above).verdict == FAIL
    # Half of the coupons beyond 28.8 prove nothing about the mean as long as an interval can be had.
    assert outcome(replace(SLIDING, limit=28.8), above).verdict == INCONCLUSIVE
    far = outcome(replace(SLIDING, limit=50, side="at_least"), of_medians([*medians[:4], 27.5, math.inf]))
    assert far.verdict == FAIL


def test_a_coupon_that_was_read_is_never_left_out():
    """Two drops that moved and three that did not give no coupon mean: the rule takes the drops themselves."""
    runs = [sliding_run(coupon) for coupon in coupons("A")]
    runs.append(sliding_run("A07", [">30", ">30", ">30", "4.0", "4.1"]))
    criterion = replace(SLIDING, parameters={"statistic": "mean"})
    found = outcome(criterion, runs)
    assert found.verdict == INCONCLUSIVE
    assert found.n_coupons == 7
    assert "kept as censored" in found.why
    assert found.high > outcome(criterion, runs[:-1]).high
    assert outcome(replace(criterion, kind="worst_coupon"), runs).verdict == INCONCLUSIVE
    assert outcome(criterion, runs[:-1]).verdict == PASS


def test_a_value_is_not_printed_as_the_limit_that_it_crosses():
    runs = [
        water_run(f"R{i}", f"X{i}", "advancing_receding",
                  [Reading("advancing_angle", 110.0), Reading("receding_angle", 106.4996)])
        for i in range(3)
    ]  # fmt: skip
    found = outcome(HYSTERESIS, runs)  # hand: 110 − 106.4996 = 3.5004
    assert found.verdict == FAIL
    assert "3.5004°" in found.why


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"kind": "best_of_three"}, "kind is one of"),
        ({"quantity": "shininess"}, "unknown quantity"),
        ({"side": "about"}, "side is one of"),
        ({"limit": math.nan}, "finite number"),
        ({"limit": math.inf}, "finite number"),
        ({"parameters": {"confidence": 95}}, "Confidence: 0.5 to 0.999"),
        ({"parameters": {"confidence": math.nan}}, "Confidence"),
        ({"parameters": {"statistic": "best"}}, "mean, median"),
        ({"parameters": {"level": 1}}, "no parameter level"),
    ],
)
def test_a_criterion_that_makes_no_sense_is_refused(changed, words):
    with pytest.raises(ValueError, match=words):
        judge([replace(HYSTERESIS, **changed)], batch("A"))


def test_no_criteria_make_no_judgement():
    with pytest.raises(ValueError, match="at least one criterion"):
        judge([], batch("A"))


def test_a_coupon_read_without_a_complete_pair_keeps_the_batch_from_passing():
    """Limit: six coupons pass; with a seventh whose receding angles are all missing nothing may be said."""
    runs = batch("A")
    assert outcome(HYSTERESIS, runs).verdict == PASS
    angles = next(run for run in runs if run.method == "advancing_receding")
    half = tuple(reading for reading in angles.readings if reading.quantity == "advancing_angle")
    seventh = replace(angles, code="R-A07", coupon="A07", readings=half)
    found = outcome(HYSTERESIS, [*runs, seventh])
    assert found.verdict == INCONCLUSIVE
    assert "A07" in found.why


def test_an_interval_without_width_is_explained():
    """Hand: three coupons whose medians are all 4.0 have SD 0 and so the interval 4.0 to 4.0."""
    runs = [
        water_run(f"R{n}", f"A0{n}", "sliding_angle", [Reading("sliding_angle", value, drop=i) for i, value in drops])
        for n, drops in enumerate([[(1, 3.0), (2, 4.0), (3, 5.0 + shift)] for shift in range(3)], start=1)
    ]
    found = outcome(SLIDING, runs)
    assert (found.low, found.high) == (4.0, 4.0)
    assert "says nothing of their scatter" in found.why


def test_drops_that_moved_on_placing_are_told_where_they_count():
    """Hand: coupons (18, 22.5, moved on placing) twice and (20, 21, 22): means 13.5, 13.5 and 21."""
    gone = Reading("sliding_angle", 0.0, "moved_on_placing", position="3")
    runs = []
    for coupon, values, last in (("A", (18.0, 22.5), gone), ("B", (18.0, 22.5), gone), ("C", (20.0, 21.0), None)):
        read = [Reading("sliding_angle", value, position=str(n)) for n, value in enumerate(values, 1)]
        read.append(last or Reading("sliding_angle", 22.0, position="3"))
        runs.append(Run(f"R{coupon}", coupon, "sliding_angle", tuple(read), settings={"stage_limit_deg": 60}))
    rule = Criterion("S", "mean_interval", "sliding_angle", 40, {"statistic": "mean", "confidence": 0.95})
    (outcome,) = judge([rule], runs).outcomes
    assert outcome.value == pytest.approx(16.0)
    assert "moved on placing: 2; each counts as 0°" in outcome.why
    (group,) = analyse_batch(runs).groups
    assert "2 drops that moved on placing count as 0°" in group.statistic("sliding_angle_mean").note
    median = replace(rule, parameters={"statistic": "median", "confidence": 0.95})
    (outcome,) = judge([median], runs).outcomes
    assert outcome.value == pytest.approx(19.0)  # hand: medians 18, 18 and 21
    assert "moved on placing: 2; each ranks below all others" in outcome.why
