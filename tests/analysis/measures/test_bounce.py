"""Bouncing drops: exact cases, consistency between the ways of reading, and the factor 2 of the Weber number."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from analysis.measures import (
    contact_time,
    impact_speed,
    inertia_capillary_time,
    restitution_from_heights,
    restitution_from_speeds,
    weber_number,
)


def test_restitution_both_ways():
    fall, rebound = np.array([10.0, 50.0, 200.0]), np.array([10.0, 18.0, 0.0])
    by_speed = restitution_from_speeds(impact_speed(fall), impact_speed(rebound))
    assert_allclose(restitution_from_heights(fall, rebound), by_speed)  # limit: energy is conserved in flight
    assert_allclose(by_speed, [1.0, 0.6, 0.0])  # hand: √(18/50) = 0.6


@pytest.mark.parametrize("function", [restitution_from_heights, restitution_from_speeds])
def test_a_gain_of_energy_is_refused(function):
    with pytest.raises(ValueError, match="rebound 51 is above that before, 50"):
        function([100, 50], [20, 51])
    for bad in ((0, 0), (10, -1), (math.inf, 1)):
        with pytest.raises(ValueError):
            function(*bad)
    assert np.isnan(function([math.nan, 4.0], 1.0)).tolist() == [True, False]


def test_impact_speed():
    assert_allclose(impact_speed(1000), 1000 * math.sqrt(2 * 9.80665))  # hand: 4.43 m/s after 1 m
    assert impact_speed(0) == 0


def test_contact_time_and_its_uncertainty():
    time, u = contact_time(25, 2000)
    assert_allclose(time, 12.5)
    # independent: numpy, both ends anywhere within one frame; 0.5 % is five standard errors of the simulation
    random = np.random.default_rng(3)
    ends = random.uniform(0, 0.5, (2, 500_000))
    assert_allclose(u, (ends[0] - ends[1]).std(), rtol=5e-3)
    times, us = contact_time([10, 20], 1000)
    assert times.shape == us.shape == (2,)


def test_weber_number_depends_on_the_length():
    by_diameter = weber_number(998.2, 990.3, 2.4, 72.74, length="diameter")
    assert_allclose(by_diameter, 998.2 * 0.9903**2 * 2.4e-3 / 72.74e-3)  # hand: in SI units
    assert_allclose(weber_number(998.2, 990.3, 2.4, 72.74, length="radius"), by_diameter / 2)  # limit
    with pytest.raises(ValueError, match="diameter or radius"):
        weber_number(998.2, 990.3, 2.4, 72.74, length="width")


def test_inertia_capillary_time():
    assert_allclose(inertia_capillary_time(998.2, 2.4, 72.74), 1000 * math.sqrt(998.2 * 1.2e-3**3 / 72.74e-3))  # hand
    # from memory: a water drop of 1 mm radius stays for 2.6·3.7 ms, some 10 ms, whatever its speed
    assert 9 < 2.6 * inertia_capillary_time(998.2, 2.0, 72.74) < 11
    # limit: eight times the mass takes √8 times as long
    assert_allclose(inertia_capillary_time(1000, 4, 72), math.sqrt(8) * inertia_capillary_time(1000, 2, 72))


@pytest.mark.parametrize("bad", [0, -1, math.inf])
def test_impossible_properties_are_refused(bad):
    for place in range(3):
        arguments = [1000, 2, 72]
        arguments[place] = bad
        with pytest.raises(ValueError):
            inertia_capillary_time(*arguments)
    with pytest.raises(ValueError):
        contact_time(bad, 1000)
    with pytest.raises(ValueError):
        weber_number(1000, -1, 2, 72, length="radius")
