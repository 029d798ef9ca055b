"""Places where a curve reaches a level, with their intervals."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from analysis.statistics.crossing import level_crossing, linear_crossing
from analysis.statistics.fits import nonlinear_fit
from tests.analysis.statistics.test_fits import data_of
from tests.analysis.tables import table


def rise(x, b1, b2):
    return b1 * (1 - np.exp(-b2 * x))


BATES_WATTS = (1, 2, 3, 4, 5, 7), (8.3, 10.3, 19.0, 16.0, 15.6, 19.8)
# independent: own profile with the place as a parameter, b1 = level/(1 − exp(−b2·t)), numpy and scipy 1.17.1
CASES = [
    ("BoxBOD", (100, 0.75), 150, 2.209615, 0.294767,
     (1.391212, 3.028019, 1.377452, 3.190880, 1.633142, 2.857209)),
    ("Misra1a", (250, 5e-4), 50, 426.752462, 0.332132,
     (426.028809, 427.476116, 426.028356, 427.476370, 426.105584, 427.399183)),
    ("Bates & Watts", (20, 0.5), 12, 1.856256, 0.417855,
     (0.696104, 3.016408, 0.778700, 3.159434, 1.113609, 2.715536)),
]  # fmt: skip


@pytest.mark.parametrize(("name", "start", "level", "at", "error", "ends"), CASES, ids=[case[0] for case in CASES])
def test_crossing_and_its_three_intervals(name, start, level, at, error, ends):
    x, y = BATES_WATTS if name == "Bates & Watts" else data_of(name)
    found = level_crossing(rise, x, y, nonlinear_fit(rise, x, y, start), level, (0, max(x)))
    assert_allclose((found.at, found.standard_error), (at, error), atol=6e-7)
    delta, profile = (found.delta_low, found.delta_high), (found.profile_low, found.profile_high)
    assert_allclose((*delta, *profile, found.likelihood_low, found.likelihood_high), ends, atol=2e-6)
    assert found.note == ""


@pytest.mark.parametrize(("name", "start", "level"), [case[:3] for case in CASES[:2]])
def test_profile_interval_ends_where_the_reparametrised_curve_says(name, start, level):
    """The place as a parameter: a one-dimensional search in b2 with another optimiser gives the same rise."""
    from scipy.optimize import minimize_scalar

    x, y = data_of(name)
    fit = nonlinear_fit(rise, x, y, start)
    found = level_crossing(rise, x, y, fit, level, (0, max(x)))

    def sum_of_squares(place):
        def through(b2):
            return np.sum((level / (1 - np.exp(-b2 * place)) * (1 - np.exp(-b2 * x)) - y) ** 2)

        b2 = fit.parameters[1]
        return minimize_scalar(through, bounds=(b2 / 20, b2 * 20), method="bounded", options={"xatol": b2 * 1e-9}).fun

    limit = fit.residual_sum_of_squares * (1 + stats.t.ppf(0.975, fit.df) ** 2 / fit.df)
    assert_allclose([sum_of_squares(place) for place in (found.profile_low, found.profile_high)], limit, rtol=1e-6)


def test_straight_curve_gives_the_interval_of_fieller():
    # limit: for a straight line the profile with Student's t is Fieller's interval, exactly
    x, y = [0.0, 1, 2, 3, 4], [10.1, 11.9, 14.0, 16.1, 17.9]
    fit = nonlinear_fit(lambda x, a, b: a + b * x, x, y, (10, 2))
    found = level_crossing(lambda x, a, b: a + b * x, x, y, fit, 20, (0, 10))
    line = linear_crossing(x, y, 20)
    assert_allclose((found.at, found.profile_low, found.profile_high), (line.at, line.low, line.high), rtol=1e-7)
    assert_allclose((found.delta_low, found.delta_high), (line.delta_low, line.delta_high), rtol=1e-9)


def test_sulfate_reaches_700():
    data = table("epa_sulfate")
    x = data.columns[0]
    found = linear_crossing(data[x], data["sulfate"], 700)
    # independent: numpy least squares and Fieller's quadratic, statistics of the check file
    assert_allclose((found.at, found.g), (97.280042, 0.099333), atol=6e-7)
    assert_allclose((found.low, found.high), (96.062444, 99.437877), atol=6e-7)
    assert_allclose((found.delta_low, found.delta_high), (95.741734, 98.818351), atol=6e-7)
    assert found.is_bounded


def test_a_slope_that_may_be_zero_has_no_bound():
    found = linear_crossing([0, 1, 2, 3, 4], [5.0, 5.4, 4.9, 5.2, 5.1], 7)
    assert found.g >= 1
    assert not found.is_bounded
    assert (found.low, found.high, found.delta_low) == (None, None, None)
    assert found.note.startswith("not bounded")


@pytest.mark.parametrize("confidence", [0.5, 0.8, 0.9, 0.95, 0.99, 0.999])
def test_line_is_bounded_exactly_when_its_slope_is_significant(confidence):
    x, y = [0, 1, 2, 3, 4, 5], [5.0, 5.4, 5.2, 5.9, 5.6, 6.1]
    p = stats.linregress(x, y).pvalue  # independent: scipy
    assert linear_crossing(x, y, 8, confidence).is_bounded == (p < 1 - confidence)


def test_a_level_without_slope_is_nowhere():
    found = linear_crossing([0, 1, 2, 3], [5, 5, 5, 5], 7)
    assert (found.at, found.is_bounded) == (None, False)


def test_a_level_beyond_the_plateau_is_not_reached():
    x, y = data_of("BoxBOD")
    found = level_crossing(rise, x, y, nonlinear_fit(rise, x, y, (100, 0.75)), 300, (0, 10))
    assert found.at is None
    assert found.note == "the curve does not reach 300 between 0 and 10"


def test_a_level_near_the_plateau_may_never_be_reached():
    # limit: curves with a plateau below 213 fit nearly as well, so the upper end is open
    x, y = data_of("BoxBOD")
    found = level_crossing(rise, x, y, nonlinear_fit(rise, x, y, (100, 0.75)), 212, (0, 20))
    assert found.profile_high == math.inf
    assert found.profile_low < found.at
    assert found.note == "the interval is not bounded"


def test_an_interval_ends_with_the_domain():
    x, y = data_of("BoxBOD")
    fit = nonlinear_fit(lambda x, a, b: a + b * x, x, y, (100, 10))
    found = level_crossing(lambda x, a, b: a + b * x, x, y, fit, 125, (0, 10), domain=(0, math.inf))
    assert found.profile_low == 0


def test_exact_readings_leave_no_interval():
    x = [0.0, 1, 2, 3]
    fit = nonlinear_fit(lambda x, a, b: a + b * x, x, [1.0, 3, 5, 7], (1, 1))
    found = level_crossing(lambda x, a, b: a + b * x, x, [1.0, 3, 5, 7], fit, 4, (0, 3))
    assert_allclose((found.at, found.profile_low, found.profile_high), 1.5, atol=1e-9)  # limit: no noise


def test_a_failed_fit_has_no_crossing():
    fit = nonlinear_fit(rise, [1, 2], [109, 149], (100, 0.75))
    found = level_crossing(rise, [1, 2], [109, 149], fit, 120, (0, 2))
    assert found.at is None
    assert "fit failed" in found.note


@pytest.mark.parametrize(
    "call",
    [
        lambda: linear_crossing([1, 2, 3], [1, 2, math.nan], 4),
        lambda: linear_crossing([1, 2, 3], [1, 2, 3.1], math.nan),
        lambda: linear_crossing([1, 2, 3], [1, 2, 3.1], 4, confidence=1.0),
        lambda: linear_crossing([1, 2], [1, 2], 4),
        lambda: linear_crossing([2, 2, 2], [1, 2, 3], 4),
    ],
)
def test_input_that_is_none_is_refused(call):
    with pytest.raises(ValueError):
        call()


def line(x, a, b):
    return a + b * x


@pytest.mark.parametrize("shift", [0.0, 1e-12, 1e-3])
@pytest.mark.parametrize("unit", [1e-6, 1.0, 1e6])
def test_a_crossing_near_zero_has_the_error_of_any_other(shift, unit):
    """Independent: first-order interval of the straight line (statsmodels), whatever the unit of x."""
    x, y = np.array([1.0, 2, 3, 4]) * unit, [1.0, 2, 3.2, 3.9]
    fit = nonlinear_fit(line, x, y, (1, 1 / unit))
    level = fit.parameters[0] + shift
    found, straight = level_crossing(line, x, y, fit, level, (-unit, 5 * unit)), linear_crossing(x, y, level)
    assert_allclose((found.delta_low, found.delta_high), (straight.delta_low, straight.delta_high), rtol=1e-7)
    assert_allclose((found.profile_low, found.profile_high), (straight.low, straight.high), rtol=1e-6)


@pytest.mark.parametrize("unit", [1e-6, 1.0, 1e6])
def test_a_level_at_the_start_of_a_decay(unit):
    """Hand: se(t*) = se(a)/(a·k) at t* = 0, where k has no effect."""

    def decay(x, a, k):
        return a * np.exp(-k * x)

    x, y = np.arange(6) * unit, [10.0, 8.2, 6.7, 5.5, 4.5, 3.7]
    fit = nonlinear_fit(decay, x, y, (10, 0.2 / unit))
    a, k = fit.parameters
    found = level_crossing(decay, x, y, fit, a, (0, 5 * unit), domain=(0, math.inf))
    assert_allclose(found.standard_error, fit.standard_errors[0] / (a * k), rtol=1e-7)
    assert found.profile_high > 2 * found.standard_error


def test_a_crossing_close_to_the_end_of_the_domain():
    """Independent: gradient of t* = ((L − y0)/a)^(1/b) by hand, for a power that has no value below 0."""

    def power(x, y0, a, b):
        return y0 + a * x**b

    x = np.array([0.0, 1, 2, 4, 8, 16])
    y = power(x, 10.0, -0.5, 0.5) + np.array([0.01, -0.02, 0.02, 0.01, -0.03, 0.01])
    fit = nonlinear_fit(power, x, y, (10, -0.5, 0.5))
    y0, a, b = fit.parameters
    at = 1e-4
    found = level_crossing(power, x, y, fit, power(at, y0, a, b), (0, 16), domain=(0, math.inf))
    slope = a * b * at ** (b - 1)
    gradient = np.array([1.0, at**b, a * at**b * math.log(at)]) / slope
    assert_allclose(found.at, at, rtol=1e-6)
    assert_allclose(found.standard_error, math.sqrt(gradient @ np.array(fit.covariance) @ gradient), rtol=1e-5)


def test_x_of_several_columns_has_no_crossing():
    with pytest.raises(ValueError, match="one column"):
        linear_crossing([[1, 2], [2, 5], [3, 3], [4, 4]], [1, 2, 3, 4.1], 6)
