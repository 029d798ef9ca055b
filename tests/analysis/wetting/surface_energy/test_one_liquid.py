"""Fowkes and Neumann against numbers computed apart, bracketed roots, exact limits and the diiodomethane trap."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from analysis.wetting.surface_energy import fowkes, fowkes_energy, neumann, neumann_energy, probe_liquids

WATER, DIM = probe_liquids("set_a", "water", "diiodomethane")


@pytest.mark.parametrize(
    ("tension", "angle", "b", "energy"),
    [  # computed apart from the project; b from memory
        (72.8, 90, 1.247e-4, 29.224),
        (72.8, 90, 1.15e-4, 28.552),
        (72.8, 80, 1.247e-4, 35.481),
        (50.8, 41, 1.247e-4, 40.212),
        (50.8, 77, 1.247e-4, 23.081),
        (27.47, 46, 1.247e-4, 19.999),
        (27.47, 35, 1.247e-4, 22.848),
    ],
)
def test_neumann(tension, angle, b, energy):
    assert_allclose(neumann_energy(angle, tension, b), energy, atol=6e-4)


@pytest.mark.parametrize("angle", [0.001, 1, 30, 60, 100, 150, 179, 179.999])
@pytest.mark.parametrize("tension", [1, 20, 72.8, 500])
def test_neumann_meets_its_equation(angle, tension):
    found = neumann_energy(angle, tension)
    assert 0 < found < tension or angle < 0.1
    cosine = -1 + 2 * math.sqrt(found / tension) * math.exp(-1.247e-4 * (tension - found) ** 2)
    assert_allclose(1 + cosine, 1 + math.cos(math.radians(angle)), rtol=1e-9)  # limit: back through the equation


def test_neumann_limits_and_arrays():
    assert_allclose(neumann_energy([0, 180], 40), [40, 0], atol=1e-9)  # limit
    # limit: without b the equation is Fowkes' with the whole tension
    assert_allclose(neumann_energy(41, 50.8, b=0), fowkes_energy(41, 50.8), rtol=1e-12)
    found = neumann_energy(np.array([[90, 80], [math.nan, 60]]), [72.8, 50.8])
    assert found.shape == (2, 2)
    assert_allclose(found[0, 0], neumann_energy(90, 72.8))
    assert np.isnan(found).tolist() == [[False, False], [True, False]]
    assert type(neumann_energy(90, 72.8)) is float
    assert neumann_energy(np.array([]), 72.8).shape == (0,)


@pytest.mark.parametrize(
    ("angle", "tension", "energy"),
    [(41, 50.8, 39.103), (77, 50.8, 19.056), (17, 44.4, 42.481)],  # computed apart from the project
)
def test_fowkes(angle, tension, energy):
    assert_allclose(fowkes_energy(angle, tension), energy, atol=6e-4)


def test_fowkes_with_the_handbook_tension_of_diiodomethane_is_refused():
    with pytest.raises(ValueError, match=r"50\.8.*not 66\.98"):  # it would give 51.6 in place of 39.1
        fowkes_energy(41, 66.98)


def test_fowkes_needs_an_apolar_liquid():
    with pytest.raises(ValueError, match=r"water has a polar part of 51"):
        fowkes(80, WATER)


@pytest.mark.parametrize("angle", [20.0, 77.0, 150.0, 180.0])
def test_uncertainty_of_one_angle(angle):
    from uncertainties import ufloat, umath

    theta = ufloat(angle, 2) * math.pi / 180
    expected = (50.8 * (1 + umath.cos(theta)) ** 2 / 4).s  # independent: uncertainties 3.2.3
    (part,) = fowkes(angle, DIM, angle_sd_deg=4, replicates=4).uncertainties
    assert_allclose(part.dispersive, expected, atol=1e-12, rtol=1e-9)
    (part,) = neumann(angle, WATER, angle_sd_deg=2).uncertainties
    step = 1e-3  # hand: difference quotient
    moved = (neumann_energy(angle - step, 72.8) - neumann_energy(min(angle + step, 180), 72.8)) / (
        2 * step if angle < 180 else step
    )
    assert_allclose(part.total, 2 * moved, rtol=1e-5, atol=1e-6)


def test_records_say_what_is_not_known():
    apolar = fowkes(41, DIM, surface="textured")
    assert (apolar.total, apolar.polar) == (None, None)
    assert apolar.u_total is None
    assert apolar.caution
    whole = neumann(90, WATER, surface="smooth")
    assert (whole.dispersive, whole.polar, whole.caution) == (None, None, "")
    assert "b = 0.0001247" in whole.notes[0]
    assert (whole.set_key, whole.liquids, whole.angles_deg) == ("set_a", ("water",), (90.0,))


@pytest.mark.parametrize("bad", [math.nan, -1, 181, math.inf])
def test_impossible_angles_are_refused(bad):
    for function in (fowkes_energy, neumann_energy):
        with pytest.raises(ValueError, match="contact angle"):
            function(bad, 50.8)
    with pytest.raises(ValueError, match="contact angle"):
        neumann(bad, WATER)


@pytest.mark.parametrize("bad", [0, -5, math.inf, math.nan, 501])
def test_impossible_tensions_are_refused(bad):
    with pytest.raises(ValueError, match="tension"):
        neumann_energy(90, bad)
    with pytest.raises(ValueError, match="constant b"):
        neumann_energy(90, 72.8, b=-1)
