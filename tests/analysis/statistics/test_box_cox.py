"""Power transformation against the poison data, and scipy where there are no factors."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from analysis.statistics.box_cox import power_transformation
from tests.analysis.tables import table

POISONS = table("box_cox_poisons")


@pytest.mark.parametrize(
    ("interaction", "expected"),
    [(False, (-0.7502, -1.1380, -0.3561)), (True, (-0.8157, -1.2941, -0.3412))],
)
def test_poisons(interaction, expected):
    # independent: numpy and scipy 1.17.1 on the published data; the paper's −0.75 (−1.13 to −0.37) is from memory
    found = power_transformation(POISONS["hours10"], POISONS["poison"], POISONS["treatment"], interaction=interaction)
    assert_allclose((found.power, found.low, found.high), expected, atol=6e-5)


@pytest.mark.parametrize("seed", range(3))
def test_agrees_with_scipy_without_factors(seed):
    values = np.random.default_rng(seed).lognormal(1, 0.6, 40)
    found = power_transformation(values)
    _, power, interval = stats.boxcox(values, alpha=0.05)  # independent: scipy
    assert_allclose(found.power, power, atol=1e-5)
    assert_allclose((found.low, found.high), interval, atol=1e-5)


@pytest.mark.parametrize("unit", [1e-6, 36.0, 1e9])
def test_unit_does_not_matter(unit):
    once = power_transformation(POISONS["hours10"], POISONS["poison"])
    again = power_transformation(POISONS["hours10"] * unit, POISONS["poison"])
    assert_allclose((again.power, again.low, again.high), (once.power, once.low, once.high), atol=1e-6)


def test_readings_without_spread_have_no_power():
    found = power_transformation([2.0, 2.0, 3.0, 3.0], ["a", "a", "b", "b"])
    assert found.power is None
    assert "no spread" in found.note
    assert power_transformation([2.0, 2.0, 2.0]).power is None


def test_an_open_end_is_said():
    found = power_transformation([10.0, 10.1, 10.3, 10.2])  # so little relative spread tells no power from another
    assert None in (found.power, found.low, found.high)
    assert "range searched" in found.note or "beyond" in found.note


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: power_transformation([1.0, 0.0]), "above 0"),
        (lambda: power_transformation([1.0, math.nan]), "NaN"),
        (lambda: power_transformation([1.0]), "no spread"),
        (lambda: power_transformation([1.0, 2.0], ["a"]), "levels"),
        (lambda: power_transformation([1.0, 2.0], ["a", "b"]), "no spread"),
    ],
)
def test_input_that_is_none_is_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()


@pytest.mark.parametrize("power", [0, 1, 0.5, -1, 2])
def test_readings_that_one_scale_makes_exact_have_that_power(power):
    """Limit: additive on one scale, so that nothing is left over there."""
    scale = np.array([1.0, 2.0, 3.0, 4.0])
    values = np.array([1.0, 2.0, 3.0, 6.0]) if power == 0 else scale ** (1 / power)
    found = power_transformation(values, list("abab"), list("ccdd"))
    assert_allclose((found.power, found.low, found.high), power, atol=1e-12)
    assert "nothing is left over" in found.note


def test_two_readings_without_factors_prefer_the_logarithm():
    """Limit: RSS(z) of two readings is smallest at 0, where sinh(x)/x is; the interval is even about it."""
    found = power_transformation([1.0, 2.0])
    assert_allclose((found.power, found.low + found.high), 0, atol=1e-6)


def test_a_table_of_readings_is_refused():
    with pytest.raises(ValueError, match="one value a coupon is expected"):
        power_transformation([[1.0, 2.0], [3.0, 4.0]])
