"""Simulated sliding angle against first order, exact probabilities and physical limits."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.stats import norm

from analysis.wetting.retention import CANNOT_SLIDE, RETENTION_FORMS, predicted_sliding
from analysis.wetting.sliding_simulation import simulated_sliding

DROP = {
    "width_mm": 2.80,
    "advancing_deg": (110, 2),
    "receding_deg": (95, 2),
    "tension": (72.7, 0.2),
    "density": 998.2,
    "volume_ul": (10, 0.2),
    "width_share": 0.05 / 2.80,
    "form": RETENTION_FORMS["cosine_cubic"],
}
SHARP = {"advancing_deg": (110, 0), "receding_deg": (95, 0), "volume_ul": (10, 0), "width_share": 0}


def test_agrees_with_first_order_where_that_holds():
    """Independent of it: draws instead of derivatives; 40 000 draws leave about 0.1° in the limits."""
    found, expected = simulated_sliding(**DROP, seed=4, draws=40_000), predicted_sliding(**DROP)
    assert_allclose(found.median_deg, expected.angle_deg, atol=0.15)
    limits = np.degrees(np.arcsin(expected.sine + norm.ppf([0.025, 0.975]) * expected.sine_uncertainty))
    assert_allclose((found.low_deg, found.high_deg), limits, atol=0.4)
    assert found.share_cannot_slide == 0


def test_share_that_cannot_slide_is_the_exact_probability():
    """Independent: scipy norm; only the tension is uncertain, and the sine is proportional to it."""
    drop = {**DROP, **SHARP, "volume_ul": (4.2, 0), "tension": (72.7, 5.0)}
    sine = predicted_sliding(**drop).sine
    exact = norm.sf((1 / sine - 1) * 72.7 / 5.0)
    assert 0.05 < exact < 0.95
    found = simulated_sliding(**drop, seed=8, draws=40_000)
    assert_allclose(found.share_cannot_slide, exact, atol=4 * math.sqrt(exact * (1 - exact) / 40_000))
    assert found.high_deg == CANNOT_SLIDE
    assert found.low_deg < 90


def test_nothing_uncertain_gives_the_prediction_itself():
    """Limit."""
    drop = {**DROP, **SHARP, "tension": (72.7, 0)}
    found, angle = simulated_sliding(**drop, seed=1, draws=100), predicted_sliding(**drop).angle_deg
    assert_allclose((found.low_deg, found.median_deg, found.high_deg), angle)


def test_angles_are_drawn_together_when_their_errors_are_shared():
    """A shift of both angles hardly changes the force: the interval shrinks, as in first order."""
    widths, expected = [], []
    for correlation in (0.0, 0.9, 1.0):
        found = simulated_sliding(**DROP, seed=2, correlation=correlation)
        widths.append(found.high_deg - found.low_deg)
        expected.append(predicted_sliding(**DROP, correlation=correlation).sine_uncertainty)
    assert widths[0] > 2 * widths[1] > 2 * widths[2]
    assert_allclose(np.array(widths) / widths[0], np.array(expected) / expected[0], rtol=0.08)


def test_draws_stay_within_what_is_possible():
    """Near 180° and with hysteresis smaller than its uncertainty no draw leaves 0 to 180° or holds negatively."""
    wild = {**DROP, "advancing_deg": (178, 5), "receding_deg": (177, 5), "volume_ul": (5, 4), "tension": (30, 30)}
    found = simulated_sliding(**wild, seed=3)
    assert 0 <= found.low_deg <= found.median_deg <= found.high_deg
    # hand: the difference of the angles is 1 ± 7°, so that about 44 % of the draws are negative, clipped ones not less
    assert 0.4 < found.share_without_hysteresis < 0.6
    assert found.low_deg == 0


def test_the_seed_decides():
    one, same, other = (simulated_sliding(**DROP, seed=seed) for seed in (5, 5, 6))
    assert one == same
    assert one.median_deg != other.median_deg


def test_many_drops_at_once_with_gaps():
    found = simulated_sliding(**{**DROP, "receding_deg": (np.array([95, math.nan, 20]), 2.0)}, seed=1)
    assert found.median_deg.shape == found.share_cannot_slide.shape == (3,)
    assert np.isnan(found.median_deg).tolist() == np.isnan(found.share_cannot_slide).tolist() == [False, True, False]
    assert found.share_cannot_slide[2] == 1


@pytest.mark.parametrize(
    ("change", "word"),
    [
        ({"advancing_deg": (110, -1)}, "uncertainty of the advancing angle"),
        ({"correlation": 1.1}, "correlation"),
        ({"draws": 10}, "number of draws"),
        ({"receding_deg": (111, 1)}, "receding angle"),
        ({"volume_ul": (0, 1)}, "drop volume"),
    ],
)
def test_impossible_inputs_are_refused(change, word):
    with pytest.raises(ValueError, match=word):
        simulated_sliding(**{**DROP, **change}, seed=1)


def test_a_gap_in_an_uncertainty_leaves_no_share():
    found = simulated_sliding(**{**DROP, "advancing_deg": (110, [2, math.nan])}, seed=1, draws=200)
    for name in ("median_deg", "low_deg", "high_deg", "share_cannot_slide", "share_without_hysteresis"):
        assert np.isnan(getattr(found, name)).tolist() == [False, True]
