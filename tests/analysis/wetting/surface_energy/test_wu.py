"""Wu's harmonic mean against numbers computed apart, scipy's solver, finite differences and exact round trips."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from analysis.wetting.surface_energy import NOT_RESOLVED, ProbeLiquid, owens_wendt, probe_liquids, wu

WATER_DIM = probe_liquids("set_wu", "water", "diiodomethane")
SET_A = probe_liquids("set_a", "water", "diiodomethane", "formamide", "glycerol", "ethylene_glycol")


def angle(dispersive, polar, liquid):
    """The model itself, written down a second time: the angle of a liquid on a solid."""
    work = dispersive * liquid.dispersive / (dispersive + liquid.dispersive)
    if liquid.polar:
        work += polar * liquid.polar / (polar + liquid.polar)
    return math.degrees(math.acos(4 * work / liquid.total - 1))


@pytest.mark.parametrize(
    ("water", "diiodomethane", "dispersive", "polar"),
    [  # computed apart from the project (parts of the liquids from memory): PMMA, PTFE, PS, PET, PVC
        (80, 41, 31.147, 10.115),
        (108, 77, 20.539, 2.007),
        (91, 35, 38.424, 4.169),
        (81, 38, 32.825, 9.273),
        (87, 36, 35.829, 6.149),
    ],
)
def test_polymers(water, diiodomethane, dispersive, polar):
    found = wu([water, diiodomethane], WATER_DIM)
    assert_allclose([found.dispersive, found.polar], [dispersive, polar], atol=6e-4)
    assert_allclose(found.total, dispersive + polar, atol=1.2e-3)
    assert found.polar > owens_wendt([water, diiodomethane], probe_liquids("set_b", "water", "diiodomethane")).polar


def test_two_liquids_against_a_general_solver_begun_at_owens_wendt():
    from scipy.optimize import fsolve

    start = owens_wendt([80, 41], WATER_DIM)
    solved = fsolve(  # independent: scipy 1.17.1
        lambda parts: [angle(*parts, one) - seen for one, seen in zip(WATER_DIM, (80, 41), strict=True)],
        (start.dispersive, start.polar),
        xtol=1e-12,
    )
    found = wu([80, 41], WATER_DIM)
    assert_allclose([found.dispersive, found.polar], solved, rtol=1e-8)


@pytest.mark.parametrize("dispersive", [10.0, 20.0, 30.0])
@pytest.mark.parametrize("polar", [0.5, 4.0, 9.0])
@pytest.mark.parametrize("liquids", [WATER_DIM, SET_A[:2], SET_A[:3], SET_A], ids=["wu", "a2", "a3", "a5"])
def test_round_trip(dispersive, polar, liquids):
    found = wu([angle(dispersive, polar, one) for one in liquids], liquids)
    solutions = [(found.dispersive, found.polar), *found.other_roots]
    # limit: one of the solutions is what the angles were made from
    assert min(abs(d - dispersive) + abs(p - polar) for d, p in solutions) < 1e-6
    if len(liquids) > 2:
        assert found.other_roots == ()


def test_several_physical_solutions_are_told():
    one, two = ProbeLiquid("p", 72.8, 27.19, 45.61, "own"), ProbeLiquid("q", 50.0, 20.0, 30.0, "own")
    liquids, told = (one, two), 0
    for dispersive in np.linspace(1, 60, 12):
        for polar in np.linspace(0.5, 60, 12):
            try:
                angles = [angle(dispersive, polar, liquid) for liquid in liquids]
            except ValueError:  # the liquid spreads
                continue
            found = wu(angles, liquids)
            near = owens_wendt(angles, liquids)
            begin = np.array([near.dispersive or 0.01, near.polar or 0.01])
            away = [np.hypot(*(begin - parts)) for parts in ((found.dispersive, found.polar), *found.other_roots)]
            assert away == sorted(away)  # the one nearest to Owens–Wendt is taken
            for parts in found.other_roots:
                told += 1
                assert_allclose([angle(*parts, liquid) for liquid in liquids], angles, atol=1e-5)
                assert any("physical solutions" in note for note in found.notes)
    assert told > 0


def test_two_liquids_show_no_deviation_and_say_so():
    assert any("met exactly" in note for note in wu([80, 41], WATER_DIM).notes)
    assert not any("met exactly" in note for note in wu([80, 41, 60], SET_A[:3]).notes)


def test_a_polar_part_below_0_is_not_resolved():
    found = wu([130, 75], WATER_DIM, angle_sd_deg=2)
    assert not any("met exactly" in note for note in found.notes)
    assert found.polar is None
    assert found.dispersive > 0
    assert found.total == found.dispersive
    assert any(NOT_RESOLVED in note for note in found.notes)
    assert all(part.polar is None for part in found.uncertainties)


@pytest.mark.parametrize("liquids", [WATER_DIM, SET_A[:4]], ids=["two", "four"])
def test_uncertainty_against_moved_angles(liquids):
    angles = np.array([angle(30, 8, one) for one in liquids])
    (part, *_) = wu(angles, liquids, angle_sd_deg=1.0).uncertainties
    moves = []
    for i in range(len(liquids)):  # hand: central differences, each angle moved by a hundredth of a degree
        step = np.zeros(len(liquids))
        step[i] = 0.01
        up, down = wu(angles + step, liquids), wu(angles - step, liquids)
        moves.append([(up.dispersive - down.dispersive) / 0.02, (up.polar - down.polar) / 0.02])
    moves = np.array(moves)
    expected = [*np.linalg.norm(moves, axis=0), np.linalg.norm(moves.sum(axis=1))]
    assert_allclose([part.dispersive, part.polar, part.total], expected, rtol=1e-4)
    assert part.correlation < 0


def test_order_of_liquids_does_not_matter():
    angles = [80, 41, 60, 70]
    forward, backward = wu(angles, SET_A[:4]), wu(angles[::-1], SET_A[:4][::-1])
    assert_allclose([forward.dispersive, forward.polar], [backward.dispersive, backward.polar], rtol=1e-6)


@pytest.mark.parametrize("angles", [[80], [80, math.nan], [[80, 41]], [0, 41]])
def test_what_cannot_be_fitted_is_refused(angles):
    with pytest.raises(ValueError):
        wu(angles, WATER_DIM)


@pytest.mark.parametrize("angles", [[180, 180], [0.01, 180]])
def test_angles_without_a_dispersive_part_have_no_parts(angles):
    found = wu(angles, SET_A[:2], angle_sd_deg=1)
    assert not found.is_fitted
    assert (found.total, found.dispersive, found.polar, found.uncertainties) == (None, None, None, ())
    assert any("does not describe" in note for note in found.notes)


def test_uncertainty_from_residuals_where_the_polar_part_is_not_resolved():
    """Hand: one number fitted to four points leaves three degrees of freedom."""
    liquids = SET_A[:4]
    found = wu([130, 75, 110, 120], liquids)
    assert found.polar is None
    (part,) = found.uncertainties
    d = found.dispersive
    work = np.array([one.total for one in liquids]) * (1 + np.cos(np.radians([130, 75, 110, 120]))) / 4
    apolar = np.array([one.dispersive for one in liquids])
    residuals, slopes = work - d * apolar / (d + apolar), (apolar / (d + apolar)) ** 2
    assert_allclose(part.dispersive, np.sqrt(residuals @ residuals / 3 / (slopes @ slopes)), rtol=1e-6)


def test_uncertainty_from_residuals_against_a_general_fit():
    """Independent: scipy 1.17.1 curve_fit, covariance from its own finite differences."""
    from scipy.optimize import curve_fit

    liquids, angles = SET_A[:4], np.array([72.0, 44, 60, 65])
    work = np.array([one.total for one in liquids]) * (1 + np.cos(np.radians(angles))) / 4
    apolar, polar = (np.array([getattr(one, part) for one in liquids]) for part in ("dispersive", "polar"))

    def model(_, d, p):
        return d * apolar / (d + apolar) + p * polar / (p + polar)

    parts, spread = curve_fit(model, np.arange(4), work, p0=(30, 8), xtol=1e-14, ftol=1e-14)
    found = wu(angles, liquids)
    (part,) = found.uncertainties
    assert_allclose([found.dispersive, found.polar], parts, rtol=1e-6)
    assert_allclose([part.dispersive, part.polar], np.sqrt(np.diag(spread)), rtol=1e-5)
    assert_allclose(part.total, np.sqrt(spread.sum()), rtol=1e-5)
    assert_allclose(part.correlation, spread[0, 1] / np.sqrt(np.prod(np.diag(spread))), rtol=1e-5)


@pytest.mark.parametrize(
    ("liquids", "angles"),
    # the second pair has exact solutions with a polar part below 0, which are none
    [(WATER_DIM, (130, 75)), (WATER_DIM, (100, 30)), (SET_A[:4], (130, 75, 110, 120))],
)
def test_without_a_polar_part_the_dispersive_one_is_the_best_alone(liquids, angles):
    """Independent: scipy 1.17.1 minimize_scalar over the dispersive part, the polar part held at 0."""
    from scipy.optimize import minimize_scalar

    work = np.array([one.total for one in liquids]) * (1 + np.cos(np.radians(angles))) / 4
    apolar = np.array([one.dispersive for one in liquids])
    best = minimize_scalar(lambda d: np.sum((work - d * apolar / (d + apolar)) ** 2), bounds=(1, 60), method="bounded",
                           options={"xatol": 1e-9})  # fmt: skip
    found = wu(angles, liquids)
    assert found.polar is None
    assert_allclose(found.dispersive, best.x, rtol=1e-5)
