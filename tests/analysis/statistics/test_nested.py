"""Nested variance components against published tables, statsmodels and hand calculations."""

import math

import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_allclose

from analysis.statistics.nested import nested_components
from tests.analysis.tables import table


def turnip(method="moments", **options):
    data = table("turnip_greens")
    return nested_components(data["calcium"], {"plant": data["plant"], "leaf": data["leaf"]}, method, **options)


def pastes(method="moments"):
    data = table("pastes")
    return nested_components(data["strength"], {"batch": data["batch"], "cask": data["cask"]}, method)


def dyestuff(number="", method="moments"):
    data = table(f"dyestuff{number}")
    return nested_components(data["yield"], {"batch": data["batch"]}, method)


def test_turnip_table():
    # published: Snedecor & Cochran (1967), p. 286; further digits independent (numpy 2.4.6)
    found = turnip()
    rows = [(level.df, level.square_sum, level.mean_square, level.variance) for level in found.levels]
    expected = [
        (3, 7.560346, 2.520115, 0.365223),
        (8, 2.630200, 0.328775, 0.161060),
        (12, 0.079850, 0.006654, 0.006654),
    ]
    assert_allclose(rows, expected, atol=6e-7)
    plant, leaf, reading = found.levels
    assert_allclose((plant.f_ratio, leaf.f_ratio), (7.6652, 49.4089), atol=5.01e-5)
    assert_allclose((plant.p_value, leaf.p_value), (0.0097, 5.1e-8), rtol=5e-3)
    assert_allclose(found.total_variance, 0.532938, atol=6e-7)
    shares = [100 * level.variance / found.total_variance for level in found.levels]
    assert_allclose(shares, (68.5302, 30.2212, 1.2486), atol=5.01e-5)
    assert [level.n_groups for level in found.levels] == [4, 12, 24]
    assert (reading.f_ratio, found.note) == (None, "")


def test_turnip_mean_counts_plants():
    # independent: numpy and scipy 1.17.1; 24 "independent" readings would give 2.7299 to 3.2943
    found = turnip()
    assert_allclose((found.mean, found.mean_se), (3.012083, 0.324044), atol=6e-7)
    assert_allclose((found.mean_low, found.mean_high), (1.98083, 4.04334), atol=6e-6)
    assert found.mean_df == 3
    readings = table("turnip_greens")["calcium"]
    naive = 2.0686576 * readings.std() / math.sqrt(24)  # hand: t(0.975; 23)
    assert_allclose((3.012083 - naive, 3.012083 + naive), (2.7299, 3.2943), atol=5.01e-5)
    assert_allclose((found.mean_high - found.mean_low) / (2 * naive), 3.7, atol=0.05)


def test_turnip_total_by_satterthwaite():
    found = turnip()
    assert_allclose(found.total_df, 4.710, atol=5.01e-4)  # independent: numpy and scipy 1.17.1
    assert_allclose((found.total_sd_low, found.total_sd_high), (0.4508, 1.8623), atol=5.01e-5)


def test_turnip_by_restricted_likelihood():
    # independent: a likelihood by Cholesky factors, apart from the project
    found = turnip("REML")
    assert_allclose([level.variance for level in found.levels], (0.365223, 0.161060, 0.006654), atol=6e-7)
    assert_allclose(found.minus_two_log_likelihood, 2.17294, atol=5.01e-6)
    assert found.method == "REML"
    assert not found.is_repooled


def test_paste_table():
    # published: data of Davies & Goldsmith (1972); numbers independent (numpy, statsmodels 0.15.0)
    found = pastes()
    assert_allclose([level.square_sum for level in found.levels], (247.402667, 350.906667, 20.340000), atol=6e-7)
    assert [level.df for level in found.levels] == [9, 20, 30]
    assert_allclose([level.mean_square for level in found.levels], (27.489185, 17.545333, 0.678000), atol=6e-7)
    batch, cask, _ = found.levels
    assert_allclose((batch.f_ratio, cask.f_ratio), (1.5668, 25.878), atol=5.01e-4)
    assert_allclose(batch.p_value, 0.1926, atol=5.01e-5)
    assert_allclose([level.variance for level in found.levels], (1.657309, 8.433667, 0.678000), atol=6e-7)
    assert_allclose([level.sd for level in found.levels], (1.2874, 2.9041, 0.8234), atol=5.01e-5)
    assert_allclose(found.total_variance, 10.768975, atol=6e-7)


