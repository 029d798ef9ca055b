"""Average run length of control charts: how many points until a signal, in control and after a shift.

In control a long run length is wanted (few false alarms), after a shift a short one. The Shewhart chart has a
closed form, CUSUM and EWMA an integral equation, run rules a Markov chain over the zones of the chart.
"""

from __future__ import annotations

import math
import warnings
from collections.abc import Callable, Mapping, Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from analysis.formula import formula
from analysis.ranges import plain, within
from analysis.statistics.run_rules import run_lengths

_ZONES = (-4, -3, -2, -1, 1, 2, 3, 4)  # side × (within 1σ, 1σ to 2σ, 2σ to 3σ, beyond 3σ)
_EDGES = np.array([-np.inf, -3, -2, -1, 0, 1, 2, 3, np.inf])
_MOST_STATES = 20_000  # a few seconds; 4 of 14 points beyond 1σ need more
_LONGEST = 1e13  # the linear system holds no more digits than that; anything longer is reported as infinite


@formula(
    "ARL = 1/[Φ(−L − δ) + Φ(−L + δ)]",
    source="montgomery_sqc",
    holds_when="independent normal points, known centre and σ",
)
def shewhart_arl(shift: ArrayLike, limit: ArrayLike = 3.0):
    """Average number of points until one lies beyond the limits of a Shewhart chart.

    Parameters
    ----------
    shift : float or array
        Shift of the mean in standard deviations of the plotted point [-]; for means of n readings √n times the
        shift of the readings.
    limit : float or array
        Distance of the limits in the same unit [-], above 0.

    Returns
    -------
    float or array
        Points, 1 or more [-]; NaN stays NaN in its place.

    Raises
    ------
    ValueError
        For a limit that is 0 or below.

    Source: `montgomery_sqc`.

    >>> round(shewhart_arl(0), 2)
    370.4
    """
    delta, reach = within("shift", shift), within("limit", limit, above=0)
    from scipy.special import ndtr

    with np.errstate(divide="ignore", over="ignore"):  # limits that no double can exceed: infinite
        return plain(1 / (ndtr(-reach - delta) + ndtr(-reach + delta)))


@formula(
    "L(z) = 1 + L(0)·Φ(k − z − δ) + ∫₀ʰ L(y)φ(y + k − z − δ)dy;  1/ARL = 1/L⁺(0) + 1/L⁻(0)",
    source="page_1954 montgomery_sqc",
    holds_when="independent normal points, known target and σ, sums started at 0",
    library="numpy.linalg.solve",
)
def cusum_arl(shift: ArrayLike, slack: float = 0.5, decision: float = 5.0, is_two_sided: bool = True):
    """Average number of points until a CUSUM chart signals.

    Parameters
    ----------
    shift : float or array
        Shift of the mean in standard deviations of the point [-].
    slack : float
        k, the part of each deviation that is not summed, in standard deviations [-], 0 or more.
    decision : float
        h, the sum at which the chart signals, in standard deviations [-], above 0.
    is_two_sided : bool
        Upper and lower sum together; else the upper sum alone.

    Returns
    -------
    float or array
        Points [-]; infinite where it is longer than about 1e13; NaN stays NaN in its place.

    Raises
    ------
    ValueError
        For a slack below 0 or a decision interval of 0 or below.

    Source: `page_1954`, solved by Gauss–Legendre quadrature.

    >>> round(cusum_arl(0), 1), round(cusum_arl(1), 2)
    (465.4, 10.38)
    """
    k = within("slack", slack, at_least=0, has_nan=False).item()
    h = within("decision interval", decision, above=0, has_nan=False).item()

    def one(delta: float) -> float:
        up = _cusum_upper(delta, k, h)
        rate = 1 / up + (1 / _cusum_upper(-delta, k, h) if is_two_sided else 0.0)
        return 1 / rate if rate else math.inf

    return _for_each(shift, one)


