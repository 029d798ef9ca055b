"""Scattering by rough interfaces: hand values, limits, and the filled texture that stays clear."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from analysis.optics import LARGEST_PHASE_RAD, reflection_scatter, rms_phase, texture_clarity, transmission_scatter


@pytest.mark.parametrize(
    ("roughness", "index_1", "index_2", "expected"),
    [
        # Hand (bc, 20 digits): φ = 2π·Δn·σ/550, 1 − exp(−φ²)
        (100, 1.0, 1.498, 0.2765060),  # φ = 0.568914
        (100, 1.40, 1.498, 0.01245569),  # φ = 0.111955
        (100, 1.49, 1.498, 8.352110e-5),  # φ = 0.00913918
        (20, 1.0, 1.5, 0.01296593),  # φ = 0.114240
        (550, 1.0, 1.5, 0.999948),  # φ = π: nearly all
    ],
)
def test_scattered_share_by_hand(roughness, index_1, index_2, expected):
    assert_allclose(transmission_scatter(roughness, index_1, index_2), expected, rtol=1e-6)
    assert_allclose(transmission_scatter(roughness, index_2, index_1), expected, rtol=1e-6)  # either way through


def test_limits_of_the_scattered_share():
    """Limit: smooth or matched scatters nothing, very rough all; a faint one goes with σ²."""
    assert transmission_scatter(0, 1.0, 1.5) == 0
    assert transmission_scatter(500, 1.5, 1.5) == 0
    assert transmission_scatter(1e5, 1.0, 1.5) == 1
    assert_allclose(transmission_scatter(2e-6, 1.0, 1.5) / transmission_scatter(1e-6, 1.0, 1.5), 4)
    assert transmission_scatter(1e-6, 1.0, 1.5) > 0


def test_reflection_by_hand():
    """Hand: 4π·10/550 = 0.228479, 1 − exp(−0.052203) = 0.050864; at 60° the phase halves, at 90° it is none."""
    assert_allclose(reflection_scatter(10), 0.050864, atol=6e-7)
    assert_allclose(reflection_scatter(10, angle_deg=60), 1 - math.exp(-0.052203 / 4), atol=6e-7)
    assert_allclose(reflection_scatter(10, angle_deg=90), 0, atol=1e-30)
    assert_allclose(reflection_scatter(10, ambient=1.5), 1 - math.exp(-0.052203 * 2.25), atol=2e-6)


def test_a_filled_matched_texture_on_a_lens_stays_clear():
    """Common practice: dry it is hazy, filled with an oil of nearly its own index it is clear."""
    clarity = texture_clarity(100, 1.498, 1.49)
    assert clarity.dry_scatter_percent > 20
    assert clarity.filled_scatter_percent < 0.1
    assert clarity.is_within_limits


def test_an_oil_of_low_index_clears_less():
    """Common practice."""
    clarity = texture_clarity(100, 1.498, np.array([1.0, 1.30, 1.40, 1.498]))
    assert (np.diff(clarity.filled_scatter_percent) < 0).all()
    assert_allclose(clarity.filled_scatter_percent[0], clarity.dry_scatter_percent)
    assert clarity.filled_scatter_percent[-1] == 0


def test_beyond_its_limits_the_estimate_says_so():
    rough = texture_clarity(300, 1.498, 1.40)
    assert not rough.is_within_limits
    assert "Too rough" in rough.note
    assert "2.5°" in rough.note
    smooth = texture_clarity(100, 1.498, 1.40)
    assert "Too rough" not in smooth.note
    assert rms_phase(300, 1.0, 1.498) > LARGEST_PHASE_RAD > rms_phase(100, 1.0, 1.498)


def test_arrays_keep_shape_and_nan():
    clarity = texture_clarity([[100, np.nan]], 1.498, 1.40)
    assert clarity.dry_scatter_percent.shape == (1, 2)
    assert np.isnan(clarity.dry_scatter_percent[0, 1])
    assert not clarity.is_within_limits[0, 1]
    assert "Too rough" not in clarity.note
    assert type(transmission_scatter(100, 1.0, 1.5)) is float
    assert transmission_scatter([], 1.0, 1.5).shape == (0,)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: transmission_scatter(-1, 1, 1.5), "rms roughness must be at least 0"),
        (lambda: transmission_scatter(1, 0, 1.5), "refractive index must be above 0"),
        (lambda: transmission_scatter(1, 1, 1.5, 0), "wavelength must be above 0"),
        (lambda: reflection_scatter(1, angle_deg=91), "angle of incidence must be at most 90"),
    ],
)
def test_what_is_out_of_range_is_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()
