"""How the readings of one run become statistics."""

import dataclasses
import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from analysis.records import Material, Reading, Value
from analysis.reduction import describe, lubricant_per_area
from analysis.run import analyse_run
from tests.analysis.runs import OIL, make_angles, make_run, make_sliding

# The invented demo scenario, coupon A01 and B03
A01 = [(113.1, 111.3), (114.1, 111.3), (113.7, 111.6), (113.8, 110.9), (112.9, 110.7)]
B03 = [">30", ">30", 11.8, 18.8, 9.4]


def value(result, key):
    return result.statistic(key).value


def test_hysteresis_of_a_coupon_of_the_demo():
    """Hand: 1.8, 2.8, 2.1, 2.9, 2.2: mean 2.36, sd √(0.892/4) = 0.47223."""
    result = analyse_run(make_angles(A01))
    assert_allclose(value(result, "hysteresis_mean"), 2.36)
    assert_allclose(value(result, "hysteresis_sd"), 0.472229, atol=1e-6)
    assert [row["drop"] for row in result.pairs] == [1, 2, 3, 4, 5]
    differences = [math.cos(math.radians(r)) - math.cos(math.radians(a)) for a, r in A01]  # independent: math
    assert_allclose(value(result, "hysteresis_cosine_mean"), np.mean(differences))
    assert_allclose(value(result, "hysteresis_percent_mean"), 50 * np.mean(differences))
    assert_allclose(value(result, "retention_per_width_mean"), 72.0 * np.mean(differences))


def test_hysteresis_is_the_mean_over_pairs_not_the_difference_of_means():
    """A drop with one angle missing counts for that angle and makes no pair."""
    readings = (*make_angles(A01[:2]).readings, Reading("advancing_angle", 120.0, drop=3))
    result = analyse_run(make_run("advancing_receding", readings=readings))
    assert_allclose(value(result, "hysteresis_mean"), 2.3)  # hand: (1.8 + 2.8)/2
    assert result.statistic("advancing_angle_mean").n_drops == 3
    assert result.statistic("hysteresis_mean").n_drops == 2


def test_retention_needs_the_tension_of_the_runs_own_liquid():
    run = make_angles(A01, liquid=Material("X", "unknown", {}))
    result = analyse_run(run)
    assert result.statistic("retention_per_width_mean") is None
    assert result.statistic("hysteresis_mean") is not None


def test_drops_that_did_not_move_stay_in_the_median():
    """Published with the invented scenario: 18.8 with such drops kept; 11.8 if they were deleted."""
    result = analyse_run(make_sliding(B03))
    assert value(result, "sliding_angle_median") == 18.8
    assert value(result, "sliding_angle_not_moved") == 2
    # independent: scipy.stats.binomtest(2, 5, alternative="less"), exact, 95 %: 0.8107
    assert_allclose(value(result, "sliding_angle_not_moved_bound"), 81.07, atol=0.01)
    assert value(result, "sliding_angle_largest") == 18.8  # of those that were read


def test_median_beyond_the_stage_limit_is_infinite_and_says_so():
    found = analyse_run(make_sliding([">30", ">30", ">30", 12.0, 10.0])).statistic("sliding_angle_median")
    assert found.value == math.inf
    assert found.note == "beyond the stage limit: 3 of 5 not moved"


def test_fitted_median_with_censored_drops_equals_a_fit_done_apart():
    """Independent: scipy.stats.lognorm.fit on CensoredData."""
    from scipy.stats import CensoredData, lognorm

    values = [8.0, 12.0, 15.0, 19.0, 24.0, ">30", ">30"]
    data = CensoredData(uncensored=values[:5], right=[30, 30])
    expected = lognorm.fit(data, floc=0)[2]
    found = value(analyse_run(make_sliding(values)), "sliding_angle_fitted_median")
    assert_allclose(found, expected, rtol=1e-4)


def test_too_few_moved_for_a_fit_gives_the_reason():
    found = analyse_run(make_sliding([">30", ">30", ">30", 12.0])).statistic("sliding_angle_fitted_median")
    assert found.value is None
    assert "needs at least 3" in found.note


def test_a_drop_that_moved_on_placing_counts_as_the_best():
    gone = Reading("sliding_angle", 0.0, "moved_on_placing", drop=9)
    run = make_sliding([3.0, 4.0])
    result = analyse_run(dataclasses.replace(run, readings=(*run.readings, gone)))
    assert value(result, "sliding_angle_median") == 3.0
    assert value(result, "sliding_angle_smallest") == 3.0  # of those that were read
    only = analyse_run(dataclasses.replace(run, readings=(gone,)))
    assert value(only, "sliding_angle_median") == 0.0


def test_lubricant_over_the_exposed_area():
    """Hand: 18.6 mg / 0.96 mg/µL = 19.375 µL on 16 cm²: 1.2109 µL/cm²."""
    result = analyse_run(make_run("lubricant_mass", [18.6], lubricant=OIL))
    assert_allclose(value(result, "lubricant_per_area_mean"), 1.2109, atol=5e-5)
    bare = analyse_run(make_run("lubricant_mass", [18.6]))
    assert bare.statistic("lubricant_per_area_mean") is None


@pytest.mark.parametrize(
    ("mass", "density", "microns"), [(12.5, 930, 21.5054), (1, 965, 1.66), (1, 1890, 0.85), (1, 860, 1.86)]
)
def test_mean_thickness_from_mass(mass, density, microns):
    """Independent: numpy 2.4.6, coupon of 25 × 25 mm."""
    assert_allclose(10 * lubricant_per_area(mass, density, 625), microns, atol=6e-3)


@pytest.mark.parametrize("bad", [{"density": 0}, {"area_mm2": 0}, {"density": math.nan}])
def test_impossible_coupons_are_refused(bad):
    with pytest.raises(ValueError, match="above 0"):
        lubricant_per_area(**{"mass_mg": 1.0, "density": 960.0, "area_mm2": 625.0, **bad})


def test_close_values_near_180_keep_their_spread():
    """Hand, after the recipe of NIST StRD NumAcc2: c, then 500 times c − 0.1 and c + 0.1: mean c, sd 0.1."""
    values = [179.2, *[179.1, 179.3] * 500]
    mean, sd, *_ = describe("static_angle", values)
    assert_allclose((mean.value, sd.value), (179.2, 0.1), rtol=1e-10)


def test_a_property_without_unit_or_source_does_not_construct():
    with pytest.raises(ValueError, match="unit and its source"):
        Value(72.8, "mN/m", "")