def test_paste_intervals():
    found = pastes()
    assert_allclose((found.mean, found.mean_se), (60.053333, 0.676870), atol=6e-7)
    assert_allclose((found.mean_low, found.mean_high), (58.5222, 61.5845), atol=5.01e-5)
    assert_allclose(found.total_df, 28.661, atol=5.01e-4)
    assert_allclose((found.total_sd_low, found.total_sd_high), (2.6104, 4.4204), atol=5.01e-5)


@pytest.mark.parametrize(("method", "batch", "criterion"), [("REML", 1.657309, 246.9907), ("ML", 1.199155, 247.9945)])
def test_paste_likelihoods(method, batch, criterion):
    found = pastes(method)
    assert_allclose(found.level("batch").variance, batch, atol=1e-6)
    assert_allclose(found.level("cask").variance, 8.433667, atol=1e-6)
    assert_allclose(found.minus_two_log_likelihood, criterion, atol=5.01e-5)


def test_paste_components_agree_with_statsmodels_when_it_is_asked_rightly():
    # independent: statsmodels 0.15.0. Without re_formula="1" it drops the batch component: cask 9.977
    import statsmodels.formula.api as smf

    data, inner = table("pastes"), {"cask": "0 + C(cask)"}
    right = smf.mixedlm("strength ~ 1", data, groups="batch", vc_formula=inner, re_formula="1").fit(reml=True)
    dropped = smf.mixedlm("strength ~ 1", data, groups="batch", vc_formula=inner).fit(reml=True)
    found = [level.variance for level in pastes("REML").levels]
    assert_allclose(found, (right.cov_re.iloc[0, 0], right.vcomp[0], right.scale), rtol=2e-3)
    assert_allclose(-2 * right.llf, pastes("REML").minus_two_log_likelihood, atol=1e-4)
    assert_allclose((dropped.vcomp[0], -2 * dropped.llf), (9.977, 247.648), atol=2e-3)


def test_unequal_components_agree_with_statsmodels():
    # independent: statsmodels 0.15.0 on the paste data with a third of the tests left out
    import statsmodels.formula.api as smf

    data = table("pastes").drop(index=[1, 3, 4, 8, 9, 10, 15, 20, 21, 22, 23, 31, 37, 45, 50, 51, 52, 53, 59])
    inner = {"cask": "0 + C(cask)"}
    right = smf.mixedlm("strength ~ 1", data, groups="batch", vc_formula=inner, re_formula="1").fit(reml=True)
    found = nested_components(data["strength"], {"batch": data["batch"], "cask": data["cask"]}, "REML")
    assert not found.is_balanced
    assert "approximate" in found.note
    # the optimizer of statsmodels stops at about four digits; ours has the greater likelihood
    variances = [level.variance for level in found.levels]
    assert_allclose(variances, (right.cov_re.iloc[0, 0], right.vcomp[0], right.scale), rtol=1e-2)
    assert_allclose(found.minus_two_log_likelihood, -2 * right.llf, atol=1e-4)
    assert found.minus_two_log_likelihood <= -2 * right.llf + 1e-8
    assert_allclose(found.mean, right.fe_params.iloc[0], rtol=1e-5)


def test_dyestuff():
    # published: data of Davies (1947); lme4's tests assert 1764.0375, 49.5101; others independent (scipy 1.17.1)
    found = dyestuff()
    batch, reading = found.levels
    assert_allclose((batch.square_sum, reading.square_sum), (56357.5, 58830), rtol=1e-13)
    assert_allclose((batch.mean_square, reading.mean_square), (11271.5, 2451.25), rtol=1e-13)
    assert_allclose((batch.f_ratio, batch.p_value), (4.5983, 0.00440), atol=5.01e-5)
    assert_allclose((batch.variance, batch.sd, reading.sd), (1764.05, 42.0006, 49.5101), atol=5.01e-5)
    assert_allclose((found.mean, found.mean_se), (1527.5, 19.3834), atol=5.01e-5)
    assert_allclose((found.mean_low, found.mean_high), (1477.6734, 1577.3266), atol=5.01e-5)


