"""Component sets: parts add up, agree with handbook tensions, and diiodomethane is never taken at 67 mN/m."""

import math

import pytest

from analysis.sources import SOURCES
from analysis.wetting.surface_energy import (
    ACID_BASE_LIQUIDS,
    PROBE_LIQUIDS,
    AcidBaseLiquid,
    ProbeLiquid,
    acid_base_liquids,
    probe_liquids,
)
from tests.analysis.tables import table


@pytest.mark.parametrize("row", list(table("liquid_tensions").itertuples()), ids=lambda row: row.liquid)
def test_set_a_agrees_with_handbook_correlations(row):
    # independent: chemicals 1.5.2; within the spread of the sources
    total = PROBE_LIQUIDS["set_a"][row.liquid].total
    assert any(abs(total - other) <= row.spread for other in (row.jasper, row.vdi) if not math.isnan(other))


@pytest.mark.parametrize(
    ("set_key", "liquid", "parts"),
    [  # read in the sources named by the set
        ("set_a", "water", (72.8, 21.8, 51.0)),
        ("set_a", "hexadecane", (27.5, 27.5, 0)),
        ("set_a", "dimethyl_sulfoxide", (44, 36, 8)),
        ("set_a", "ethanol", (21.4, 18.8, 2.6)),
        ("set_a", "toluene", (28.5, 28.5, 0)),
        ("set_c", "water", (72.8, 21.8, 51.0)),
        ("set_c", "diiodomethane", (50.8, 48.5, 2.3)),
        ("set_d", "water", (72.8, 29.1, 43.7)),
        ("set_d", "diiodomethane", (50.0, 47.4, 2.6)),
        ("set_d", "ethylene_glycol", (47.7, 26.4, 21.3)),
        ("set_e_20c", "water", (72.8, 27.19, 45.61)),
        ("set_e_20c", "diiodomethane", (50.8, 50.8, 0)),
        ("set_e_20c", "glycerol", (64, 36.34, 27.66)),
        ("set_e_20c", "ethylene_glycol", (48, 29.81, 18.19)),
        ("set_e_20c", "ethanol", (23.2, 21.19, 2.01)),
        ("set_e_20c", "formamide", (58, 45.18, 12.82)),
        ("set_e_20c_second_water", "water", (72.8, 26.25, 46.55)),
        ("set_e_30c", "water", (71.29, 27.29, 44.00)),
        ("set_e_40c", "water", (69.77, 27.35, 42.42)),
    ],
)
def test_parts_as_read(set_key, liquid, parts):
    (found,) = probe_liquids(set_key, liquid)
    assert (found.total, found.dispersive, found.polar) == parts
    assert found.status == "read in a source"


def test_every_liquid_knows_its_set_and_source():
    for sets in (PROBE_LIQUIDS, ACID_BASE_LIQUIDS):
        for key, liquids in sets.items():
            for name, liquid in liquids.items():
                assert (liquid.set_key, liquid.name) == (key, name)
                assert liquid.source in SOURCES
    assert probe_liquids("set_d") == tuple(PROBE_LIQUIDS["set_d"].values())


def test_the_newer_glycol_differs_in_acid_and_base_only():
    usual, newer = (acid_base_liquids(key, "ethylene_glycol")[0] for key in ACID_BASE_LIQUIDS)
    assert (usual.acid, usual.base) != (newer.acid, newer.base)
    assert (usual.total, usual.apolar) == (newer.total, newer.apolar)


@pytest.mark.parametrize(
    ("name", "total", "polar"),
    [
        ("diiodomethane", 66.98, 0.0),
        ("Methylene iodide", 66.98, 7.0),
        ("diiodomethane", 67.0, 2.3),
        ("lot 12", 66.98, 0.0),
    ],
)
def test_diiodomethane_of_the_handbooks_is_refused(name, total, polar):
    with pytest.raises(ValueError, match=r"50\.8"):
        ProbeLiquid(name, total, total - polar, polar, "own")
    with pytest.raises(ValueError, match=r"50\.8"):
        AcidBaseLiquid(name, total, total, 0, 0, "own")


@pytest.mark.parametrize(
    "parts", [(72.8, 21.8, 40.0), (0, 0, 0), (72.8, 0, 72.8), (72.8, 80.0, -7.2), (float("nan"),) * 3]
)
def test_parts_that_cannot_be_are_refused(parts):
    with pytest.raises(ValueError, match="x: "):
        ProbeLiquid("x", *parts, "own")


@pytest.mark.parametrize("parts", [(72.8, 21.8, 25.5, 20.0), (50.0, 50.0, -1.0, 0.0), (50.0, 0.0, 25.0, 25.0)])
def test_acid_base_numbers_that_cannot_be_are_refused(parts):
    with pytest.raises(ValueError, match="x: "):
        AcidBaseLiquid("x", *parts, "own")


def test_unknown_names_are_answered_with_what_there_is():
    with pytest.raises(ValueError, match="set_a, set_b"):
        probe_liquids("set_z")
    with pytest.raises(ValueError, match="water, diiodomethane"):
        probe_liquids("set_b", "mercury")