@formula(
    "L(z) = 1 + (1/λ)∫ L(y)φ{[y − (1 − λ)z]/λ − δ}dy over ±c√[λ/(2−λ)];  ARL = L(0)",
    source="crowder_1987 lucas_saccucci_1990",
    holds_when="independent normal points, known centre and σ, asymptotic limits, started at the centre",
    library="numpy.linalg.solve",
)
def ewma_arl(shift: ArrayLike, weight: float = 0.2, width: float = 3.0):
    """Average number of points until an EWMA chart with asymptotic limits signals.

    Parameters
    ----------
    shift : float or array
        Shift of the mean in standard deviations of the point [-].
    weight : float
        λ, the weight of the newest point [-], above 0 and at most 1.
    width : float
        Distance of the limits in asymptotic standard deviations of the average [-], above 0.

    Returns
    -------
    float or array
        Points [-]; infinite where it is longer than about 1e13; NaN stays NaN in its place.

    Raises
    ------
    ValueError
        For a weight outside 0 to 1 or a width of 0 or below.

    Source: `crowder_1987`, solved by Gauss–Legendre quadrature; values: `lucas_saccucci_1990`.

    >>> round(ewma_arl(1, weight=0.1, width=2.814), 2)
    10.33
    """
    lam = within("weight", weight, above=0, at_most=1, has_nan=False).item()
    reach = within("width", width, above=0, has_nan=False).item() * math.sqrt(lam / (2 - lam))
    node, share = np.polynomial.legendre.leggauss(int(40 + 8 * reach / lam))
    y, y_share = reach * node, reach * share

    def one(delta: float) -> float:
        kernel = _density((y - (1 - lam) * y[:, None]) / lam - delta) / lam * y_share
        from_start = _density(y / lam - delta) / lam * y_share
        return _believed(1 + from_start @ _lengths(kernel))

    return _for_each(shift, one)


@formula(
    "(I − Q)·L = 1, Q the chances to pass from one state without a signal to another",
    source="champ_woodall_1987",
    holds_when="independent normal points, known centre and σ; rules 1, 2, 5, 6, 7, 8",
    library="scipy.sparse.linalg.spsolve",
)
def run_rules_arl(
    shift: ArrayLike,
    rules: Sequence[int] = (1, 2, 5, 6),
    lengths: Mapping[int, int | tuple[int, int]] | None = None,
):
    """Average number of points until a chart with the given run rules signals for the first time.

    Parameters
    ----------
    shift : float or array
        Shift of the mean in standard deviations of the plotted point [-].
    rules, lengths
        As in `run_rules.run_lengths`. Rules 3 and 4 depend on the order of neighbours inside a zone and have
        no chain.

    Returns
    -------
    float or array
        Points [-], exact but for rounding; infinite where it is longer than about 1e13; NaN stays NaN.

    Raises
    ------
    ValueError
        For no rule, rule 3 or 4, run lengths too long for a chain, and as `run_rules.run_lengths`.

    Source: `champ_woodall_1987`.

    >>> round(run_rules_arl(0, (1, 2, 5, 6), {2: 8}), 2)
    91.75
    """
    chosen = run_lengths(rules, lengths)
    if not chosen:
        raise ValueError("a run length needs one rule at least")
    if unfit := {3, 4} & set(chosen):
        raise ValueError(f"rule {min(unfit)} depends on the order of neighbours: it has no chain of zones")
    n_states, origin, zone, target = _chain(tuple(chosen.items()))

    def one(delta: float) -> float:
        from scipy.sparse import csc_array
        from scipy.special import ndtr

        chances = ndtr(_EDGES[1:] - delta) - ndtr(_EDGES[:-1] - delta)
        passes = csc_array((chances[zone], (origin, target)), shape=(n_states, n_states))
        return _believed(_lengths_of_chain(passes))

    return _for_each(shift, one)


def _for_each(shift: ArrayLike, one: Callable[[float], float]):
    """The run length of every shift; NaN stays NaN. A loop, for each shift needs a system of equations of its own."""
    deltas = within("shift", shift)
    found = [math.nan if math.isnan(delta) else one(delta) for delta in deltas.ravel().tolist()]
    return plain(np.array(found).reshape(deltas.shape))


def _lengths_of_chain(passes) -> float:
    """Run length from the first state; infinite where no signal can be reached, as far as a double can tell."""
    from scipy.sparse import eye_array
    from scipy.sparse.linalg import MatrixRankWarning, spsolve

    with warnings.catch_warnings():
        warnings.simplefilter("error", MatrixRankWarning)
        try:
            return spsolve((eye_array(passes.shape[0]) - passes).tocsc(), np.ones(passes.shape[0]))[0]
        except MatrixRankWarning:
            return math.inf


