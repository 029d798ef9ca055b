"""Growth per volt: published films, statsmodels and uncertainties as independent checks, exact cases."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from analysis.optics import (
    GROWTH_RATIOS,
    fit_growth,
    growth_thickness_nm,
    thickness_at_voltage,
    voltage_for_thickness,
)
from analysis.sources import SOURCES
from tests.analysis.tables import table

ROWS = table("anodic_growth").to_dict("records")
ALLOY = [20, 40, 60], [48, 92, 130]  # Ti-6Al-4V, published: Int. J. Biomaterials 2015, 395657, Table 1
# Made up, with unequal steps and repeats, to compare with other packages.
VOLTS = np.array([5.0, 5, 10, 20, 20, 35, 50])
DEPTHS = np.array([14.0, 16.5, 27, 46, 49.5, 80, 109])


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row['material']} {row['voltage_v']} V")
def test_published_films_agree_with_the_first_guess(row):
    """Published: each film lies within the table's range of growth per volt, to the rounding of its quotient."""
    known = next(one for one in GROWTH_RATIOS if one.material == row["material"])
    assert SOURCES[known.source]
    low = growth_thickness_nm(row["voltage_v"], known.low_nm_per_v)
    high = growth_thickness_nm(row["voltage_v"], known.high_nm_per_v)
    assert low <= row["thickness_high_nm"] + 0.5
    assert high >= row["thickness_low_nm"] - 0.5
    quotients = row["thickness_low_nm"] / row["voltage_v"], row["thickness_high_nm"] / row["voltage_v"]
    assert_allclose(quotients, (row["ratio_low"], row["ratio_high"]), atol=6e-3)


@pytest.mark.parametrize("ratio", GROWTH_RATIOS, ids=lambda ratio: ratio.material)
def test_each_ratio_has_its_source(ratio):
    assert ratio.source in SOURCES
    assert 0 < ratio.low_nm_per_v <= ratio.high_nm_per_v


def test_two_published_points_give_the_line():
    """Published points (20 V 48 nm, 40 V 92 nm by X-ray reflectivity), hand: d = 2.2·V + 4."""
    line = fit_growth([20, 40], [48, 92])
    assert_allclose([line.slope_nm_per_v, line.intercept_nm], [2.2, 4], atol=1e-12)
    assert line.degrees_of_freedom == 0
    assert math.isnan(line.slope_uncertainty)
    assert math.isnan(thickness_at_voltage(line, 30).line_uncertainty)
    assert "Two points" in line.note
    assert_allclose(thickness_at_voltage(line, [20, 40]).value, [48, 92])
    assert_allclose(growth_thickness_nm([20, 40], 2.2, 4), [48, 92])


def test_three_published_points_by_hand():
    """Hand: Sxx 800, Sxy 1640, slope 2.05, intercept 8; residuals −1, 2, −1: s² = 6."""
    line = fit_growth(*ALLOY)
    assert_allclose([line.slope_nm_per_v, line.intercept_nm], [2.05, 8], atol=1e-10)
    assert_allclose(line.residual_spread_nm, math.sqrt(6))
    assert_allclose(line.slope_uncertainty, math.sqrt(6 / 800))
    assert_allclose(line.intercept_uncertainty, math.sqrt(6 * (1 / 3 + 1600 / 800)))
    assert "approximation" in line.note


def test_line_and_readings_equal_statsmodels():
    """Independent: statsmodels 0.15.0, ordinary least squares with prediction."""
    from statsmodels.api import OLS, add_constant

    line, model = fit_growth(VOLTS, DEPTHS), OLS(DEPTHS, add_constant(VOLTS)).fit()
    assert_allclose([line.intercept_nm, line.slope_nm_per_v], model.params, rtol=1e-10)
    assert_allclose([line.intercept_uncertainty, line.slope_uncertainty], model.bse, rtol=1e-10)
    at = np.array([0.0, 12, 24, 80])
    reading, predicted = thickness_at_voltage(line, at), model.get_prediction(add_constant(at))
    assert_allclose(reading.value, predicted.predicted_mean, rtol=1e-10)
    assert_allclose(reading.line_uncertainty, predicted.se_mean, rtol=1e-10)
    assert_allclose(reading.coupon_uncertainty, predicted.se_obs, rtol=1e-10)
    assert reading.is_extrapolated.tolist() == [True, False, False, True]
    assert "Extrapolated" in reading.note