@pytest.mark.parametrize(("method", "batch", "criterion"), [("REML", 1764.05, 319.6543), ("ML", 1388.333, 327.3271)])
def test_dyestuff_likelihoods(method, batch, criterion):
    found = dyestuff(method=method)
    assert_allclose(found.level("batch").variance, batch, atol=5.01e-4)
    assert_allclose(found.minus_two_log_likelihood, criterion, atol=5.01e-5)


def test_negative_component_is_kept_and_not_pooled():
    # published data (Box & Tiao 1973); numbers independent (numpy, scipy 1.17.1)
    found = dyestuff("2")
    batch, reading = found.levels
    assert_allclose((batch.mean_square, reading.mean_square), (8.336326, 14.945890), atol=6e-7)
    assert_allclose((batch.f_ratio, batch.p_value), (0.5578, 0.7311), atol=5.01e-5)
    assert_allclose(batch.raw_variance, -1.321913, atol=6e-7)
    assert (batch.variance, batch.sd) == (0, 0)
    assert_allclose(reading.variance, 14.945890, atol=6e-7)
    assert not found.is_repooled
    assert "comes out negative (-1.322), taken as 0; nothing was pooled again" in found.note
    # hand: the total is MSB/5 + 4/5·MSW, unbiased, with the negative part left in
    assert_allclose(found.total_variance, (8.33632576 + 4 * 14.9458896) / 5, rtol=1e-9)


@pytest.mark.parametrize(
    ("method", "residual", "criterion"), [("REML", 13.806309, 161.8283), ("ML", 13.345996, 162.8730)]
)
def test_negative_component_by_likelihood_is_pooled_and_said(method, residual, criterion):
    found = dyestuff("2", method)
    assert found.level("batch").variance == 0
    assert_allclose(found.level("batch").raw_variance, -1.321913, atol=6e-7)  # still reported
    # ML: the file's 13.345996 is off in its last digits: 30 readings, total square sum 400.3829792, divided by 30
    assert_allclose(found.level("reading").variance, residual, atol=6e-7 if method == "REML" else 1.1e-4)
    assert_allclose(found.minus_two_log_likelihood, criterion, atol=5.01e-5)
    assert found.is_repooled
    assert "pooled into the other levels" in found.note


def test_total_square_sum_bounds_the_pooled_residual():
    # hand: with the batch at 0 the residual is the total square sum over 29 (REML) or 30 (ML)
    total = float(np.sum((table("dyestuff2")["yield"] - 5.6656) ** 2))
    assert_allclose(dyestuff("2", "REML").level("reading").variance, total / 29, rtol=1e-9)
    assert_allclose(dyestuff("2", "ML").level("reading").variance, total / 30, rtol=1e-9)


def test_check_standard_of_days_within_runs():
    # published: e-Handbook 2.4.4, data MPC441; s of the repeats is given, so that readings are made that have it
    days = {
        "1": ([96.0771, 95.9976, 96.0148, 96.0397, 96.0407, 96.0445], [0.1024, 0.0943, 0.0622, 0.0702, 0.0627, 0.0622]),
        "2": ([96.0793, 96.1115, 96.0803, 96.0411, 96.0988, 96.0482], [0.0996, 0.0533, 0.0364, 0.0768, 0.1042, 0.0868]),
    }
    half = math.sqrt(5 / 6)  # hand: six values m ± s·√(5/6) have mean m and standard deviation s
    rows = [
        (run, day, mean + sign * half * sd)
        for run, (means, sds) in days.items()
        for day, (mean, sd) in enumerate(zip(means, sds, strict=True))
        for sign in (1, -1, 1, -1, 1, -1)
    ]
    runs, labels, values = zip(*rows, strict=True)
    found = nested_components(values, {"run": runs, "day": labels})
    run, day, reading = found.levels
    assert_allclose(reading.sd, 0.078714, atol=6e-7)
    assert reading.df == 60
    assert_allclose(math.sqrt(day.mean_square / 6), 0.027422, atol=6e-7)
    assert day.df == 10
    assert_allclose(math.sqrt(run.mean_square / 36), 0.028850, atol=6e-7)
    assert run.df == 1
    assert_allclose(day.raw_variance, -0.000281, atol=6e-7)
    assert (day.variance, day.sd) == (0, 0)
    for number, sd in (("1", 0.027279), ("2", 0.027563)):
        assert_allclose(np.std(days[number][0], ddof=1), sd, atol=6e-7)


