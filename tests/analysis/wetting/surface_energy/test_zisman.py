"""Critical tension against recalled data, an exact line, statsmodels and the uncertainties package."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from analysis.wetting.surface_energy import critical_tension
from tests.analysis.tables import table


def test_alkanes_on_ptfe():
    rows = table("alkanes_on_ptfe")  # from memory; line computed apart from the project
    found = critical_tension(rows.tension, rows.angle_deg)
    assert_allclose([found.slope, found.value], [-0.032678, 18.153], atol=6e-4)
    assert_allclose(found.slope, -0.032678, atol=6e-7)
    assert_allclose(found.value, 18.5, atol=0.5)  # from memory: literature
    assert found.is_extrapolated
    assert "extrapolated by 0.247 mN/m" in found.notes[0]


def test_exact_line():
    # computed apart from the project: cos θ = 1 − 0.03(γL − 18.5), angles to 0.01 deg
    tensions, angles = [20.1, 21.6, 23.8, 25.4, 27.5], [17.82, 24.91, 32.75, 37.53, 43.11]
    found = critical_tension(tensions, angles)
    assert_allclose([found.value, found.slope], [18.5, -0.03], rtol=1e-3)
    exact = critical_tension(tensions, np.degrees(np.arccos(1 - 0.03 * (np.array(tensions) - 18.5))))
    assert_allclose([exact.value, exact.slope, exact.r_squared], [18.5, -0.03, 1], rtol=1e-10)  # limit
    assert_allclose(exact.u_from_residuals, 0, atol=1e-9)


def test_line_against_ordinary_least_squares():
    import statsmodels.api as sm
    from uncertainties import correlated_values

    rows = table("alkanes_on_ptfe")
    found = critical_tension(rows.tension, rows.angle_deg)
    ols = sm.OLS(np.cos(np.radians(rows.angle_deg)), sm.add_constant(rows.tension)).fit()
    intercept, slope = correlated_values(ols.params.to_numpy(), ols.cov_params().to_numpy())
    crossing = (1 - intercept) / slope  # independent: statsmodels 0.15.0 with uncertainties 3.2.3
    assert_allclose([found.value, found.u_from_residuals], [crossing.n, crossing.s], rtol=1e-8)
    assert_allclose(found.r_squared, ols.rsquared)


def test_scatter_of_the_angles_against_moved_angles():
    rows = table("alkanes_on_ptfe")
    found = critical_tension(rows.tension, rows.angle_deg, angle_sd_deg=2, replicates=4)
    moves = []
    for i in range(len(rows)):  # hand: central differences
        step = np.zeros(len(rows))
        step[i] = 0.001
        up, down = (critical_tension(rows.tension, rows.angle_deg + sign * step).value for sign in (1, -1))
        moves.append((up - down) / 0.002)
    assert_allclose(found.u_from_angles, np.linalg.norm(moves), rtol=1e-6)  # sd/√n = 1 deg


def test_liquids_that_spread_are_left_out_and_named():
    found = critical_tension([18, 20, 30, 40], [0, 30, 41.409622109, 60], surface="rough")
    without = critical_tension([20, 30, 40], [30, 41.409622109, 60])
    assert found.value == without.value
    assert "1 liquid(s) at 0 deg" in found.notes[0]
    assert not found.is_extrapolated or found.value < 18
    assert found.caution


def test_two_liquids_give_a_line_without_residuals():
    found = critical_tension([30, 40], [41.409622109, 60])
    assert_allclose(found.value, 20, rtol=1e-9)  # hand: cosines 0.75 and 0.5
    assert (found.u_from_residuals, found.r_squared, found.u_from_angles) == (None, None, None)


@pytest.mark.parametrize("angles", [[50, 40, 30], [40, 40, 40]])
def test_a_cosine_that_does_not_fall_determines_nothing(angles):
    found = critical_tension([20, 30, 40], angles, angle_sd_deg=1)
    assert (found.value, found.u_from_angles, found.is_extrapolated) == (None, None, False)
    assert "not determined" in found.notes[0]


@pytest.mark.parametrize(
    ("tensions", "angles"),
    [([20], [30]), ([], []), ([20, 30], [0, 40]), ([20, 20], [30, 40]), ([20, 30], [30]), ([20, -1], [30, 40]),
     ([20, 30], [30, math.nan]), ([20, 30], [30, 181]), ([[20, 30]], [[30, 40]])],
)  # fmt: skip
def test_what_cannot_be_fitted_is_refused(tensions, angles):
    with pytest.raises(ValueError):
        critical_tension(tensions, angles)
