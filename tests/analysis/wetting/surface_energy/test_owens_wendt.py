"""Owens–Wendt–Rabel–Kaelble against published angles, statsmodels, the uncertainties package and exact round trips."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from analysis.wetting.surface_energy import (
    FROM_ANGLES,
    FROM_RESIDUALS,
    NOT_RESOLVED,
    ProbeLiquid,
    owens_wendt,
    owens_wendt_angle,
    owens_wendt_line,
    probe_liquids,
)
from tests.analysis.tables import table

WATER_DIM = ("water", "diiodomethane")
FIVE = ("water", "diiodomethane", "ethylene_glycol", "formamide", "glycerol")
THREE = ("water", "diiodomethane", "formamide")


@pytest.mark.parametrize("row", list(table("owens_wendt_polymers").itertuples()), ids=lambda row: row.polymer)
def test_polymers(row):
    found = owens_wendt([row.water_deg, row.diiodomethane_deg], probe_liquids("set_b", *WATER_DIM))
    # from memory: the printed table; 0.13 is how far recomputing lies from it
    assert_allclose([found.dispersive, found.polar], [row.dispersive, row.polar], atol=0.13)
    # computed apart from the project; printed to three decimals
    assert_allclose([found.dispersive, found.polar], [row.recomputed_dispersive, row.recomputed_polar], atol=6e-4)


@pytest.mark.parametrize(
    ("set_key", "total"),
    # published: n-perfluoroeicosane, water 119, diiodomethane 107 -> 6.7 mN/m (Nishino et al., Langmuir 15 (1999)
    # 4321, quoted in a university article); which split was used is not known. Three decimals: computed apart.
    [("set_c", 6.685), ("set_b", 6.814), ("set_a", 7.314)],
)
def test_perfluoroeicosane_depends_on_the_component_set(set_key, total):
    found = owens_wendt([119, 107], probe_liquids(set_key, *WATER_DIM))
    assert_allclose(found.total, total, atol=6e-4)
    assert found.set_key == set_key
    if set_key == "set_c":
        assert round(found.total, 1) == 6.7
        assert_allclose([found.dispersive, found.polar], [5.488, 1.198], atol=6e-4)


@pytest.mark.parametrize(
    ("angles", "set_key", "total", "dispersive", "polar"),
    [  # computed apart from the project, three decimals: the same angles with different sets
        ((80, 41), "set_a", 42.690, 39.103, 3.586),
        ((80, 41), "set_b", 40.252, 36.015, 4.237),
        ((80, 41), "set_c", 39.718, 35.323, 4.395),
        ((80, 41), "set_d", 38.510, 36.072, 2.438),
        ((108, 77), "set_a", 19.502, None, None),
        ((108, 77), "set_b", 19.056, None, None),
        ((108, 77), "set_c", 19.111, None, None),
        ((108, 77), "set_d", 19.384, None, None),
    ],
)
def test_effect_of_the_component_set(angles, set_key, total, dispersive, polar):
    found = owens_wendt(angles, probe_liquids(set_key, *WATER_DIM))
    assert_allclose(found.total, total, atol=1.1e-3)  # sum of two rounded parts
    if dispersive:
        assert_allclose([found.dispersive, found.polar], [dispersive, polar], atol=6e-4)


def test_exact_round_trip():
    liquids = probe_liquids("set_a", *FIVE)
    # computed apart from the project: angles of a solid with 30 + 8 mN/m. Four decimals; the last digit of the one
    # of formamide is off by one there (52.79822), hence 1e-4
    angles = [75.0792, 57.5240, 42.0388, 52.7983, 61.1729]
    assert_allclose([owens_wendt_angle(30, 8, liquid) for liquid in liquids], angles, atol=1e-4)
    exact = owens_wendt([owens_wendt_angle(30, 8, liquid) for liquid in liquids], liquids)
    assert_allclose([exact.dispersive, exact.polar, exact.r_squared], [30, 8, 1], rtol=1e-10)  # limit
    rounded = owens_wendt(np.round(angles, 1), liquids)
    assert_allclose([rounded.dispersive, rounded.polar], [30.020, 7.984], atol=6e-4)
    assert_allclose(rounded.r_squared, 0.9999991, atol=1e-7)


def test_three_liquids_give_the_standard_errors_of_ordinary_least_squares():
    import statsmodels.api as sm

    # angles published: Foods 10 (2021) 611, Table 2, stainless steel grit 240; numbers computed apart (statsmodels)
    angles, liquids = [85.6, 41.4, 55.7], probe_liquids("set_a", *THREE)
    found = owens_wendt(angles, liquids)
    assert_allclose([found.dispersive, found.polar, found.total], [39.076, 1.985, 41.061], atol=6e-4)
    assert_allclose(found.r_squared, 0.99956, atol=6e-6)
    (part,) = found.uncertainties
    assert part.basis == FROM_RESIDUALS
    assert_allclose([part.dispersive, part.polar], [0.359, 0.083], atol=6e-4)
    line = owens_wendt_line(angles, liquids)
    x = np.array([math.sqrt(one.polar / one.dispersive) for one in liquids])
    y = [one.total * (1 + math.cos(math.radians(a))) / 2 / one.dispersive**0.5 for a, one in zip(angles, liquids)]  # noqa: B905
    ols = sm.OLS(y, sm.add_constant(x)).fit()  # independent: statsmodels 0.15.0
    assert_allclose([line.intercept, line.slope], ols.params, rtol=1e-10)
    assert_allclose(line.covariance_from_residuals, ols.cov_params(), rtol=1e-8)
    assert_allclose(line.r_squared, ols.rsquared, rtol=1e-10)
    assert_allclose([line.intercept, line.slope], [6.25107, 1.40891], atol=6e-6)
    assert_allclose(np.sqrt(np.diag(line.covariance_from_residuals)), [0.02869, 0.02956], atol=6e-6)


def test_a_poor_line_shows_in_r_squared():
    # angles published (Foods 2021, grit 320); numbers computed apart
    found = owens_wendt([65.9, 36.9, 52.7], probe_liquids("set_a", *THREE))
    assert_allclose([found.dispersive, found.polar, found.total], [36.455, 9.148, 45.603], atol=6e-4)
    assert_allclose(found.r_squared, 0.937, atol=6e-4)


@pytest.mark.parametrize(
    ("set_key", "dispersive", "polar", "total"),
    # independent: uncertainties 3.2.3, angles ±2 deg on 80/41
    [("set_b", 1.17, 0.84, 0.96), ("set_a", 1.02, 0.69, 1.05)],
)
def test_uncertainty_of_the_total_takes_the_correlation_of_the_parts(set_key, dispersive, polar, total):
    found = owens_wendt([80, 41], probe_liquids(set_key, *WATER_DIM), angle_sd_deg=2)
    (part,) = found.uncertainties
    assert_allclose([part.dispersive, part.polar, part.total], [dispersive, polar, total], atol=6e-3)
    assert part.correlation < 0
    assert part.total < math.hypot(part.dispersive, part.polar)
    assert found.u_total == part.total


@pytest.mark.parametrize("set_key", ["set_a", "set_b", "set_c", "set_d"])
@pytest.mark.parametrize("sd", [(2, 2), (1, 3), (0.5, 0)])
def test_uncertainty_against_the_uncertainties_package(set_key, sd):
    from uncertainties import ufloat, umath

    liquids = probe_liquids(set_key, *WATER_DIM)
    points = []
    for angle, spread, one in zip((80, 41), sd, liquids, strict=True):
        theta = ufloat(angle, spread) if spread else angle
        cosine = umath.cos(theta * math.pi / 180)
        points.append((math.sqrt(one.polar / one.dispersive), one.total * (1 + cosine) / 2 / one.dispersive**0.5))
    slope = (points[0][1] - points[1][1]) / (points[0][0] - points[1][0])
    intercept = points[1][1] - slope * points[1][0]
    (part,) = owens_wendt((80, 41), liquids, angle_sd_deg=sd).uncertainties
    expected = [(intercept**2).s, (slope**2).s, (intercept**2 + slope**2).s]
    assert_allclose([part.dispersive, part.polar, part.total], expected, rtol=1e-9, atol=1e-9)


def test_replicates_make_the_mean_angle_surer():
    liquids = probe_liquids("set_b", *WATER_DIM)
    one = owens_wendt([80, 41], liquids, angle_sd_deg=2)
    nine = owens_wendt([80, 41], liquids, angle_sd_deg=2, replicates=9)
    unequal = owens_wendt([80, 41], liquids, angle_sd_deg=[2, 4], replicates=[1, 4])
    assert_allclose(nine.u_total, one.u_total / 3)  # limit: sd/√n
    assert_allclose(unequal.u_total, one.u_total)  # limit: 4/√4 = 2
    assert owens_wendt([80, 41], liquids).u_total is None


def test_both_uncertainties_stand_beside_each_other_and_the_larger_counts():
    found = owens_wendt([65.9, 36.9, 52.7], probe_liquids("set_a", *THREE), angle_sd_deg=0.5)
    assert [part.basis for part in found.uncertainties] == [FROM_ANGLES, FROM_RESIDUALS]
    assert found.u_total == found.uncertainties[1].total > found.uncertainties[0].total


def test_a_negative_slope_is_never_squared():
    # computed apart: slope −0.667, whose square would be +0.445
    liquids = probe_liquids("set_b", *WATER_DIM)
    line = owens_wendt_line([125, 80], liquids)
    assert_allclose(line.slope, -0.667, atol=6e-4)
    assert line.is_polar_resolved is False
    assert math.isnan(line.polar)
    found = owens_wendt([125, 80], liquids, angle_sd_deg=2)
    assert found.polar is None
    assert any(NOT_RESOLVED in note for note in found.notes)
    y = [
        one.total * (1 + math.cos(math.radians(a))) / 2 / one.dispersive**0.5
        for a, one in zip((125, 80), liquids, strict=True)
    ]
    # hand: with the slope held at 0 the best intercept is the mean of y
    assert_allclose([found.dispersive, found.total], (sum(y) / 2) ** 2)
    by_line = owens_wendt([125, 80], liquids, without_polar="intercept", angle_sd_deg=2)
    assert by_line.polar is None
    assert_allclose(by_line.dispersive, line.intercept**2)
    assert all(part.polar is None and part.total > 0 for part in found.uncertainties + by_line.uncertainties)


def test_held_at_zero_is_the_bounded_least_squares_solution():
    from scipy.optimize import nnls

    liquids = probe_liquids("set_a", *THREE)
    x = np.array([math.sqrt(one.polar / one.dispersive) for one in liquids])
    y = np.array(
        [
            one.total * (1 + math.cos(math.radians(a))) / 2 / one.dispersive**0.5
            for a, one in zip((125, 80, 105), liquids, strict=True)
        ]
    )
    (intercept, slope), _ = nnls(np.column_stack([np.ones(3), x]), y)  # independent: scipy 1.17.1
    assert slope == 0
    assert_allclose(owens_wendt([125, 80, 105], liquids).dispersive, intercept**2, rtol=1e-10)


def test_an_intercept_below_zero_has_no_parts():
    liquids = (ProbeLiquid("p", 72.8, 21.8, 51.0, "own"), ProbeLiquid("q", 48.0, 29.0, 19.0, "own"))
    found = owens_wendt([60, 150], liquids, angle_sd_deg=1)
    assert not found.is_fitted
    assert (found.total, found.dispersive, found.polar, found.uncertainties) == (None, None, None, ())
    assert math.isnan(owens_wendt_line([60, 150], liquids).dispersive)
    # limit: an intercept of round-off is no dispersive part either
    for angles in ([0.01, 180], [180, 180]):
        assert not owens_wendt(angles, probe_liquids("set_a", *WATER_DIM)).is_fitted


@pytest.mark.parametrize("energy", [5.0, 18.5, 40.0])
def test_a_solid_without_polar_part_has_exactly_none(energy):
    liquids = probe_liquids("set_a", "water", "diiodomethane", "formamide", "glycerol")
    found = owens_wendt([owens_wendt_angle(energy, 0, one) for one in liquids], liquids)
    assert_allclose([found.dispersive, found.polar], [energy, 0], atol=1e-9)  # limit: round trip


def test_many_samples_at_once_equal_one_by_one():
    liquids = probe_liquids("set_a", *THREE)
    angles = np.array([[[85.6, 41.4, 55.7], [65.9, 36.9, 52.7]], [[125, 80, 105], [np.nan, 40, 50]]])
    line = owens_wendt_line(angles, liquids, angle_sd_deg=2)
    assert line.dispersive.shape == (2, 2)
    assert line.covariance_from_angles.shape == (2, 2, 2, 2)
    one = owens_wendt(angles[0, 1], liquids)
    assert_allclose([line.dispersive[0, 1], line.polar[0, 1]], [one.dispersive, one.polar])
    assert np.isnan(line.polar[1]).all()  # not resolved, and NaN in its place
    assert np.isnan(line.dispersive).tolist() == [[False, False], [False, True]]


def test_parts_from_memory_are_named():
    notes = owens_wendt([80, 41], probe_liquids("set_a", *WATER_DIM)).notes
    assert "parts of the tension from memory: diiodomethane" in notes
    assert not any("memory" in note for note in owens_wendt([80, 41], probe_liquids("set_d", *WATER_DIM)).notes)


def test_order_of_liquids_does_not_matter():
    liquids = probe_liquids("set_a", *THREE)
    forward = owens_wendt([85.6, 41.4, 55.7], liquids, angle_sd_deg=[1, 2, 3])
    backward = owens_wendt([55.7, 41.4, 85.6], liquids[::-1], angle_sd_deg=[3, 2, 1])
    assert_allclose([forward.total, forward.u_total], [backward.total, backward.u_total])


@pytest.mark.parametrize(
    ("angles", "liquids", "words"),
    [
        ([80, 41], probe_liquids("set_a", "water") + probe_liquids("set_b", "diiodomethane"), "one component set"),
        ([80], probe_liquids("set_a", "water"), "at least 2 liquids"),
        ([], (), "at least 2 liquids"),
        ([80, 80], probe_liquids("set_a", "water") * 2, "stand once"),
        ([80, 41, 50], probe_liquids("set_a", *WATER_DIM), "one angle for each"),
        ([80, math.nan], probe_liquids("set_a", *WATER_DIM), "finite"),
        ([0, 41], probe_liquids("set_a", *WATER_DIM), "above 0 deg, not 0 deg"),
        ([181, 41], probe_liquids("set_a", *WATER_DIM), "at most 180 deg, not 181 deg"),
        ([50, 30], probe_liquids("set_a", "diiodomethane", "hexadecane"), "share of polar part"),
        ([[80, 41]], probe_liquids("set_a", *WATER_DIM), "one row of angles"),
    ],
)
def test_what_cannot_be_fitted_is_refused(angles, liquids, words):
    with pytest.raises(ValueError, match=words):
        owens_wendt(angles, liquids)


def test_wrong_words_and_scatter_are_refused():
    liquids = probe_liquids("set_a", *WATER_DIM)
    for bad in ({"without_polar": "squared"}, {"surface": "shiny"}, {"angle_sd_deg": -1}, {"replicates": 0}):
        with pytest.raises(ValueError):
            owens_wendt([80, 41], liquids, **({"angle_sd_deg": 1} | bad))


@pytest.mark.parametrize(("surface", "word"), [("textured", "Textured"), ("infused", "lubricant"), ("rough", "EN 828")])
def test_no_constant_of_the_material_is_said(surface, word):
    found = owens_wendt([80, 41], probe_liquids("set_a", *WATER_DIM), surface=surface)
    assert word in found.caution
    assert "no constant of the material" in found.caution


def test_a_smooth_surface_needs_no_caution_and_an_unstated_one_does():
    liquids = probe_liquids("set_a", *WATER_DIM)
    assert owens_wendt([80, 41], liquids, surface="smooth").caution == ""
    assert owens_wendt([80, 41], liquids).caution.startswith("Not stated")


def test_the_expected_angle_is_0_where_the_liquid_spreads():
    hexadecane = probe_liquids("set_a", "hexadecane")[0]
    found = owens_wendt_angle([10, 27.5, 40, np.nan], 0, hexadecane)
    assert found[0] > 0
    assert_allclose(found[1:3], 0, atol=1e-5)  # limit: equal tensions just spread
    assert np.isnan(found[3])
    with pytest.raises(ValueError, match="dispersive part"):
        owens_wendt_angle(-1, 0, hexadecane)


def _held_at_zero(angles, liquids):
    """The model with the polar part held at 0, written down a second time: the dispersive part."""
    points = [
        one.total * (1 + math.cos(math.radians(a))) / 2 / one.dispersive**0.5
        for a, one in zip(angles, liquids, strict=True)
    ]
    return np.mean(points) ** 2, np.array(points)


@pytest.mark.parametrize("names", [WATER_DIM, THREE], ids=["two", "three"])
def test_uncertainty_where_the_polar_part_is_not_resolved(names):
    liquids, angles = probe_liquids("set_a", *names), np.array([125.0, 80, 105][: len(names)])
    found = owens_wendt(angles, liquids, angle_sd_deg=2)
    by_angles, by_residuals = found.uncertainties
    moves = []
    for i in range(len(angles)):  # hand: central differences, each angle moved by a thousandth of a degree
        step = np.zeros(len(angles))
        step[i] = 1e-3
        moves.append((_held_at_zero(angles + step, liquids)[0] - _held_at_zero(angles - step, liquids)[0]) / 2e-3)
    assert_allclose(by_angles.dispersive, 2 * np.linalg.norm(moves), rtol=1e-6)
    _, points = _held_at_zero(angles, liquids)
    # hand: q² has 2q·s/√n, s the standard deviation of the points about their mean
    expected = 2 * points.mean() * points.std(ddof=1) / len(points) ** 0.5
    assert_allclose([by_residuals.dispersive, by_residuals.total], expected)


def test_uncertainty_of_the_intercept_alone():
    from uncertainties import ufloat, umath

    liquids = probe_liquids("set_b", *WATER_DIM)
    x, y = [], []
    for angle, one in zip((125, 80), liquids, strict=True):
        x.append(math.sqrt(one.polar / one.dispersive))
        y.append(one.total * (1 + umath.cos(ufloat(angle, 2) * math.pi / 180)) / 2 / one.dispersive**0.5)
    expected = (y[1] - x[1] * (y[0] - y[1]) / (x[0] - x[1])) ** 2  # independent: uncertainties 3.2.3
    found = owens_wendt([125, 80], liquids, without_polar="intercept", angle_sd_deg=2)
    assert_allclose([found.dispersive, found.u_total], [expected.n, expected.s], rtol=1e-9)


@pytest.mark.parametrize(("polar", "is_said"), [(0.05, True), (8.0, False)])
def test_a_polar_part_within_its_uncertainty_is_told(polar, is_said):
    """A slope below twice its standard uncertainty; here about 0.2 ± 0.2 and 2.8 ± 0.2."""
    liquids = probe_liquids("set_a", *WATER_DIM)
    angles = [owens_wendt_angle(25, polar, one) for one in liquids]
    notes = owens_wendt(angles, liquids, angle_sd_deg=2).notes
    assert any("not distinct from 0 by the scatter" in note for note in notes) is is_said
