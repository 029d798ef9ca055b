"""Uncertainty budgets against the examples of the guide and the uncertainties package."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from uncertainties import correlated_values_norm, ufloat, umath

from analysis.statistics.uncertain_inputs import UncertainInput, joint_type_a, type_a, type_b
from analysis.statistics.uncertainty_budget import joint_budget, uncertainty_budget
from tests.analysis.statistics.test_uncertain_inputs import H2


def resistance(voltage, current, phase):
    return 1000 * voltage / current * np.cos(phase)


def reactance(voltage, current, phase):
    return 1000 * voltage / current * np.sin(phase)


def impedance(voltage, current, phase):
    return 1000 * voltage / current


H2_FUNCTIONS = {"R": resistance, "X": reactance, "Z": impedance}


@pytest.mark.parametrize(
    ("name", "value", "u", "u_ignoring"),
    # published: GUM H.2, tables H.3 and H.4; what ignoring the correlations would give: independent
    [("R", 127.732, 0.071, 0.195), ("X", 219.847, 0.2956, 0.201), ("Z", 254.260, 0.236, 0.204)],
)
def test_correlated_inputs(name, value, u, u_ignoring):
    known = joint_type_a(H2)
    found = uncertainty_budget(H2_FUNCTIONS[name], known.inputs, known.correlations)
    assert_allclose(found.value, value, atol=5.1e-4)
    assert_allclose(found.u, u, atol=5.1e-4)
    assert_allclose(sum(line.share for line in found.lines), 1.0, rtol=1e-9)
    assert found.dof == 4
    assert_allclose(uncertainty_budget(H2_FUNCTIONS[name], known.inputs).u, u_ignoring, atol=5.1e-4)
    # limit: the second way of H.2, each set through the function
    sets = type_a([H2_FUNCTIONS[name](*row) for row in zip(*H2.values(), strict=True)])
    assert_allclose((sets.value, sets.u), (found.value, found.u), rtol=3e-3)  # curvature


def test_results_of_the_same_inputs_are_correlated():
    # published: GUM H.2, table H.3: r(R,X) −0.588, r(R,Z) −0.485, r(X,Z) 0.993
    known = joint_type_a(H2)
    found = joint_budget(H2_FUNCTIONS, known.inputs, known.correlations)
    assert_allclose(found.correlation[np.triu_indices(3, 1)], [-0.588, -0.485, 0.993], atol=5.1e-4)
    assert_allclose(np.diag(found.correlation), 1.0)
    assert_allclose(list(found.uncertainties.values()), [0.071, 0.2956, 0.236], atol=5.1e-4)
    assert list(found.values) == ["R", "X", "Z"]


def length(standard, difference, expansion, d_expansion, temperature, d_temperature):
    return standard + difference - standard * (d_expansion * temperature + expansion * d_temperature)


END_GAUGE = {
    # published: GUM H.1, contributions; the inputs themselves from memory, they give the contributions back
    "standard": UncertainInput(50_000_623, 25, 18, unit="nm"),
    "difference": UncertainInput(215, 9.7, 25.6, unit="nm"),
    "expansion": UncertainInput(11.5e-6, 1.2e-6, unit="1/K"),
    "d_expansion": UncertainInput(0, 0.58e-6, 50, unit="1/K"),
    "temperature": UncertainInput(-0.1, 0.41, unit="K"),
    "d_temperature": UncertainInput(0, 0.029, 2, unit="K"),
}


def test_end_gauge_and_its_second_order():
    found = uncertainty_budget(length, END_GAUGE, confidence=0.99)
    parts = {line.name: abs(line.contribution) for line in found.lines}
    assert_allclose((parts["standard"], parts["difference"]), (25, 9.7), rtol=1e-6)
    assert_allclose((parts["d_expansion"], parts["d_temperature"]), (2.9, 16.6), atol=0.1)
    assert_allclose((parts["expansion"], parts["temperature"]), 0, atol=1e-5)  # rounding of 5e7 nm
    assert_allclose(found.u, 31.7, atol=0.1)
    assert_allclose(found.u_second_order, 34, atol=0.5)  # 11.9 and 1.7 nm more
    assert_allclose(math.sqrt(found.u_second_order**2 - found.u**2), math.hypot(11.9, 1.7), atol=0.1)
    assert not found.is_first_order_adequate
    assert "curvature changes the standard uncertainty" in found.note
    assert found.dof == 16
    assert_allclose(found.expanded, 93, atol=1)


@pytest.mark.parametrize(
    ("at", "mean_shift", "first", "second"), [(0.0, 5e-5, 0.0, 5e-5), (0.010, 5e-5, 1e-4, 1.11803e-4)]
)
def test_at_a_minimum_first_order_is_called_inadequate(at, mean_shift, first, second):
    # limit: noncentral χ²; JCGM 101, 9.4: first order gives 0 at the minimum
    known = {"x1": UncertainInput(at, 0.005), "x2": UncertainInput(0.0, 0.005)}
    found = uncertainty_budget(lambda x1, x2: x1**2 + x2**2, known)
    assert_allclose(found.u, first, atol=1e-12)
    assert_allclose((found.u_second_order, found.mean_shift), (second, mean_shift), rtol=1e-5)
    assert not found.is_first_order_adequate
    assert found.note.startswith("First order is not adequate")


def test_independent_package_agrees():
    found = uncertainty_budget(
        lambda a, b, c: a * math.exp(-b) / c,
        {"a": UncertainInput(3.0, 0.02), "b": UncertainInput(0.7, 0.01), "c": UncertainInput(2.0, 0.005)},
        {("a", "c"): 0.6},
    )
    a, b, c = correlated_values_norm([(3.0, 0.02), (0.7, 0.01), (2.0, 0.005)], [[1, 0, 0.6], [0, 1, 0], [0.6, 0, 1]])
    expected = a * umath.exp(-b) / c  # independent: uncertainties 3.2
    assert_allclose((found.value, found.u), (expected.nominal_value, expected.std_dev), rtol=1e-9)
    single = ufloat(3.0, 0.02) * math.exp(-0.7) / 2
    assert_allclose(found.lines[0].contribution, single.std_dev, rtol=1e-9)
    assert found.is_first_order_adequate
    assert found.note == ""


def test_lines_hold_what_a_table_shows():
    found = uncertainty_budget(
        lambda a, b: a - b, {"a": type_b(5.0, 0.3, unit="mg"), "b": type_a([1.0, 2.0, 3.0], "mg")}
    )
    line = found.lines[1]
    assert (line.name, line.unit, line.dof, line.shape) == ("b", "mg", 2, "t")
    assert_allclose((line.value, line.u, line.sensitivity), (2.0, 1 / math.sqrt(3), -1.0))
    assert_allclose(line.contribution, -1 / math.sqrt(3))
    assert_allclose(line.share, (1 / 3) / (1 / 3 + 0.03))
    assert found.dof == 2
    assert_allclose(found.expanded, found.coverage_factor * found.u)


def test_constants_and_nothing_uncertain():
    found = uncertainty_budget(lambda a, b: a * b, {"a": UncertainInput(2.0, 0), "b": UncertainInput(3.0, 0.1)})
    assert_allclose((found.u, found.lines[0].sensitivity, found.lines[0].share), (0.2, 3.0, 0.0), atol=1e-9)
    fixed = uncertainty_budget(lambda a: a**2, {"a": UncertainInput(2.0, 0)})
    assert (fixed.u, fixed.dof, fixed.note, fixed.is_first_order_adequate) == (0, math.inf, "", True)


@pytest.mark.parametrize(
    ("function", "at"),
    [(math.sqrt, 0.01), (np.sqrt, 0.01), (lambda a: math.sqrt(1 - a), 0.99), (lambda a: float(np.sqrt(1 - a)), 0.99)],
)
def test_at_the_edge_of_the_range_the_budget_says_so(function, at):
    found = uncertainty_budget(lambda a: function(a), {"a": UncertainInput(at, 0.02)})
    assert found.u_second_order is None
    assert not found.is_first_order_adequate
    assert "one standard uncertainty away" in found.note
    assert_allclose(abs(found.lines[0].sensitivity), 5.0, rtol=1e-4)  # hand: 1/(2·√0.01)


def test_on_the_edge_the_slope_is_taken_from_inside():
    found = uncertainty_budget(lambda a: a**1.5 + a if a >= 0 else math.nan, {"a": UncertainInput(0.0, 1e-6)})
    assert_allclose(found.lines[0].sensitivity, 1.0, atol=2e-3)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: uncertainty_budget(lambda: 1.0, {}), "needs inputs"),
        (lambda: uncertainty_budget(lambda a: math.nan, {"a": UncertainInput(1, 0.1)}), "gives nan"),
        (lambda: uncertainty_budget(lambda a: np.array([a, a]), {"a": UncertainInput(1, 0.1)}), "one number"),
        (lambda: joint_budget({}, {"a": UncertainInput(1, 0.1)}), "needs functions"),
        (lambda: uncertainty_budget(lambda a: a, {"a": UncertainInput(1, 0.1)}, confidence=0), "confidence"),
        (lambda: uncertainty_budget(lambda a: a, {"a": UncertainInput(1, 0.1)}, {("a", "b"): 0.5}), "no input"),
        (
            lambda: uncertainty_budget(
                lambda a, b: a, {"a": UncertainInput(1, 0.1), "b": UncertainInput(1, 0.1)}, {("a", "b"): 1.5}
            ),
            "at most 1",
        ),
    ],
)
def test_what_makes_no_budget_is_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()


def test_a_function_that_does_not_depend_on_its_input_has_no_uncertainty():
    found = uncertainty_budget(lambda a: 5.0, {"a": UncertainInput(1.0, 0.1, 3)})
    assert (found.u, found.lines[0].share, found.dof, found.note) == (0, 0, math.inf, "")


def test_a_difference_of_fully_correlated_inputs_is_straight():
    known = {"a": UncertainInput(1.0, 0.2), "b": UncertainInput(3.0, 0.2)}
    found = uncertainty_budget(lambda a, b: a - b, known, {("a", "b"): 1.0})
    assert_allclose(found.u, 0, atol=1e-12)
    assert (found.is_first_order_adequate, found.note) == (True, "")


def test_a_level_point_of_inflection_is_not_certain():
    # limit: sd of x³ about 0 is √15·u³ = 0.0039; all terms of first and second order are 0 there
    found = uncertainty_budget(lambda a: a**3, {"a": UncertainInput(0.0, 0.1)})
    assert (found.u, found.is_first_order_adequate) == (0, False)
    assert "one u away there is 0.001" in found.note


@pytest.mark.parametrize("unit", [1.0, 1e150, 1e-150])
def test_no_unit_is_too_large_or_too_small(unit):
    known = {"a": UncertainInput(2 * unit, 0.2 * unit), "b": UncertainInput(3 * unit, 0.3 * unit)}
    found = uncertainty_budget(lambda a, b: a * b, known)
    # hand: 6·√(0.1² + 0.1²); second order adds (0.2·0.3)²
    assert_allclose(found.u / unit / unit, 6 * math.sqrt(0.02), rtol=1e-9)
    assert_allclose(found.u_second_order / unit / unit, math.sqrt(36 * 0.02 + 0.0036), rtol=1e-9)
    assert_allclose([line.share for line in found.lines], 0.5, rtol=1e-9)
    joint = joint_budget({"product": lambda a, b: a * b, "same": lambda a, b: 2 * a * b}, known)
    assert_allclose(joint.correlation, 1.0, rtol=1e-12)
    assert np.all(joint.correlation <= 1)


def test_a_constant_without_a_slope_is_a_constant():
    def function(n, a):
        if n != 2:
            raise ValueError("n must be 2")
        return n * a

    found = uncertainty_budget(function, {"n": UncertainInput(2.0, 0.0), "a": UncertainInput(1.0, 0.1)})
    assert_allclose(found.u, 0.2, rtol=1e-9)
    assert found.lines[0].sensitivity is None
    with pytest.raises(ValueError, match="no slope by n"):
        uncertainty_budget(function, {"n": UncertainInput(2.0, 0.1), "a": UncertainInput(1.0, 0.1)})


def test_second_order_of_a_cube():
    # hand: f = x³ at 1, u = 0.1: f′²u² + ½f″²u⁴ + f′f‴u⁴ = 0.09 + 0.0018 + 0.0018; mean moves by ½f″u² = 0.03
    found = uncertainty_budget(lambda a: a**3, {"a": UncertainInput(1.0, 0.1)})
    assert_allclose((found.u, found.u_second_order, found.mean_shift), (0.3, math.sqrt(0.0936), 0.03), rtol=1e-8)


@pytest.mark.parametrize(("u", "is_adequate"), [(0.09, True), (0.11, False)])
def test_a_shift_of_the_mean_alone_makes_first_order_inadequate(u, is_adequate):
    # hand: f = x² at 1: u_c = 2u, shift u²; shift over u_c is u/2, 5 % at u = 0.1; u itself changes by u²/4, 0.3 %
    found = uncertainty_budget(lambda a: a**2, {"a": UncertainInput(1.0, u)})
    assert found.is_first_order_adequate == is_adequate
    assert ("moves the mean" in found.note) == (not is_adequate)
