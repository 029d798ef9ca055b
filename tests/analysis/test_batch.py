"""Batches: coupon values and batch statistics against plain numpy and scipy on the same invented drops."""

import math
from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from analysis.batch import analyse_batch
from analysis.records import (
    CONTROL,
    LOST,
    MOVED_ON_PLACING,
    NOT_MOVED,
    Material,
    Reading,
    Run,
    Value,
    as_data,
)
from tests.analysis.demo_batches import (
    STAGE_LIMIT,
    angle_run,
    batch,
    coupons,
    mass_run,
    sliding_run,
    split,
    water_run,
)


def group_with(result, key):
    (group,) = [group for group in result.groups if key in group.coupon_values]
    return group


def statistic(runs, quantity_key):
    quantity, _, _ = quantity_key.rpartition("_")
    found = [group.statistic(quantity_key) for group in analyse_batch(runs).groups]
    (one,) = [item for item in found if item is not None]
    assert one.key.startswith(quantity)
    return one


def hysteresis_by_coupon(letter):
    """independent: numpy on the typed drops."""
    return [np.array([a - r for a, r, _ in split(coupon)]) for coupon in coupons(letter)]


@pytest.mark.parametrize(
    ("letter", "printed"),
    [  # invented data; mean, interval, sd between and within as printed with the scenario
        ("A", (1.97, 1.59, 2.34, 0.23, 0.61)),
        ("B", (6.35, 4.65, 8.05, 1.54, 1.11)),
        ("C", (2.89, 1.35, 4.42, 1.42, 0.73)),
    ],
)
def test_hysteresis_of_the_three_batches(letter, printed):
    drops = hysteresis_by_coupon(letter)
    means = [group.mean() for group in drops]
    group = group_with(analyse_batch(batch(letter)), "hysteresis_mean")
    found = group.statistic("hysteresis_mean")
    # independent: scipy t interval over the six coupon means
    low, high = stats.t.interval(0.95, 5, np.mean(means), stats.sem(means))
    assert_allclose((found.value, found.low, found.high), (np.mean(means), low, high), rtol=1e-12)
    # independent: balanced moments by numpy
    within = np.mean([group.var(ddof=1) for group in drops])
    between = math.sqrt(np.var(means, ddof=1) - within / 5)
    sds = [group.statistic(f"hysteresis_{key}_sd").value for key in ("between", "within")]
    assert_allclose(sds, (between, math.sqrt(within)), rtol=1e-9)
    assert tuple(round(number, 2) for number in (found.value, found.low, found.high, *sds)) == printed
    assert (found.n_coupons, found.n_drops, found.confidence) == (6, 30, 0.95)
    assert_allclose([item.value for item in group.coupon_values["hysteresis_mean"]], means, rtol=1e-12)


def test_the_interval_of_pooled_drops_would_be_another():
    # invented data: pooling the 30 drops of D-C gives 2.32 to 3.45, below a limit of 3.5
    pooled = np.concatenate(hysteresis_by_coupon("C"))
    low, high = stats.t.interval(0.95, 29, pooled.mean(), stats.sem(pooled))
    assert (round(low, 2), round(high, 2)) == (2.32, 3.45)
    assert statistic(batch("C"), "hysteresis_mean").high > 3.5


@pytest.mark.parametrize(
    ("letter", "medians", "printed", "not_moved", "bound"),
    [  # invented data; hand: the middle of five drops with ">30" above all; bound: scipy beta quantile
        ("A", [4.0, 2.9, 3.9, 3.7, 4.0, 2.9], (3.6, 3.0, 4.1), 0, stats.beta.ppf(0.95, 1, 30)),
        ("B", [13.0, 12.5, 18.8, 6.3, 16.0, 14.8], (13.6, 9.1, 18.0), 3, stats.beta.ppf(0.95, 4, 27)),
        ("C", [9.1, 2.5, 8.3, 2.7, 4.2, 5.8], (5.4, 2.5, 8.4), 0, stats.beta.ppf(0.95, 1, 30)),
    ],
)
def test_sliding_angles_of_the_three_batches(letter, medians, printed, not_moved, bound):
    group = group_with(analyse_batch(batch(letter)), "sliding_angle_median")
    assert [item.value for item in group.coupon_values["sliding_angle_median"]] == medians
    found = group.statistic("sliding_angle_median")
    low, high = stats.t.interval(0.95, 5, np.mean(medians), stats.sem(medians))
    assert_allclose((found.value, found.low, found.high), (np.mean(medians), low, high), rtol=1e-12)
    assert tuple(round(number, 1) for number in (found.value, found.low, found.high)) == printed
    count, share = (
        group.statistic("sliding_angle_not_moved"),
        group.statistic("sliding_angle_not_moved_share"),
    )
    assert (count.value, count.n_drops) == (not_moved, 30)
    assert_allclose((share.value, share.high), (100 * not_moved / 30, 100 * bound), rtol=1e-9)


