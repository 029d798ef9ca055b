"""Moments and one-way analysis of variance against the certified data sets of NIST (StRD)."""

import math
from decimal import Decimal
from fractions import Fraction

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from analysis.statistics.moments import lag_one_autocorrelation, one_way_anova, sample_sd, stable_mean
from tests.analysis.tables import FOLDER, groups, table

UNIVARIATE = list(table("strd_univariate_certified").itertuples(index=False))
ANOVA = list(table("strd_anova_certified").itertuples(index=False))
STARTS = {"NumAcc2": "1.2", "NumAcc3": "1000000.2", "NumAcc4": "10000000.2"}
CENTRES = ("1.4", "1.3", "1.5", "1.3", "1.5", "1.3", "1.5", "1.3", "1.5")
TENTH = Decimal("0.1")


def certified_values(name):
    """The data of a certified set as decimals; NumAcc1 to NumAcc4 by their published recipe."""
    if name == "NumAcc1":
        return [Decimal(value) for value in (10000001, 10000003, 10000002)]
    if name in STARTS:
        centre = Decimal(STARTS[name])
        return [centre] + [centre - TENTH, centre + TENTH] * 500
    if name == "Lew":
        return [Decimal(int(value)) for value in table("strd_lew")["deflection"]]
    rows = (line.split(",") for line in (FOLDER / "strd_univariate.csv").read_text().splitlines())
    return [Decimal(row[1]) for row in rows if row[0] == name]