def test_three_batches_of_four_drops():
    # independent: numpy, made-up data; the naive interval over 12 readings is 149.673 to 152.427
    drops = [151.2, 152.0, 150.9, 151.5, 148.1, 148.9, 148.6, 148.0, 153.3, 152.7, 153.9, 153.5]
    found = nested_components(drops, {"batch": np.repeat(["a", "b", "c"], 4)})
    batch, reading = found.levels
    assert_allclose((found.mean, batch.mean_square, found.mean_se), (151.05, 24.87, 1.439618), atol=6e-7)
    assert_allclose(reading.mean_square, 0.216667, atol=6e-7)
    assert_allclose((found.mean_low, found.mean_high), (144.856, 157.244), atol=5.01e-4)


def test_unequal_moments_by_hand():
    # hand: groups (1, 3), (5, 7, 9), (2): SSW 10 on 3, SSB 37.5 on 2, n0 = (6 − 14/6)/2 = 11/6
    found = nested_components([1, 3, 5, 7, 9, 2], {"coupon": list("AABBBC")})
    assert_allclose(found.level("reading").variance, 10 / 3, rtol=1e-13)
    assert_allclose(found.level("coupon").variance, (18.75 - 10 / 3) / (11 / 6), rtol=1e-13)
    assert_allclose(found.mean, (2 + 7 + 2) / 3, rtol=1e-14)  # plain mean of the coupon means
    assert found.mean_df == 2


def test_unequal_moments_on_three_levels_are_unbiased():
    # limit: expected mean squares. Mean of 4000 simulated sets (numpy, seed 6) with variances 4, 2, 1 and unequal
    # numbers; three standard errors of the mean are 0.25, 0.12 and 0.03
    rng = np.random.default_rng(6)
    coupons, readings = np.array([3, 1, 2, 4, 2]), np.array([2, 3, 1, 2, 4, 1, 2, 2, 3, 2, 1, 2])
    batch, coupon = np.repeat(np.repeat(np.arange(5), coupons), readings), np.repeat(np.arange(12), readings)
    found = []
    for _ in range(4000):
        values = (2 * rng.normal(size=5))[batch] + (math.sqrt(2) * rng.normal(size=12))[coupon] + rng.normal(size=25)
        levels = nested_components(values, {"batch": batch, "coupon": coupon}).levels
        found.append([level.raw_variance for level in levels])
    assert_allclose(np.mean(found, axis=0), (4, 2, 1), atol=(0.25))
    assert_allclose(np.mean(found, axis=0)[1:], (2, 1), atol=0.12)


def test_order_names_and_unit_do_not_matter():
    data = table("pastes").sample(frac=1, random_state=3)
    labels = {"lot": data["batch"].str.lower(), "vessel": data["batch"] + data["cask"]}
    turned, plain = nested_components(10 * data["strength"], labels, "REML"), pastes("REML")
    scaled = [100 * level.variance for level in plain.levels]
    assert_allclose([level.variance for level in turned.levels], scaled, rtol=1e-8)
    assert_allclose((turned.mean_low, turned.total_sd_high), (10 * plain.mean_low, 10 * plain.total_sd_high), rtol=1e-9)