def _cusum_upper(delta: float, k: float, h: float) -> float:
    """Run length of the upper sum: one row for the sum at 0, the others for the nodes between 0 and h."""
    from scipy.special import ndtr

    node, share = np.polynomial.legendre.leggauss(int(40 + 4 * h))
    y, y_share = h * (node + 1) / 2, h * share / 2
    start = np.concatenate([[0.0], y])
    inside = _density(y + k - start[:, None] - delta) * y_share
    kernel = np.column_stack([ndtr(k - start - delta), inside])
    return _believed(_lengths(kernel)[0])


def _lengths(kernel: np.ndarray) -> np.ndarray:
    """Run length from each node; infinite where the sums never leave, as far as a double can tell."""
    try:
        return np.linalg.solve(np.eye(len(kernel)) - kernel, np.ones(len(kernel)))
    except np.linalg.LinAlgError:
        return np.full(len(kernel), np.inf)


def _density(x: np.ndarray) -> np.ndarray:
    return np.exp(-(x**2) / 2) / math.sqrt(2 * math.pi)


def _believed(length: float) -> float:
    """A run length, or infinity where the linear system has no digits left."""
    return float(length) if 1 - 1e-9 <= length <= _LONGEST else math.inf


@lru_cache
def _chain(chosen: tuple[tuple[int, tuple[int, int]], ...]):
    """States that can be reached without a signal, and the moves between them (origin, zone, target)."""
    machines = [_machine(rule, needed, window) for rule, (needed, window) in chosen]
    first = tuple(start for start, _ in machines)
    numbers, waiting, moves = {first: 0}, [first], []
    while waiting:
        state = waiting.pop()
        for index, zone in enumerate(_ZONES):
            after = tuple(step(part, zone) for part, (_, step) in zip(state, machines, strict=True))
            if None in after:  # a signal
                continue
            if after not in numbers:
                if len(numbers) >= _MOST_STATES:
                    raise ValueError(f"these run lengths are too long for a chain: more than {_MOST_STATES} states")
                numbers[after] = len(numbers)
                waiting.append(after)
            moves.append((numbers[state], index, numbers[after]))
    columns = np.array(moves, dtype=int).reshape(-1, 3).T
    return len(numbers), columns[0], columns[1], columns[2]


def _machine(rule: int, needed: int, window: int) -> tuple[object, Callable]:
    """Start state of one rule and its step (state, zone) -> next state, None for a signal."""
    if rule == 1:
        return (), lambda state, zone: None if abs(zone) == 4 else ()
    if rule == 2:
        return 0, lambda state, zone: _run_of_one_side(state, zone, needed)
    if rule == 7:
        return 0, lambda state, zone: (state + 1 if state + 1 < needed else None) if abs(zone) == 1 else 0
    if rule == 8:
        return (0, 0), lambda state, zone: _outside_both_sides(state, zone, needed)
    beyond = {5: 2, 6: 1}[rule]
    return (), lambda state, zone: _several_of(state, zone, beyond, needed, window)


def _run_of_one_side(state: int, zone: int, needed: int) -> int | None:
    side = 1 if zone > 0 else -1
    run = state + side if state * side > 0 else side
    return None if abs(run) == needed else run


def _outside_both_sides(state: tuple[int, int], zone: int, needed: int) -> tuple[int, int] | None:
    """State: points outside 1σ in a row, and how many of the last lie on one side (with its sign)."""
    if abs(zone) == 1:
        return 0, 0
    count, side = min(state[0] + 1, needed), 1 if zone > 0 else -1
    run = state[1] + side if state[1] * side > 0 else side
    run = max(-needed, min(needed, run))
    return None if count == needed and abs(run) < needed else (count, run)


def _several_of(state: tuple[int, ...], zone: int, beyond: int, needed: int, window: int) -> tuple[int, ...] | None:
    """State: the last marks (1 above, −1 below, 0 neither), as many as still matter."""
    mark = 0 if abs(zone) <= beyond else (1 if zone > 0 else -1)
    marks = (*state, mark)[-window:]
    if mark and marks.count(mark) >= needed:
        return None
    marks = marks[-(window - 1) :] if window > 1 else ()
    while marks and marks[0] == 0:
        marks = marks[1:]
    return marks
