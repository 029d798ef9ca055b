"""Retention force and sliding angle; above all: a factor k cannot be used with the wrong length."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from analysis.wetting.capillary import cap_drop, resting_drop
from analysis.wetting.hysteresis import hysteresis_cosine
from analysis.wetting.retention import (
    CANNOT_SLIDE,
    PARALLEL_SIDED,
    RETENTION_FORMS,
    RetentionForm,
    contact_width_mm,
    mean_angle_deg,
    predicted_sliding,
    retention_factor,
    retention_force_un,
    sliding_angle_deg,
    weight_un,
)

DROP = {"width_mm": 2.80, "tension": 72.8, "advancing_deg": 110, "receding_deg": 95}


@pytest.mark.parametrize(
    ("form", "cosine_of_azimuth"),
    [
        # psi: azimuth from the front, 0 to pi; each law gives cos θ as a share of the way from θa to θr
        ("parallel_sided", lambda psi: float(psi > math.pi / 2)),
        ("cosine_linear", lambda psi: psi / math.pi),
        ("cosine_cubic", lambda psi: 3 * psi**2 / math.pi**2 - 2 * psi**3 / math.pi**3),
        ("cosine_cubic_radius", lambda psi: 3 * psi**2 / math.pi**2 - 2 * psi**3 / math.pi**3),
        ("tilt_first_order", lambda psi: (1 - math.cos(psi)) / 2),
    ],
)
def test_factor_belongs_to_its_length(form, cosine_of_azimuth):
    """Independent: force on a circular contact line of radius 1, −∮ cos θ cos ψ dl by scipy; width is 2."""
    from scipy.integrate import quad

    half, _ = quad(lambda psi: -cosine_of_azimuth(psi) * math.cos(psi), 0, math.pi, points=[math.pi / 2])
    assert_allclose(RETENTION_FORMS[form].k_with_width, 2 * half / 2, rtol=1e-9)


def test_constants_of_the_cubic_law():
    """Independent: scipy 1.17.1 quad, 24/π³ with the diameter; 48/π³ with the radius is the same."""
    width, radius = RETENTION_FORMS["cosine_cubic"], RETENTION_FORMS["cosine_cubic_radius"]
    assert_allclose((width.k, radius.k), (0.774037, 1.548074), atol=5e-7)
    assert_allclose(retention_force_un(**DROP, form=width), retention_force_un(**DROP, form=radius), rtol=1e-12)


@pytest.mark.parametrize(
    ("form", "force", "sine", "angle"),
    [
        # independent: numpy 2.4.6; 10 µL water at 998.2 kg/m3, width 2.80 mm
        ("parallel_sided", 51.952, 0.530714, 32.054),
        ("cosine_cubic", 40.212, 0.410792, 24.255),
        ("cosine_cubic_radius", 40.212, 0.410792, 24.255),  # not 55.244: that is the factor-2 mistake
    ],
)
def test_force_and_sliding_angle(form, force, sine, angle):
    found = retention_force_un(**DROP, form=RETENTION_FORMS[form])
    assert_allclose(found, force, atol=6e-4)
    assert_allclose(found / weight_un(10, 998.2), sine, atol=6e-7)
    assert_allclose(sliding_angle_deg(found, 10, 998.2), angle, atol=6e-4)


@pytest.mark.parametrize(
    ("volume", "advancing", "receding", "width", "parallel", "cubic"),
    [
        # independent: numpy 2.4.6, water at 20 °C, width of the spherical cap at the cosine-mean angle
        (5, 110, 90, 2.4422, CANNOT_SLIDE, 73.907),
        (10, 110, 90, 3.0770, 51.441, 37.249),
        (20, 110, 90, 3.8768, 29.512, 22.414),
        (10, 104, 102, 2.9827, 4.323, 3.345),
    ],
)
def test_sliding_angle_with_the_width_of_a_cap(volume, advancing, receding, width, parallel, cubic):
    found = cap_drop(volume, mean_angle_deg(advancing, receding)).base_width_mm
    assert_allclose(found, width, atol=6e-5)
    for form, expected in (("parallel_sided", parallel), ("cosine_cubic", cubic)):
        force = retention_force_un(found, 72.736, advancing, receding, RETENTION_FORMS[form])
        assert_allclose(sliding_angle_deg(force, volume, 998.207), expected, atol=2e-3)


@pytest.mark.parametrize(
    ("advancing", "receding", "volume", "expected"),
    [
        # independent: Young–Laplace width, k = 1, water at 25 °C, to the digit given
        (110, 105, 5, 16.6),
        (110, 105, 10, 10.5),
        (110, 105, 20, 6.8),
        (110, 105, 30, 5.2),
        (168, 160, 5, 3.2),
        (115, 112, 5, 8.9),
    ],
)
def test_sliding_angle_with_the_width_of_the_flattened_drop(advancing, receding, volume, expected):
    width = resting_drop(volume, mean_angle_deg(advancing, receding), 71.97, 997.0).base_width_mm
    force = retention_force_un(width, 71.97, advancing, receding)
    assert_allclose(sliding_angle_deg(force, volume, 997.0), expected, atol=0.05)


def test_tables_of_drops_keep_shape_and_gaps():
    volume, receding = np.array([[5.0], [20.0]]), np.array([90, 60, math.nan])
    width = contact_width_mm(volume, 110, receding, 72.736, 998.207)
    force = retention_force_un(width, 72.736, 110, receding)
    found = sliding_angle_deg(force, volume, 998.207)
    assert np.isnan(found).tolist() == [[False, False, True]] * 2
    assert found[0, 1] == CANNOT_SLIDE
    assert_allclose(retention_factor(25.0, volume, 998.207, width, 72.736, 110, receding)[1, 2], math.nan)
    assert sliding_angle_deg([], [], 998).shape == (0,)


def test_width_where_it_was_not_measured():
    assert_allclose(contact_width_mm(10, 110, 90), cap_drop(10, mean_angle_deg(110, 90)).base_width_mm)
    flattened = resting_drop(10, mean_angle_deg(110, 90), 72.7, 998).base_width_mm
    assert_allclose(contact_width_mm(10, 110, 90, 72.7, 998), flattened)
    assert flattened > contact_width_mm(10, 110, 90)
    with pytest.raises(ValueError, match="both"):
        contact_width_mm(10, 110, 90, 72.7)


def test_full_width_with_the_radius_factor_doubles_the_force():
    """Trap: 48/π³ with the width would give 80.425 µN and 55.244° (independent: numpy 2.4.6); no call here can."""
    wrong = 48 / math.pi**3 * 2.80 * 72.8 * hysteresis_cosine(110, 95)
    assert_allclose(wrong, 80.425, atol=6e-4)
    assert_allclose(sliding_angle_deg(wrong, 10, 998.2), 55.244, atol=6e-4)
    for form in RETENTION_FORMS.values():
        assert retention_force_un(**DROP, form=form) < 0.7 * wrong


def test_sine_falls_with_volume_to_the_power_of_two_thirds():
    """Limit: width grows with V^(1/3), weight with V: from 5 to 40 µL the sine falls by exactly 4."""
    sines = []
    for volume in (5, 40):
        force = retention_force_un(cap_drop(volume, 107.5).base_width_mm, 72.8, 110, 105)
        sines.append(force / weight_un(volume, 998.2))
    assert_allclose(sines[0] / sines[1], 4, rtol=1e-12)


def test_factor_comes_back_from_the_measured_angle():
    """Limit: round trip; 24.2546° gives back 24/π³ = 0.774037."""
    found = retention_factor(24.2546, 10, 998.2, *DROP.values())
    assert_allclose(found, 24 / math.pi**3, atol=2e-6)


def test_a_drop_that_cannot_slide_is_no_arcsine_error():
    weight = weight_un(10, 998.2)
    assert sliding_angle_deg(weight * 1.0000001, 10, 998.2) == CANNOT_SLIDE
    assert_allclose(sliding_angle_deg(weight, 10, 998.2), 90)  # limit: the force equals the weight


def test_prediction_with_uncertainty():
    """Independent: uncertainties 3.2.3, first order: sin α 0.41023 ± 0.07773, α = 24.219 ± 4.884."""
    found = predicted_sliding(
        2.80,
        advancing_deg=(110, 2),
        receding_deg=(95, 2),
        tension=(72.7, 0.2),
        volume_ul=(10, 0.2),
        density=998.2,
        width_share=0.05 / 2.80,
        form=RETENTION_FORMS["cosine_cubic"],
    )
    assert_allclose(found.sine, 0.4102277, atol=1e-6)
    assert_allclose(found.sine_uncertainty, 0.0777341, rtol=2e-3)  # finite steps against derivatives
    assert_allclose(found.angle_deg, 24.21914, atol=1e-4)
    assert_allclose(found.low_deg, math.degrees(math.asin(0.4102277 - 2 * 0.0777341)), atol=0.05)  # hand


UNCERTAIN = {
    "advancing_deg": (110, 2),
    "receding_deg": (95, 2),
    "tension": (72.7, 0.2),
    "volume_ul": (10, 0.2),
}


@pytest.mark.parametrize("form", RETENTION_FORMS.values(), ids=lambda form: form.key)
@pytest.mark.parametrize("correlation", [0.0, 0.6, -0.5])
@pytest.mark.parametrize("pair", [((110, 2), (95, 2)), ((170, 1), (20, 3)), ((104, 1), (102, 1)), ((110, 2), (110, 1))])
def test_first_order_uncertainty(form, correlation, pair):
    """Independent: uncertainties 3.2.3, derivatives found by the package, for every form and correlated angles."""
    from uncertainties import correlated_values, covariance_matrix, ufloat, umath

    (ahead, spread_ahead), (behind, spread_behind) = pair
    shared = correlation * spread_ahead * spread_behind
    advancing, receding = correlated_values((ahead, behind), [[spread_ahead**2, shared], [shared, spread_behind**2]])
    assert_allclose(covariance_matrix([advancing, receding])[0][1], shared, atol=1e-12)
    held = umath.cos(receding * math.pi / 180) - umath.cos(advancing * math.pi / 180)
    width, tension, volume = ufloat(2.80, 0.05), ufloat(72.7, 0.2), ufloat(10, 0.2)
    length = width if form.length == "width" else width / 2
    expected = form.k * length * tension * held / (998.2 * volume * 9.80665e-3)
    found = predicted_sliding(
        2.80,
        **{**UNCERTAIN, "advancing_deg": pair[0], "receding_deg": pair[1]},
        density=998.2,
        width_share=0.05 / 2.80,
        correlation=correlation,
        form=form,
    )
    assert_allclose((found.sine, found.sine_uncertainty), (expected.n, expected.s), rtol=1e-9, atol=1e-15)


def test_first_order_uncertainty_as_worked_out_apart():
    """Independent: uncertainties 3.2.3, to the digits given: Δcos θ 0.2549 ± 0.0478, F 40.2 ± 7.6 µN, α 24 ± 5°."""
    found = predicted_sliding(
        2.80, **UNCERTAIN, density=998.2, width_share=0.05 / 2.80, form=RETENTION_FORMS["cosine_cubic"]
    )
    weight = weight_un(10, 998.2)
    assert round(found.sine * weight, 1) == 40.2
    # the weight's own 2 % is no part of the force
    force_share = math.sqrt(found.relative_uncertainty**2 - 0.02**2)
    assert round(found.sine * weight * force_share, 1) == 7.6
    only_angles = predicted_sliding(
        2.80, **{**UNCERTAIN, "tension": (72.7, 0), "volume_ul": (10, 0)}, density=998.2,
        form=RETENTION_FORMS["cosine_cubic"],
    )  # fmt: skip
    assert_allclose(0.254864 * only_angles.relative_uncertainty, 0.0478, atol=6e-5)
    slope = math.cos(math.radians(found.angle_deg))
    assert (round(found.angle_deg), round(math.degrees(found.sine_uncertainty / slope))) == (24, 5)


def test_prediction_of_many_drops_at_once():
    found = predicted_sliding(
        np.array([2.8, 2.8, math.nan]),
        **{**UNCERTAIN, "receding_deg": (np.array([95, 20, 95]), 2.0)},
        density=998.2,
    )
    assert found.angle_deg[1] == CANNOT_SLIDE
    for name in ("angle_deg", "low_deg", "high_deg", "sine", "sine_uncertainty", "relative_uncertainty"):
        assert np.isnan(getattr(found, name)).tolist() == [False, False, True]


def test_prediction_without_hysteresis_has_no_relative_uncertainty():
    same = {**UNCERTAIN, "receding_deg": (110, 2)}
    found = predicted_sliding(2.8, **same, density=998)
    assert (found.angle_deg, found.low_deg, found.relative_uncertainty) == (0, 0, math.inf)
    assert found.sine_uncertainty > 0


def test_prediction_that_reaches_beyond_upright_says_so():
    found = predicted_sliding(
        2.44, advancing_deg=(110, 1), receding_deg=(90, 1), tension=(72.7, 0), volume_ul=(5, 0), density=998
    )
    assert (found.angle_deg, found.high_deg) == (CANNOT_SLIDE, CANNOT_SLIDE)
    assert found.form is PARALLEL_SIDED


def test_no_hysteresis_slides_at_once_and_gives_no_factor():
    assert sliding_angle_deg(retention_force_un(2.8, 72.8, 110, 110), 10, 998) == 0
    with pytest.raises(ValueError, match="hysteresis"):
        retention_factor(3.0, 10, 998, 2.8, 72.8, 110, 110)


@pytest.mark.parametrize("change", [{"receding_deg": 111}, {"width_mm": 0}, {"tension": math.nan}, {"tension": -1}])
def test_impossible_drops_are_refused(change):
    with pytest.raises(ValueError, match=r"angle|width|tension"):
        retention_force_un(**{**DROP, **change})


def test_force_is_proportional_to_width_and_cosine_difference():
    """Published: simulated drops of Badr et al., Langmuir 40 (2024) 12368; constant within 7 %."""
    rows = [  # force parameter, θa, θr, second semi-axis of the contact line
        (6e-5, 97.396, 92.451, 41.606),
        (1e-4, 98.599, 90.564, 41.379),
        (2e-4, 99.012, 83.300, 42.018),
        (3e-4, 100.524, 75.568, 42.417),
    ]
    ratios = [force / (2 * axis * hysteresis_cosine(ahead, behind)) for force, ahead, behind, axis in rows]
    assert_allclose(ratios, [8.389e-6, 8.651e-6, 8.708e-6, 8.188e-6], rtol=3e-4)  # independent: numpy; angles to 0.001°
    assert max(ratios) / min(ratios) < 1.07


@pytest.mark.parametrize(
    ("k", "length", "words"),
    [
        (1.0, "diameter", "belongs to the width or the radius, not to 'diameter'"),
        (0.0, "width", "retention factor k of 'own' must be above 0, not 0"),
        (-1.0, "width", "retention factor k"),
        (math.nan, "radius", "retention factor k"),
    ],
)
def test_a_factor_without_its_length_does_not_construct(k, length, words):
    with pytest.raises(ValueError, match=words):
        RetentionForm("own", k, length, "as a lab found it", "common_practice")


def test_a_lab_may_bring_its_own_form():
    """Limit: the radius is half the width."""
    own = [RetentionForm("own", k, length, "x", "common_practice") for k, length in ((0.9, "width"), (1.8, "radius"))]
    assert_allclose([retention_force_un(**DROP, form=form) for form in own], 0.9 * retention_force_un(**DROP))


def test_predictions_take_lists_and_refuse_what_is_no_pair():
    lists = {**UNCERTAIN, "tension": ([72.7, 60], [0.2, 1]), "volume_ul": ([10, 12], 0.2)}
    arrays = {**UNCERTAIN, "tension": (np.array([72.7, 60]), 0.2), "volume_ul": (np.array([10, 12]), 0.2)}
    found = predicted_sliding(2.8, **lists, density=998)
    assert_allclose(found.sine, predicted_sliding(2.8, **arrays, density=998).sine)
    assert found.high_deg.shape == (2,)
    for bad in (110, (110,), (110, 2, 3)):
        with pytest.raises(ValueError, match="advancing angle must be a pair"):
            predicted_sliding(2.8, **{**UNCERTAIN, "advancing_deg": bad}, density=998)


@pytest.mark.parametrize("angle", [0, 90.1, 120])
def test_a_measured_angle_beyond_upright_gives_no_factor(angle):
    with pytest.raises(ValueError, match="measured sliding angle must"):
        retention_factor(angle, 10, 998.2, *DROP.values())