def test_a_large_common_part_costs_no_digits():
    data = table("turnip_greens")
    found = nested_components(data["calcium"] * 1024 + 2.0**40, {"plant": data["plant"], "leaf": data["leaf"]})
    # the readings themselves are rounded to 2⁻¹³ in units of which their smallest spread is 80
    assert_allclose(found.level("reading").sd, 1024 * turnip().level("reading").sd, rtol=1e-4)
    assert_allclose(found.level("plant").sd, 1024 * turnip().level("plant").sd, rtol=1e-6)


@pytest.mark.parametrize("method", ["moments", "REML"])
@pytest.mark.parametrize(
    ("values", "levels", "untold", "said"),
    [
        ([1.0], {"coupon": ["A"]}, {"coupon", "reading"}, "cannot be told"),
        ([1.0, 2.0, 4.0], {"coupon": ["A"] * 3}, {"coupon"}, "coupon cannot be told: a single group"),
        ([1.0, 2.0, 4.0], {"coupon": ["A", "B", "C"]}, {"reading"}, "one in every coupon"),
        ([1.0, 2.0, 4.0, 5.0], {"batch": list("xxyy"), "coupon": list("aabb")}, {"coupon"}, "one in every batch"),
        ([1.0, 2.0, 4.0, 5.0], {"batch": list("xxyy"), "coupon": list("abab")}, {"reading"}, "one in every coupon"),
        ([1.0, 2.0, 4.0, 5.0], {"batch": list("xxxx"), "coupon": list("aabb")}, {"batch"}, "a single group"),
    ],
)
def test_levels_that_cannot_be_told_are_not_given(values, levels, untold, said, method):
    found = nested_components(values, levels, method)
    assert {level.name for level in found.levels if level.variance is None} == untold
    assert said in found.note
    assert math.isfinite(found.mean)


def test_a_single_outer_group_has_no_interval_of_the_mean():
    found = nested_components([1.0, 2.0, 4.0, 5.0], {"batch": list("xxxx"), "coupon": list("aabb")})
    assert (found.mean_low, found.mean_high, found.mean_df) == (None, None, 0)
    assert_allclose(found.level("coupon").variance, 4.25)  # hand: means 1.5 and 4.5, MSB 9, MSW 0.5


@pytest.mark.parametrize("values", [[2.0, 2.0, 2.0, 2.0], [1.0, 1.0, 2.0, 2.0]])
def test_equal_readings_make_the_likelihood_fail_and_say_so(values):
    found = nested_components(values, {"coupon": list("aabb")}, "REML")
    assert not found.is_fitted
    assert "no maximum" in found.note
    assert {level.variance for level in found.levels} == {None}
    moments = nested_components(values, {"coupon": list("aabb")})
    assert moments.level("reading").variance == 0
    assert moments.is_fitted


@pytest.mark.parametrize(
    ("values", "levels", "options"),
    [
        ([], {"coupon": []}, {}),
        ([1.0, math.nan], {"coupon": ["A", "B"]}, {}),
        ([1.0, 2.0], {}, {}),
        ([1.0, 2.0], {"coupon": ["A"]}, {}),
        ([1.0, 2.0], {"reading": ["A", "B"]}, {}),
        ([1.0, 2.0], {"coupon": ["A", "B"]}, {"method": "EM"}),
        ([1.0, 2.0], {"coupon": ["A", "B"]}, {"confidence": 95}),
    ],
)
def test_out_of_range_is_refused(values, levels, options):
    with pytest.raises(ValueError):
        nested_components(values, levels, **options)


def test_four_levels_are_taken_too():
    rng = np.random.default_rng(1)
    frame = pd.MultiIndex.from_product([range(3), range(2), range(3), range(2)]).to_frame()
    values = rng.normal(size=36) + 3 * rng.normal(size=3)[frame[0]]
    levels = {"lot": frame[0], "batch": frame[1], "coupon": frame[2]}
    found = nested_components(values, levels)
    assert [level.df for level in found.levels] == [2, 3, 12, 18]  # hand: 3 − 1, 6 − 3, 18 − 6, 36 − 18
    assert_allclose(sum(level.square_sum for level in found.levels), np.var(values) * 36, rtol=1e-12)
    assert nested_components(values, levels, "REML").is_fitted
