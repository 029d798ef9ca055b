"""One value a coupon: mean and median of its drops, with drops that stayed or were gone at once."""

import math

import pytest
from numpy.testing import assert_allclose
from scipy import stats

from analysis.coupon_values import Observed, coupon_mean, coupon_median, fit_over_coupons, retained_share
from analysis.records import MEASURED, MOVED_ON_PLACING, NOT_MOVED, CouponValue


def observed(*readings):
    """(value, qualifier) or a plain measured value each."""
    seen = Observed()
    for reading in readings:
        seen.add(*(reading if isinstance(reading, tuple) else (reading, MEASURED)))
    return seen


def test_nothing_observed_has_no_value():
    assert (coupon_mean(Observed()), coupon_median(Observed()), Observed().stage_limit) == (None, None, None)


def test_one_drop_is_its_own_mean_and_median():
    assert (coupon_mean(observed(4.5)), coupon_median(observed(4.5))) == (4.5, 4.5)


def test_a_drop_gone_at_no_tilt_is_known_and_at_a_tilt_is_not():
    assert not observed((0.0, MOVED_ON_PLACING), 1.0).is_censored  # limit: no sliding angle lies below 0
    assert observed((5.0, MOVED_ON_PLACING), 6.0).is_censored


def test_drops_gone_at_a_tilt_enter_from_below():
    seen = observed((2.0, MOVED_ON_PLACING), 2.5, 3.0, 4.0, 3.5)
    mu, _ = stats.norm.fit(stats.CensoredData(uncensored=[2.5, 3.0, 4.0, 3.5], left=[2.0]))
    assert_allclose(coupon_mean(seen), mu, rtol=1e-3)  # independent: scipy


def test_the_lowest_stage_limit_is_kept():
    assert observed((30.0, NOT_MOVED), (45.0, NOT_MOVED), 3.0).stage_limit == 30.0


def test_too_few_drops_that_moved_give_no_mean_but_a_median():
    seen = observed((30.0, NOT_MOVED), 4.0, 5.0)
    assert (coupon_mean(seen), coupon_median(seen)) == (None, 5.0)


@pytest.mark.parametrize(
    ("after", "before", "share"),
    [
        (observed(9.0), observed(10.0), 90.0),
        (observed(9.0, 11.0), observed(10.0), 100.0),
        (None, observed(10.0), None),
        (observed(9.0), None, None),
        (observed(9.0), Observed(), None),
        (observed(9.0), observed(0.0), None),
        (observed(9.0), observed(-1.0), None),
    ],
)
def test_retained_share_needs_both_masses(after, before, share):
    assert retained_share(after, before) == share


def test_fit_over_coupons_only_when_a_coupon_lies_beyond():
    values = [CouponValue(f"C{i}", "treated", value, 5) for i, value in enumerate((2.0, 3.0, 4.0))]
    assert fit_over_coupons(values, 0.95) is None
    values.append(CouponValue("C4", "treated", math.inf, 5, 5, 30.0))
    fit = fit_over_coupons(values, 0.95)
    mu, _ = stats.norm.fit(stats.CensoredData(uncensored=[2.0, 3.0, 4.0], right=[30.0]))
    assert_allclose(fit.mu, mu, rtol=1e-3)  # independent: scipy
