"""Reflectance of surfaces, films, stacks and plates against tmm, Fresnel by hand, and exact limits."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from analysis.optics import (
    AMORPHOUS_TITANIA,
    TITANIUM,
    film_reflectance,
    plate_reflectance,
    plate_transmittance,
    stack_response,
    surface_reflectance,
)
from tests.analysis.tables import table

FILMS = [
    # thickness, wavelength, film, substrate, ambient
    (50, 550, 2.449073, 2.541818 + 3.434545j, 1.0),
    (99.638, 550, 1.38, 1.498, 1.0),
    (0, 400, 2.7, 2.1 + 3j, 1.0),
    (137, 380, 2.73 + 0.02j, 1.99 + 2.93j, 1.333),
    (900, 780, 1.41, 3.7 + 0.01j, 1.0),
    (3000, 633, 1.5 + 0.3j, 0.2 + 3.4j, 1.0),
    (20, 460, 0.15 + 3.0j, 1.5, 1.0),
    (75, 500, 1.0, 1.5, 1.6),
]
SHARES = st.floats(0, 1)
INDICES = st.builds(complex, st.floats(0.1, 5), st.floats(0, 5))


def test_reflectance_of_a_film_to_twelve_digits():
    """Independent: tmm 0.2.0 and Airy's sum apart from the project, indices interpolated at 550 nm."""
    assert_allclose(film_reflectance(50, 550, AMORPHOUS_TITANIA, TITANIUM), 0.157077034443, atol=5e-13)


@pytest.mark.parametrize("row", table("titania_colours").to_dict("records"), ids=lambda row: f"{row['thickness_nm']}")
def test_reflectance_of_titania_films(row):
    found = film_reflectance(row["thickness_nm"], 550, AMORPHOUS_TITANIA, TITANIUM)
    assert_allclose(found, row["r550"], atol=6e-6)


@pytest.mark.parametrize("case", FILMS, ids=str)
def test_airy_equals_the_transfer_matrix(case):
    """Independent: tmm 0.2.0 called directly."""
    from tmm import coh_tmm

    thickness, wavelength, film, substrate, ambient = case
    expected = coh_tmm("s", [ambient, film, substrate], [math.inf, thickness, math.inf], 0, wavelength)["R"]
    assert_allclose(film_reflectance(thickness, wavelength, film, substrate, ambient), expected, atol=1e-12)
    one = stack_response([(film, thickness)], substrate, wavelength, ambient=ambient)
    assert_allclose(one.reflectance, expected, atol=1e-12)


def test_a_table_of_thicknesses_and_wavelengths_equals_single_values():
    depths, waves = np.array([0.0, 33, 120]), np.array([400.0, 550, 700, 780])
    found = film_reflectance(depths[:, None], waves, AMORPHOUS_TITANIA, TITANIUM)
    for row, depth in enumerate(depths):
        stack = stack_response([(AMORPHOUS_TITANIA, depth)], TITANIUM, waves)
        assert_allclose(found[row], stack.reflectance, atol=1e-12)
        single = [film_reflectance(depth, wave, AMORPHOUS_TITANIA, TITANIUM) for wave in waves]
        assert_allclose(found[row], single, rtol=1e-13)


@given(st.floats(0, 2000), st.floats(300, 1000), INDICES, INDICES)
def test_a_film_never_reflects_more_than_it_gets(thickness, wavelength, film, substrate):
    assert 0 <= film_reflectance(thickness, wavelength, film, substrate) <= 1 + 1e-12


@settings(max_examples=50)
@given(st.lists(st.tuples(INDICES, st.floats(0, 500)), max_size=3), INDICES, st.floats(300, 1000), st.floats(0, 89))
def test_shares_of_a_stack_sum_to_one(layers, substrate, wavelength, angle):
    found = stack_response(layers, substrate, wavelength, angle)
    for share in (found.reflectance, found.transmittance, found.absorptance):
        assert -1e-9 <= share <= 1 + 1e-9
    assert_allclose(found.reflectance + found.transmittance + found.absorptance, 1, atol=1e-9)


@pytest.mark.parametrize(
    ("thickness", "film", "substrate", "expected"),
    [
        (0, 2.4, 1.5, 0.04),  # no film: bare glass, hand (0.5/2.5)²
        (200, 1.5, 1.5, 0.04),  # film like the substrate
        (200, 1.0, 1.5, 0.04),  # film like air
        (550 / (2 * 1.38), 1.38, 1.5, 0.04),  # half a wave is not seen
        (550 / (4 * 1.5**0.5), 1.5**0.5, 1.5, 0.0),  # a quarter wave of the ideal index
    ],
)
def test_exact_cases_of_a_film(thickness, film, substrate, expected):
    """Limit."""
    assert_allclose(film_reflectance(thickness, 550, film, substrate), expected, atol=1e-14)


