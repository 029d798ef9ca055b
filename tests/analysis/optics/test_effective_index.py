"""Mixing rules against exact limits, bounds, and their own defining equations."""

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from analysis.optics import MIXING_RULES, effective_index, porosity_from_index

INDICES, SHARES = st.floats(1.0, 4.0), st.floats(0, 1)
rules = pytest.mark.parametrize("rule", MIXING_RULES)


@pytest.mark.parametrize(
    ("rule", "expected"),
    [
        # Hand, silica 1.46 with half air: ε = (2.1316 + 1)/2 = 1.5658
        ("volume_average", 1.251319),
        # half = 1.5658, ε = (1.5658 + √(1.5658² + 8·2.1316))/4 = 1.495548
        ("bruggeman", 1.222926),
        # Σ = 0.5·1.1316/4.1316 = 0.136945, ε = 1.273889/0.863055 = 1.476022
        ("lorentz_lorenz", 1.214917),
    ],
)
def test_half_porous_silica(rule, expected):
    assert_allclose(effective_index(1.46, 1.0, 0.5, rule=rule), expected, atol=6e-7)


@rules
@given(solid=INDICES, pores=INDICES)
def test_without_and_with_nothing_but_pores(rule, solid, pores):
    """Limit."""
    assert_allclose(effective_index(solid, pores, [0, 1], rule=rule), [solid, pores], rtol=1e-12)


@given(INDICES, INDICES, SHARES)
def test_bruggeman_fulfils_its_equation(solid, pores, porosity):
    """Limit: (1 − p)(εs − ε)/(εs + 2ε) + p(εp − ε)/(εp + 2ε) = 0."""
    mixed = effective_index(solid, pores, porosity, rule="bruggeman") ** 2
    parts = [(e**2 - mixed) / (e**2 + 2 * mixed) for e in (solid, pores)]
    assert_allclose((1 - porosity) * parts[0] + porosity * parts[1], 0, atol=1e-12)


@given(INDICES, INDICES, SHARES)
def test_bruggeman_treats_both_phases_alike(solid, pores, porosity):
    """Limit: solid and pores may change places."""
    one = effective_index(solid, pores, porosity, rule="bruggeman")
    assert_allclose(effective_index(pores, solid, 1 - porosity, rule="bruggeman"), one, rtol=1e-10)


@rules
@given(solid=INDICES, pores=INDICES, porosity=SHARES)
def test_every_rule_keeps_to_the_bounds(rule, solid, pores, porosity):
    """Limit: between layers crossed by the field (series) and along it (parallel), Wiener's bounds."""
    squares = solid**2, pores**2
    series = 1 / ((1 - porosity) / squares[0] + porosity / squares[1])
    parallel = (1 - porosity) * squares[0] + porosity * squares[1]
    mixed = effective_index(solid, pores, porosity, rule=rule) ** 2
    assert series * (1 - 1e-12) <= mixed <= parallel * (1 + 1e-12)


@rules
@pytest.mark.parametrize(
    ("solid", "pores"), [(1.46, 1.0), (1.46, 1.40), (2.4, 1.3), (1.3, 1.5), (1.333, 1.52), (1.5, 1.0), (1.001, 1.0)]
)
def test_porosity_and_index_round_trip(rule, solid, pores):
    """Limit: round trip."""
    porosity = np.linspace(0, 1, 11)
    index = effective_index(solid, pores, porosity, rule=rule)
    assert_allclose(porosity_from_index(index, solid, pores, rule=rule), porosity, atol=1e-9)


@rules
def test_equal_phases_mix_to_themselves(rule):
    """Limit."""
    assert_allclose(effective_index(1.5, 1.5, 0.3, rule=rule), 1.5)
    assert_allclose(effective_index(8.0, 1.0, 0.999999, rule=rule), 1.0, atol=1e-3)


def test_arrays_keep_shape_and_nan():
    assert_allclose(effective_index([[1.46], [np.nan]], 1.0, [0, 1.0]), [[1.46, 1.0], [np.nan, np.nan]])
    assert_allclose(porosity_from_index([1.0, np.nan], 1.46), [1, np.nan])
    assert type(effective_index(1.46, 1.0, 0.5)) is float
    assert effective_index(1.46, 1.0, []).shape == (0,)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: effective_index(0, 1, 0.5), "index of the solid must be above 0"),
        (lambda: effective_index(1.46, -1, 0.5), "index of the pores must be above 0"),
        (lambda: effective_index(1.46, 1, -0.1), "porosity must be at least 0"),
        (lambda: effective_index(1.46, 1, 50), "porosity must be at most 1"),
        (lambda: effective_index(1.46, 1, 0.5, rule="mean"), "mixing rule must be one of .*, not 'mean'"),
        (lambda: porosity_from_index(1.5, 1.46), "layer must lie between that of solid and pores, not 1.5"),
        (lambda: porosity_from_index(1.2, 1.46, 1.3), "layer must lie between that of solid and pores, not 1.2"),
        (lambda: porosity_from_index(1.2, 1.46, 1.46), "must differ"),
    ],
)
def test_what_is_out_of_range_is_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()


@rules
@given(solid=INDICES, pores=INDICES, ends=st.sampled_from([0.0, 1.0]))
def test_without_or_with_nothing_but_pores_the_porosity_comes_back(rule, solid, pores, ends):
    """Limit: the mixed index may leave its bounds by a rounding, and is no refusal for that."""
    assume(abs(solid - pores) > 1e-3)
    found = porosity_from_index(effective_index(solid, pores, ends, rule=rule), solid, pores, rule=rule)
    assert 0 <= found <= 1
    assert_allclose(found, ends, atol=1e-9)
