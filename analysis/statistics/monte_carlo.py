"""Uncertainty by simulation (JCGM 101): draws of the inputs, through the function, to an interval of the result."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from analysis.formula import formula
from analysis.ranges import within
from analysis.statistics.moments import counts, finite, require_share
from analysis.statistics.uncertain_inputs import HALF_WIDTHS, UncertainInput
from analysis.statistics.uncertainty import Correlations, correlation_matrix
from analysis.statistics.uncertainty_budget import Budget

MOST_TRIALS = 10_000_000
_BLOCK = 10_000  # trials of one block of the adaptive procedure, or more where the coverage asks for it


@dataclass(frozen=True, slots=True)
class CoverageInterval:
    """Interval that holds the given share of the trials."""

    low: float
    high: float
    coverage: float
    kind: str  # "shortest" or "symmetric" (in probability)


@dataclass(frozen=True, slots=True)
class Simulation:
    """Result of a simulation: mean, standard uncertainty and both coverage intervals."""

    value: float
    u: float
    shortest: CoverageInterval
    symmetric: CoverageInterval
    trials: int
    seed: int
    is_stable: bool | None  # whether the adaptive procedure reached its digits; None when it was not asked for
    note: str


@dataclass(frozen=True, slots=True)
class FirstOrderCheck:
    """Does the interval of the law of propagation agree with the simulated one to the digits that are reported?"""

    is_valid: bool
    low_difference: float
    high_difference: float
    tolerance: float
    note: str


@formula(
    "y₍ᵣ₎ to y₍ᵣ₊q₎ of the sorted trials, q = pM; shortest: r of the least width; symmetric: r = (M − q)/2",
    source="jcgm_101",
    holds_when="enough trials: about 10⁴/(1 − p)",
    library="numpy.sort",
)
def coverage_interval(trials: ArrayLike, coverage: float = 0.95, kind: str = "shortest") -> CoverageInterval:
    """Interval that holds a share of simulated results.

    Parameters
    ----------
    trials : sequence of float
        Simulated results, any unit, at least two.
    coverage : float
        Share [-], between 0 and 1.
    kind : str
        "shortest", or "symmetric": the same share left out on both sides.

    Returns
    -------
    CoverageInterval
        Unit of the trials.

    Raises
    ------
    ValueError
        For NaN, an infinite value, too few trials for the share, a share outside 0 to 1 or another kind.

    Source: `jcgm_101`, 7.7.

    >>> found = coverage_interval([0.0, 1.0, 2.0, 3.0, 4.0, 50.0], 0.5)
    >>> found.low, found.high
    (0.0, 3.0)
    """
    ordered = np.sort(finite(trials).ravel())
    require_share("coverage", coverage)
    if kind not in ("shortest", "symmetric"):
        raise ValueError(f"kind must be 'shortest' or 'symmetric', not {kind!r}")
    size = ordered.size
    inside = math.floor(coverage * size + 0.5)
    if not 1 <= inside < size:
        raise ValueError(f"{size} trials are too few for a coverage of {coverage}")
    widths = ordered[inside:] - ordered[:-inside]
    start = int(np.argmin(widths)) if kind == "shortest" else (size - inside + 1) // 2 - 1
    return CoverageInterval(float(ordered[start]), float(ordered[start + inside]), coverage, kind)


def draws(
    inputs: Mapping[str, UncertainInput], size: int, rng: np.random.Generator, correlations: Correlations | None = None
) -> dict[str, np.ndarray]:
    """Random values of uncertain inputs.

    Parameters
    ----------
    inputs : mapping of str to UncertainInput
        Each is drawn from its shape: normal; t with scale u and its own degrees of freedom; rectangular, triangular
        and arcsine with the half width that gives u.
    size : int
        Number of draws, 0 or more.
    rng : numpy.random.Generator
        Where the chance comes from; the caller seeds it.
    correlations : mapping, optional
        (name, name) -> coefficient [-]. Exact for normal inputs; other shapes get the correlation of their normal
        scores.

    Returns
    -------
    dict of str to array of shape (size,)
        Units of the inputs.

    Raises
    ------
    ValueError
        For no inputs, unknown names, coefficients that contradict each other, or a size that is no whole number.

    Source: `jcgm_101`, 6.4.

    >>> found = draws({"a": UncertainInput(5.0, 0.0)}, 3, np.random.default_rng(1))
    >>> found["a"].tolist()
    [5.0, 5.0, 5.0]
    """
    matrix, size = correlation_matrix(list(inputs), correlations or {}), int(counts("number of draws", size, 0))
    if correlations:
        values, vectors = np.linalg.eigh(matrix)
        root = vectors * np.sqrt(np.maximum(values, 0.0))
        scores = root @ rng.standard_normal((len(inputs), size))
        unit = [_from_scores(known, row) for known, row in zip(inputs.values(), scores, strict=True)]
    else:
        unit = [_unit_draws(known, size, rng) for known in inputs.values()]
    return {name: known.value + known.u * row for (name, known), row in zip(inputs.items(), unit, strict=True)}


@formula(
    "y = f(x₁, …, x_N) of M draws; value and u are their mean and standard deviation",
    source="jcgm_101",
    holds_when="any function; shapes and correlations of the inputs as stated",
    library="numpy.random.Generator",
)
def monte_carlo(
    function: Callable[..., ArrayLike],
    inputs: Mapping[str, UncertainInput],
    *,
    seed: int,
    trials: int = 1_000_000,
    coverage: float = 0.95,
    correlations: Correlations | None = None,
    digits: int | None = None,
) -> Simulation:
    """Uncertainty of a result by drawing its inputs many times.

    Parameters
    ----------
    function : callable
        Takes the inputs by name as arrays and returns an array.
    inputs : mapping of str to UncertainInput
        As in `draws`; a coefficient of variation or a limit is better stated as a shape than as a wide normal.
    seed : int
        Of the random numbers: the same seed gives the same result.
    trials : int
        Number of draws, 100 or more; with `digits` the largest number, at most 10 million.
    coverage : float
        Share of both intervals [-], between 0 and 1.
    correlations : mapping, optional
        As in `draws`.
    digits : int, optional
        Draw in blocks until value, u and both ends of the symmetric interval are stable in so many significant
        digits of u (1 or 2 are usual).

    Returns
    -------
    Simulation
        Unit of the function.

    Raises
    ------
    ValueError
        When any trial gives no finite number (a result computed from the others would leave out the worst), and for
        no inputs, too few trials, a coverage outside 0 to 1 or digits below 1.

    Source: `jcgm_101`, clause 7; adaptive procedure 7.9.

    >>> found = monte_carlo(lambda a, b: a + b, {"a": UncertainInput(1.0, 0.3), "b": UncertainInput(2.0, 0.4)}, seed=1)
    >>> round(found.value, 2), round(found.u, 2)
    (3.0, 0.5)
    """
    require_share("coverage", coverage)
    within("number of trials", trials, at_least=100, at_most=MOST_TRIALS, has_nan=False)
    most = int(counts("number of trials", trials, 100))
    rng = np.random.default_rng(seed)

    def block(size: int) -> np.ndarray:
        return _results(function, draws(inputs, size, rng, correlations), size)

    if digits is None:
        results, is_stable, note = block(most), None, ""
    else:
        results, is_stable = _adaptive(block, most, coverage, int(counts("digits", digits, 1)))
        note = "" if is_stable else f"Not stable in {digits} significant digits after {results.size} trials."
    intervals = (coverage_interval(results, coverage, kind) for kind in ("shortest", "symmetric"))
    off = results - results[0]
    value, u = float(results[0] + off.mean()), float(off.std(ddof=1))
    return Simulation(value, u, *intervals, results.size, seed, is_stable, note)


@formula(
    "|y − U − y_low| ≤ δ and |y + U − y_high| ≤ δ, δ = ½·10ˡ, u written with the given digits as c·10ˡ",
    source="jcgm_101",
    holds_when="the simulation is stable to about δ/5",
)
def check_first_order(budget: Budget, simulation: Simulation, digits: int = 2) -> FirstOrderCheck:
    """Hold the interval of a budget against the simulated one.

    Parameters
    ----------
    budget : Budget
        From `uncertainty_budget`, with the confidence of the simulation.
    simulation : Simulation
        From `monte_carlo`, of the same function and inputs.
    digits : int
        Significant digits of u that are reported [-], 1 or more.

    Returns
    -------
    FirstOrderCheck
        Unit of the result; ends are compared with the symmetric interval.

    Raises
    ------
    ValueError
        For another coverage than the budget's, or digits below 1.

    Source: `jcgm_101`, clause 8.

    >>> from analysis.statistics.uncertainty_budget import uncertainty_budget
    >>> known = {"a": UncertainInput(0.0, 0.005), "b": UncertainInput(0.0, 0.005)}
    >>> function = lambda a, b: a**2 + b**2
    >>> check_first_order(uncertainty_budget(function, known), monte_carlo(function, known, seed=1)).is_valid
    False
    """
    if not math.isclose(budget.confidence, simulation.symmetric.coverage):
        raise ValueError("budget and simulation must have the same coverage")
    tolerance = numerical_tolerance(simulation.u, digits)
    low = abs(budget.value - budget.expanded - simulation.symmetric.low)
    high = abs(budget.value + budget.expanded - simulation.symmetric.high)
    is_valid = low <= tolerance and high <= tolerance
    words = "agrees with" if is_valid else "does not agree with"
    note = f"First order {words} the simulation to {digits} digits of u: the ends are off by {low:.2g} and {high:.2g}."
    return FirstOrderCheck(is_valid, low, high, tolerance, note)


@formula("δ = ½·10ˡ for u = c·10ˡ with c of the given number of digits", source="jcgm_101")
def numerical_tolerance(u: float, digits: int = 2) -> float:
    """Half a unit in the last reported digit of a standard uncertainty.

    Parameters
    ----------
    u : float
        Standard uncertainty, any unit, 0 or more.
    digits : int
        Significant digits [-], 1 or more.

    Returns
    -------
    float
        Unit of u; 0 for u = 0.

    Raises
    ------
    ValueError
        For u below 0 or NaN, or digits below 1.

    Source: `jcgm_101`, 7.9.2.

    >>> numerical_tolerance(0.35, 2), numerical_tolerance(0.35, 1)
    (0.005, 0.05)
    """
    size = within("standard uncertainty", u, at_least=0, has_nan=False).item()
    kept = int(counts("digits", digits, 1))
    if size == 0:
        return 0.0
    exponent = int(f"{size:.{kept - 1}e}".partition("e")[2])
    return float(f"5e{exponent - kept}")


def _unit_draws(known: UncertainInput, size: int, rng: np.random.Generator) -> np.ndarray:
    """Draws about 0 in units of u."""
    if known.u == 0:
        return np.zeros(size)
    if known.shape == "normal":
        return rng.standard_normal(size)
    if known.shape == "t":
        return rng.standard_t(known.dof, size)
    return _from_shares(known, rng.random(size))


def _from_scores(known: UncertainInput, scores: np.ndarray) -> np.ndarray:
    """Normal scores to draws about 0 in units of u."""
    if known.shape == "normal" or known.u == 0:
        return scores
    from scipy.special import ndtr, stdtrit

    shares = ndtr(scores)
    return stdtrit(known.dof, shares) if known.shape == "t" else _from_shares(known, shares)


def _from_shares(known: UncertainInput, shares: np.ndarray) -> np.ndarray:
    """Cumulative shares to draws of a bounded shape, in units of u."""
    half = HALF_WIDTHS[known.shape]
    if known.shape == "rectangular":
        return half * (2 * shares - 1)
    if known.shape == "arcsine":
        return half * np.sin(math.pi * (shares - 0.5))
    rising = np.sqrt(2 * np.minimum(shares, 1 - shares)) - 1
    return half * np.where(shares < 0.5, rising, -rising)


def _results(function: Callable[..., ArrayLike], values: dict[str, np.ndarray], size: int) -> np.ndarray:
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):  # told below by the trials that fail
        results = np.asarray(function(**values), dtype=float)
    if results.ndim == 0:  # a function that does not depend on its inputs
        results = np.full(size, float(results))
    if results.shape != (size,):
        raise ValueError(f"the function must give one number a trial, not shape {results.shape} for {size} trials")
    failed = int(np.sum(~np.isfinite(results)))
    if failed:
        raise ValueError(f"{failed} of {size} trials give no finite number: an input leaves the range of the function")
    return results


def _adaptive(block: Callable[[int], np.ndarray], most: int, coverage: float, digits: int) -> tuple[np.ndarray, bool]:
    """Blocks until twice the standard error of each of the four results is below the tolerance."""
    size = min(max(math.ceil(100 / (1 - coverage)), _BLOCK), most // 2)
    blocks, found = [], []
    while (len(blocks) + 1) * size <= most:
        blocks.append(block(size))
        ends = coverage_interval(blocks[-1], coverage, "symmetric")
        found.append((blocks[-1].mean(), blocks[-1].std(ddof=1), ends.low, ends.high))
        if len(blocks) < 2:
            continue
        errors = np.std(found, axis=0, ddof=1) / math.sqrt(len(found))
        tolerance = numerical_tolerance(float(np.mean(found, axis=0)[1]), digits)
        if np.all(2 * errors <= tolerance):
            return np.concatenate(blocks), True
    return np.concatenate(blocks), False
