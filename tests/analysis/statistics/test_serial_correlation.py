"""Serial correlation against the handbook's beam deflections, certified data sets and statsmodels."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from statsmodels.stats.stattools import durbin_watson as independent_durbin_watson
from statsmodels.tsa.stattools import acf

from analysis.statistics.serial_correlation import autocorrelation, durbin_watson, effective_sample_size
from tests.analysis.tables import table


@pytest.fixture(scope="module")
def deflections():
    return table("strd_lew")["deflection"].to_numpy()


@pytest.mark.parametrize(("lag", "expected"), [(1, -0.3073), (2, -0.7404), (3, 0.7747), (4, 0.2052), (5, -0.8982)])
def test_autocorrelation_of_beam_deflections(deflections, lag, expected):
    found = autocorrelation(deflections, lags=5)
    # published: e-Handbook 1.3.5.12 prints lag 1 −0.31 and band ±0.1386; independent: statsmodels for every lag
    assert_allclose(found.coefficients[lag - 1], expected, atol=5e-5)
    assert_allclose(found.coefficients, acf(deflections, nlags=5, fft=False)[1:], rtol=1e-10)
    assert_allclose(found.band, 0.1386, atol=5e-5)


def test_certified_first_autocorrelation(deflections):
    # published: StRD Lew, certified r1
    assert_allclose(autocorrelation(deflections).coefficients[0], -0.307304800605679, rtol=1e-13)


def test_a_large_common_part_costs_no_digits():
    # published: StRD NumAcc2 to NumAcc4, certified r1 −0.999; the readings carry 10 and 9 digits of the deviations
    for start, tolerance in ((1.2, 1e-13), (1000000.2, 1e-8), (10000000.2, 1e-7)):
        values = [start] + [start - 0.1, start + 0.1] * 500
        assert_allclose(autocorrelation(values).coefficients[0], -0.999, rtol=tolerance)


def test_durbin_watson_of_beam_deflections(deflections):
    found = durbin_watson(deflections)
    assert_allclose(found, 2.609642, rtol=5e-7)  # independent: computed apart
    assert_allclose(found, independent_durbin_watson(deflections - deflections.mean()), rtol=1e-12)


@pytest.mark.parametrize(
    ("n", "lag_one", "expected"),
    [
        (100, 0.535199668621283, 30.276),  # published r1: StRD Michelso; independent: computed apart
        (50, 0.937989183438248, 1.600),  # published r1: StRD Mavro
        (7, 0.0, 7.0),  # limit: no correlation
        (10, -0.5, 30.0),  # hand: 10·1.5/0.5
    ],
)
def test_effective_sample_size(n, lag_one, expected):
    assert_allclose(effective_sample_size(n, lag_one), expected, atol=5e-4)


def test_effective_sample_size_takes_arrays_and_keeps_nan():
    found = effective_sample_size(np.array([10, 10]), np.array([[0.5], [math.nan]]))
    assert found.shape == (2, 2)
    assert_allclose(found[0], 10 / 3)
    assert np.isnan(found[1]).all()
    assert type(effective_sample_size(10, 0.5)) is float


@pytest.mark.parametrize(("n", "lag_one"), [(0, 0.1), (5, 1.0), (5, -1.0), (5, 1.2)])
def test_effective_sample_size_refuses_what_is_out_of_range(n, lag_one):
    with pytest.raises(ValueError, match="must"):
        effective_sample_size(n, lag_one)


@pytest.mark.parametrize("lags", [0, 5, 9, 1.5, -1])
def test_lags_stay_inside_the_run(lags):
    with pytest.raises(ValueError, match="lags must lie between 1 and 4"):
        autocorrelation([1, 2, 3, 1, 2], lags=lags)


@pytest.mark.parametrize("unit", [1e300, 1e-320, 3.0])
def test_no_unit_is_too_large_or_too_small(unit):
    values = [4.0, 1.0, 3.0, 2.0]
    # hand: deviations 1.5 −1.5 0.5 −0.5; r₁ = (−2.25 − 0.75 − 0.25)/5 = −0.65; d = (9 + 4 + 1)/5 = 2.8
    scaled = [value * unit for value in values]
    assert_allclose(autocorrelation(scaled).coefficients, [-0.65], rtol=2e-3 if unit < 1e-300 else 1e-12)
    assert_allclose(durbin_watson(scaled), 2.8, rtol=2e-3 if unit < 1e-300 else 1e-12)


@pytest.mark.parametrize("function", [autocorrelation, durbin_watson])
def test_a_table_is_no_run(function):
    with pytest.raises(ValueError, match=r"one row of values is needed, not an array of shape \(2, 2\)"):
        function([[1.0, 2.0], [3.0, 5.0]])
