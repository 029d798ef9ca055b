"""The film criteria and the cloaking sign of a lubricated coupon, as a run shows them."""

import dataclasses

import pytest
from numpy.testing import assert_allclose

from analysis.checks import cloaking_sign, film_energies
from analysis.film.inputs import film_inputs
from analysis.records import CANNOT_TELL, DOES_NOT_HOLD, HOLDS, Material, Value
from tests.analysis.runs import OIL, WATER, make_sliding

KNOWN = {
    "lubricant": OIL,
    "roughness_factor": Value(2.0, "1", "invented", 0.1),
    "solid_angles": {
        "liquid": Value(110, "°", "invented", 2.0),
        "lubricant": Value(10, "°", "invented", 2.0),
    },
}


def run(**changes):
    return make_sliding([4.0, 5.0], **{**KNOWN, **changes})


def with_property(material, key, value):
    return dataclasses.replace(material, properties={**material.properties, key: value})


def without_uncertainty(material, key):
    known = dataclasses.replace(material.properties[key], uncertainty=None)
    return with_property(material, key, known)


def test_a_stable_film_shows_both_energies():
    """Hand: 2(20 cos 10° − 72 cos 110°) = 88.643; less 42 is 46.64, plus 52 is 140.64."""
    check = film_energies(run())
    assert check.outcome == HOLDS
    assert check.numbers["ΔE1 [mN/m]"].startswith("+46.6 ±")
    assert check.numbers["ΔE2 [mN/m]"].startswith("+140.6 ±")
    assert "Assumed" not in check.why


@pytest.mark.parametrize(
    ("liquid_angle", "outcome", "words"),
    [
        (40, DOES_NOT_HOLD, "displaces"),  # hand: 2(19.696 − 55.155) = −70.9: −112.9 and −18.9
        (92, CANNOT_TELL, "differ in sign"),  # hand, R = 1: 19.696 + 2.513 = 22.2: −19.8 and +74.2
    ],
)
def test_displaced_and_mixed(liquid_angle, outcome, words):
    angles = {
        "liquid": Value(liquid_angle, "°", "invented", 1.0),
        "lubricant": Value(10, "°", "invented", 1.0),
    }
    roughness = Value(2.0 if liquid_angle == 40 else 1.0, "1", "invented", 0.0)
    check = film_energies(run(solid_angles=angles, roughness_factor=roughness))
    assert check.outcome == outcome
    assert words in check.why


def test_a_wide_uncertainty_cannot_tell():
    check = film_energies(run(roughness_factor=Value(2.0, "1", "invented", 0.6)))
    assert check.outcome == CANNOT_TELL
    assert "could flip" in check.why


def test_an_unknown_uncertainty_is_assumed_and_said():
    check = film_energies(run(lubricant=without_uncertainty(OIL, "interfacial_tension_water")))
    assert "Assumed for want of a stated uncertainty: interfacial tension of lubricant and liquid ±5." in check.why
    assert film_inputs(run(roughness_factor=Value(2.0, "1", "x"))).estimates["roughness"][1] == pytest.approx(
        0.4 / 3**0.5  # hand: ±20 % of 2, a rectangle
    )


@pytest.mark.parametrize(
    ("changes", "missing"),
    [
        ({"roughness_factor": None}, "roughness factor of the texture"),
        (
            {"solid_angles": {}},
            "angle of the liquid on the smooth solid, angle of the lubricant on the smooth solid",
        ),
        ({"liquid": None}, "surface tension of the liquid"),
        ({"lubricant": Material("O", "oil", {})}, "surface tension of the lubricant"),
    ],
)
def test_what_is_missing_is_named(changes, missing):
    check = film_energies(run(**changes))
    assert check.outcome == CANNOT_TELL
    assert missing in check.why


def test_film_checks_do_not_apply_without_lubricant():
    assert film_energies(run(lubricant=None)) is None
    assert cloaking_sign(run(lubricant=None)) is None


@pytest.mark.parametrize(
    ("interfacial", "outcome"),
    [(42.0, DOES_NOT_HOLD), (58.0, HOLDS), (51.0, CANNOT_TELL)],  # hand: S = 72 − 20 − γ = +10, −6, +1
)
def test_cloaking_sign(interfacial, outcome):
    oil = with_property(OIL, "interfacial_tension_water", Value(interfacial, "mN/m", "invented", 1.0))
    check = cloaking_sign(run(lubricant=oil, roughness_factor=None, solid_angles={}))
    assert check.outcome == outcome
    assert "mutually saturated" in check.why


def test_interfacial_tension_to_water_is_not_used_for_another_liquid():
    glycol = Material("G", "glycol", {"surface_tension": Value(48.0, "mN/m", "invented", 0.3)})
    check = cloaking_sign(run(liquid=glycol))
    assert check.outcome == CANNOT_TELL
    assert "interfacial tension of lubricant and liquid" in check.why


def test_a_tension_stated_for_this_liquid_comes_first():
    oil = with_property(OIL, "interfacial_tension", Value(15.0, "mN/m", "invented", 1.0))
    assert film_inputs(run(lubricant=oil)).estimates["interfacial_tension"] == (15.0, 1.0)


def test_an_estimate_from_dispersive_parts_is_marked():
    """Hand: 72 + 20 − 2√(21.8 · 20) = 50.239."""
    parts = dict.fromkeys(("surface_tension", "dispersive_tension"), OIL.properties["surface_tension"])
    found = film_inputs(run(lubricant=Material("O", "oil", parts)))
    assert_allclose(found.estimates["interfacial_tension"], (50.239, 5 / 3**0.5), atol=6e-4)
    check = cloaking_sign(run(lubricant=Material("O", "oil", parts)))
    assert check.outcome == CANNOT_TELL  # +1.8 ± 2.9
    assert "estimated from dispersive parts" in check.why
    assert WATER.properties["dispersive_tension"].value == 21.8


def test_a_dispersive_part_above_its_tension_gives_no_estimate():
    parts = {
        key: Value(value, "mN/m", "invented")
        for key, value in (("surface_tension", 20.0), ("dispersive_tension", 60.0))
    }
    check = cloaking_sign(run(lubricant=Material("O", "oil", parts)))
    assert check.outcome == CANNOT_TELL
    assert "Cannot be computed without interfacial tension" in check.why