def test_voltage_and_its_uncertainty_equal_first_order_propagation():
    """Independent: uncertainties 3.2.3 with slope and intercept correlated as statsmodels 0.15.0 says."""
    from statsmodels.api import OLS, add_constant
    from uncertainties import correlated_values, ufloat

    model = OLS(DEPTHS, add_constant(VOLTS)).fit()
    intercept, slope = correlated_values(model.params, model.cov_params())
    line = fit_growth(VOLTS, DEPTHS)
    for depth in (30.0, 60.0, 100.0):
        reading = voltage_for_thickness(line, depth)
        of_line = (depth - intercept) / slope
        assert_allclose(reading.value, of_line.n, rtol=1e-10)
        assert_allclose(reading.line_uncertainty, of_line.s, rtol=1e-8)
        of_coupon = (ufloat(depth, math.sqrt(model.scale)) - intercept) / slope
        assert_allclose(reading.coupon_uncertainty, of_coupon.s, rtol=1e-8)


def test_voltage_and_thickness_round_trip():
    """Limit: round trip."""
    line, depths = fit_growth(VOLTS, DEPTHS), np.array([20.0, 50, 105, np.nan])
    volts = voltage_for_thickness(line, depths)
    assert_allclose(thickness_at_voltage(line, volts.value).value, depths)
    assert volts.is_extrapolated.tolist() == [False] * 4


def test_a_voltage_is_no_instruction():
    assert "no instruction" in voltage_for_thickness(fit_growth(*ALLOY), 100).note


def test_below_the_intercept_there_is_no_voltage():
    reading = voltage_for_thickness(fit_growth(*ALLOY), 2)
    assert reading.value < 0
    assert reading.is_extrapolated is True


@pytest.mark.parametrize("depths", [[50, 50, 50], [90, 60, 30]])
def test_a_line_that_does_not_grow_says_so(depths):
    line = fit_growth([10, 20, 30], depths)
    assert not line.is_fitted
    assert "No growth" in line.note
    for read in (thickness_at_voltage, voltage_for_thickness):
        with pytest.raises(ValueError, match="slope of the line"):
            read(line, 10)


def test_points_on_a_line_have_no_spread():
    """Limit."""
    line = fit_growth([10, 20, 30, 40], [24, 46, 68, 90])
    assert_allclose([line.residual_spread_nm, line.slope_uncertainty], 0, atol=1e-12)


@pytest.mark.parametrize(
    ("volts", "depths", "words"),
    [
        ([20], [48], "at least two pairs"),
        ([], [], "at least two pairs"),
        ([20, 40], [48], "at least two pairs"),
        ([20, 20], [48, 49], "at least two voltages, not 20 V only"),
        ([20, np.nan], [48, 92], "voltage must be a finite number"),
        ([20, 40], [48, np.nan], "film thickness must be a finite number"),
        ([-20, 40], [48, 92], "voltage must be at least 0 V, not -20 V"),
        ([20, 40], [-48, 92], "film thickness must be at least 0 nm"),
    ],
)
def test_points_that_make_no_line_are_refused(volts, depths, words):
    with pytest.raises(ValueError, match=words):
        fit_growth(volts, depths)


@pytest.mark.parametrize(("volts", "ratio"), [(-1, 2), (20, 0), (20, -2)])
def test_growth_out_of_range_is_refused(volts, ratio):
    with pytest.raises(ValueError, match="must be"):
        growth_thickness_nm(volts, ratio)


def test_no_film_is_thinner_than_nothing():
    with pytest.raises(ValueError, match="thickness from voltage and intercept must be at least 0 nm, not -8 nm"):
        growth_thickness_nm([10, 1], 2, -10)
    assert_allclose(growth_thickness_nm([5, 20], 2, -10), [0, 30])
    line = fit_growth([10, 20, 30], [2, 30, 60])
    assert "Below 0 nm the line means nothing" in thickness_at_voltage(line, [5, 20]).note
    assert "Below 0 nm" not in thickness_at_voltage(line, [10, 20]).note


@pytest.mark.parametrize(
    ("material", "ratio"),
    # published: Habazaki et al. (2004), the last two cited there
    [("Ti-26Al", 2.0), ("Ti-38Al", 1.8), ("Ti-32Al", 1.9), ("anodic titania", 2.0), ("anodic alumina", 1.2)],
)
def test_published_ratios(material, ratio):
    (known,) = (one for one in GROWTH_RATIOS if one.material == material)
    assert (known.low_nm_per_v, known.high_nm_per_v) == (ratio, ratio)


def test_the_ends_of_the_measured_voltages_are_not_beyond_them():
    found = thickness_at_voltage(fit_growth(*ALLOY), [19.99, 20, 60, 60.01])
    assert found.is_extrapolated.tolist() == [True, False, False, True]