def test_an_opaque_film_looks_like_its_own_metal():
    """Limit."""
    metal = 1.5 + 4j
    bare = surface_reflectance(metal)
    assert_allclose(bare, ((1.5 - 1) ** 2 + 16) / ((1.5 + 1) ** 2 + 16))  # hand
    assert_allclose(film_reflectance(1e4, 550, metal, 1.5), bare, atol=1e-12)
    found = stack_response([(metal, 1e5)], 1.5, 550)
    assert_allclose(found.reflectance, bare, atol=1e-12)
    assert found.transmittance < 1e-25
    assert_allclose(found.absorptance, 1 - bare, atol=1e-12)


def test_an_opaque_layer_prints_nothing(capsys):
    stack_response([(1.5 + 4j, 1e5), (1.4, 100)], 1.5, [400, 500], 60)
    assert capsys.readouterr().out == ""


def _fresnel(index, angle_deg):
    """Fresnel's formulas for both polarisations, by hand."""
    angle = math.radians(angle_deg)
    inside = math.sqrt(1 - (math.sin(angle) / index) ** 2)
    s = (math.cos(angle) - index * inside) / (math.cos(angle) + index * inside)
    p = (index * math.cos(angle) - inside) / (index * math.cos(angle) + inside)
    return s**2, p**2


@pytest.mark.parametrize("angle", [0, 30, 56.3, 60, 80, 89])
def test_bare_glass_at_an_angle(angle):
    """Hand: Fresnel."""
    s, p = _fresnel(1.5, angle)
    for kind, expected in (("s", s), ("p", p), ("unpolarised", (s + p) / 2)):
        found = stack_response([], 1.5, 550, angle, polarisation=kind)
        assert_allclose(found.reflectance, expected, atol=1e-12)
        assert_allclose(found.transmittance, 1 - expected, atol=1e-9)
        assert found.absorptance == 0


def test_brewster_angle_reflects_no_p_light():
    """Limit: tan θ = n."""
    angle = math.degrees(math.atan(1.5))
    assert_allclose(stack_response([], 1.5, 550, angle, polarisation="p").reflectance, 0, atol=1e-25)


def test_total_reflection_and_what_a_thin_gap_lets_through():
    """Limit: above the critical angle (41.8°) all returns, unless a second glass is near."""
    wide = stack_response([(1.0, 1e5)], 1.5, 550, 60, ambient=1.5)
    assert_allclose([wide.reflectance, wide.transmittance], [1, 0], atol=1e-12)
    assert stack_response([(1.0, 100)], 1.5, 550, 60, ambient=1.5).transmittance > 0.3
    assert_allclose(stack_response([(1.0, 0)], 1.5, 550, 60, ambient=1.5).transmittance, 1)


def test_light_that_runs_along_a_layer_is_no_exception():
    """Limit: at the critical angle itself the response joins what lies on both sides."""
    critical = math.degrees(math.asin(1 / 1.5))
    found = stack_response([(1.0, 100)], 1.5, 550, critical + np.array([-0.01, 0, 0.01]), ambient=1.5)
    assert_allclose(found.reflectance[1], found.reflectance[[0, 2]].mean(), atol=1e-5)
    assert_allclose(found.reflectance + found.transmittance, 1, atol=1e-9)


def test_a_split_layer_is_one_layer():
    """Limit."""
    whole = stack_response([(2.4, 60), (1.4, 100)], TITANIUM, [450, 650], 45)
    split = stack_response([(2.4, 25), (2.4, 35), (1.4, 100)], TITANIUM, [450, 650], 45)
    assert_allclose(split.reflectance, whole.reflectance, atol=1e-13)


def test_wavelengths_and_angles_broadcast_and_nan_stays():
    found = stack_response([(AMORPHOUS_TITANIA, 50)], TITANIUM, [400, np.nan, 700], [[0], [45]], polarisation="p")
    assert found.reflectance.shape == (2, 3)
    assert np.isnan(found.reflectance[:, 1]).all()
    assert np.isfinite(found.reflectance[:, [0, 2]]).all()
    assert stack_response([], 1.5, []).reflectance.shape == (0,)
    assert type(stack_response([], 1.5, 550).reflectance) is float


