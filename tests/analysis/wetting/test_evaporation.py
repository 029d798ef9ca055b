"""Evaporation of a resting drop against exact cases, steam tables and figures computed apart."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from analysis.wetting.capillary import cap_drop
from analysis.wetting.evaporation import (
    contact_angle_factor,
    evaporation_rate_ul_s,
    evaporation_speed,
    predicted_loss_percent,
    vapour_diffusivity_m2_s,
    water_vapour,
    water_vapour_pressure_pa,
)


@pytest.mark.parametrize(
    ("celsius", "pascal"),
    [
        (0.01, 611.657),
        (10, 1228.18),
        (20, 2339.21),
        (25, 3169.75),
        (30, 4246.69),
        (37, 6281.85),
        (40, 7384.43),
    ],
)
def test_vapour_pressure_of_water(celsius, pascal):
    """Independent: iapws 1.5.5, industrial formulation 1997."""
    assert_allclose(water_vapour_pressure_pa(celsius), pascal, rtol=3e-4)


def test_exact_cases_of_the_contact_angle_factor():
    assert_allclose(contact_angle_factor(0), 4 / math.pi, rtol=1e-9)  # limit: a disc
    assert_allclose(contact_angle_factor(90), 2, rtol=1e-9)  # limit: half of a free sphere
    # limit: a sphere that touches a plane evaporates 4π ln 2 · R · D · Δc; a = R sin θ
    near = 179.9
    assert_allclose(contact_angle_factor(near) * math.sin(math.radians(near)), 4 * math.log(2), rtol=1e-5)


@pytest.mark.parametrize("humidity_and_losses", [(30, 4.1, 20.5, 39.5), (50, 3, 15, 30), (80, 1.2, 6, 12)])
@pytest.mark.parametrize("angle", [60, 90, 110])
def test_loss_of_five_microlitres_at_25_degrees(humidity_and_losses, angle):
    """Independent: a diffusion model computed apart, 1, 5 and 10 min, given to whole percents or a range."""
    humidity, *losses = humidity_and_losses
    found = [predicted_loss_percent(5, angle, 60 * minutes, 25, humidity) for minutes in (1, 5, 10)]
    assert_allclose(found, losses, rtol=0.06)


@pytest.mark.parametrize("angle", [20, 45, 90, 120, 150, 175])
def test_factor_against_the_usual_polynomial(angle):
    """From memory: Picknett & Bexon (1977), f(θ) of the rate 2πR·D·Δc·f, good to 0.2 %; f = F·sin θ/2."""
    theta = math.radians(angle)
    powers = (8.957e-5, 0.6333, 0.1160, -0.08878, 0.01033)
    expected = sum(factor * theta**power for power, factor in enumerate(powers))
    assert_allclose(contact_angle_factor(angle) * math.sin(theta) / 2, expected, rtol=3e-3)


@pytest.mark.parametrize("angle", [0, 30, 70, 90])
def test_factor_against_the_parabola_for_small_angles(angle):
    """From memory: Hu & Larson (2002), F = 0.27·θ² + 1.30 up to 90°, to a few percent."""
    assert_allclose(contact_angle_factor(angle), 0.27 * math.radians(angle) ** 2 + 1.30, rtol=0.03)


def test_factor_of_many_angles_with_gaps():
    found = contact_angle_factor([[0, math.nan], [90, 179.99]])
    assert_allclose(found[[0, 1], [0, 0]], [4 / math.pi, 2], rtol=1e-9)
    assert np.isnan(found).tolist() == [[False, True], [False, False]]
    assert contact_angle_factor([]).shape == (0,)


def test_a_table_of_losses_at_once():
    volumes, angles = np.array([1.0, 5, 10]), np.array([[60.0], [110]])
    found = predicted_loss_percent(volumes, angles, 60, 25, 50)
    singles = [[predicted_loss_percent(volume, angle, 60, 25, 50) for volume in volumes] for (angle,) in angles]
    assert_allclose(found, singles, rtol=1e-9)
    assert type(predicted_loss_percent(5, 110, 60, 25, 50)) is float


def test_rate_of_a_half_sphere():
    """Limit: 2π·R·D·Δc/ρ, half of a free sphere."""
    radius_m, vapour = cap_drop(5, 90).base_radius_mm * 1e-3, water_vapour(25)
    missing = 0.5 * vapour.pressure_pa * vapour.molar_mass_kg_mol / (8.314462618 * 298.15)
    expected = 2 * math.pi * radius_m * vapour.diffusivity_m2_s * missing / vapour.liquid_density * 1e9
    assert_allclose(evaporation_rate_ul_s(5, 90, 25, 50), expected, rtol=1e-9)


def test_what_evaporation_asks_of_water():
    """Independent: iapws 1.5.5 and CoolProp 8.0.0, 997.048 kg/m³ at 25 °C; molar mass from memory."""
    water = water_vapour(25)
    assert_allclose(water.liquid_density, 997.048, rtol=1e-4)
    assert_allclose(water.molar_mass_kg_mol, 0.0180153, rtol=1e-5)


def test_no_loss_in_saturated_air_and_never_more_than_everything():
    assert predicted_loss_percent(5, 110, 600, 25, 100) == 0
    assert predicted_loss_percent(0.1, 110, 36000, 40, 0) == 100


def test_smaller_drops_lose_a_larger_share():
    """Limit: the rate grows with the radius, the share falls with V^(2/3): 8 × the volume, a quarter."""
    shares = [predicted_loss_percent(volume, 110, 30, 23, 50) for volume in (2, 16)]
    assert_allclose(shares[0] / shares[1], 4, rtol=1e-9)


def test_diffusivity_near_room_temperature():
    """From memory: about 2.4e-5 to 2.6e-5 m²/s at 20 to 25 °C in the usual tables."""
    assert 2.4e-5 < vapour_diffusivity_m2_s(20) < vapour_diffusivity_m2_s(25) < 2.6e-5


@pytest.mark.parametrize(
    "inputs",
    [(0, 90, 60, 25, 50), (5, 180, 60, 25, 50), (5, 90, -1, 25, 50), (5, 90, 60, -5, 50),
     (5, 90, 60, 25, 101), (math.nan, 90, 60, 25, 50), (5, 90, 60, math.nan, 50), (5, 90, math.nan, 25, 50)],
)  # fmt: skip
def test_impossible_inputs_are_refused(inputs):
    with pytest.raises(ValueError, match=r"(volume|angle|time on the surface|temperature of water|humidity) must be"):
        predicted_loss_percent(*inputs)


@pytest.mark.parametrize("angle", [12, 40, 77, 135, 160])
def test_factor_against_the_integral_written_down_again(angle):
    """Independent: scipy 1.17.1 quad of the formula as printed, without the stretching that keeps it from overflow."""
    from scipy.integrate import quad

    theta = math.radians(angle)

    def density(tau):
        return (1 + math.cosh(2 * theta * tau)) / math.sinh(2 * math.pi * tau) * math.tanh((math.pi - theta) * tau)

    expected = math.tan(theta / 2) + 4 * quad(density, 1e-12, 60, epsabs=1e-13, limit=400)[0]
    assert_allclose(contact_angle_factor(angle), expected, rtol=1e-8)


def test_speed_is_a_plain_number_for_plain_numbers():
    assert type(evaporation_speed(25, 50)) is float
    assert evaporation_speed([20, 25], [[0], [50], [100]]).shape == (3, 2)
    assert evaporation_speed(25, 100) == 0  # limit: saturated air
