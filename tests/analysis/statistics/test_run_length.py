"""Average run lengths against the published tables and a simulation with the same rules."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from analysis.statistics.run_length import cusum_arl, ewma_arl, run_rules_arl, shewhart_arl
from analysis.statistics.run_rules import run_rules

SHIFTS = [0, 0.5, 1, 2, 3]
# independent: exact Markov chain and Nyström apart from this project (numpy 2.4.6); the tables of Lucas & Saccucci
# (1990), Montgomery and Champ & Woodall (1987) agree from memory. Tolerance: the last printed digit.


@pytest.mark.parametrize(
    ("found", "expected", "digits"),
    [
        (shewhart_arl(SHIFTS), [370.40, 155.22, 43.89, 6.30, 2.00], 2),
        (cusum_arl(SHIFTS, 0.5, 4), [167.68, 26.63, 8.38, 3.34, 2.19], 2),
        (cusum_arl(SHIFTS, 0.5, 5), [465.44, 38.00, 10.38, 4.01, 2.57], 2),
        (ewma_arl(SHIFTS, 0.40, 3.054), [499.95, 71.20, 14.26, 3.52, 2.02], 2),
        (ewma_arl(SHIFTS, 0.20, 2.962), [499.74, 41.76, 10.54, 3.74, 2.38], 2),
        (ewma_arl(SHIFTS, 0.10, 2.814), [499.58, 31.30, 10.33, 4.36, 2.87], 2),
        (ewma_arl(SHIFTS, 0.05, 2.615), [499.93, 28.76, 11.38, 5.22, 3.50], 2),
        (run_rules_arl([0], (1,)), [370.40], 2),
        (run_rules_arl([0], (1, 5)), [225.44], 2),
        (run_rules_arl([0], (1, 6)), [166.05], 2),
        (run_rules_arl([0], (1, 2), {2: 8}), [152.73], 2),
        (run_rules_arl([0, 1, 2], (1, 2, 5, 6), {2: 8}), [91.75, 9.22, 3.13], 2),
    ],
)
def test_run_length(found, expected, digits):
    assert_allclose(found, expected, atol=0.5001 * 10**-digits)


def test_limits_that_have_a_closed_form():
    # limit: λ = 1 is the Shewhart chart; rule 2 alone is a run of heads or tails, 2ⁿ⁻¹·(…) = 2ⁿ − 1 tosses
    assert_allclose(ewma_arl(SHIFTS, 1.0, 3.0), shewhart_arl(SHIFTS), rtol=1e-10)
    assert_allclose(run_rules_arl(SHIFTS, (1,)), shewhart_arl(SHIFTS), rtol=1e-10)
    assert_allclose(run_rules_arl(0, (2,), {2: 8}), 2**8 - 1, rtol=1e-10)
    p = math.erf(1 / math.sqrt(2))
    assert_allclose(run_rules_arl(0, (7,)), (1 - p**15) / ((1 - p) * p**15), rtol=1e-10)  # hand: a run of 15 successes
    assert_allclose(cusum_arl(0, 0.5, 4, is_two_sided=False), 2 * cusum_arl(0, 0.5, 4), rtol=1e-12)


def test_chain_and_patterns_agree():
    """The chain of zones against the patterns found in simulated points: the same rules, written twice."""
    rules, rng = (1, 2, 5, 6, 7, 8), np.random.default_rng(11)
    lengths = []
    for _ in range(400):
        points = rng.normal(size=1500)
        lengths.append(run_rules(points, rules=rules)[0].position + 1)
    error = np.std(lengths, ddof=1) / math.sqrt(len(lengths))
    assert abs(np.mean(lengths) - run_rules_arl(0, rules)) < 3 * error


def test_eight_outside_on_both_sides_alone():
    # independent: simulation of rule 8 alone after a widening that a shift of 0 cannot give; here at a shift of 1.5
    rng, lengths = np.random.default_rng(12), []
    for _ in range(300):
        signals = run_rules(rng.normal(1.5, 1, size=9000), rules=(8,), lengths={8: 4})
        lengths.append(signals[0].position + 1)
    error = np.std(lengths, ddof=1) / math.sqrt(len(lengths))
    assert abs(np.mean(lengths) - run_rules_arl(1.5, (8,), {8: 4})) < 3 * error


def test_both_directions_are_alike():
    for function in (shewhart_arl, cusum_arl, ewma_arl, run_rules_arl):
        assert_allclose(function(-1.3), function(1.3), rtol=1e-9)


def test_more_rules_signal_sooner():
    assert run_rules_arl(0, (1,)) > run_rules_arl(0, (1, 5)) > run_rules_arl(0, (1, 5, 6)) > run_rules_arl(0)
    assert 370.4 / run_rules_arl(0, (1, 2, 5, 6), {2: 8}) > 4  # published: false alarms four times as often


def test_scalars_arrays_and_nan():
    for function in (shewhart_arl, cusum_arl, ewma_arl, run_rules_arl):
        assert type(function(1)) is float
        found = function([[0.0, math.nan]])
        assert found.shape == (1, 2)
        assert np.isnan(found).tolist() == [[False, True]]
        assert_allclose(function(60.0), 1.0, rtol=1e-9)  # limit: a huge shift shows in one point


def test_what_no_double_can_hold_is_infinite():
    assert run_rules_arl(30, (8,)) == math.inf  # always on one side
    assert shewhart_arl(0, 60) == cusum_arl(0, 0.5, 60) == ewma_arl(0, 0.1, 30) == math.inf


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: shewhart_arl(0, 0), "limit must be above 0"),
        (lambda: cusum_arl(0, -0.1), "slack must be at least 0"),
        (lambda: cusum_arl(0, 0.5, 0), "decision interval must be above 0"),
        (lambda: ewma_arl(0, 0), "weight must be above 0"),
        (lambda: ewma_arl(0, 1.1), "weight must be at most 1"),
        (lambda: ewma_arl(0, 0.2, -1), "width must be above 0"),
        (lambda: run_rules_arl(0, (1, 3)), "rule 3 depends on the order"),
        (lambda: run_rules_arl(0, ()), "one rule"),
        (lambda: run_rules_arl(0, (5,), {5: (6, 20)}), "too long for a chain"),
        (lambda: shewhart_arl(math.inf), "shift must be a finite number"),
    ],
)
def test_out_of_range_is_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()
