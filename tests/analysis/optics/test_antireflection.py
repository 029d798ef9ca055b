"""Quarter-wave layers against tables, tmm and exact cases; what oil in the pores does to them."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from analysis.optics import (
    filled_quarter_wave,
    film_reflectance,
    plate_transmittance,
    quarter_wave_index,
    quarter_wave_reflectance,
    quarter_wave_thickness_nm,
    stack_response,
    surface_reflectance,
)
from tests.analysis.tables import table

LENSES = table("quarter_wave_layers").to_dict("records")


@pytest.mark.parametrize("row", LENSES, ids=lambda row: row["material"])
def test_ideal_index(row):
    assert_allclose(quarter_wave_index(row["substrate_index"]), row["ideal_index"], atol=6e-5)


@pytest.mark.parametrize("row", LENSES, ids=lambda row: row["material"])
@pytest.mark.parametrize(
    ("index", "column"), [(1.38, "layer_1_38"), (1.22, "layer_1_22"), (1.30, "layer_1_30"), (1.40, "layer_1_40")]
)
def test_reflectance_of_a_quarter_wave(row, index, column):
    substrate = row["substrate_index"]
    assert_allclose(100 * quarter_wave_reflectance(index, substrate), row[column], atol=6e-5)
    depth = quarter_wave_thickness_nm(index)
    assert_allclose(100 * film_reflectance(depth, 550, index, substrate), row[column], atol=6e-5)
    assert_allclose(100 * stack_response([(index, depth)], substrate, 550).reflectance, row[column], atol=6e-5)


@pytest.mark.parametrize(("wavelength", "percent"), [(550, 1.42671), (450, 1.73170), (650, 1.57627)])
def test_a_quarter_wave_away_from_its_wavelength(wavelength, percent):
    """Independent: tmm 0.2.0."""
    depth = quarter_wave_thickness_nm(1.38)
    assert_allclose(depth, 99.638, atol=6e-4)  # hand: 550/(4·1.38)
    assert_allclose(100 * stack_response([(1.38, depth)], 1.498, wavelength).reflectance, percent, atol=6e-6)
    assert_allclose(100 * film_reflectance(depth, wavelength, 1.38, 1.498), percent, atol=6e-6)


def test_exact_cases_of_a_quarter_wave():
    """Limit: the ideal layer reflects nothing, a layer like air or like the substrate changes nothing."""
    assert_allclose(quarter_wave_reflectance(quarter_wave_index(1.7, 1.33), 1.7, 1.33), 0, atol=1e-30)
    assert_allclose(quarter_wave_reflectance([1.0, 1.5], 1.5), surface_reflectance(1.5))
    assert_allclose(quarter_wave_index(1.5, 1.5), 1.5)


@pytest.mark.parametrize("order", [1, 2, 3])
def test_odd_quarters_reflect_alike_at_the_design_wavelength(order):
    depth = quarter_wave_thickness_nm(1.38, 600, order)
    assert_allclose(film_reflectance(depth, 600, 1.38, 1.5), quarter_wave_reflectance(1.38, 1.5), atol=1e-14)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: quarter_wave_index(0), "index of the substrate"),
        (lambda: quarter_wave_thickness_nm(1.38, -1), "wavelength"),
        (lambda: quarter_wave_thickness_nm(1.38, 550, 0), "order must be at least 1"),
        (lambda: quarter_wave_thickness_nm(1.38, 550, 1.5), "order must be a whole number, not 1.5"),
        (lambda: quarter_wave_reflectance(-1, 1.5), "index of the layer"),
        (lambda: filled_quarter_wave(1.5, 1.46, 1.1, 1.4), "porosity must be at most 1"),
        (lambda: filled_quarter_wave(1.5, 1.46, 0.5, 1.4, rule="guess"), "mixing rule"),
    ],
)
def test_what_is_out_of_range_is_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()


def test_arrays_keep_shape_and_nan():
    assert_allclose(quarter_wave_reflectance([[1.38, np.nan]], 1.498), [[0.014267, np.nan]], atol=6e-7)
    assert_allclose(quarter_wave_thickness_nm(1.38, 550, [1, np.nan]), [99.638, np.nan], atol=6e-4)
    layer = filled_quarter_wave(1.498, 1.46, [0.5, np.nan], 1.4)
    assert np.isnan(layer.filled_reflectance[1])
    assert np.isnan(layer.effect_lost[1])


@pytest.mark.parametrize("rule", ["volume_average", "bruggeman", "lorentz_lorenz"])
@pytest.mark.parametrize("oil", [1.30, 1.35, 1.40])
def test_oil_in_the_pores_takes_most_of_the_effect_away(rule, oil):
    """Common practice: an infused anti-reflection layer reflects more than the dry one, and less than bare."""
    layer = filled_quarter_wave(1.498, 1.46, 0.55, oil, rule=rule)
    assert 1.1 < layer.dry_index < layer.filled_index < 1.46
    assert layer.dry_reflectance < layer.filled_reflectance < layer.bare_reflectance
    assert layer.filled_transmittance < layer.dry_transmittance
    assert 0.3 < layer.effect_lost < 0.7


def test_filling_by_hand():
    """Hand: n² dry = 0.45·1.46² + 0.55 = 1.50922, filled with 1.40: 2.03722.

    At the quarter wave of the dry layer the filled one is π/2·n_filled/n_dry thick in phase.
    """
    layer = filled_quarter_wave(1.498, 1.46, 0.55, 1.40)
    dry, filled = math.sqrt(1.50922), math.sqrt(2.03722)
    assert_allclose([layer.dry_index, layer.filled_index], [dry, filled])
    assert_allclose(layer.thickness_nm, 550 / 4 / dry)
    phase = math.pi / 2 * filled / dry
    upper, lower = (1 - filled) / (1 + filled), (filled - 1.498) / (filled + 1.498)
    above = upper**2 + lower**2 + 2 * upper * lower * math.cos(2 * phase)
    below = 1 + (upper * lower) ** 2 + 2 * upper * lower * math.cos(2 * phase)
    assert_allclose(layer.filled_reflectance, above / below)
    assert_allclose(layer.filled_transmittance, plate_transmittance(above / below))


def test_pores_filled_with_air_stay_as_they_were():
    """Limit."""
    layer = filled_quarter_wave(1.498, 1.46, 0.55, 1.0)
    assert layer.filled_reflectance == layer.dry_reflectance
    assert layer.effect_lost == 0


def test_a_layer_without_gain_has_nothing_to_lose():
    """Limit: a substrate like air reflects nothing, so that the layer can only harm."""
    assert np.isnan(filled_quarter_wave(1.0, 1.46, 0.5, 1.4).effect_lost)