def certified_groups(row):
    """The groups of a certified set as decimals; SmLs01 to SmLs09 by their published recipe."""
    if not row.set.startswith("SmLs"):
        return {key: [Decimal(repr(v)) for v in values] for key, values in groups(f"strd_{row.set.lower()}").items()}
    centres = [Decimal(centre) + row.shift for centre in CENTRES]
    return [[c] + [c - TENTH, c + TENTH] * ((row.size - 1) // 2) for c in centres]


def as_floats(data):
    return [[float(value) for value in part] for part in (data.values() if isinstance(data, dict) else data)]


def one_pass_variance(values):
    x = np.array(values, dtype=float)
    return (np.sum(x**2) - x.size * np.mean(x) ** 2) / (x.size - 1)


# published: StRD. Binary doubles of 10000000.2 ± 0.1 are themselves rounded, which leaves about 8 digits of the
# standard deviation; the column `digits` is the log relative error that each set must reach.
@pytest.mark.parametrize("row", UNIVARIATE, ids=lambda row: row.set)
def test_certified_moments_to_the_digits_that_doubles_allow(row):
    values = [float(value) for value in certified_values(row.set)]
    assert len(values) == row.n
    assert_allclose(stable_mean(values), row.mean, rtol=1e-14)
    assert_allclose(sample_sd(values), row.sd, rtol=10**-row.digits)
    # r1 keeps 11 digits where the standard deviation keeps 8: errors of both sums are the same
    assert_allclose(lag_one_autocorrelation(values), row.lag1, rtol=10 ** -min(row.digits + 2, 13.3))


@pytest.mark.parametrize("row", UNIVARIATE, ids=lambda row: row.set)
def test_decimals_keep_all_certified_digits(row):
    values = certified_values(row.set)
    found = stable_mean(values), sample_sd(values), lag_one_autocorrelation(values)
    assert_allclose(found, (row.mean, row.sd, row.lag1), rtol=4e-15)


def test_the_one_pass_formula_would_turn_a_variance_negative():
    # published trap: StRD NumAcc4; the reason why the formula is used nowhere
    values = [float(value) for value in certified_values("NumAcc4")]
    assert one_pass_variance(values) < 0 < sample_sd(values)


@pytest.mark.parametrize("row", ANOVA, ids=lambda row: row.set)
def test_certified_analysis_of_variance(row):
    found = one_way_anova(as_floats(certified_groups(row)))
    assert_allclose(found.f_ratio, row.f, rtol=10**-row.digits)
    assert_allclose(found.r_squared, row.r_squared, rtol=10**-row.digits)
    assert_allclose(found.residual_sd, row.residual_sd, rtol=10**-row.digits)
    # The rounding of the readings shifts both sums the same way, so that F keeps half a digit more than they do.
    sums = found.between_square_sum, found.within_square_sum
    assert_allclose(sums, (row.between, row.within), rtol=10 ** (0.5 - row.digits))


@pytest.mark.parametrize("row", ANOVA, ids=lambda row: row.set)
def test_analysis_of_variance_of_decimals_keeps_all_digits(row):
    found = one_way_anova(certified_groups(row))
    sums = found.between_square_sum, found.within_square_sum
    assert_allclose(sums, (row.between, row.within), rtol=1e-14)
    assert_allclose((found.f_ratio, found.r_squared), (row.f, row.r_squared), rtol=2e-14)
    assert_allclose(found.residual_sd, row.residual_sd, rtol=1e-14)


def test_p_value_of_unequal_groups():
    data = [[1.0, 3.0], [5.0, 7.0, 9.0], [2.0, 2.5, 4.0, 1.0]]
    found, expected = one_way_anova(data), stats.f_oneway(*data)  # independent: scipy.stats.f_oneway (scipy 1.17.1)
    assert_allclose((found.f_ratio, found.p_value), (expected.statistic, expected.pvalue), rtol=1e-12)
    assert (found.between_df, found.within_df) == (2, 6)


def test_f_is_not_computed_from_displayed_mean_squares():
    # published trap: an F of 4.86 was printed where the unrounded data give 5.206. Here StRD SiRstv: mean squares shown
    # with two decimals would give 0.01/0.01 = 1, the certified F is 1.180
    found = one_way_anova(groups("strd_sirstv"))
    assert round(found.between_mean_square, 2) / round(found.within_mean_square, 2) == 1
    assert_allclose(found.f_ratio, 1.18046237440255, rtol=1e-12)


def test_groups_of_equal_readings_are_told():
    apart = one_way_anova([[1.1, 1.1], [2.2, 2.2]])
    assert (apart.f_ratio, apart.p_value, apart.r_squared) == (math.inf, 0.0, 1.0)
    assert "equal" in apart.note
    same = one_way_anova([[0.1, 0.1], [0.1, 0.1]])
    assert (same.f_ratio, same.p_value, same.r_squared, same.residual_sd) == (None, None, None, 0.0)
    single = one_way_anova([[1.0], [2.0], [4.0]])
    assert (single.f_ratio, single.within_mean_square) == (None, None)
    assert "one reading a group" in single.note


@pytest.mark.parametrize("data", [[], [[]], [[1.0, 2.0]], {"A": [1.0], "B": [math.nan]}, [[1.0], [math.inf]]])
def test_analysis_of_variance_refuses_one_group_and_nan(data):
    with pytest.raises(ValueError):
        one_way_anova(data)


def test_stacks_are_worked_along_an_axis():
    stack = np.arange(24.0).reshape(2, 3, 4) ** 2
    for axis in (0, 1, -1):
        assert_allclose(stable_mean(stack, axis), stack.mean(axis=axis), rtol=1e-14)  # independent: numpy 2.4
        assert_allclose(sample_sd(stack, axis), stack.std(axis=axis, ddof=1), rtol=1e-13)
    assert lag_one_autocorrelation(stack).shape == (2, 3)
    assert sample_sd(np.empty((0, 5))).shape == (0,)


def test_a_sample_with_nan_gives_nan_in_its_place():
    stack = [[1.0, 2.0, 4.0], [1.0, math.nan, 4.0], [1.0, math.inf, 4.0]]
    for function in (stable_mean, sample_sd, lag_one_autocorrelation):
        assert np.isnan(function(stack)).tolist() == [False, True, True]


@pytest.mark.parametrize("function", [stable_mean, sample_sd, lag_one_autocorrelation])
@pytest.mark.parametrize("values", [[], [1.0, math.nan], [math.inf, 1.0], [1.0, None]])
def test_a_single_sample_refuses_nothing_nan_and_infinite(function, values):
    with pytest.raises(ValueError, match="value"):
        function(values)


@pytest.mark.parametrize("function", [sample_sd, lag_one_autocorrelation])
def test_one_value_has_no_spread(function):
    assert stable_mean([3.5]) == stable_mean(3.5) == 3.5
    with pytest.raises(ValueError, match="at least 2"):
        function([3.5])


def test_equal_values_have_no_spread_and_no_serial_correlation():
    assert sample_sd([0.1] * 7) == 0
    assert math.isnan(lag_one_autocorrelation([0.1] * 7))


@pytest.mark.parametrize("scale", [1e-250, 1e-5, 1.0, 1e9, 1e250])
def test_huge_and_tiny_values_keep_their_spread(scale):
    # limit: a change of unit
    assert_allclose(sample_sd([scale, 2 * scale, 3 * scale]), scale, rtol=1e-14)
    assert_allclose(lag_one_autocorrelation([scale, 3 * scale, 2 * scale]), -0.5, rtol=1e-13)


def test_fractions_are_taken_as_they_are():
    assert sample_sd([Fraction(1, 3), Fraction(2, 3), Fraction(1)]) == 1 / 3  # hand: deviations −1/3, 0, 1/3


def test_scalars_come_back_as_plain_floats():
    assert {type(function([1, 2, 4])) for function in (stable_mean, sample_sd, lag_one_autocorrelation)} == {float}
