"""Ice adhesion: stress from force and area, reduction with its interval, scaling on smooth coatings."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from analysis.measures import (
    adhesion_reduction_factor,
    ice_adhesion_reduction,
    ice_adhesion_strength,
    receding_work_factor,
    smooth_ice_adhesion,
)


def test_stress_in_kilopascal():
    assert ice_adhesion_strength(120, 25 * 25) == 192.0  # hand: 120 N / 625 mm² = 0.192 N/mm²
    found = ice_adhesion_strength([[0, 10], [math.nan, 1e6]], [100, 400])
    assert_allclose(found, [[0, 25], [math.nan, 2.5e6]])


@pytest.mark.parametrize(
    ("receding", "factor"),
    [(70, 1.3420), (90, 1.0), (102, 0.7921), (117.5, 0.5383), (150, 0.1340), (0, 2.0), (180, 0.0)],
)
def test_receding_factor(receding, factor):
    assert_allclose(receding_work_factor(receding), factor, atol=6e-5)  # hand: 1 + cosine, four decimals
    assert_allclose(smooth_ice_adhesion(500, 90, receding), 500 * factor, atol=0.03)


def test_receding_factor_keeps_its_digits_near_180():
    tilt = math.radians(1e-4)  # hand: 1 − cos t = t²/2 to 12 digits
    assert_allclose(receding_work_factor(180 - 1e-4), tilt**2 / 2, rtol=1e-8)


def test_published_fold_reduction_is_within_reach_of_smooth_coatings():
    # published (abstract): up to 4.2-fold; from a receding angle of 70° that needs 1 + cos θr = 0.32, 133°
    assert_allclose(smooth_ice_adhesion(4.2, 70, 132.9), 1.0, rtol=5e-3)


def test_kinds_of_ice_are_told_apart_by_more_than_their_scatter():
    # published: AIP Advances 9 (2019) 055304, abstract, aluminium by kind of ice, MPa: 0.78 ± 0.10 and 0.28 ± 0.08
    factor, u = adhesion_reduction_factor(780, 100, 280, 80)
    from uncertainties import ufloat

    expected = ufloat(780, 100) / ufloat(280, 80)  # independent: uncertainties 3.2.3
    assert_allclose([factor, u], [expected.n, expected.s], rtol=1e-10)
    assert factor - 2 * u > 1


def test_reduction_factor_of_coupons():
    from scipy.stats import ttest_ind

    reference, test = [310.0, 402.0, 295.0, 350.0], [35.0, 52.0, 41.0]
    found = ice_adhesion_reduction(reference, test, method="push", reference_method="push")
    welch = ttest_ind(np.log(reference), np.log(test), equal_var=False)  # independent: scipy 1.17.1
    interval = welch.confidence_interval(0.95)
    assert_allclose(found.factor.ratio, np.exp(np.log(reference).mean() - np.log(test).mean()))
    assert_allclose([found.factor.low, found.factor.high], np.exp([interval.low, interval.high]), rtol=1e-10)
    assert_allclose(found.factor.degrees_of_freedom, welch.df, rtol=1e-10)
    assert "no standard test" in found.notes[0]


def test_what_the_notes_say():
    alone = ice_adhesion_reduction([300], [100, 120], method="push", reference_method="push")
    assert alone.factor.low is None
    assert "no interval" in alone.notes[1]
    same = ice_adhesion_reduction([300, 100], [100, 290], method="push", reference_method="push")
    assert "holds 1" in same.notes[1]
    equal = ice_adhesion_reduction([300, 300], [100, 100], method="push", reference_method="push")
    assert_allclose(equal.factor.ratio, 3)
    assert (equal.factor.u_ln, equal.factor.low) == (0.0, None)


@pytest.mark.parametrize(("method", "reference"), [("push", "centrifuge"), ("", ""), (" ", " ")])
def test_different_methods_are_never_compared(method, reference):
    with pytest.raises(ValueError, match="one method"):
        ice_adhesion_reduction([300, 310], [100, 120], method=method, reference_method=reference)


@pytest.mark.parametrize("bad", [[], [0.0, 1.0], [math.nan, 1.0], [[1.0, 2.0]], [-1.0]])
def test_impossible_coupons_are_refused(bad):
    for reference, test in (([300, 310], bad), (bad, [300, 310])):
        with pytest.raises(ValueError, match="group"):
            ice_adhesion_reduction(reference, test, method="push", reference_method="push")


def test_impossible_arguments_are_refused():
    for call in (
        lambda: ice_adhesion_strength(-1, 1),
        lambda: ice_adhesion_strength(1, 0),
        lambda: receding_work_factor(181),
        lambda: smooth_ice_adhesion(100, 180, 90),
        lambda: adhesion_reduction_factor(1, -1, 1, 0),
        lambda: ice_adhesion_reduction([1, 2], [1, 2], method="a", reference_method="a", confidence=1.0),
    ):
        with pytest.raises(ValueError):
            call()
