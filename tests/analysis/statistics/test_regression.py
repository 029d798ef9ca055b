"""Linear least squares against the certified sets of StRD, and straight lines through logarithms."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from analysis.statistics.regression import linear_fit, log_linear_fit, log_log_fit, polynomial_fit
from tests.analysis.tables import table


def test_norris():
    data = table("strd_norris")
    fit = linear_fit(data["x"], data["y"])
    # published: StRD Norris
    assert_allclose(fit.coefficients, (-0.262323073774029, 1.00211681802045), rtol=1e-11)
    assert_allclose(fit.standard_errors, (0.232818234301152, 0.429796848199937e-03), rtol=1e-11)
    assert_allclose((fit.residual_sd, fit.r_squared), (0.884796396144373, 0.999993745883712), rtol=1e-11)
    assert_allclose(fit.f, 5436385.54079785, rtol=1e-9)
    assert (fit.n, fit.df) == (36, 34)


def test_pontius():
    data = table("strd_pontius")
    fit = polynomial_fit(data["x"], data["y"], 2)
    # published: StRD Pontius; raw powers of x keep only six digits of b0
    expected = (0.673565789473684e-03, 0.732059160401003e-06, -0.316081871345029e-14)
    errors = (0.107938612033077e-03, 0.157817399981659e-09, 0.486652849992036e-16)
    assert_allclose(fit.coefficients, expected, rtol=1e-10)
    assert_allclose(fit.standard_errors, errors, rtol=1e-10)
    assert_allclose((fit.residual_sd, fit.r_squared), (0.205177424076185e-03, 0.999999900178537), rtol=1e-10)


def test_through_the_origin():
    fit = linear_fit(range(60, 71), range(130, 141), intercept=False)
    # published: StRD NoInt1; R² about 0
    assert_allclose((*fit.coefficients, *fit.standard_errors), (2.07438016528926, 0.0165289256198347), rtol=1e-13)
    assert_allclose((fit.residual_sd, fit.r_squared), (3.56753034006338, 0.999365492298663), rtol=1e-13)
    assert_allclose(fit.f, 15750.25, rtol=1e-9)


def wampler(power_weights, error_factor):
    data = table("strd_wampler4")
    x = data["x"].to_numpy(float)
    error = (data["y"] - sum(x**k for k in range(6))) / 100  # δ of Wampler3
    return x, sum(weight * x**k for k, weight in enumerate(power_weights)) + error_factor * error


@pytest.mark.parametrize(
    ("weights", "factor", "rtol"),
    [  # published: StRD Wampler1 to 5; digits to be expected in double precision 9.2, 10.4, 9.2, 7.8, 5.8
        ((1,) * 6, 0, 10**-9.2),
        ([0.1**k for k in range(6)], 0, 10**-10.4),
        ((1,) * 6, 1, 10**-9.2),
        ((1,) * 6, 100, 10**-7.8),
        ((1,) * 6, 10000, 10**-5.8),
    ],
)
def test_wampler(weights, factor, rtol):
    assert_allclose(polynomial_fit(*wampler(weights, factor), 5).coefficients, weights, rtol=rtol)


def test_wampler4_errors():
    fit = polynomial_fit(*wampler((1,) * 6, 100), 5)
    # published: StRD Wampler4
    expected = (
        215232.624678170,
        236355.173469681,
        77934.3524331583,
        10147.5507550350,
        564.566512170752,
        11.2324854679312,
    )
    assert_allclose(fit.standard_errors, expected, rtol=1e-10)
    assert_allclose((fit.residual_sd, fit.r_squared), (236014.502379268, 0.957478440825662), rtol=1e-12)


def test_longley():
    from statsmodels.datasets import longley

    data = longley.load_pandas()
    fit = linear_fit(data.exog, data.endog)
    # published: StRD Longley; independent: Durbin–Watson, statsmodels 0.15.0 on the raw columns
    expected = (
        -3482258.63459582, 15.0618722713733, -0.358191792925910e-01, -2.02022980381683,
        -1.03322686717359, -0.511041056535807e-01, 1829.15146461355,
    )  # fmt: skip
    assert_allclose(fit.coefficients, expected, rtol=10**-10.9)
    assert_allclose((fit.residual_sd, fit.r_squared), (304.854073561965, 0.995479004577296), rtol=1e-11)
    assert_allclose(fit.durbin_watson, 2.5594877, atol=5e-8)


@pytest.mark.parametrize(
    ("speed", "force", "prefactor", "exponent", "error", "r_squared"),
    [  # published data: Badr et al. 2024, grafted-to and grafted-from brushes [mm/s], [uN]; independent: statsmodels
        (
            (0.01, 0.05, 0.1, 0.5, 1, 5, 10, 15), (17.8, 22.7, 29.7, 42.7, 51.9, 85.9, 97.4, 92.9),
            52.23, 0.24787, 0.01089, 0.98856,
        ),
        (
            (0.01, 0.05, 0.1, 0.5, 1, 5, 10), (18.1, 26.8, 25.9, 41.6, 73.3, 81.3, 86.1),
            54.26, 0.24557, 0.02760, 0.94059,
        ),
    ],
)  # fmt: skip
def test_drop_friction_is_a_power_of_speed(speed, force, prefactor, exponent, error, r_squared):
    fit = log_log_fit(speed, force)
    assert_allclose(fit.prefactor, prefactor, atol=5e-3)
    assert_allclose((fit.rate, fit.rate_standard_error, fit.r_squared), (exponent, error, r_squared), atol=5e-6)


CYCLES, DEPTH = np.arange(0, 501, 100), (10.0, 8.2, 6.7, 5.5, 4.5, 3.7)


def test_wear_as_a_straight_line_through_logarithms():
    # independent: scipy and statsmodels on the same invented readings
    fit = log_linear_fit(CYCLES, DEPTH)
    assert_allclose((fit.prefactor, fit.rate), (9.99517, -1.991083e-3), rtol=1e-6)
    line = linear_fit(CYCLES, DEPTH)
    assert_allclose((*line.coefficients, line.r_squared), (9.56190, -0.0125143, 0.97903), rtol=5e-6)
    power = log_log_fit(CYCLES[1:], DEPTH[1:])
    assert_allclose((power.prefactor, power.rate, power.r_squared), (80.42105, -0.482250, 0.949055), rtol=1e-6)


def test_exact_lines_come_back():
    fit = linear_fit([0, 1, 2, 3], [1, 3, 5, 7])  # limit: y = 1 + 2x
    assert_allclose(fit.coefficients, (1, 2), rtol=1e-12)
    assert_allclose(fit.residual_sd, 0, atol=1e-12)
    flat = linear_fit([0, 1, 2, 3], [5, 5, 5, 5])
    assert_allclose(flat.coefficients, (5, 0), atol=1e-12)
    assert (flat.r_squared, flat.f) == (None, None)


@pytest.mark.parametrize("shift", [0.0, 1e6, -1e9])
def test_a_common_part_of_x_moves_only_the_intercept(shift):
    x = np.array([0.0, 1, 2, 3, 5])
    fit = linear_fit(x + shift, [1.0, 2.2, 2.9, 4.3, 5.9])
    assert_allclose(fit.coefficients[1], linear_fit(x, [1.0, 2.2, 2.9, 4.3, 5.9]).coefficients[1], rtol=1e-12)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: linear_fit([1.0], [1.0]), "cannot give"),
        (lambda: linear_fit([1, 2, 3], [1, 2]), "readings for x"),
        (lambda: linear_fit([2, 2, 2], [1, 2, 3]), "no spread"),
        (lambda: linear_fit([[1, 2], [2, 4], [3, 6], [4, 8]], [1, 2, 3, 5]), "depend on each other"),
        (lambda: linear_fit([1, 2, math.nan], [1, 2, 3]), "NaN"),
        (lambda: polynomial_fit([1, 1, 2, 2], [1, 2, 3, 4], 2), "different x"),
        (lambda: polynomial_fit([1, 2, 3], [1, 2, 3], 0), "degree"),
        (lambda: log_log_fit([0, 1, 2], [1, 2, 3]), "x must lie above 0"),
        (lambda: log_linear_fit([0, 1, 2], [1, 0, 3]), "y must lie above 0"),
        (lambda: log_log_fit([1, 2], [1, 2]), "cannot give"),
    ],
)
def test_what_cannot_be_fitted_is_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()


@pytest.mark.parametrize("value", [0.1, 0.3, 1 / 3, 0.7e-3, 1e9 / 7])
@pytest.mark.parametrize("n", [3, 7, 50, 59])
def test_equal_readings_have_no_spread_to_explain(value, n):
    """Limit: whatever rounding leaves of their mean is no spread, and nothing is left over."""
    fit = linear_fit(np.arange(n), [value] * n)
    assert (fit.r_squared, fit.f, fit.durbin_watson) == (None, None, None)
    assert (fit.residual_sd, *fit.standard_errors) == (0.0, 0.0, 0.0)


@pytest.mark.parametrize("slope", [0.3, 7.0, -1 / 3])
def test_an_exact_line_leaves_nothing(slope):
    """Limit: residuals of the size of rounding are none."""
    x = np.arange(1.0, 9)
    fit = linear_fit(x, 0.1 + slope * x)
    assert (fit.r_squared, fit.f, fit.durbin_watson, fit.residual_sd) == (1.0, math.inf, None, 0.0)
    assert_allclose(fit.coefficients, (0.1, slope), rtol=1e-14)


@pytest.mark.parametrize(("shift", "rtol"), [(1e6, 1e-12), (1.7e9, 1e-9), (-1e9, 1e-9)])
def test_x_far_from_zero_costs_no_digits(shift, rtol):
    """Limit: (x − shift)² and 1 + 2(x − shift) have the coefficients of their expansion; seconds since 1970, say."""
    x = shift + np.array([0.0, 1, 2, 3, 4])
    square = polynomial_fit(x, [0, 1, 4, 9, 16], 2)
    assert_allclose(square.coefficients, (shift**2, -2 * shift, 1), rtol=rtol)
    assert square.residual_sd == 0
    line = linear_fit(x, [1.0, 3.25, 4.75, 7, 9])
    assert_allclose(line.coefficients[1], 1.975, rtol=1e-15)  # hand: Σ(x − x̄)y/10 = 19.75/10
    assert_allclose(polynomial_fit(x, [1.0, 3.25, 4.75, 7, 9], 1).coefficients, line.coefficients, rtol=1e-14)


def test_errors_go_with_what_is_left():
    import statsmodels.api as sm

    x, y = np.array([0.0, 1, 2, 3, 5]), [1.0, 2.2, 2.9, 4.3, 5.9]
    found = polynomial_fit(x, y, 2)
    expected = sm.OLS(y, np.column_stack([x**0, x, x**2])).fit()  # independent: statsmodels
    assert_allclose(found.covariance, expected.cov_params(), rtol=1e-9)
    assert_allclose((found.f, found.r_squared), (expected.fvalue, expected.rsquared), rtol=1e-9)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: polynomial_fit([[1, 2], [2, 3], [3, 5], [4, 4]], [1, 2, 3, 5], 1), "one column"),
        (lambda: log_log_fit([[1, 2], [2, 3], [3, 5], [4, 4]], [1, 2, 3, 5]), "one column"),
        (lambda: log_linear_fit([[1, 2], [2, 3], [3, 5], [4, 4]], [1, 2, 3, 5]), "one column"),
        (lambda: polynomial_fit([1, 2, 3, 4], [1, 2, 3, 5], 1.5), "degree must be whole, not 1.5"),
        (lambda: log_linear_fit([1.7e9, 1.7e9 + 1, 1.7e9 + 2], [8, 4, 2]), "beyond the range of a float"),
        (lambda: log_linear_fit([1.7e9, 1.7e9 + 1, 1.7e9 + 2], [2, 4, 8]), "beyond the range of a float"),
    ],
)
def test_what_would_be_a_silent_mistake_is_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()


def test_error_of_a_prefactor():
    """Independent: uncertainties 3.2.3, exp of the intercept; first order."""
    from uncertainties import ufloat, umath

    fit, line = log_linear_fit(CYCLES, DEPTH), linear_fit(CYCLES, np.log(DEPTH))
    expected = umath.exp(ufloat(line.coefficients[0], line.standard_errors[0]))
    assert_allclose((fit.prefactor, fit.prefactor_standard_error), (expected.n, expected.s), rtol=1e-12)
    assert_allclose(fit.rate_standard_error, line.standard_errors[1], rtol=1e-12)
