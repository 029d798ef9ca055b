"""Surface tension of water against packages, a second formula, measurements and the critical point."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from analysis.wetting.liquids import water_surface_tension, water_surface_tension_uncertainty
from tests.analysis.tables import table


@pytest.mark.parametrize("row", list(table("water_tension").itertuples()), ids=lambda row: f"{row.temperature_c} °C")
def test_water(row):
    found = water_surface_tension(row.temperature_c)
    assert_allclose(found, row.tension, atol=6e-4)  # independent: iapws 1.5.5 and chemicals 1.5.2, three decimals
    if not math.isnan(row.patek_2016):
        # independent: another fit to the measurements; its authors state 0.1 mN/m
        assert_allclose(found, row.patek_2016, atol=0.1)


def test_another_formula_is_told_apart():
    # independent: CoolProp 8.0.0 uses the fit of Mulero (2012), 0.06 to 0.08 mN/m higher near room temperature: a
    # difference of two tensions from different formulas would carry that
    rows = table("water_tension").dropna()
    above = (rows.coolprop - water_surface_tension(rows.temperature_c.to_numpy()))[rows.temperature_c <= 50]
    assert above.between(0.055, 0.09).all()
    assert len(above) == 10


@pytest.mark.parametrize(("temperature", "measured"), [(20, 72.86), (25, 71.99)])
def test_water_as_measured(temperature, measured):
    # published: Pallas & Harrison (1990), ±0.05 mN/m, read in a compilation; 0.36 is the formula's own 0.5 %
    found = water_surface_tension(temperature)
    assert abs(found - measured) < 0.05 + 2 * water_surface_tension_uncertainty(temperature)


@pytest.mark.parametrize(("temperature", "slope"), [(20, -0.1514), (25, -0.1542)])
def test_slope_of_water(temperature, slope):
    up, down = water_surface_tension([temperature + 0.01, temperature - 0.01])
    assert_allclose((up - down) / 0.02, slope, atol=6e-5)  # computed apart from the project


def test_pure_water_of_a_measured_series_of_mixtures():
    pure = table("ethanol_water").set_index("ethanol_percent").tension[0]  # published
    assert abs(water_surface_tension(25) - pure) < 2 * water_surface_tension_uncertainty(25)


def test_water_of_the_component_sets_agrees_to_a_tenth_of_a_percent():
    from analysis.wetting.surface_energy import probe_liquids

    assert_allclose(probe_liquids("set_a", "water")[0].total, water_surface_tension(20), rtol=1e-3)


def test_limits_and_arrays():
    assert water_surface_tension(373.946) == 0  # limit: the critical point
    found = water_surface_tension([[20, math.nan], [25, -25]])
    assert found.shape == (2, 2)
    assert np.isnan(found).tolist() == [[False, True], [False, False]]
    assert type(water_surface_tension(20)) is float
    assert np.all(np.diff(water_surface_tension(np.linspace(-25, 373.9, 200))) < 0)
    assert_allclose(water_surface_tension_uncertainty([20, 25]), [0.18184, 0.17993], atol=6e-6)  # hand: γ/400


@pytest.mark.parametrize("bad", [-25.1, 373.95, 400, math.nan, math.inf])
def test_temperatures_out_of_range_are_refused(bad):
    with pytest.raises(ValueError, match="temperature of water"):
        water_surface_tension(bad)
    with pytest.raises(ValueError, match="temperature of water"):
        water_surface_tension_uncertainty(-1 if bad < 0 else bad)
