"""Uncertainty budget: what each input adds to the uncertainty of a computed result, as a table of data.

First order holds where the function is nearly straight over the uncertainties. Near 0° or at a minimum it is not:
the law of propagation then gives too little, in the worst case nothing. Every budget therefore looks at the
curvature too and says when first order is not adequate; `monte_carlo` is then the way.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from analysis.formula import formula
from analysis.statistics.moments import require_share
from analysis.statistics.uncertain_inputs import UncertainInput
from analysis.statistics.uncertainty import (
    Correlations,
    combined_uncertainty,
    correlation_matrix,
    coverage_factor,
    effective_degrees_of_freedom,
)

TOLERATED = 0.05  # change of u by curvature, and shift of the mean in u, up to which first order is called adequate


@dataclass(frozen=True, slots=True)
class BudgetLine:
    """One input of a budget."""

    name: str
    value: float
    u: float
    unit: str
    dof: float
    shape: str
    sensitivity: float | None  # derivative, unit of the result over unit of the input; None for a constant without one
    contribution: float  # sensitivity times u, with its sign
    share: float  # of the combined variance, with the part of its correlations [-]; all together 1, one may be negative


@dataclass(frozen=True, slots=True)
class Budget:
    """Value of a result with its uncertainty, and the lines that it comes from."""

    value: float
    u: float  # combined standard uncertainty, first order
    dof: float
    coverage_factor: float
    expanded: float
    confidence: float
    lines: tuple[BudgetLine, ...]
    u_second_order: float | None  # None where the function cannot be evaluated one u away, or inputs are correlated
    mean_shift: float | None  # how far curvature moves the mean from the value
    is_first_order_adequate: bool
    note: str


@dataclass(frozen=True, slots=True, eq=False)
class JointBudget:
    """Several results of the same inputs: values, standard uncertainties and the correlation of each pair."""

    values: dict[str, float]
    uncertainties: dict[str, float]
    correlation: np.ndarray  # in the order of the names; NaN beside a result without uncertainty


@formula(
    "u_c² = ΣΣ cᵢcⱼuᵢuⱼrᵢⱼ, cᵢ = ∂f/∂xᵢ;  second order: + ΣΣ[½fᵢⱼ² + fᵢfᵢⱼⱼ]uᵢ²uⱼ²;  "
    "ν_eff = u_c⁴/Σ[(cᵢuᵢ)⁴/νᵢ];  U = k·u_c",
    source="gum",
    holds_when="function nearly straight over the uncertainties; the budget says when it is not",
    library="scipy.differentiate.derivative scipy.special.stdtrit",
)
def uncertainty_budget(
    function: Callable[..., float],
    inputs: Mapping[str, UncertainInput],
    correlations: Correlations | None = None,
    confidence: float = 0.95,
) -> Budget:
    """Uncertainty budget of a result that is computed from several inputs.

    Parameters
    ----------
    function : callable
        Takes the inputs by name as numbers and returns a number.
    inputs : mapping of str to UncertainInput
        What goes in, from `type_a`, `type_b` or a certificate; u = 0 marks a constant.
    correlations : mapping, optional
        (name, name) -> correlation coefficient [-]; pairs left out are not correlated.
    confidence : float
        Coverage probability of the expanded uncertainty [-], between 0 and 1.

    Returns
    -------
    Budget
        With `is_first_order_adequate` False, and the reason in `note`, where curvature changes u by more than 5 %,
        moves the mean by more than 5 % of u, where the function is level at the values and changes one u away, or
        where it cannot be evaluated there. With correlated
        inputs the smallest degrees of freedom among those that contribute are taken (Welch–Satterthwaite does not
        hold) and curvature is judged as if there were no correlation.

    Raises
    ------
    ValueError
        For no inputs, a name in a correlation that is no input, coefficients that contradict each other, a
        confidence outside 0 to 1, or a function that gives no single finite number at the values.

    Source: `gum`, 5.1, 5.2, G.4 and the note of 5.1.2.

    >>> from analysis.statistics.uncertain_inputs import type_b
    >>> budget = uncertainty_budget(lambda a, b: a * b, {"a": type_b(10, 0.3), "b": type_b(2, 0.1)})
    >>> round(budget.u, 4), [round(line.share, 3) for line in budget.lines]
    (0.6733, [0.265, 0.735])
    """
    require_share("confidence", confidence)
    matrix = correlation_matrix(list(inputs), correlations or {})
    value = _value_at(function, inputs)
    slopes = [_slope(function, inputs, name) for name in inputs]
    parts = np.array([0.0 if c is None else c * known.u for c, known in zip(slopes, inputs.values(), strict=True)])
    u = float(combined_uncertainty(parts, matrix if correlations else None))
    dof = _dof(parts, inputs, bool(correlations))
    k = float(coverage_factor(confidence, dof))
    shares = parts / u * (matrix @ (parts / u)) if u else np.zeros(parts.size)
    lines = tuple(
        BudgetLine(name, known.value, known.u, known.unit, known.dof, known.shape, c, float(part), float(share))
        for (name, known), c, part, share in zip(inputs.items(), slopes, parts, shares, strict=True)
    )
    second, shift, reach = _second_order(function, inputs)
    reason = _reason(u, second, shift, float(combined_uncertainty(parts)), reach)
    return Budget(value, u, dof, k, k * u, confidence, lines, second, shift, not reason, reason)


@formula(
    "V_y = C·V_x·Cᵀ",
    source="gum",
    holds_when="functions nearly straight over the uncertainties",
    library="scipy.differentiate.derivative",
)
def joint_budget(
    functions: Mapping[str, Callable[..., float]],
    inputs: Mapping[str, UncertainInput],
    correlations: Correlations | None = None,
) -> JointBudget:
    """Several results of the same inputs, with the correlation that this makes between them.

    Parameters
    ----------
    functions : mapping of str to callable
        Name of a result -> function of the inputs by name.
    inputs, correlations
        As in `uncertainty_budget`.

    Returns
    -------
    JointBudget
        Units of the functions.

    Raises
    ------
    ValueError
        For no functions, and as `uncertainty_budget`.

    Source: `gum`, H.2.3.

    >>> known = {"a": UncertainInput(1.0, 0.3), "b": UncertainInput(2.0, 0.4)}
    >>> found = joint_budget({"sum": lambda a, b: a + b, "difference": lambda a, b: a - b}, known)
    >>> round(float(found.correlation[0, 1]), 3)
    -0.28
    """
    if not functions:
        raise ValueError("a joint budget needs functions")
    matrix = correlation_matrix(list(inputs), correlations or {})
    values = {name: _value_at(function, inputs) for name, function in functions.items()}
    u = np.array([known.u for known in inputs.values()])
    slopes = [[_slope(function, inputs, name) or 0.0 for name in inputs] for function in functions.values()]
    parts = np.array(slopes) * u
    sds = np.atleast_1d(combined_uncertainty(parts, matrix))
    directions = parts / np.where(sds > 0, sds, np.nan)[:, None]  # no squares of huge or tiny numbers
    correlation = np.clip(directions @ matrix @ directions.T, -1.0, 1.0)  # rounding may pass 1
    return JointBudget(values, dict(zip(functions, sds.tolist(), strict=True)), correlation)


def _value_at(function: Callable[..., float], inputs: Mapping[str, UncertainInput], **moved: float) -> float:
    with np.errstate(invalid="ignore", divide="ignore"):  # leaving the range of the function is told by its NaN
        found = np.asarray(function(**({name: known.value for name, known in inputs.items()} | moved)), dtype=float)
    if found.size != 1:
        raise ValueError(f"the function must give one number, not an array of shape {found.shape}")
    value = found.item()
    if not moved and not math.isfinite(value):
        raise ValueError(f"the function gives {value} at the values of the inputs")
    return value


def _slope(function: Callable[..., float], inputs: Mapping[str, UncertainInput], name: str) -> float | None:
    """Derivative by one input; from one side where the function ends at the value; None for a constant without one.

    One stencil of sixth order a small part of u wide: wide enough that rounding does not show in the contribution.
    """
    known = inputs[name]
    step = max(known.u / 8, 1e-6 * abs(known.value)) or 1e-6
    from scipy.differentiate import derivative

    at = np.vectorize(lambda x: _value_at(function, inputs, **{name: float(x)}), otypes=[float])
    for direction in (0, 1, -1):
        try:
            found = derivative(at, known.value, initial_step=step, order=6, maxiter=1, step_direction=direction)
        except (ValueError, ArithmeticError):  # outside the range of the function
            continue
        if math.isfinite(found.df):
            moved = at([known.value - step, known.value + step]) if direction == 0 else at([known.value])
            least = max(1e-9 * np.max(np.abs(moved - at(known.value))), 4 * np.finfo(float).eps * np.max(np.abs(moved)))
            return float(found.df) if abs(found.df) * step > least else 0.0  # level, but for rounding
    if known.u == 0:
        return None
    raise ValueError(f"the function has no slope by {name} at {known.value:g}")


def _dof(parts: np.ndarray, inputs: Mapping[str, UncertainInput], is_correlated: bool) -> float:
    dofs = np.array([known.dof for known in inputs.values()])
    active = parts != 0
    if not active.any():
        return math.inf
    return float(dofs[active].min() if is_correlated else effective_degrees_of_freedom(parts, dofs))


def _second_order(
    function: Callable[..., float], inputs: Mapping[str, UncertainInput]
) -> tuple[float | None, float | None, float]:
    """Standard uncertainty with the second-order terms, shift of the mean, largest change one u away; not correlated.

    All differences are taken one u (and half a u) away, so that the terms come out ready multiplied by their u.
    """
    names = [name for name, known in inputs.items() if known.u > 0]

    def moved(**steps: float) -> float:
        return _value_at(
            function, inputs, **{name: inputs[name].value + inputs[name].u * s for name, s in steps.items()}
        )

    try:
        at = {(name, step): moved(**{name: step}) for name in names for step in (-1.0, -0.5, 0.5, 1.0)}
        pairs = {
            (one, other): {(i, j): moved(**{one: i, other: j}) for i in (-1.0, 1.0) for j in (-1.0, 1.0)}
            for one, other in combinations(names, 2)
        }
        value = _value_at(function, inputs)
    except (ValueError, ArithmeticError):  # outside the range of the function
        return None, None, 0.0
    changes = np.array([*at.values(), *(x for row in pairs.values() for x in row.values())]) - value
    away = float(np.max(np.abs(changes), initial=0.0))
    if not 0 < away < math.inf:  # NaN: outside the range of the function
        return (0.0, 0.0, 0.0) if away == 0 else (None, None, 0.0)
    at = {key: (found - value) / away for key, found in at.items()}  # differences: no square leaves the range
    pairs = {key: {way: (x - value) / away for way, x in row.items()} for key, row in pairs.items()}
    wide = {name: (at[name, 1.0] - at[name, -1.0]) / 2 for name in names}
    narrow = {name: at[name, 0.5] - at[name, -0.5] for name in names}
    first = {name: (4 * narrow[name] - wide[name]) / 3 for name in names}  # fᵢuᵢ
    third = {name: 8 * (wide[name] - narrow[name]) for name in names}  # fᵢᵢᵢuᵢ³
    bend = {name: at[name, 1.0] + at[name, -1.0] for name in names}  # fᵢᵢuᵢ²
    square = sum(first[name] ** 2 + bend[name] ** 2 / 2 + first[name] * third[name] for name in names)
    square += sum(_mixed(one, other, corners, at, first) for (one, other), corners in pairs.items())
    return away * math.sqrt(max(square, 0.0)), away * sum(bend.values()) / 2, away


def _mixed(one: str, other: str, corners: dict, at: dict, first: dict[str, float]) -> float:
    """fᵢⱼ²uᵢ²uⱼ² + fᵢfᵢⱼⱼuᵢ²uⱼ² + fⱼfⱼᵢᵢuᵢ²uⱼ² of one pair."""
    up, down = {j: corners[1.0, j] for j in (-1.0, 1.0)}, {j: corners[-1.0, j] for j in (-1.0, 1.0)}
    cross = (up[1.0] - up[-1.0] - down[1.0] + down[-1.0]) / 4
    by_other = (up[1.0] + up[-1.0] - 2 * at[one, 1.0] - down[1.0] - down[-1.0] + 2 * at[one, -1.0]) / 2
    by_one = (up[1.0] + down[1.0] - 2 * at[other, 1.0] - up[-1.0] - down[-1.0] + 2 * at[other, -1.0]) / 2
    return cross**2 + first[one] * by_other + first[other] * by_one


def _reason(u: float, second: float | None, shift: float | None, plain_u: float, reach: float) -> str:
    """Why first order is not adequate; empty where it is. `plain_u` is first order without correlations."""
    if second is None:
        return "First order is not adequate: the function cannot be evaluated one standard uncertainty away."
    if plain_u == 0 and reach > 0:
        if second == 0:
            return f"First order is not adequate: it gives no uncertainty, one u away there is {reach:.3g}."
        return f"First order is not adequate: it gives no uncertainty, curvature gives {second:.3g}."
    if abs(second - plain_u) > TOLERATED * plain_u:
        return f"First order is not adequate: curvature changes the standard uncertainty to {second:.3g}."
    if abs(shift) > max(TOLERATED * u, 1e-9 * plain_u):  # correlations may take all of u away, rounding stays
        return f"First order is not adequate: curvature moves the mean by {shift:.3g}."
    return ""
