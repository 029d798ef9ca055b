"""Lubricant dragged out by a flow, evaporated, or held by capillarity."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.integrate import quad

from analysis.film.escape import capillary_hold, greatest_evaporation, shear_length, still_air_evaporation

GROOVE = {"interfacial_tension": 45.0, "depth_um": 10.0, "meniscus_radius_um": 5.0, "shear_stress_pa": 5.0}
OIL = {"vapour_pressure_pa": 0.19, "molar_mass_g_mol": 226.44, "density": 770.0}  # hexadecane, pressure from memory
STILL = {"diffusivity_mm2_s": 4.0, "layer_mm": 5.0}


def test_length_held_against_a_flow():
    """Independent, computed apart from the project: 12.0 mm."""
    found = shear_length(**GROOVE)
    assert_allclose(found.length_mm, 12.0)
    assert "width" in found.outside[0]


def test_the_constants_of_a_wide_groove():
    """Independent: at that length the flow driven by shear and the one driven back by the meniscus cancel."""
    length, depth, stress = 12.0e-3, 10e-6, 5.0
    slope = 45e-3 / 5e-6 / length  # pressure of the meniscus over the length
    flow, _ = quad(lambda z: stress * z + slope * (z**2 / 2 - depth * z), 0, depth)  # times viscosity
    shear_only, _ = quad(lambda z: stress * z, 0, depth)
    assert abs(flow) < 1e-9 * shear_only


def test_limits_of_the_groove_are_said():
    wide = shear_length(width_um=100.0, **{**GROOVE, "meniscus_radius_um": 60.0})
    assert wide.outside == ()
    tight = shear_length(width_um=np.array([20.0, 100.0]), **GROOVE)
    assert [note.split(" (")[1] for note in tight.outside] == ["in 1 of 2 cases)", "in 2 of 2 cases)"]


def test_evaporation_into_vacuum():
    """Independent, computed apart from the project; vapour pressures of the two oils from memory."""
    slow = greatest_evaporation(vapour_pressure_pa=1e-5, molar_mass_g_mol=2000.0, density=1900.0)
    assert_allclose(slow.flux_kg_m2_s, 1.1332e-7, rtol=5e-5)
    assert_allclose((slow.rate_nm_s, slow.rate_um_h), (0.0596, 0.2147), atol=6e-5)
    fast = greatest_evaporation(**OIL)
    assert_allclose(fast.flux_kg_m2_s, 7.2445e-4, rtol=5e-5)
    assert_allclose(fast.rate_nm_s, 940.0, atol=1.5)
    assert "upper bound" in fast.outside[0]
    half = greatest_evaporation(accommodation=0.5, **OIL)
    assert_allclose(half.flux_kg_m2_s, fast.flux_kg_m2_s / 2)


def test_the_textbook_form_of_the_flux():
    """From memory of textbooks: J = 4.3752e-3·p·√(M/T), M in g/mol."""
    assert_allclose(greatest_evaporation(**OIL).flux_kg_m2_s, 4.3752e-3 * 0.19 * np.sqrt(226.44 / 298.15), rtol=2e-5)


def test_still_air_is_slower_by_orders():
    still, vacuum = still_air_evaporation(**OIL, **STILL), greatest_evaporation(**OIL)
    assert 1e4 < vacuum.flux_kg_m2_s / still.flux_kg_m2_s < 1e6
    assert still.outside == ()


def test_a_dilute_vapour_follows_plain_diffusion():
    """Hand: J = D·M·p/(RTδ) = 4e-6·0.22644·0.19/(8.31446·298.15·0.005)."""
    assert_allclose(still_air_evaporation(**OIL, **STILL).flux_kg_m2_s, 1.38846e-8, rtol=1e-4)


def test_a_dense_vapour_against_integration():
    """Independent (scipy): N dz = −cD dx/(1 − x), from half vapour at the film to none in the room."""
    total, kelvin = 101_325.0, 298.15
    found = still_air_evaporation(vapour_pressure_pa=total / 2, molar_mass_g_mol=18.0, density=1000.0, **STILL)
    inner, _ = quad(lambda x: 1 / (1 - x), 0, 0.5)
    molar = total / (8.314462618 * kelvin) * 4e-6 * inner / 5e-3
    assert_allclose(found.flux_kg_m2_s, 0.018 * molar, rtol=1e-9)


def test_bounds_of_evaporation():
    assert still_air_evaporation(room_vapour_pa=0.19, **OIL, **STILL).flux_kg_m2_s == 0  # limit: saturated air
    assert still_air_evaporation(room_vapour_pa=1.0, **OIL, **STILL).flux_kg_m2_s < 0  # condenses
    thin = still_air_evaporation(**OIL, diffusivity_mm2_s=4.0, layer_mm=1e-5)
    assert "too thin" in thin.outside[0]
    assert greatest_evaporation(**{**OIL, "vapour_pressure_pa": 0.0}).rate_nm_s == 0


@pytest.mark.parametrize(
    ("tension", "radius", "density", "height", "pressure"),
    [
        # independent, computed apart from the project (numpy 2.4.6)
        (20.1, 25.0, 930.0, 176.31, 1608),
        (20.1, 0.5, 930.0, 8815.6, 80_400),
        (72.736, 500.0, 998.207, 29.722, 290.944),
    ],
)
def test_capillary_hold(tension, radius, density, height, pressure):
    found = capillary_hold(tension=tension, pore_radius_um=radius, density=density)
    assert_allclose(found.height_mm, height, rtol=3e-5)
    assert_allclose(found.pressure_pa, pressure, rtol=3e-5)
    assert bool(found.outside) == (radius == 500.0)  # 0.5 mm is more than a tenth of the capillary length


def test_capillarity_of_a_wall_that_is_not_wetted():
    found = capillary_hold(
        tension=20.1, pore_radius_um=5.0, density=930.0, contact_angle_deg=np.array([0.0, 60.0, 120.0])
    )
    assert_allclose(found.pressure_pa, found.pressure_pa[0] * np.array([1.0, 0.5, -0.5]))  # hand: cosines
    assert found.outside == ("does not wet the wall: nothing is held (in 1 of 3 cases)",)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: shear_length(**{**GROOVE, "shear_stress_pa": 0.0}), "shear stress"),
        (lambda: shear_length(**{**GROOVE, "interfacial_tension": -1.0}), "interfacial tension"),
        (lambda: greatest_evaporation(**OIL, temperature_c=-300.0), "temperature"),
        (lambda: greatest_evaporation(**OIL, accommodation=1.5), "accommodation"),
        (lambda: still_air_evaporation(**{**OIL, "vapour_pressure_pa": 2e5}, **STILL), "boils"),
        (lambda: capillary_hold(tension=20.0, pore_radius_um=0.0, density=930.0), "radius"),
        (lambda: capillary_hold(tension=np.nan, pore_radius_um=1.0, density=930.0), "tension"),
    ],
)
def test_impossible_inputs_are_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()


def test_missing_values_of_an_array_stay_in_their_place():
    radii = np.array([5.0, np.nan])
    assert np.isnan(capillary_hold(tension=20.0, pore_radius_um=radii, density=930.0).height_mm).tolist() == [
        False,
        True,
    ]
    assert np.isnan(shear_length(**{**GROOVE, "depth_um": radii}).length_mm).tolist() == [False, True]
    pressures = np.array([0.19, np.nan])
    case = {**OIL, "vapour_pressure_pa": pressures}
    assert np.isnan(still_air_evaporation(**case, **STILL).rate_nm_s).tolist() == [False, True]
    assert np.isnan(greatest_evaporation(**case).rate_um_h).tolist() == [False, True]


def test_a_vapour_at_the_pressure_of_the_air_is_refused_by_value_and_limit():
    with pytest.raises(ValueError, match=r"pressure must be below .* 101325 Pa, not 200000 Pa: the liquid boils"):
        still_air_evaporation(**{**OIL, "vapour_pressure_pa": np.array([1.0, 2e5])}, **STILL)
    with pytest.raises(ValueError, match=r"in the room must be below .* 90000 Pa, not 95000 Pa: no air is left"):
        still_air_evaporation(**OIL, **STILL, room_vapour_pa=95e3, pressure_pa=np.array([101_325.0, 90e3]))
    with pytest.raises(ValueError, match=r"diffusivity must be above 0 mm²/s"):
        still_air_evaporation(**OIL, diffusivity_mm2_s=0.0, layer_mm=1.0)


def test_condensing_through_a_layer_too_thin_is_said_as_well():
    fast = still_air_evaporation(
        **{**OIL, "vapour_pressure_pa": 0.0}, room_vapour_pa=0.19, diffusivity_mm2_s=4.0, layer_mm=1e-5
    )
    assert fast.flux_kg_m2_s < 0
    assert "too thin" in fast.outside[0]
