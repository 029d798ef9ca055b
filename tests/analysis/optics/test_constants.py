"""Optical constants: the published tables, what lies between their points, and what is refused."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from analysis.optics import (
    AMORPHOUS_TITANIA,
    TITANIUM,
    OpticalConstants,
    complex_index,
    rutile_index,
    tabulated_index,
)
from analysis.sources import SOURCES
from tests.analysis.tables import table


@pytest.mark.parametrize(
    ("material", "wavelength", "expected"),
    [
        # Published: Johnson & Christy (1974), Jolivet et al. (2023), points of the tables.
        (TITANIUM, 354, 1.82 + 2.87j),
        (TITANIUM, 549, 2.54 + 3.43j),
        (TITANIUM, 821, 3.21 + 4.01j),
        (AMORPHOUS_TITANIA, 359.37, 2.86461),
        (AMORPHOUS_TITANIA, 499.94, 2.48711),
        (AMORPHOUS_TITANIA, 789.71, 2.37217),
        # Independent: numpy 2.4.6, linear between the points.
        (TITANIUM, 550, 2.541818 + 3.434545j),
        (AMORPHOUS_TITANIA, 550, 2.449073),
    ],
)
def test_index_of_a_table(material, wavelength, expected):
    assert_allclose(tabulated_index(material, wavelength), expected, atol=6e-7)


@pytest.mark.parametrize(("material", "points"), [(TITANIUM, 17), (AMORPHOUS_TITANIA, 44)])
def test_a_table_is_whole_and_has_its_source(material, points):
    assert len(material.rows) == points
    assert material.source in SOURCES
    assert material.shortest_nm < 380
    assert material.longest_nm > 780


@pytest.mark.parametrize("wavelength", [353.9, 821.1, 0, -1])
def test_nothing_is_extrapolated(wavelength):
    with pytest.raises(ValueError, match="wavelength for titanium"):
        tabulated_index(TITANIUM, wavelength)


def test_an_array_keeps_its_shape_and_its_nan():
    found = tabulated_index(TITANIUM, [[549.0, np.nan]])
    assert found.shape == (1, 2)
    assert found[0, 0] == 2.54 + 3.43j
    assert np.isnan(found[0, 1])
    assert tabulated_index(TITANIUM, []).shape == (0,)


def test_rutile_by_hand():
    """Hand: 5.913 + 0.2441/(0.55² − 0.0803) = 7.011560, root 2.647935. From memory: about 2.61 at the sodium line."""
    assert_allclose(rutile_index(550), 2.647935, atol=6e-7)
    assert_allclose(rutile_index([589.3, np.nan]), [2.61, np.nan], atol=5e-3)


@pytest.mark.parametrize("wavelength", [429, 1531])
def test_rutile_outside_its_range(wavelength):
    with pytest.raises(ValueError, match="wavelength"):
        rutile_index(wavelength)


def test_rutile_lies_above_the_amorphous_film():
    """Common practice: an amorphous film is less dense than the crystal."""
    at = np.arange(430, 780, 10)
    assert (rutile_index(at) > tabulated_index(AMORPHOUS_TITANIA, at).real).all()


@pytest.mark.parametrize(
    ("source", "rows", "words"),
    [
        ("", ((400, 1.5, 0), (700, 1.5, 0)), "source"),
        ("own", ((400, 1.5, 0),), "two rows"),
        ("own", ((400, 1.5), (700, 1.5)), "two rows"),
        ("own", ((700, 1.5, 0), (400, 1.5, 0)), "step of wavelength"),
        ("own", ((400, 0, 0), (700, 1.5, 0)), "refractive index of resin must be above 0"),
        ("own", ((400, 1.5, -0.1), (700, 1.5, 0)), "absorption index of resin must be at least 0"),
        ("own", ((400, np.nan, 0), (700, 1.5, 0)), "finite"),
    ],
)
def test_a_table_without_sense_does_not_construct(source, rows, words):
    with pytest.raises(ValueError, match=words):
        OpticalConstants("resin", source, rows)


def test_a_lab_may_bring_its_own_table():
    resin = OpticalConstants("resin", "data sheet of the lab", ((400, 1.50, 0), (800, 1.48, 0.02)))
    assert_allclose(tabulated_index(resin, 600), 1.49 + 0.01j)


@pytest.mark.parametrize("index", [0, -1.5, 1.5 - 0.1j, [1.5, 0]])
def test_an_impossible_index_is_refused(index):
    with pytest.raises(ValueError, match="index of the film"):
        complex_index("film", index, 550)


@pytest.mark.parametrize(("name", "material"), [("titanium", TITANIUM), ("amorphous titania", AMORPHOUS_TITANIA)])
def test_every_row_of_the_published_tables(name, material):
    rows = table("titanium_constants").query("material == @name")
    assert_allclose(material.rows, np.column_stack([1000 * rows.wavelength_um, rows.n, rows.k]), rtol=1e-12)
