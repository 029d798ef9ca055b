"""Haze against a worked example, the uncertainties package and its exact limits."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from analysis.measures import (
    diffuse_transmittance,
    haze_percent,
    total_transmittance,
    transmittance_and_haze,
)

EXAMPLE = (100.0, 91.2, 0.6, 2.4)


def test_worked_example():
    found = transmittance_and_haze(*EXAMPLE)  # computed apart from the project
    assert_allclose([found.total, found.diffuse, found.parallel], [91.20, 1.8528, 89.3472], atol=5e-5)
    assert_allclose(found.haze, 2.0316, atol=5e-5)
    assert found.notes == ()
    assert (found.u_total, found.u_diffuse, found.u_haze) == (None, None, None)


@pytest.mark.parametrize("readings", [EXAMPLE, (50.0, 40.0, 0.0, 8.0), (100, 100, 1, 1), (80.0, 20.0, 0.5, 15.0)])
def test_both_forms_of_haze_agree(readings):
    haze = 100 * diffuse_transmittance(*readings) / total_transmittance(*readings[:2])
    assert_allclose(haze_percent(*readings), haze, rtol=1e-12, atol=1e-12)  # hand: 100·Td/Tt


def test_scatter_of_the_instrument_alone_is_no_haze():
    t1, t2, t3 = 100.0, 91.2, 0.6
    assert_allclose(haze_percent(t1, t2, t3, t3 * t2 / t1), 0, atol=1e-12)  # limit
    assert_allclose(haze_percent(100, 60, 0, 60), 100)  # limit: all light is scattered
    scaled = [7 * reading for reading in EXAMPLE]
    assert_allclose(haze_percent(*scaled), haze_percent(*EXAMPLE))  # limit: the unit of the readings drops out


@pytest.mark.parametrize("u", [(0.2, 0.3, 0.02, 0.05), (1.0, 0, 0, 0), (0, 1.0, 0, 0), (0, 0, 0.1, 0), (0, 0, 0, 0.1)])
@pytest.mark.parametrize("readings", [EXAMPLE, (80.0, 20.0, 0.5, 15.0)])
def test_uncertainty_against_the_uncertainties_package(readings, u):
    from uncertainties import ufloat

    t1, t2, t3, t4 = (ufloat(value, s) if s else value for value, s in zip(readings, u, strict=True))
    expected = [100 * t2 / t1, 100 * (t4 - t3 * t2 / t1) / t1, 100 * (t4 / t2 - t3 / t1)]
    found = transmittance_and_haze(*readings, u)
    spreads = [getattr(number, "s", 0.0) for number in expected]  # independent: uncertainties 3.2.3
    assert_allclose([found.u_total, found.u_diffuse, found.u_haze], spreads, rtol=1e-10, atol=1e-15)


def test_no_light_leaves_haze_undefined():
    found = transmittance_and_haze(100, 0, 0.6, 0.0, (0.1,) * 4)
    assert (found.total, found.haze, found.u_haze) == (0, None, None)
    assert "undefined" in found.notes[0]
    assert not found.is_diffusing
    grid = haze_percent(100, [[91.2], [0.0]], 0.6, [2.4, math.nan])
    assert np.isnan(grid).tolist() == [[False, True], [True, True]]


@pytest.mark.parametrize(("t4", "is_diffusing"), [(24.0, False), (30.0, False), (30.1, True), (60.0, True)])
def test_the_method_ends_at_30_percent(t4, is_diffusing):
    found = transmittance_and_haze(100, 100, 0, t4)
    assert found.is_diffusing is is_diffusing
    assert any("does not apply" in note for note in found.notes) is is_diffusing


def test_small_negative_haze_is_kept():
    found = transmittance_and_haze(100, 91.2, 0.6, 0.5)
    assert found.haze < 0
    assert found.diffuse < 0
    assert "kept as read" in found.notes[0]


def test_readings_that_cannot_be_right_are_noted():
    assert any("more light behind" in note for note in transmittance_and_haze(100, 101, 0.6, 1).notes)
    assert any("more scattered" in note for note in transmittance_and_haze(100, 50, 0.6, 51).notes)


@pytest.mark.parametrize("bad", [(0, 91, 0.6, 2.4), (-1, 91, 0.6, 2.4), (100, -1, 0.6, 2.4), (100, math.inf, 0.6, 2.4),
                                 (100, 91, 0.6, math.nan), (math.nan, 91, 0.6, 2)])  # fmt: skip
def test_impossible_readings_are_refused(bad):
    with pytest.raises(ValueError, match="reading T"):
        transmittance_and_haze(*bad)
    with pytest.raises(ValueError, match="uncertainty"):
        transmittance_and_haze(*EXAMPLE, (-1, 0, 0, 0))


def test_arrays_and_plain_numbers():
    assert type(haze_percent(*EXAMPLE)) is float
    assert haze_percent(np.full((2, 3), 100.0), 91.2, 0.6, 2.4).shape == (2, 3)
    assert total_transmittance([], 5).shape == (0,)
