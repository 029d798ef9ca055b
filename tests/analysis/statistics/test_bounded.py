"""Values in a range: scale and limits near the ends, and which mean is reported."""

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from analysis.statistics.bounded import angle_means, bounded_interval, cosine_uncertainty
from analysis.statistics.replication import mean_interval
from tests.analysis.tables import table

NEAR_0 = table("near_zero")["value"].to_numpy()
NEAR_180 = table("near_180")["value"].to_numpy()


def test_near_zero_the_logarithm_is_used_and_the_median_reported():
    found = bounded_interval(NEAR_0)
    # independent: scipy 1.17
    assert (found.scale, found.n) == ("logarithm", 8)
    assert found.mean_kind.startswith("median")
    assert found.rule == "the normal prediction would leave the range"
    assert_allclose(found.centre, 1.447424, atol=5e-7)  # geometric mean
    assert_allclose((found.low, found.high), (0.665236, 3.149312), atol=1e-6)
    assert_allclose((found.tolerance_low, found.tolerance_high), (0.044464, 47.1178), rtol=1.5e-5)
    assert_allclose(found.upper_limit, 28.0388, rtol=5e-6)
    assert_allclose(found.arithmetic_mean, 2.1125, rtol=1e-12)


def test_near_zero_the_normal_limits_are_impossible_and_cut():
    found = bounded_interval(NEAR_0, scale="as measured")
    assert_allclose((found.centre, found.sd), (2.1125, 2.029382), atol=5e-7)  # independent: scipy 1.17
    # −2.98 (prediction) and −5.49 (tolerance) without the range; the one-sided 8.58 is far below the 28.04 above
    assert (found.prediction_low, found.tolerance_low, found.lower_limit) == (0, 0, 0)
    assert_allclose((found.tolerance_high, found.upper_limit), (9.71, 8.58), atol=5e-3)
    assert found.mean_kind == "arithmetic mean"


def test_near_180_the_logit_is_used():
    found = bounded_interval(NEAR_180, 0, 180)
    # independent: scipy 1.17
    assert found.scale == "logit"
    assert_allclose(found.centre, 176.609266, atol=5e-7)
    assert_allclose((found.low, found.high), (173.472301, 178.253898), atol=1e-6)
    assert_allclose((found.prediction_low, found.prediction_high), (157.266527, 179.542177), atol=1e-6)
    assert_allclose(found.lower_limit, 144.031, atol=5e-4)
    normal = bounded_interval(NEAR_180, 0, 180, scale="as measured")
    assert_allclose(normal.prediction_low, 168.685, atol=5e-4)
    assert (normal.prediction_high, normal.upper_limit) == (180, 180)  # not 182.765 and 184.67


def test_far_from_the_ends_nothing_is_transformed():
    values = [104.0, 106.0, 105.0, 107.5, 103.0]
    found, expected = bounded_interval(values, 0, 180), mean_interval(values)
    assert (found.scale, found.mean_kind) == ("as measured", "arithmetic mean")
    assert_allclose((found.centre, found.low, found.high), (expected.mean, expected.low, expected.high), rtol=1e-12)


def test_the_scale_follows_from_what_is_going_to_be_used():
    values = [10.0, 14.0, 8.0, 12.0]
    assert bounded_interval(values, 0, 90, judged_by="interval").scale == "as measured"
    found = bounded_interval(values, 0, 90)
    assert (found.scale, found.rule) == ("logit", "the normal tolerance limit would leave the range")


def test_a_value_on_the_end_has_no_logarithm_and_limits_are_cut():
    found = bounded_interval([0.0, 0.5, 1.0, 2.5])
    assert found.scale == "as measured"
    assert "on the end" in found.rule
    assert found.low == 0
    assert found.high > found.centre == 1.0


def test_one_value_and_equal_values():
    alone = bounded_interval([3.0])
    assert (alone.centre, alone.low, alone.high, alone.sd, alone.upper_limit) == (3.0, None, None, None, None)
    same = bounded_interval([3.0, 3.0, 3.0])
    assert (same.low, same.high, same.tolerance_high, same.scale) == (3, 3, 3, "as measured")


def test_a_range_from_elsewhere_is_only_shifted():
    moved = bounded_interval(NEAR_0 + 20, low=20)
    assert_allclose((moved.centre, moved.upper_limit), (21.447424, 48.0387), rtol=1e-6)  # limit: shift of the above


@given(st.lists(st.floats(0, 90), min_size=2, max_size=12), st.sampled_from(["interval", "prediction", "tolerance"]))
def test_no_limit_leaves_the_range_and_all_enclose_the_centre(values, judged_by):
    found = bounded_interval(values, 0, 90, judged_by=judged_by)
    lower = [found.tolerance_low, found.lower_limit, found.prediction_low, found.low]
    upper = [found.tolerance_high, found.upper_limit, found.prediction_high, found.high]
    slack = 1e-9 * 90
    assert all(0 <= end <= found.centre + slack for end in lower)
    assert all(found.centre - slack <= end <= 90 for end in upper)


@given(st.lists(st.floats(0.5, 179.5), min_size=3, max_size=8, unique=True))
def test_the_mirrored_range_gives_mirrored_limits(values):
    assume(np.ptp(values) > 1e-3)
    found, mirrored = bounded_interval(values, 0, 180), bounded_interval([180 - v for v in values], 0, 180)
    assert_allclose((mirrored.low, mirrored.high), (180 - found.high, 180 - found.low), rtol=1e-7, atol=1e-7)


def test_mean_of_cosines_is_not_the_mean_angle():
    means = angle_means(NEAR_180)
    # independent: numpy
    assert_allclose(means.mean_cosine, -0.9961714, atol=5e-8)
    assert_allclose((means.angle_of_mean_cosine_deg, means.mean_deg), (174.984684, 175.725), atol=5e-7)
    assert angle_means([180.0, 180.0]).angle_of_mean_cosine_deg == 180  # limit


def test_uncertainty_of_the_cosine_vanishes_at_180():
    found = cosine_uncertainty([0.0, 90.0, 180.0, math.nan], 2.0)
    assert_allclose(found, [0, math.radians(2), 0, math.nan], atol=1e-15)  # hand
    assert type(cosine_uncertainty(90.0, 2.0)) is float


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: bounded_interval([]), "no values"),
        (lambda: bounded_interval([1.0, math.nan]), "NaN"),
        (lambda: bounded_interval([-1.0, 2.0]), "value must be at least 0"),
        (lambda: bounded_interval([91.0, 2.0], 0, 90), "value must be at most 90"),
        (lambda: bounded_interval([1.0], 5, 5), "range"),
        (lambda: bounded_interval([1.0, 2.0], scale="logit"), "as measured or logarithm"),
        (lambda: bounded_interval([0.0, 2.0], scale="logarithm"), "on the end"),
        (lambda: bounded_interval([1.0, 2.0], judged_by="taste"), "judged by"),
        (lambda: bounded_interval([1.0, 2.0], confidence=0), "confidence"),
        (lambda: bounded_interval([1.0, 2.0], coverage=1), "coverage"),
        (lambda: angle_means([181.0]), "at most 180"),
        (lambda: cosine_uncertainty(90.0, -1.0), "at least 0"),
    ],
)
def test_what_makes_no_sense_is_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()
