"""Measurement uncertainty: standard, combined and expanded, with degrees of freedom.

`uncertain_inputs` says where a standard uncertainty comes from, `uncertainty_budget` combines several through a
function, `monte_carlo` draws from them.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from analysis.formula import formula
from analysis.ranges import plain, within
from analysis.statistics.moments import counts, finite_row, require_share, sample_sd, stable_mean

Correlations = Mapping[tuple[str, str], float]  # (name, name) -> coefficient; pairs left out are not correlated


@dataclass(frozen=True, slots=True)
class GroupedUncertainty:
    """A mean over days (or coupons, or batches) and its standard uncertainty, with and without an effect of the day."""

    mean: float
    sd_of_means: float
    sd_from_means: float  # s_a: what one reading would scatter by, as the means tell it
    sd_within: float  # s_b: what one reading scatters by inside a day
    f: float | None
    f_critical: float
    p: float | None
    between_sd: float  # 0 where the estimate of its square is negative
    between_variance: float  # as estimated, may be negative
    u: float  # of the mean with an effect of the day: the one to use unless the effect is known to be absent
    dof: int
    u_without_effect: float
    dof_without_effect: int


@formula(
    "u_c² = ΣΣ cᵢcⱼuᵢuⱼrᵢⱼ",
    source="gum",
    holds_when="function nearly straight over the uncertainties",
)
def combined_uncertainty(contributions: ArrayLike, correlation: ArrayLike | None = None):
    """Combined standard uncertainty from the contributions of the inputs.

    Parameters
    ----------
    contributions : array, shape (…, inputs)
        Sensitivity times standard uncertainty of each input, with its sign, unit of the result.
    correlation : array of shape (inputs, inputs), optional
        Correlation coefficients [-]; left out: none.

    Returns
    -------
    float or array
        Unit of the contributions, the last axis summed; NaN stays NaN.

    Raises
    ------
    ValueError
        For no contributions, an infinite one, or a matrix that is no correlation matrix.

    Source: `gum`, 5.1 and 5.2.

    >>> combined_uncertainty([3.0, 4.0]), combined_uncertainty([3.0, 4.0], [[1, 1], [1, 1]])
    (5.0, 7.0)
    """
    parts = np.atleast_1d(within("contribution", contributions))
    if parts.shape[-1] == 0:
        raise ValueError("no contributions")
    matrix = np.eye(parts.shape[-1]) if correlation is None else require_correlation(correlation, parts.shape[-1])
    largest = np.max(np.abs(parts), axis=-1, keepdims=True)
    scale = np.where(largest > 0, largest, 1.0)  # so that huge or tiny squares neither overflow nor vanish
    shares = parts / scale
    square = np.sum(shares**2, axis=-1) if correlation is None else np.sum(shares * (shares @ matrix), axis=-1)
    return plain(np.sqrt(np.maximum(square, 0.0)) * scale[..., 0])


def require_correlation(matrix: ArrayLike, size: int) -> np.ndarray:
    """A correlation matrix of the given size, or a refusal.

    Parameters
    ----------
    matrix : array of shape (size, size)
        Correlation coefficients [-].
    size : int
        Number of quantities.

    Returns
    -------
    numpy.ndarray
        The matrix.

    Raises
    ------
    ValueError
        For another shape, NaN, a diagonal other than 1, an unsymmetric matrix, a coefficient outside −1 to 1, or
        coefficients that contradict each other (a negative eigenvalue beyond rounding).

    Source: `gum`, 5.2.2.

    >>> require_correlation([[1, 0.5], [0.5, 1]], 2).shape
    (2, 2)
    """
    table = within("correlation coefficient", matrix, at_least=-1, at_most=1, has_nan=False)
    if table.shape != (size, size):
        raise ValueError(f"{size} quantities need a {size} × {size} correlation matrix, not shape {table.shape}")
    if not (np.allclose(table, table.T) and np.allclose(np.diag(table), 1)):
        raise ValueError("a correlation matrix is symmetric with 1 on its diagonal")
    if size and np.linalg.eigvalsh(table).min() < -1e-6:
        raise ValueError("these correlation coefficients contradict each other")
    return table


def correlation_matrix(names: Sequence[str], correlations: Correlations) -> np.ndarray:
    """Correlation matrix of named quantities, in the order of the names.

    Parameters
    ----------
    names : sequence of str
        Quantities, at least one.
    correlations : mapping
        (name, name) -> coefficient [-]; pairs left out are not correlated.

    Returns
    -------
    numpy.ndarray
        Square [-].

    Raises
    ------
    ValueError
        For no names or one name twice, a pair with an unknown name, of one name, or given both ways with two
        coefficients, and as `require_correlation`.

    Source: `gum`, 5.2.2.

    >>> correlation_matrix(["a", "b"], {("a", "b"): 0.5}).tolist()
    [[1.0, 0.5], [0.5, 1.0]]
    """
    order = list(names)
    if not order:
        raise ValueError("a budget needs inputs")
    if len(set(order)) < len(order):
        raise ValueError(f"{max(order, key=order.count)!r} stands twice among the inputs")
    table = np.eye(len(order))
    for (one, other), coefficient in correlations.items():
        if unknown := {one, other} - set(order):
            raise ValueError(f"{min(unknown)!r} is correlated with something but is no input")
        if one == other:
            raise ValueError(f"{one!r} cannot be correlated with itself")
        if correlations.get((other, one), coefficient) != coefficient:
            raise ValueError(f"{one!r} and {other!r} are given two correlation coefficients")
        table[order.index(one), order.index(other)] = table[order.index(other), order.index(one)] = coefficient
    return require_correlation(table, len(order))


@formula(
    "ν_eff = u_c⁴/Σ(uᵢ⁴/νᵢ), cut to a whole number",
    source="gum",
    holds_when="contributions not correlated",
)
def effective_degrees_of_freedom(
    contributions: ArrayLike, dofs: ArrayLike, combined: ArrayLike | None = None, is_truncated: bool = True
):
    """Degrees of freedom of a combined standard uncertainty (Welch–Satterthwaite).

    Parameters
    ----------
    contributions : array, shape (…, inputs)
        Sensitivity times standard uncertainty of each input, unit of the result.
    dofs : array, broadcast against contributions
        Degrees of freedom [-], above 0; infinite where an uncertainty is taken as known. One number, or one an input.
    combined : float or array, optional
        Combined standard uncertainty, if it was rounded first: rounding changes the answer.
    is_truncated : bool
        Cut to the next lower whole number, as the guide does; what lies below 1 stays as it is.

    Returns
    -------
    float or array
        Degrees of freedom [-], the last axis summed; infinite without any finite part; NaN stays NaN.

    Raises
    ------
    ValueError
        For no contributions, an infinite one, or degrees of freedom of 0 or below.

    Source: `gum`, G.4.

    >>> effective_degrees_of_freedom([25, 9.7, 2.9, 16.6], [18, 25.6, 50, 2])
    16.0
    """
    parts, nu = np.atleast_1d(within("contribution", contributions)), np.asarray(dofs, dtype=float)
    if np.any(nu <= 0):
        raise ValueError(f"degrees of freedom must be above 0, not {nu[nu <= 0].flat[0]:g}")
    if parts.shape[-1] == 0:
        raise ValueError("no contributions")
    if nu.ndim and nu.shape[-1] not in (1, parts.shape[-1]):
        raise ValueError(f"{nu.shape[-1]} degrees of freedom for {parts.shape[-1]} contributions")
    total = np.asarray(combined_uncertainty(parts)) if combined is None else within("combined", combined, above=0)
    scale = np.where(total > 0, total, 1.0)[..., None]  # fourth powers of ratios: no overflow
    with np.errstate(divide="ignore", over="ignore"):  # nothing with finite degrees of freedom: infinite
        below = np.sum((parts / scale) ** 4 / nu, axis=-1)
        found = np.where(np.isnan(below), np.nan, 1 / below)
    return plain(np.where(found < 1, found, np.floor(found + 1e-9)) if is_truncated else found)


@formula(
    "k = t((1 + p)/2; ν)",
    source="gum",
    holds_when="result roughly normal",
    library="scipy.special.stdtrit",
)
def coverage_factor(confidence: float = 0.95, dof: ArrayLike = math.inf):
    """Factor from a standard to an expanded uncertainty.

    Parameters
    ----------
    confidence : float or array
        Coverage probability [-], between 0 and 1.
    dof : float or array
        Effective degrees of freedom [-], above 0; infinite for a known uncertainty.

    Returns
    -------
    float or array
        k [-]; NaN stays NaN in its place.

    Raises
    ------
    ValueError
        For a confidence outside 0 to 1 or degrees of freedom of 0 or below.

    Source: `gum`, G.3.

    >>> round(coverage_factor(0.99, 16), 2), round(coverage_factor(), 3)
    (2.92, 1.96)
    """
    require_share("confidence", confidence)
    nu = np.asarray(dof, dtype=float)
    if np.any(nu <= 0):
        raise ValueError(f"degrees of freedom must be above 0, not {nu[nu <= 0].flat[0]:g}")
    from scipy.special import ndtri, stdtrit

    tail = (1 - np.asarray(confidence, dtype=float)) / 2  # of the lower side: keeps its digits close to 0
    return plain(-np.where(np.isinf(nu), ndtri(tail), stdtrit(np.where(np.isinf(nu), 1.0, nu), tail)))


@formula("U = k·u_c", source="gum", holds_when="result roughly normal", library="scipy.special.stdtrit")
def expanded_uncertainty(u: ArrayLike, confidence: float = 0.95, dof: ArrayLike = math.inf):
    """Expanded uncertainty: half the width of the interval that covers the quantity with the given probability.

    Parameters
    ----------
    u : float or array
        Combined standard uncertainty, any unit, 0 or more.
    confidence : float
        Coverage probability [-], between 0 and 1.
    dof : float or array
        Effective degrees of freedom [-], above 0.

    Returns
    -------
    float or array
        Unit of u; NaN stays NaN in its place.

    Raises
    ------
    ValueError
        For u below 0, a confidence outside 0 to 1 or degrees of freedom of 0 or below.

    Source: `gum`, clause 6 and G.

    >>> round(expanded_uncertainty(32.0, 0.99, 16))
    93
    """
    return plain(within("standard uncertainty", u, at_least=0) * coverage_factor(confidence, dof))


@formula(
    "s_a² = J·s²(X̄), s_b² = Σsₖ²/K, F = s_a²/s_b², s_B² = (s_a² − s_b²)/J;  u = s(X̄)/√K",
    source="gum",
    holds_when="K days of J readings each, days and readings independent",
    library="scipy.special.fdtrc",
)
def grouped_uncertainty(
    means: Sequence[float], sds: Sequence[float], readings_each: int, alpha: float = 0.05
) -> GroupedUncertainty:
    """Uncertainty of a mean over days, coupons or batches that may differ among themselves.

    Parameters
    ----------
    means, sds : sequence of float
        Mean and standard deviation of each day, any unit; at least two days, sds 0 or more.
    readings_each : int
        Readings a day J, 2 or more.
    alpha : float
        Level of the critical F [-], between 0 and 1.

    Returns
    -------
    GroupedUncertainty
        Unit of the readings. u always counts days, so it is safe with and without an effect of the day; pooling
        all readings is right only where the effect is known to be absent, which a small F does not show.

    Raises
    ------
    ValueError
        For NaN, an infinite value, fewer than two days, different numbers, an sd below 0, or J below 2 or not whole.

    Source: `gum`, H.5.

    >>> found = grouped_uncertainty([1.0, 2.0, 3.0], [1.0, 1.0, 1.0], 4)
    >>> found.f, round(found.u, 4), found.dof
    (4.0, 0.5774, 2)
    """
    middles, spreads = finite_row(means), finite_row(sds)
    require_share("alpha", alpha)
    within("standard deviation of a day", spreads, at_least=0)
    each = int(counts("readings a day", readings_each, 2))
    days = middles.size
    if days < 2 or spreads.size != days:
        raise ValueError(f"two days or more with a mean and a standard deviation each, not {days} and {spreads.size}")
    of_means = float(sample_sd(middles))
    from_means, inside = each * of_means**2, float(np.mean(spreads**2))
    from scipy.special import fdtrc, fdtri

    dfs = days - 1, days * (each - 1)
    f = from_means / inside if inside else None
    between, size = (from_means - inside) / each, days * each
    pooled = (dfs[0] * from_means + dfs[1] * inside) / (size - 1)
    return GroupedUncertainty(
        mean=float(stable_mean(middles)), sd_of_means=of_means, sd_from_means=math.sqrt(from_means),
        sd_within=math.sqrt(inside), f=f, f_critical=float(fdtri(*dfs, 1 - alpha)),
        p=None if f is None else float(fdtrc(*dfs, f)), between_sd=math.sqrt(max(between, 0.0)),
        between_variance=between, u=of_means / math.sqrt(days), dof=days - 1,
        u_without_effect=math.sqrt(pooled / size), dof_without_effect=size - 1,
    )  # fmt: skip
