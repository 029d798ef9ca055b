"""Forms of change with dose, and the criterion that chooses among them."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from analysis.film.dose_models import (
    DOSE_MODELS,
    corrected_information_criterion,
    exponential_change,
    half_life,
    linear_change,
    plateau_change,
    power_change,
)
from analysis.statistics.fits import nonlinear_fit

CYCLES, DEPTH = np.arange(0.0, 501, 100), np.array([10.0, 8.2, 6.7, 5.5, 4.5, 3.7])


def fit(key, doses=CYCLES, values=DEPTH):
    model = DOSE_MODELS[key]
    return nonlinear_fit(model.curve, doses, values, model.start(doses, values))


def test_exponential_wear():
    # independent: scipy curve_fit on the same invented readings
    found = fit("exponential")
    assert_allclose(found.parameters, (9.99989, 1.993460e-3), rtol=5e-7)
    assert_allclose(found.standard_errors, (0.00733, 3.54e-6), rtol=1.5e-3)  # given with three digits
    assert_allclose(half_life(found.parameters[1]), 347.71, atol=5e-3)


def test_linear_wear():
    found = fit("linear")
    assert_allclose(found.parameters, (9.56190, 0.0125143), rtol=4e-6)  # independent: scipy linregress
    assert_allclose(1 - found.residual_sum_of_squares / np.sum((DEPTH - DEPTH.mean()) ** 2), 0.97903, atol=5e-6)


TRUE = {
    "linear": (10.0, 0.012),
    "exponential": (10.0, 0.004),
    "plateau": (10.0, 0.006, 3.0),
    "power": (10.0, -0.3, 0.5),
}


@pytest.mark.parametrize("key", TRUE)
@pytest.mark.parametrize("growth", [False, True])
@pytest.mark.parametrize("unit", [1e-3, 1.0, 1e4])
def test_exact_readings_come_back(key, growth, unit):
    """Limit: no noise; loss and growth; cycles counted in thousands or parts."""
    parameters = np.array(TRUE[key])
    if growth:
        parameters = {
            "linear": (10.0, -0.012), "exponential": (10.0, -0.004), "plateau": (3.0, 0.006, 10.0),
            "power": (10.0, 0.3, 0.5),
        }[key]  # fmt: skip
    doses = np.array([0.0, 20, 50, 100, 200, 300, 500])
    values = DOSE_MODELS[key].curve(doses, *parameters)
    found = fit(key, doses * unit, values)
    assert found.is_fitted, found.note
    assert_allclose(DOSE_MODELS[key].curve(doses * unit, *found.parameters), values, rtol=1e-7)


def test_curves_at_dose_zero_and_at_hand_values():
    doses = np.array([0.0, 100.0])
    assert_allclose(linear_change(doses, 10, 0.02), [10, 8])  # hand
    assert_allclose(exponential_change(doses, 10, math.log(2) / 50), [10, 2.5])  # hand: two half-lives
    assert_allclose(plateau_change(doses, 10, math.log(2) / 50, 2), [10, 4])  # hand: 2 + 8/4
    assert_allclose(power_change(doses, 10, -0.5, 0.5), [10, 5])  # hand: 10 − 0.5·√100


def test_numbers_give_numbers_and_arrays_keep_their_shape():
    assert type(linear_change(1, 2, 3)) is float
    found = exponential_change(np.ones((2, 3)), [[1.0], [np.nan]], 0.0)
    assert found.shape == (2, 3)
    assert np.isnan(found[1]).all()
    assert_allclose(found[0], 1)


def test_no_loss_has_no_half_life():
    assert half_life(0.0) == math.inf
    assert_allclose(half_life(np.array([math.log(2), np.nan])), [1, np.nan])


@pytest.mark.parametrize(
    "call",
    [
        lambda: linear_change(-1, 10, 0.1),
        lambda: power_change(1, 10, 1, 0),
        lambda: half_life(-0.1),
        lambda: exponential_change(math.inf, 1, 1),
        lambda: corrected_information_criterion(0.0, 5, 1),
        lambda: corrected_information_criterion(1.0, 0, 1),
    ],
)
def test_values_out_of_range_are_refused(call):
    with pytest.raises(ValueError, match="must be"):
        call()


def test_growth_without_end_is_infinity():
    assert exponential_change(1e6, 1.0, -1.0) == math.inf


def test_criterion_is_that_of_a_likelihood():
    import statsmodels.api as sm
    from statsmodels.tools.eval_measures import aicc

    ols = sm.OLS(DEPTH, sm.add_constant(CYCLES)).fit()
    n = DEPTH.size
    # independent: statsmodels 0.15.0, whose likelihood keeps the constant n(ln 2π + 1)
    expected = aicc(ols.llf, n, 3) - n * (math.log(2 * math.pi) + 1)
    assert_allclose(corrected_information_criterion(ols.ssr, n, 2), expected, rtol=1e-12)


def test_too_few_readings_cannot_be_judged():
    assert corrected_information_criterion(1.0, 4, 2) == math.inf  # K = 3: n − K − 1 = 0
    assert math.isfinite(corrected_information_criterion(1.0, 5, 2))


def test_nothing_that_grows_without_end_stays_nothing():
    """Limit: 0·∞ of the floats, where the exact value is 0."""
    assert exponential_change(1000, 0.0, -1.0) == 0
    assert plateau_change(1000, 5.0, -1.0, 5.0) == 5
    assert power_change(1e300, 1.0, 0.0, 5.0) == 1
    assert_allclose(plateau_change(1000, np.array([5.0, 6.0, 4.0]), -1.0, 5.0), [5, np.inf, -np.inf])


def test_minus_zero_is_no_loss():
    assert half_life(-0.0) == math.inf


def test_what_is_missing_in_a_criterion_stays_missing():
    found = corrected_information_criterion(np.array([1.0, np.nan, 1.0]), np.array([3.0, 3.0, np.nan]), 2)
    assert_allclose(found, [np.inf, np.nan, np.nan])
