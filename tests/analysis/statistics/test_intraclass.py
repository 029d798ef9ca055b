"""Intraclass correlation against published data, its F pivot, and coverage with unequal numbers."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from analysis.statistics.intraclass import _ratio_at, intraclass_correlation
from tests.analysis.tables import groups


@pytest.mark.parametrize(
    ("name", "estimate", "low", "high", "f", "p"),
    [  # published data (Davies 1947; Box & Tiao 1973); numbers independent (numpy, scipy 1.17.1)
        ("dyestuff", 0.4185, 0.0838, 0.8479, 4.5983, 0.00440),
        ("dyestuff2", -0.0970, -0.1971, 0.3335, 0.5578, 0.7311),
    ],
)
def test_published_sets(name, estimate, low, high, f, p):
    found = intraclass_correlation(groups(name))
    assert_allclose((found.estimate, found.low, found.high), (estimate, low, high), atol=5.01e-5)
    assert_allclose((found.f_ratio, found.p_value), (f, p), atol=5.01e-5)
    assert (found.n_groups, found.n_readings, found.note) == (6, 30, "")


@pytest.mark.parametrize("confidence", [0.5, 0.90, 0.99])
def test_unequal_numbers_solve_the_same_equation(confidence):
    # limit: with equal numbers the weighted F has the closed form F/(1 + nτ)
    data = [np.array(values) for values in groups("dyestuff").values()]
    f, n = 11271.5 / 2451.25, 5
    quantile = stats.f.ppf((1 - confidence) / 2, 5, 24)  # independent: scipy.stats.f
    assert_allclose(_ratio_at(data, 2451.25, quantile), (f / quantile - 1) / n, rtol=1e-10)


def test_interval_covers_with_unequal_numbers():
    # independent: 2000 sets (numpy, seed 8), τ = 1: 95 % ± 1.5 % (three standard errors)
    rng, sizes = np.random.default_rng(8), (2, 9, 4, 3, 6)
    covered = 0
    for _ in range(2000):
        data = {str(i): rng.normal() + rng.normal(size=size) for i, size in enumerate(sizes)}
        found = intraclass_correlation(data)
        covered += found.low <= 0.5 <= found.high
    assert abs(covered / 2000 - 0.95) < 0.015


def test_unequal_numbers_put_no_limit_below_zero():
    found = intraclass_correlation({"A": [1.0, 5.0, 3.0], "B": [2.0, 4.0], "C": [3.1, 2.9]})
    assert found.estimate < 0
    assert found.low == 0
    assert "not put below 0" in found.note


def test_what_cannot_be_told_is_not_given():
    assert intraclass_correlation({"A": [1.0, 2.0]}).estimate is None
    assert "cannot be separated" in intraclass_correlation({"A": [1.0], "B": [2.0]}).note
    assert intraclass_correlation({"A": [0.1, 0.1], "B": [0.1, 0.1]}).estimate is None
    alike = intraclass_correlation({"A": [0.1, 0.1], "B": [0.2, 0.2]})
    assert (alike.estimate, alike.low, alike.high) == (1.0, 1.0, 1.0)


def test_unit_and_order_do_not_matter():
    data = {"A": [1.0, 3.0, 2.0], "B": [5.0, 7.0], "C": [9.0, 11.0, 10.5, 8.0]}
    turned = {key: [1000 + 7 * value for value in data[key][::-1]] for key in sorted(data, reverse=True)}
    plain, other = intraclass_correlation(data), intraclass_correlation(turned)
    assert_allclose((other.estimate, other.low, other.high), (plain.estimate, plain.low, plain.high), rtol=1e-9)


@pytest.mark.parametrize(
    ("data", "confidence"), [({}, 0.95), ({"A": [1.0, math.nan]}, 0.95), ({"A": [1.0, 2.0], "B": [3.0]}, 1.0)]
)
def test_out_of_range_is_refused(data, confidence):
    with pytest.raises(ValueError):
        intraclass_correlation(data, confidence)
