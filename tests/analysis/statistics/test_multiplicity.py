"""Adjusted p values against the fifteen of Benjamini and Hochberg."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from analysis.statistics.multiplicity import ADJUSTMENTS, adjusted_tests

# published: Benjamini & Hochberg (1995)
P = [
    0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.3240, 0.4262, 0.5719, 0.6528, 0.7590, 1.0,
]  # fmt: skip


@pytest.mark.parametrize(
    ("method", "count"),
    [("bonferroni", 3), ("holm", 3), ("hochberg", 3), ("benjamini_hochberg", 4), ("benjamini_yekutieli", 3)],
)
def test_how_many_of_fifteen_are_shown(method, count):
    # published: 4 by the false discovery rate and 3 by Bonferroni; the others independent: statsmodels 0.15.0
    found = adjusted_tests(P, method)
    assert (found.n_shown, sum(found.is_shown)) == (count, count)


@pytest.mark.parametrize(
    ("method", "expected"),
    [  # independent: statsmodels 0.15.0
        ("holm", [0.0015, 0.0056, 0.0247, 0.1140, 0.2211, 0.2780, 0.2780, 0.2780, 0.3213, 1, 1, 1, 1, 1, 1]),
        (
            "benjamini_hochberg",
            [
                0.0015, 0.0030, 0.0095, 0.035625, 0.0603, 0.0639, 0.0639, 0.0645, 0.0765,
                0.4860, 0.5812, 0.7149, 0.7532, 0.8132, 1,
            ],
        ),
    ],
)  # fmt: skip
def test_adjusted_values(method, expected):
    assert_allclose(adjusted_tests(P, method).adjusted, expected, atol=5.1e-5)


def test_step_up_and_step_down_by_hand():
    # hand: m·p, (m − 1)·p, p of 0.01, 0.02, 0.03; Holm takes maxima from below, Hochberg minima from above
    assert_allclose(adjusted_tests([0.01, 0.02, 0.03], "holm").adjusted, [0.03, 0.04, 0.04])
    assert_allclose(adjusted_tests([0.01, 0.02, 0.03], "hochberg").adjusted, [0.03, 0.03, 0.03])
    assert_allclose(adjusted_tests([0.01, 0.02, 0.03], "benjamini_hochberg").adjusted, [0.03, 0.03, 0.03])
    assert_allclose(adjusted_tests([0.01, 0.02, 0.03], "benjamini_yekutieli").adjusted, [0.055, 0.055, 0.055])


@pytest.mark.parametrize("method", ADJUSTMENTS)
def test_order_does_not_matter_and_one_test_stays_as_it_is(method):
    mixed = np.random.default_rng(1).permutation(len(P))
    assert_allclose(
        adjusted_tests(np.array(P)[mixed], method).adjusted, np.array(adjusted_tests(P, method).adjusted)[mixed]
    )
    assert adjusted_tests([0.03], method).adjusted == (0.03,)


@pytest.mark.parametrize(
    ("p_values", "method", "words"),
    [
        ([0.1, 1.2], "holm", "between 0 and 1"),
        ([math.nan], "holm", "NaN"),
        ([], "holm", "no values"),
        ([0.1], "x", "unknown"),
    ],
)
def test_input_that_is_none_is_refused(p_values, method, words):
    with pytest.raises(ValueError, match=words):
        adjusted_tests(p_values, method)


@pytest.mark.parametrize("m", range(2, 40))
def test_p_values_on_the_line_are_shown(m):
    """Limit: p(i) = i·α/m is where Benjamini and Hochberg still reject; all of them then equal α."""
    found = adjusted_tests(0.05 * np.arange(1, m + 1) / m, "benjamini_hochberg")
    assert_allclose(found.adjusted, 0.05)
    assert found.n_shown == m
    assert adjusted_tests([0.05 / m] + [1.0] * (m - 1), "bonferroni").n_shown == 1


def test_a_table_of_p_values_is_refused():
    with pytest.raises(ValueError, match="shape"):
        adjusted_tests([[0.01, 0.2], [0.02, 0.5]])
