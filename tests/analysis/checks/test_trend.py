"""A coupon against its own run at dose 0."""

import pytest
from numpy.testing import assert_allclose

from analysis.checks import trend_of_coupon
from analysis.records import CANNOT_TELL, DOES_NOT_HOLD, HOLDS
from tests.analysis.runs import make_angles, make_run, make_sliding


def test_rank_sum_against_a_published_example():
    """Published: permeability data of Hollander & Wolfe: U = 35, exact two-sided p 0.254412."""
    before = [0.80, 0.83, 1.89, 1.04, 1.45, 1.38, 1.91, 1.64, 0.73, 1.46]
    now = [1.15, 0.88, 0.90, 0.74, 1.21]
    check = trend_of_coupon(make_run("static_angle", now, dose=20.0), make_run("static_angle", before))
    assert check.outcome == HOLDS
    assert_allclose(check.numbers["p"], 0.254412, atol=5e-7)


def test_a_coupon_that_got_worse():
    """Hand: five against five without overlap: p = 2/252."""
    fresh = make_angles([(113, 111), (113, 111.2), (113, 111.4), (113, 111.6), (113, 111.8)])
    aged = make_angles([(113, 108), (113, 108.2), (113, 108.4), (113, 108.6), (113, 108.8)], dose=20.0)
    check = trend_of_coupon(aged, fresh)
    assert check.outcome == DOES_NOT_HOLD
    assert_allclose(check.numbers["p"], 2 / 252)
    assert "median 1.60° at dose 0, 4.60° now" in check.why


def test_drops_that_did_not_move_count_as_the_worst():
    fresh = make_sliding([3.0, 3.5, 4.0, 4.5, 5.0])
    aged = make_sliding([12.0, 14.0, ">30", ">30", ">30"], dose=20.0)
    check = trend_of_coupon(aged, fresh)
    assert check.outcome == DOES_NOT_HOLD
    assert "beyond the stage limit now" in check.why


def test_too_few_drops_to_show_a_change():
    """Hand: three against three: the smallest p is 2/20."""
    check = trend_of_coupon(make_sliding([20.0, 21.0, 22.0], dose=20.0), make_sliding([3.0, 4.0, 5.0]))
    assert check.outcome == CANNOT_TELL
    assert "no change could be shown" in check.why


def test_no_run_at_dose_0():
    aged = make_sliding([3.0, 4.0], dose=20.0)
    assert trend_of_coupon(aged).outcome == CANNOT_TELL
    assert trend_of_coupon(aged, make_run("static_angle", [110.0, 111.0])).outcome == CANNOT_TELL
    assert trend_of_coupon(make_sliding([3.0, 4.0])) is None  # it is the run at dose 0


@pytest.mark.parametrize(("now", "outcome", "retained"), [(19.9, HOLDS, 99.5), (18.4, DOES_NOT_HOLD, 92.0)])
def test_lubricant_that_left(now, outcome, retained):
    """Hand: the balance tells 2·√2·0.1/√3 = 0.163 mg apart."""
    check = trend_of_coupon(make_run("lubricant_mass", [now], dose=60.0), make_run("lubricant_mass", [20.0]))
    assert check.outcome == outcome
    assert_allclose(check.numbers["retained [%]"], retained)
    assert "0.16 mg" in check.why


def test_retained_share_needs_a_mass_at_dose_0():
    check = trend_of_coupon(make_run("lubricant_mass", [18.0], dose=60.0), make_run("lubricant_mass", [0.0]))
    assert check.outcome == CANNOT_TELL


def test_a_gain_of_mass_is_told_apart_from_a_loss():
    """Hand: 20.0 to 21.0 mg on a balance of 0.1 mg; lubricant does not come back, so something else was weighed."""
    check = trend_of_coupon(make_run("lubricant_mass", [21.0], dose=60.0), make_run("lubricant_mass", [20.0]))
    assert check.outcome == DOES_NOT_HOLD
    assert "gained mass" in check.why
    lost = trend_of_coupon(make_run("lubricant_mass", [18.4], dose=60.0), make_run("lubricant_mass", [20.0]))
    assert "was lost since dose 0" in lost.why
