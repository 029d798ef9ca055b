"""Decision rules: acceptance limits, verdicts and the risk on the limit."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from analysis.records import CANNOT_TELL, FAIL, PASS
from analysis.statistics.decisions import (
    CONDITIONAL_FAIL,
    CONDITIONAL_PASS,
    acceptance_limits,
    decide,
    guard_ratio_for_risk,
    risk_at_acceptance_limit,
)


@pytest.mark.parametrize(
    ("ratio", "risk", "tolerance"),
    # published: ILAC-G8:09/2019, table 1, for U = 2u (4.85 %: ISO 14253-1); digits independent
    [(0, 0.5, 1e-12), (0.83, 0.0485, 5.1e-5), (1, 0.0228, 5.1e-5), (1.5, 0.00135, 5.1e-6), (3, 9.9e-10, 5.1e-12)],
)
def test_risk_on_the_acceptance_limit(ratio, risk, tolerance):
    assert_allclose(risk_at_acceptance_limit(ratio), risk, atol=tolerance)
    assert_allclose(guard_ratio_for_risk(risk_at_acceptance_limit(ratio)), ratio, atol=1e-9)  # limit: round trip


def test_the_usual_guard_band_keeps_the_risk_below_2_5_percent():
    assert risk_at_acceptance_limit(1) < 0.025
    assert_allclose(guard_ratio_for_risk(0.05, [1.0, 2.0, math.nan]), [1.644854, 0.822427, math.nan], rtol=1e-6)


def test_limits_are_drawn_in():
    found = acceptance_limits(0.5, 8.0, 10.0)
    assert (found.lower, found.upper, found.guard, found.is_empty) == (8.5, 9.5, 0.5, False)
    assert acceptance_limits(0.5, upper=10.0).lower == -math.inf
    simple = acceptance_limits(0.5, upper=10.0, guard_ratio=0)
    assert simple.upper == 10.0
    assert acceptance_limits(0.5, upper=10.0, guard_ratio=-1).upper == 10.5  # guarded rejection
    assert acceptance_limits(1.5, 8.0, 10.0).is_empty is True
    many = acceptance_limits([0.1, 0.2], upper=[[10.0], [math.nan]])
    assert_allclose(many.upper, [[9.9, 9.8], [math.nan, math.nan]])


@pytest.mark.parametrize(
    ("value", "binary", "four_way"),
    # hand: upper limit 10, w = 0.5; on a limit counts as inside
    [
        (9.0, PASS, PASS),
        (9.5, PASS, PASS),
        (9.6, FAIL, CONDITIONAL_PASS),
        (10.0, FAIL, CONDITIONAL_PASS),
        (10.1, FAIL, CONDITIONAL_FAIL),
        (10.5, FAIL, CONDITIONAL_FAIL),
        (10.6, FAIL, FAIL),
        (math.nan, CANNOT_TELL, CANNOT_TELL),
    ],
)
def test_verdict(value, binary, four_way):
    assert decide(value, 0.5, upper=10.0) == binary
    assert decide(value, 0.5, upper=10.0, is_binary=False) == four_way
    assert decide(-value, 0.5, lower=-10.0) == binary  # limit: mirrored
    assert decide(-value, 0.5, lower=-10.0, is_binary=False) == four_way


def test_two_limits():
    values = [-0.1, 0.05, 0.3, 1.0, 1.9, 2.3]
    expected = [CONDITIONAL_FAIL, CONDITIONAL_PASS, PASS, PASS, CONDITIONAL_PASS, FAIL]
    assert decide(values, 0.2, 0.0, 2.0, is_binary=False).tolist() == expected
    assert decide(values, 0.2, 0.0, 2.0, guard_ratio=0).tolist() == [FAIL, PASS, PASS, PASS, PASS, FAIL]
    assert decide([1.0], 5.0, 0.0, 2.0).tolist() == [FAIL]  # guard bands leave nothing to accept


def test_a_value_computed_onto_the_limit_passes():
    assert 0.1 + 0.2 > 0.3
    assert decide(0.1 + 0.2, 0.1, upper=0.3, guard_ratio=0) == PASS
    assert decide(0.1 + 0.2, 0.1, upper=0.4) == PASS


def test_verdict_does_not_depend_on_the_unit():
    values = np.linspace(7, 12, 101)
    one = decide(values, 0.5, 8.0, 10.0, is_binary=False)
    for factor in (1e-9, 1e9):
        assert (decide(values * factor, 0.5 * factor, 8.0 * factor, 10.0 * factor, is_binary=False) == one).all()


def test_arrays_and_scalars():
    assert type(decide(1.0, 0.1, upper=2.0)) is str
    assert decide([[1.0, 3.0]], [[0.1], [0.2]], upper=2.0).tolist() == [[PASS, FAIL]] * 2
    assert decide([1.0, 1.0], [0.1, math.nan], upper=2.0).tolist() == [PASS, CANNOT_TELL]
    assert decide(1.0, 0.1, upper=[2.0, math.nan]).tolist() == [PASS, CANNOT_TELL]


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: decide(1.0, 0.1), "needs a limit"),
        (lambda: decide(1.0, -0.1, upper=2.0), "expanded uncertainty must be at least 0"),
        (lambda: decide(1.0, 0.1, upper=2.0, guard_ratio=-1), "guard ratio must be at least 0"),
        (lambda: decide(1.0, 0.1, 2.0, 2.0), "lower limit must be below"),
        (lambda: acceptance_limits(0.1), "needs a limit"),
        (lambda: acceptance_limits(0.1, upper=math.inf), "upper limit must be a finite number"),
        (lambda: risk_at_acceptance_limit(1.0, 0.0), "coverage factor must be above 0"),
        (lambda: guard_ratio_for_risk(0.0), "risk must be above 0"),
        (lambda: guard_ratio_for_risk(1.0), "risk must be below 1"),
    ],
)
def test_out_of_range_is_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()