def test_drops_that_did_not_move_are_neither_deleted_nor_replaced():
    group = group_with(analyse_batch(batch("B")), "sliding_angle_median")
    third = group.coupon_values["sliding_angle_median"][2]
    assert (third.value, third.n_drops, third.n_not_moved, third.stage_limit) == (18.8, 5, 2, STAGE_LIMIT)
    assert group.statistic("sliding_angle_within_sd").value is None
    assert "beyond a limit" in group.statistic("sliding_angle_within_sd").note
    # independent: scipy fit of the 27 angles and three censored at 30
    texts = [text for coupon in coupons("B") for *_, text in split(coupon)]
    moved = [float(text) for text in texts if not text.startswith(">")]
    mu, _ = stats.norm.fit(stats.CensoredData(uncensored=moved, right=[STAGE_LIMIT] * 3))
    fit = group.statistic("sliding_angle_censored_drops")
    assert_allclose(fit.value, mu, rtol=1e-4)
    assert (fit.low, fit.high) == (None, None)  # drops of one coupon are not independent


def test_mean_of_a_coupon_with_a_drop_that_stayed_is_the_censored_one():
    values = group_with(analyse_batch(batch("B")), "sliding_angle_mean").coupon_values["sliding_angle_mean"]
    mu, _ = stats.norm.fit(stats.CensoredData(uncensored=[12.5, 11.0, 8.6, 13.8], right=[30]))
    assert_allclose(values[1].value, mu, rtol=1e-3)  # independent: scipy
    assert values[1].value > np.mean([12.5, 11.0, 8.6, 13.8])


def test_a_median_beyond_the_stage_limit_leaves_no_finite_mean():
    runs = [sliding_run(coupon) for coupon in coupons("A")[:5]]
    runs.append(sliding_run("A06", [">30", ">30", ">30", "4.0", "5.0"]))
    group = group_with(analyse_batch(runs), "sliding_angle_median")
    found = group.statistic("sliding_angle_median")
    assert (found.value, found.low, found.high) == (math.inf, None, None)
    assert "beyond the stage limit" in found.note
    fit = group.statistic("sliding_angle_censored_coupons")
    medians = [4.0, 2.9, 3.9, 3.7, 4.0]
    mu, _ = stats.norm.fit(stats.CensoredData(uncensored=medians, right=[STAGE_LIMIT]))
    assert_allclose(fit.value, mu, rtol=1e-3)  # independent: scipy
    assert fit.low < fit.value < fit.high
    two_moved = group.coupon_values["sliding_angle_mean"][5]
    assert two_moved.value is None  # two drops do not make a mean of five
    mean = group.statistic("sliding_angle_mean")  # the drops themselves enter, those not moved as censored
    assert mean.n_coupons == 6
    assert mean.value > analyse_batch(runs[:5]).groups[0].statistic("sliding_angle_mean").value
    assert as_data(group)["statistics"]


def test_coupons_read_with_different_settings_say_so():
    runs = [replace(sliding_run(coupon), method_version=str(n % 2 + 1)) for n, coupon in enumerate(coupons("A"))]
    found = group_with(analyse_batch(runs), "sliding_angle_median").statistic("sliding_angle_median")
    assert "versions 1, 2" in found.note
    same = [replace(run, method_version="2") for run in runs]
    assert group_with(analyse_batch(same), "sliding_angle_median").statistic("sliding_angle_median").note == ""


def test_a_coupon_on_which_nothing_moved_is_beyond_in_mean_and_median():
    group = group_with(analyse_batch([sliding_run("A01", [">30"] * 5)]), "sliding_angle_mean")
    assert group.coupon_values["sliding_angle_mean"][0].value == math.inf
    assert group.coupon_values["sliding_angle_median"][0].value == math.inf
    assert group.statistic("sliding_angle_not_moved").value == 5


def test_drops_gone_on_placing_count_as_zero():
    readings = [
        Reading("sliding_angle", 0.0, MOVED_ON_PLACING, drop=1),
        Reading("sliding_angle", 1.0, drop=2),
    ]
    group = group_with(analyse_batch([water_run("R", "A01", "sliding_angle", readings)]), "sliding_angle_mean")
    assert group.coupon_values["sliding_angle_mean"][0].value == 0.5
    assert group.coupon_values["sliding_angle_median"][0].value == 0.5


