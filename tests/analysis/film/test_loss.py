"""Dose at which a limit is reached: curves coupon by coupon, then the median over coupons."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from analysis.film.loss import compare_dose_models, dose_to_limit

CYCLES, DEPTH = [0, 100, 200, 300, 400, 500], [10.0, 8.2, 6.7, 5.5, 4.5, 3.7]
NOISE = np.array([0.03, -0.05, 0.04, 0.01, -0.04, 0.02])


def coupons_with(rates, last=500, noise=NOISE):
    """Exponential loss from 10 with a rate of each coupon [1/cycle]; the noise is moved on from coupon to coupon."""
    doses = np.linspace(0, last, 6)
    rows = [
        (f"C{index}", dose, value)
        for index, rate in enumerate(rates)
        for dose, value in zip(doses, 10 * np.exp(-rate * doses) + np.roll(noise, index), strict=True)
    ]
    return tuple(map(list, zip(*rows, strict=True)))


def test_cycles_until_a_depth_of_5():
    found = dose_to_limit(["C1"] * 6, CYCLES, DEPTH, 5.0, worse="below")
    assert found.model == "exponential"
    assert_allclose(found.coupons[0].dose, 347.70, atol=5e-3)  # independent: scipy curve_fit, ln(y0/5)/k
    assert found.median == pytest.approx(found.coupons[0].dose)
    assert (found.low, found.high) == (None, None)  # one coupon says nothing of the others


def test_interval_of_one_coupon_is_that_of_its_own_curve():
    # independent: first-order error of ln(y0/5)/k from scipy's covariance
    from scipy.optimize import curve_fit

    best, covariance = curve_fit(lambda n, y0, k: y0 * np.exp(-k * n), CYCLES, DEPTH, (10, 2e-3), xtol=1e-14)
    gradient = np.array([1 / (best[0] * best[1]), -math.log(best[0] / 5) / best[1] ** 2])
    error = math.sqrt(gradient @ covariance @ gradient)
    coupon = dose_to_limit(["C1"] * 6, CYCLES, DEPTH, 5.0, worse="below", model="exponential").coupons[0]
    assert_allclose(coupon.standard_error, error, rtol=1e-4)
    half = stats.t.ppf(0.975, 4) * error
    assert_allclose((coupon.delta_low, coupon.delta_high), (coupon.dose - half, coupon.dose + half), rtol=1e-5)
    assert_allclose((coupon.profile_low, coupon.profile_high), (coupon.delta_low, coupon.delta_high), atol=0.05)


@pytest.mark.parametrize(
    ("key", "curve"),
    [
        ("linear", lambda n: 10 - 0.012 * n),
        ("exponential", lambda n: 10 * np.exp(-0.004 * n)),
        ("plateau", lambda n: 3 + 7 * np.exp(-0.01 * n)),
        ("power", lambda n: 10 - 0.3 * n**0.5),
    ],
)
def test_the_form_that_made_the_readings_is_chosen(key, curve):
    # limit: noise a hundredth of the change
    doses = np.tile(np.linspace(0, 500, 11), 3)
    names = np.repeat(["C1", "C2", "C3"], 11)
    values = curve(doses) + np.random.default_rng(3).normal(0, 0.02, 33)
    choices = compare_dose_models(names, doses, values)
    assert choices[0].model == key
    assert choices[0].difference == 0
    assert_allclose(sum(choice.weight for choice in choices), 1)
    for choice in choices[1:]:
        if choice.criterion is not None:  # hand: the definition of the weight
            assert_allclose(choice.weight / choices[0].weight, math.exp(-choice.difference / 2))


def test_forms_with_too_few_readings_are_shown_with_the_reason():
    choices = compare_dose_models(["C1"] * 4, CYCLES[:4], DEPTH[:4])
    assert {choice.model for choice in choices} == {"linear", "exponential", "plateau", "power"}
    none = [choice for choice in choices if choice.criterion is None]
    assert {choice.model for choice in none} == {"linear", "exponential", "plateau", "power"}  # n − K − 1 ≤ 0
    assert all(choice.note and choice.weight == 0 for choice in none)


RATES = [0.0022, 0.0025, 0.0029, 0.0021, 0.0034]


def test_median_over_coupons_is_a_geometric_mean_with_its_t_interval():
    found = dose_to_limit(*coupons_with(RATES), 5.0, worse="below", model="exponential")
    logs = np.log([coupon.dose for coupon in found.coupons])
    low, high = stats.t.interval(0.95, 4, logs.mean(), stats.sem(logs))  # independent: scipy
    assert found.n_reached == 5
    assert_allclose(found.median, np.exp(logs.mean()), rtol=1e-6)
    assert_allclose((found.low, found.high), np.exp([low, high]), rtol=1e-5)
    assert_allclose(np.exp(logs), math.log(2) / np.array(RATES), rtol=0.02)  # limit: what made the readings


def test_more_readings_a_coupon_do_not_shrink_the_interval_over_coupons():
    """Coupons are the unit: the same five coupons, each read four times at each dose."""
    names, doses, values = coupons_with(RATES, noise=0 * NOISE)
    once = dose_to_limit(names, doses, values, 5.0, worse="below", model="exponential")
    jitter = np.tile([0.01, -0.01, 0.02, -0.02], len(names))
    four = dose_to_limit(
        np.repeat(names, 4), np.repeat(doses, 4), np.repeat(values, 4) + jitter, 5.0, worse="below", model="exponential"
    )
    assert_allclose((four.median, four.low, four.high), (once.median, once.low, once.high), rtol=1e-6)
    assert four.coupons[0].n_doses == 6


def test_coupons_that_did_not_reach_the_limit_count_as_later():
    rates = [*RATES[:4], 0.0009]
    found = dose_to_limit(*coupons_with(rates), 5.0, worse="below", model="exponential")
    assert [coupon.qualifier for coupon in found.coupons] == ["=", "=", "=", "=", ">"]
    assert found.coupons[4].dose == 500
    assert found.n_reached == 4
    doses = np.array([coupon.dose for coupon in found.coupons[:4]])

    def loss(point):  # independent: scipy minimize of the censored lognormal likelihood
        z = (np.log(doses) - point[0]) / np.exp(point[1])
        last = (math.log(500) - point[0]) / np.exp(point[1])
        return -(np.sum(stats.norm.logpdf(z) - point[1]) + stats.norm.logsf(last))

    from scipy.optimize import minimize

    best = minimize(loss, [5.7, -1.0], method="Nelder-Mead", options={"xatol": 1e-9, "fatol": 1e-12})
    assert_allclose(found.median, math.exp(best.x[0]), rtol=1e-5)
    left_out = np.exp(np.mean(np.log(doses)))
    assert left_out < found.median
    assert found.low < found.median < found.high
    assert "4 of 5 coupons reached it" in found.sentence


def test_a_limit_reached_by_none_is_later_than_the_test():
    found = dose_to_limit(*coupons_with([0.0002] * 5), 5.0, worse="below", model="exponential")
    assert (found.median, found.at_least, found.n_reached) == (math.inf, 500, 0)
    assert found.low == 500  # hand: five of five beyond 500, 1 − 0.5⁵ = 96.9 % ≥ 95 %
    assert found.high is None
    assert "> 500 cycles" in found.sentence


def test_four_coupons_allow_no_bound_with_95_percent():
    found = dose_to_limit(*coupons_with([0.0002] * 4), 5.0, worse="below", model="exponential")
    assert (found.median, found.low) == (math.inf, None)  # hand: 1 − 0.5⁴ = 93.8 %


def test_nothing_is_extrapolated():
    # the curve would reach 5 at 693 cycles
    found = dose_to_limit(*coupons_with([0.001] * 3), 5.0, worse="below", model="exponential")
    assert [(coupon.qualifier, coupon.dose, coupon.profile_low) for coupon in found.coupons] == [(">", 500, None)] * 3


def test_beyond_the_limit_from_the_start():
    found = dose_to_limit(*coupons_with(RATES), 11.0, worse="below", model="exponential")
    assert [coupon.qualifier for coupon in found.coupons] == ["<"] * 5
    assert found.median == 0
    assert found.high is None


def test_growth_up_to_a_limit():
    # limit: angle 4 + 0.02·N reaches 10 at 300
    names, doses = np.repeat(["A", "B", "C"], 6), np.tile(CYCLES, 3)
    values = 4 + 0.02 * doses + np.tile(NOISE, 3)
    found = dose_to_limit(names, doses, values, 10.0, worse="above", model="linear")
    assert all(abs(coupon.dose - 300) < 3 for coupon in found.coupons)
    assert all(coupon.profile_low < 300 < coupon.profile_high for coupon in found.coupons)


def test_steady_coupons_never_reach_the_limit():
    names, doses = np.repeat(["A", "B", "C"], 6), np.tile(CYCLES, 3)
    found = dose_to_limit(names, doses, np.full(18, 7.0), 10.0, worse="above")
    assert (found.median, found.n_reached) == (math.inf, 0)


@pytest.mark.parametrize("value", [0.0, 1e-9, 1e9])
def test_steady_values_of_any_size_fit(value):
    names, doses = np.repeat(["A", "B", "C"], 6), np.tile(CYCLES, 3)
    found = dose_to_limit(names, doses, np.full(18, value), 2 * value + 1e-9, worse="above", model="linear")
    assert (found.median, found.at_least) == (math.inf, 500)


def test_a_coupon_without_a_curve_leaves_the_result_undecided():
    names, doses, values = coupons_with(RATES)
    found = dose_to_limit([*names, "X", "X"], [*doses, 0, 100], [*values, 10, 8], 5.0, worse="below")
    assert (found.median, found.low, found.high) == (None, None, None)
    assert "cannot be told" in found.sentence
    assert "fit failed" in found.note


@pytest.mark.parametrize("scale", [1e-3, 1e3])
def test_units_of_dose_and_value_go_through(scale):
    names, doses, values = coupons_with(RATES)
    once = dose_to_limit(names, doses, values, 5.0, worse="below", model="exponential")
    again = dose_to_limit(
        names, np.array(doses) * scale, np.array(values) * scale, 5.0 * scale, worse="below", model="exponential"
    )
    assert_allclose(
        (again.median, again.low, again.high), np.array((once.median, once.low, once.high)) * scale, rtol=1e-5
    )


def test_order_of_readings_does_not_matter():
    names, doses, values = coupons_with(RATES)
    once = dose_to_limit(names, doses, values, 5.0, worse="below", model="exponential")
    mixed = np.random.default_rng(1).permutation(len(names))
    again = dose_to_limit(
        *(np.array(column)[mixed] for column in (names, doses, values)), 5.0, worse="below", model="exponential"
    )
    assert_allclose((again.median, again.low, again.high), (once.median, once.low, once.high), rtol=1e-7)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"worse": "higher"}, "worse must be"),
        ({"limit": math.nan}, "limit"),
        ({"model": "spline"}, "unknown model"),
        ({"distribution": "weibull"}, "distribution"),
        ({"confidence": 1.0}, "confidence"),
        ({"values": [1.0, math.nan, 2, 3, 4, 5]}, "NaN"),
        ({"doses": [-1, 1, 2, 3, 4, 5]}, "dose"),
        ({"coupons": ["C1"] * 5}, "belong together"),
        ({"coupons": [], "doses": [], "values": []}, "no values"),
    ],
)
def test_what_cannot_be_asked_is_refused(change, words):
    asked = {"coupons": ["C1"] * 6, "doses": CYCLES, "values": DEPTH, "limit": 5.0, "worse": "below"} | change
    with pytest.raises(ValueError, match=words):
        dose_to_limit(**asked)


def test_a_model_named_twice_counts_once():
    choices = compare_dose_models(["C1"] * 6, CYCLES, DEPTH, ["linear", "exponential", "linear"])
    assert sorted(choice.model for choice in choices) == ["exponential", "linear"]
    assert_allclose(sum(choice.weight for choice in choices), 1)
    assert compare_dose_models(["C1"] * 6, CYCLES, DEPTH, "linear")[0].weight == 1


@pytest.mark.parametrize("worse", ["above", "below"])
def test_a_coupon_that_stays_at_the_limit_does_not_pass_it(worse):
    found = dose_to_limit(["C1"] * 6, CYCLES, [10.3] * 6, 10.3, worse=worse, model="linear")
    assert (found.median, found.n_reached) == (math.inf, 0)
    assert (found.coupons[0].qualifier, found.coupons[0].dose) == (">", 500)


def test_a_loss_from_the_limit_on_passes_it_at_once():
    found = dose_to_limit(["C1"] * 6, CYCLES, [10 - 0.01 * n for n in CYCLES], 10.0, worse="below", model="linear")
    assert_allclose(found.coupons[0].dose, 0, atol=1e-6)  # limit
    grown = dose_to_limit(["C1"] * 6, CYCLES, [10 + 0.01 * n for n in CYCLES], 9.0, worse="below", model="linear")
    assert (grown.median, grown.at_least) == (math.inf, 500)  # it moves away from the limit


@pytest.mark.parametrize(("doses", "values"), [([0, 100], [10, 5]), ([0], [10]), ([0, 0, 0], [10, 9, 8])])
def test_a_coupon_without_a_curve_is_neither_late_nor_early(doses, values):
    found = dose_to_limit(["C1"] * len(doses), doses, values, 7.0, worse="below")
    assert found.median is None
    assert (found.coupons[0].qualifier, found.coupons[0].dose) == (None, None)
    assert "fit failed" in found.coupons[0].note


def test_the_sentence_does_not_round_the_confidence_up():
    once = dose_to_limit(*coupons_with(RATES), 5.0, worse="below", model="exponential", confidence=0.975)
    assert "97.5% interval" in once.sentence
    none = dose_to_limit(*coupons_with([0.0002] * 9), 5.0, worse="below", model="exponential", confidence=0.995)
    assert "99.5% confidence > 500" in none.sentence


def late_start(levels):
    """Coupons first read at 100: each loses 0.01 a cycle from its own level at dose 0."""
    doses = np.array([100.0, 200, 300, 400, 500])
    rows = [(f"C{index}", dose, level - 0.01 * dose) for index, level in enumerate(levels) for dose in doses]
    return tuple(map(list, zip(*rows, strict=True)))


def test_a_coupon_beyond_the_limit_at_its_first_reading_failed_before_it():
    """Independent (scipy): lognormal doses 200, 270, 350, 420, one before 100 and one after 500."""
    found = dose_to_limit(*late_start([7.0, 7.7, 8.5, 9.2, 5.5, 11.0]), 5.0, worse="below", model="linear")
    assert [coupon.qualifier for coupon in found.coupons] == ["="] * 4 + ["<", ">"]
    assert [coupon.dose for coupon in found.coupons[4:]] == [100, 500]
    reached = np.log([200.0, 270, 350, 420])

    def loss(point):
        scale = np.exp(point[1])
        z, first, last = ((value - point[0]) / scale for value in (reached, math.log(100), math.log(500)))
        return -(np.sum(stats.norm.logpdf(z) - point[1]) + stats.norm.logcdf(first) + stats.norm.logsf(last))

    from scipy.optimize import minimize

    best = minimize(loss, [5.7, -0.5], method="Nelder-Mead", options={"xatol": 1e-9, "fatol": 1e-12})
    assert_allclose(found.median, math.exp(best.x[0]), rtol=1e-5)
    assert found.n_reached == 5  # one of them before its first reading
    assert_allclose(found.at_least, 270)  # hand: the third of < 100, 200, 270, 350, 420, > 500


def test_an_early_failure_bounds_nothing_from_below():
    # hand: of five coupons the lowest is a bound with 1 − 0.5⁵ = 96.9 %; that one failed some time before 100
    found = dose_to_limit(*late_start([5.5, 11, 11, 11, 11]), 5.0, worse="below", model="linear")
    assert (found.median, found.low) == (math.inf, 0)


@pytest.mark.parametrize("rate", [0.01, 0.003, 0.017])
def test_of_forms_that_fit_exactly_the_one_with_fewer_parameters_wins(rate):
    """Limit: a straight line is also a power with exponent 1; what rounding leaves must not choose."""
    choices = compare_dose_models(["C1"] * 7, [0, 50, *CYCLES[1:]], [10 - rate * n for n in (0, 50, *CYCLES[1:])])
    assert choices[0].model == "linear"
    assert choices[0].weight > 0.999
    assert all(choice.difference > 1 for choice in choices[1:] if choice.criterion is not None)


def early_start(levels):
    """Coupons read from 0 to 500, each losing 0.01 a cycle from its own level."""
    rows = [(f"C{index}", dose, level - 0.01 * dose) for index, level in enumerate(levels) for dose in CYCLES]
    return tuple(map(list, zip(*rows, strict=True)))


def test_a_median_beyond_the_longest_test_is_said_to_rest_on_the_distribution():
    found = dose_to_limit(*early_start([8.0, 8.6, 9.5] + [20.0] * 7), 5.0, worse="below", model="linear")
    assert found.median > found.at_least == 500  # three of ten reached it
    assert "beyond the longest test and rests on the lognormal form" in found.note
    assert "median, beyond the longest test" in found.sentence
    within = dose_to_limit(*early_start([8.0, 8.6, 9.5]), 5.0, worse="below", model="linear")
    assert within.note == ""
    assert "(median; " in within.sentence


def test_no_dose_lies_below_zero():
    # hand: 20, 150 and 490 cycles: mean 220, and Student's interval would start at −383
    found = dose_to_limit(*early_start([5.2, 6.5, 9.9]), 5.0, worse="below", model="linear", distribution="normal")
    assert_allclose((found.median, found.low), (220, 0), rtol=1e-6)
    assert_allclose(found.high, 220 + stats.t.ppf(0.975, 2) * stats.sem([20, 150, 490]), rtol=1e-5)


def test_a_limit_that_few_reached_was_not_reached_by_half():
    found = dose_to_limit(*early_start([5.5] + [20.0] * 9), 5.0, worse="below", model="linear")
    assert found.median == math.inf
    assert "not reached by half of the coupons within the test: > 500 cycles (1 of 10" in found.sentence
