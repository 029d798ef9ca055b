"""Uncertain quantities: a value with its standard uncertainty, from repeated readings or from what else is known."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from analysis.formula import formula
from analysis.ranges import within
from analysis.statistics.moments import finite_row, sample_sd, scaled_deviations, stable_mean

HALF_WIDTHS = {"rectangular": math.sqrt(3), "triangular": math.sqrt(6), "arcsine": math.sqrt(2)}  # half width over u
SHAPES = ("normal", "t", *HALF_WIDTHS)


@dataclass(frozen=True, slots=True)
class UncertainInput:
    """A quantity with its standard uncertainty: what a budget or a simulation starts from."""

    value: float
    u: float  # standard uncertainty, unit of the value; 0 for a constant
    dof: float = math.inf
    shape: str = "normal"  # normal, t (scale u, its own dof), rectangular, triangular, arcsine
    unit: str = ""

    def __post_init__(self) -> None:
        within("value", self.value, self.unit, has_nan=False).item()
        within("standard uncertainty", self.u, self.unit, at_least=0, has_nan=False).item()
        if not self.dof > 0:
            raise ValueError(f"degrees of freedom must be above 0, not {self.dof}")
        if self.shape not in SHAPES:
            raise ValueError(f"shape must be one of {', '.join(SHAPES)}, not {self.shape!r}")
        if self.shape == "t" and math.isinf(self.dof):
            raise ValueError("a t distribution needs its degrees of freedom")


@dataclass(frozen=True, slots=True, eq=False)
class JointInputs:
    """Quantities read together: their means with uncertainties, and the correlation of each pair."""

    inputs: dict[str, UncertainInput]
    correlations: dict[tuple[str, str], float]


@formula("u = s/√n;  ν = n − 1", source="gum", holds_when="independent readings of one quantity")
def type_a(readings: Sequence[float], unit: str = "") -> UncertainInput:
    """Standard uncertainty of the mean of repeated readings.

    Parameters
    ----------
    readings : sequence of float
        Independent readings, any unit, at least two; one value a coupon where coupons are the unit.
    unit : str
        Of the readings, for the budget.

    Returns
    -------
    UncertainInput
        Mean, u and n − 1 degrees of freedom; drawn as t.

    Raises
    ------
    ValueError
        For NaN, an infinite value or fewer than two readings.

    Source: `gum`, 4.2.

    >>> round(type_a([5.007, 4.994, 5.005, 4.990, 4.999]).u, 4)
    0.0032
    """
    numbers = finite_row(readings)
    if numbers.size < 2:
        raise ValueError("an uncertainty from readings needs two readings or more")
    u = float(sample_sd(numbers)) / math.sqrt(numbers.size)
    return UncertainInput(float(stable_mean(numbers)), u, numbers.size - 1, "t", unit)


@formula(
    "u = a/√3 (rectangular), a/√6 (triangular), a/√2 (arcsine)",
    source="gum jcgm_101",
    holds_when="all values between the limits possible, none outside",
)
def type_b(value: float, half_width: float, shape: str = "rectangular", unit: str = "") -> UncertainInput:
    """Standard uncertainty of a quantity that is only known to lie between two limits.

    Parameters
    ----------
    value : float
        Middle of the limits, any unit.
    half_width : float
        Half of their distance, unit of the value, 0 or more. The resolution of a display is twice the half width.
    shape : str
        "rectangular", "triangular" or "arcsine".
    unit : str
        Of the value, for the budget.

    Returns
    -------
    UncertainInput
        Without limit to the degrees of freedom.

    Raises
    ------
    ValueError
        For a half width below 0 or NaN, or another shape.

    Source: `gum`, 4.3; `jcgm_101`, 6.4.

    >>> round(type_b(20.0, 0.5).u, 4)
    0.2887
    """
    if shape not in HALF_WIDTHS:
        raise ValueError(f"shape must be one of {', '.join(HALF_WIDTHS)}, not {shape!r}")
    half = within("half width", half_width, unit, at_least=0, has_nan=False).item()
    return UncertainInput(value, half / HALF_WIDTHS[shape], math.inf, shape, unit)


@formula(
    "u(x̄ᵢ) = sᵢ/√n;  r(x̄ᵢ, x̄ⱼ) = sᵢⱼ/(sᵢsⱼ)",
    source="gum",
    holds_when="sets of readings taken together, sets independent of each other",
)
def joint_type_a(readings: Mapping[str, Sequence[float]]) -> JointInputs:
    """Means of quantities that were read together, with their uncertainties and correlations.

    Parameters
    ----------
    readings : mapping of str to sequence of float
        Name -> readings, all of the same number n ≥ 2; the i-th of each belong together.

    Returns
    -------
    JointInputs
        Units of the readings. A quantity without spread has no correlation.

    Raises
    ------
    ValueError
        For NaN, an infinite value, fewer than two readings or different numbers of them.

    Source: `gum`, 5.2.3 and H.2.

    >>> found = joint_type_a({"a": [1.0, 2.0, 3.0], "b": [3.0, 2.0, 1.5]})
    >>> round(found.correlations["a", "b"], 4)
    -0.982
    """
    inputs = {name: type_a(values) for name, values in readings.items()}
    if len({len(values) for values in readings.values()}) > 1:
        raise ValueError("quantities read together need the same number of readings")
    names = [name for name, known in inputs.items() if known.u > 0]
    table = (
        np.atleast_2d(np.corrcoef([scaled_deviations(finite_row(readings[name]))[0] for name in names]))
        if names
        else np.empty((0, 0))
    )
    pairs = zip(*np.triu_indices(len(names), 1), strict=True)
    return JointInputs(inputs, {(names[i], names[j]): float(table[i, j]) for i, j in pairs})