def test_unequal_numbers_of_drops_weigh_coupons_not_drops():
    runs = [angle_run(coupon) for coupon in coupons("A")[:3]]
    runs[0] = replace(runs[0], readings=runs[0].readings[:4])  # two drops of A01 are left
    means = [np.mean([a - r for a, r, _ in split(code)[:count]]) for code, count in
             (("A01", 2), ("A02", 5), ("A03", 5))]  # fmt: skip
    found = statistic(runs, "hysteresis_mean")
    assert_allclose(found.value, np.mean(means), rtol=1e-12)
    assert (found.n_coupons, found.n_drops) == (3, 12)


def test_hysteresis_is_computed_per_pair():
    """The mean of differences is not the difference of means when a pair is incomplete."""
    run = angle_run("A01")
    run = replace(run, readings=run.readings[:-1])  # the last receding angle is missing
    group = analyse_batch([run]).groups[0]
    pairs = [a - r for a, r, _ in split("A01")[:4]]
    assert_allclose(group.coupon_values["hysteresis_mean"][0].value, np.mean(pairs), rtol=1e-12)
    assert group.coupon_values["advancing_angle_mean"][0].n_drops == 5
    assert group.coupon_values["hysteresis_mean"][0].n_drops == 4


def test_pair_quantities_follow_from_the_angles():
    group = analyse_batch([angle_run("A01")]).groups[0]
    cosines = [np.cos(np.radians(r)) - np.cos(np.radians(a)) for a, r, _ in split("A01")]  # independent: numpy
    expected = (np.mean(cosines), 50 * np.mean(cosines), 72.0 * np.mean(cosines))
    keys = ("hysteresis_cosine", "hysteresis_percent", "retention_per_width")
    found = [group.coupon_values[f"{key}_mean"][0].value for key in keys]
    assert_allclose(found, expected, rtol=1e-12)


def test_excluded_and_lost_readings_are_counted_and_enter_nothing():
    run = angle_run("A01")
    readings = list(run.readings)
    readings[0] = replace(readings[0], excluded=True, reason="needle touched", excluded_by="operator")
    readings[3] = Reading("receding_angle", None, LOST, drop=2, reason="drop rolled off")
    group = analyse_batch([replace(run, readings=tuple(readings))]).groups[0]
    assert (group.n_readings, group.n_excluded, group.n_lost) == (10, 1, 1)
    pairs = [a - r for a, r, _ in split("A01")[2:]]
    assert_allclose(group.coupon_values["hysteresis_mean"][0].value, np.mean(pairs), rtol=1e-12)
    assert group.coupon_values["advancing_angle_mean"][0].n_drops == 4
    assert group.coupon_values["receding_angle_mean"][0].n_drops == 4


def test_a_coupon_without_a_usable_reading_is_named():
    lost = water_run("R", "A09", "sliding_angle", [Reading("sliding_angle", None, LOST, reason="dust")])
    found = statistic([*(sliding_run(code) for code in coupons("A")), lost], "sliding_angle_median")
    assert found.n_coupons == 6
    assert "no usable reading: A09" in found.note


@pytest.mark.parametrize("value", [math.nan, math.inf, None])
def test_a_reading_without_a_number_is_refused(value):
    run = water_run("R", "A01", "sliding_angle", [Reading("sliding_angle", value, NOT_MOVED)])
    with pytest.raises(ValueError, match="sliding_angle at position 1, drop 1"):
        analyse_batch([run])


@pytest.mark.parametrize(
    "other",
    [
        {"drop_volume_ul": 20.0},
        {"liquid": Material("ETHANOL10", "10 % ethanol")},
        {"role": CONTROL},
        {"dose": 20.0, "dose_kind": "cycles"},
    ],
)
def test_what_differs_is_never_pooled(other):
    result = analyse_batch([sliding_run("A01"), replace(sliding_run("A02"), code="other", **other)])
    assert [group.coupons for group in result.groups] == [("A01",), ("A02",)]
    assert len({group.key for group in result.groups}) == 2


def test_fresh_runs_stand_together_whatever_dose_they_wait_for():
    runs = [sliding_run("A01"), replace(sliding_run("A02"), dose_kind="cycles", exposure="freeze–thaw")]
    (group,) = analyse_batch(runs).groups
    assert group.coupons == ("A01", "A02")