def test_nan_of_a_film_stays_in_its_place():
    found = film_reflectance([50, np.nan], 550, 2.4, 2.5 + 3j)
    assert np.isfinite(found[0])
    assert np.isnan(found[1])
    assert np.isnan(film_reflectance(50, 550, complex(np.nan, 0), 1.5))
    assert np.isnan(surface_reflectance(np.nan))
    assert film_reflectance([], 550, 2.4, 1.5).shape == (0,)
    assert type(film_reflectance(50, 550, 2.4, 1.5)) is float


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: film_reflectance(-1, 550, 2.4, 1.5), "film thickness must be at least 0 nm, not -1"),
        (lambda: film_reflectance(2e5, 550, 2.4, 1.5), "film thickness must be at most"),
        (lambda: film_reflectance(50, 0, 2.4, 1.5), "wavelength must be above 0"),
        (lambda: film_reflectance(50, 300, AMORPHOUS_TITANIA, 1.5), "wavelength for titanium dioxide"),
        (lambda: film_reflectance(50, 550, 2.4 - 1j, 1.5), "absorption index of the film"),
        (lambda: film_reflectance(50, 550, 2.4, 1.5, ambient=0), "index of the ambient"),
        (lambda: stack_response([], 1.5, 550, 90), "angle of incidence must be at most 89"),
        (lambda: stack_response([], 1.5, 550, -1), "angle of incidence must be at least 0"),
        (lambda: stack_response([(1.4, np.nan)], 1.5, 550), "layer thickness"),
        (lambda: stack_response([(1.4, -1)], 1.5, 550), "layer thickness"),
        (lambda: stack_response([(1.4, [50, 60])], 1.5, 550), "layer thickness must be one number"),
        (lambda: stack_response([(0, 10)], 1.5, 550), "index of the layer 1"),
        (lambda: stack_response([], 1.5, 550, polarisation="x"), "polarisation must be one of"),
        (lambda: plate_transmittance(1.1), "front reflectance"),
        (lambda: plate_transmittance(0.1, -0.1), "back reflectance"),
        (lambda: plate_transmittance(0.1, 0.1, 92), "internal transmittance"),
    ],
)
def test_what_is_out_of_range_is_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()


@pytest.mark.parametrize("row", table("quarter_wave_layers").to_dict("records"), ids=lambda row: row["material"])
def test_bare_lens_materials(row):
    bare = surface_reflectance(row["substrate_index"])
    assert_allclose(100 * bare, row["bare"], atol=6e-5)
    assert_allclose(100 * plate_transmittance(bare), row["plate"], atol=6e-4)


@pytest.mark.parametrize(("front", "back", "absorption"), [(0.04, 0.04, 0), (0.02, 0.05, 3e-6), (0.3, 0.6, 1e-7)])
def test_plate_equals_the_incoherent_transfer_matrix(front, back, absorption):
    """Independent: tmm 0.2.0, incoherent; the surfaces are bare interfaces of equal reflectance."""
    from tmm import inc_tmm

    index = (1 + math.sqrt(front)) / (1 - math.sqrt(front))
    behind = index * (1 + math.sqrt(back)) / (1 - math.sqrt(back))
    depth, wavelength = 1e6, 550.0
    found = inc_tmm("s", [1, index + 1j * absorption, behind], [math.inf, depth, math.inf], "iii", 0, wavelength)
    inside = math.exp(-4 * math.pi * absorption * depth / wavelength)
    assert_allclose(plate_transmittance(front, back, inside), found["T"], atol=1e-5)  # tmm: interfaces feel k
    assert_allclose(plate_reflectance(front, back, inside), found["R"], atol=1e-5)


@given(SHARES, SHARES)
def test_a_clear_plate_loses_nothing(front, back):
    if front * back < 1:
        assert_allclose(plate_transmittance(front, back) + plate_reflectance(front, back), 1, atol=1e-9)


def test_limits_of_a_plate():
    """Limit."""
    assert plate_transmittance(0, 0) == 1
    assert plate_transmittance(1, 1) == 0
    assert plate_reflectance(1, 1) == 1
    assert plate_transmittance(0.04, 0.04, 0) == 0
    assert_allclose(plate_reflectance(0.04, 0.04, 0), 0.04)
    assert_allclose(plate_transmittance([0.1, np.nan]), [0.9 / 1.1, np.nan])
    assert type(plate_transmittance(0.04)) is float
