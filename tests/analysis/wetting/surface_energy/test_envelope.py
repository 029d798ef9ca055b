"""The wetting envelope against the expected angle of the liquids that lie on it."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from analysis.wetting.surface_energy import ProbeLiquid, owens_wendt_angle, wetting_envelope


@pytest.mark.parametrize("angle", [20.0, 60.0, 90.0, 150.0])
@pytest.mark.parametrize("parts", [(30.0, 8.0), (18.5, 0.5), (40.0, 0.0)])
def test_each_liquid_on_the_curve_has_the_angle(parts, angle):
    apolar, polar = wetting_envelope(*parts, angle, points=19)
    assert apolar.shape == polar.shape == (19,)
    for d, p in zip(apolar[:-1], polar[:-1], strict=True):
        liquid = ProbeLiquid("x", 1.0, d / (d + p), p / (d + p), "own")  # the angle depends on ratios only
        assert_allclose(owens_wendt_angle(parts[0] / (d + p), parts[1] / (d + p), liquid), angle, rtol=1e-9)


def test_ends_of_the_curve_of_spreading_are_the_parts_themselves():
    apolar, polar = wetting_envelope(30, 8)
    assert_allclose([apolar[0], polar[0], apolar[-1], polar[-1]], [30, 0, 0, 8], atol=1e-12)  # limit
    inner = wetting_envelope(30, 8, 0)[0] + wetting_envelope(30, 8, 0)[1]
    outer = wetting_envelope(30, 8, 60)[0] + wetting_envelope(30, 8, 60)[1]
    assert np.all(outer > inner)


@pytest.mark.parametrize("arguments", [(0, 0), (-1, 5), (30, 8, 180), (30, 8, -1), (30, 8, 0, 1), (math.nan, 8)])
def test_impossible_arguments_are_refused(arguments):
    with pytest.raises(ValueError):
        wetting_envelope(*arguments)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (([30, 20], 8), "dispersive part must be one number"),
        ((30, [8]), "polar part must be one number"),
        ((30, 8, [0, 10]), "contact angle must be one number"),
        ((30, 8, 0, 10.5), "number of points must be a whole number, not 10.5"),
    ],
)
def test_one_curve_at_a_time(arguments, words):
    with pytest.raises(ValueError, match=words):
        wetting_envelope(*arguments)