def test_two_runs_of_one_coupon_are_one_coupon():
    runs = [sliding_run("A01"), replace(sliding_run("A01", ["2.0", "3.0"]), code="again")]
    (group,) = analyse_batch(runs).groups
    (value,) = group.coupon_values["sliding_angle_median"]
    assert (value.value, value.n_drops) == (3.7, 7)  # hand: 2.0 3.0 3.5 |3.7| 4.0 4.5 5.7
    assert group.runs == ("A01-sliding", "again")


def test_one_coupon_has_no_interval():
    found = statistic([angle_run("A01")], "hysteresis_mean")
    assert (found.low, found.high, found.n_coupons) == (None, None, 1)
    assert "no interval" in found.note


def test_order_of_runs_and_readings_changes_no_number():
    def numbers(runs):
        return {
            item.key: (item.value, item.low, item.high)
            for group in analyse_batch(runs).groups
            for item in group.statistics
        }

    turned = [replace(run, readings=run.readings[::-1]) for run in batch("C")[::-1]]
    plain, again = numbers(batch("C")), numbers(turned)
    assert plain.keys() == again.keys()
    for key, values in plain.items():
        assert_allclose(
            [math.nan if v is None else v for v in again[key]],
            [math.nan if v is None else v for v in values],
            rtol=1e-9,
        )


def test_retained_share_refers_to_the_coupon_itself():
    before, after = [20.0, 10.0, 40.0], [18.0, 8.0, 34.0]
    runs = [mass_run(f"M{i}", mass) for i, mass in enumerate(before)]
    runs += [mass_run(f"M{i}", mass, dose=60) for i, mass in enumerate(after)]
    group = group_with(analyse_batch(runs), "retained_share_mean")
    found = group.statistic("retained_share_mean")
    shares = [90.0, 80.0, 85.0]  # hand: 18/20, 8/10, 34/40; the share of the means would be 85.7 %
    low, high = stats.t.interval(0.95, 2, 85, stats.sem(shares))
    assert_allclose((found.value, found.low, found.high), (85, low, high), rtol=1e-12)
    assert group.baseline_runs == ("M0-mass-0", "M1-mass-0", "M2-mass-0")


def test_retained_share_without_a_fresh_mass_is_not_given():
    runs = [mass_run("M1", 20.0), mass_run("M1", 18.0, dose=60), mass_run("M2", 9.0, dose=60)]
    found = statistic(runs, "retained_share_mean")
    assert found.value is None
    assert "M2" in found.note


def test_lubricant_per_area_follows_from_the_mass():
    oil = Material("OIL", "oil", {"density": Value(965, "kg/m³", "invented for tests")})
    run = replace(mass_run("M1", 19.3), lubricant=oil, coupon_area_mm2=1600.0)
    # hand: 19.3 mg / 0.965 mg/µL = 20 µL over 16 cm² = 1.25 µL/cm²
    assert_allclose(statistic([run], "lubricant_per_area_mean").value, 1.25, rtol=1e-12)


def test_no_runs_make_no_groups():
    assert analyse_batch([]).groups == ()


def test_a_run_without_readings_makes_a_group_without_numbers():
    (group,) = analyse_batch([Run("R", "C", "sliding_angle", ())]).groups
    assert (group.statistics, group.coupon_values) == ((), {})


def test_a_coupon_without_a_pair_is_listed_without_a_value():
    alone = water_run("R", "A09", "advancing_receding", [Reading("advancing_angle", 113.0)])
    group = analyse_batch([angle_run("A01"), alone]).groups[0]
    listed = {item.coupon: (item.value, item.n_drops) for item in group.coupon_values["hysteresis_mean"]}
    assert listed["A09"] == (None, 0)
    assert "A09" in group.statistic("hysteresis_mean").note


def test_where_no_drop_moved_the_share_is_bounded_from_below():
    """Independent: scipy beta quantile for 5 of 5; the bound from above, 100 %, would say nothing."""
    run = water_run("R", "K", "sliding_angle", [Reading("sliding_angle", 30.0, NOT_MOVED, drop=n) for n in range(5)])
    share = statistic([run], "sliding_angle_not_moved_share")
    assert_allclose(share.low, 100 * stats.beta.ppf(0.05, 5, 1))
    assert share.high is None
    assert "lower bound 54.9 %" in share.note


def test_a_coupon_with_one_angle_of_each_pair_has_an_unknown_hysteresis():
    """Hand: it was read, so a mean over the other coupons would be a choice; one never read is only named."""
    run = angle_run("A01")
    half = tuple(reading for reading in run.readings if reading.quantity == "advancing_angle")
    found = statistic([angle_run("A02"), angle_run("A03"), replace(run, readings=half)], "hysteresis_mean")
    assert found.value is None
    assert "no value can be given for: A01" in found.note
