"""Run rules of a control chart, by number: which patterns of points count as a signal, and where they stand.

Each rule that is added finds more changes and raises more false alarms (`run_length.run_rules_arl`). Which rules
and which run lengths were used is therefore part of a chart and is printed with it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from analysis.formula import formula
from analysis.ranges import within
from analysis.statistics.moments import finite_row

ALL_RULES = (1, 2, 3, 4, 5, 6, 7, 8)
# rule -> (points needed, out of so many in a row)
RUN_LENGTHS = {1: (1, 1), 2: (9, 9), 3: (6, 6), 4: (14, 14), 5: (2, 3), 6: (4, 5), 7: (15, 15), 8: (8, 8)}
_TEXTS = {
    1: "one point beyond 3σ",
    2: "{needed} in a row on one side of the centre",
    3: "{needed} in a row rising or falling",
    4: "{needed} in a row alternating up and down",
    5: "{needed} of {window} beyond 2σ on the same side",
    6: "{needed} of {window} beyond 1σ on the same side",
    7: "{needed} in a row within 1σ",
    8: "{needed} in a row outside 1σ, on both sides",
}
_FEWEST = {1: 1, 2: 2, 3: 3, 4: 3, 5: 1, 6: 1, 7: 2, 8: 2}
_WINDOWED = (5, 6)
_ROUNDING = 1e-9  # in σ: a point computed to lie on a limit is not beyond it


@dataclass(frozen=True, slots=True)
class Signal:
    """One pattern found: the rule, and the place (from 0) of the point that completes it."""

    rule: int
    position: int
    text: str


def run_lengths(
    rules: Sequence[int] = ALL_RULES, lengths: Mapping[int, int | tuple[int, int]] | None = None
) -> dict[int, tuple[int, int]]:
    """The chosen rules with the points each needs, out of how many in a row.

    Parameters
    ----------
    rules : sequence of int
        Numbers of the rules, 1 to 8.
    lengths : mapping, optional
        Other run lengths: rule -> number in a row, or (needed, out of) for rules 5 and 6.

    Returns
    -------
    dict
        Rule -> (needed, out of), in ascending order.

    Raises
    ------
    ValueError
        For a rule that does not exist, a length for a rule that was not chosen, or a length that makes no rule.

    Source: `nelson_1984`.

    >>> run_lengths((2, 5), {2: 8})
    {2: (8, 8), 5: (2, 3)}
    """
    unknown = sorted(set(rules) - set(ALL_RULES))
    if unknown:
        raise ValueError(f"run rules are numbered 1 to 8, not {unknown[0]}")
    given = dict(lengths or {})
    extra = sorted(set(given) - set(rules))
    if extra:
        raise ValueError(f"a run length is given for rule {extra[0]}, which is not in use")
    return {rule: _length(rule, given.get(rule, RUN_LENGTHS[rule])) for rule in sorted(set(rules))}


def _length(rule: int, given: int | tuple[int, int]) -> tuple[int, int]:
    pair = tuple(np.ravel(given).tolist())
    if rule in _WINDOWED and len(pair) != 2:
        raise ValueError(f"rule {rule} needs two numbers, (needed, out of), not {given}")
    needed, window = pair if len(pair) == 2 else (given, given)
    if not all(isinstance(number, int) for number in pair) or len(pair) not in (1, 2):
        raise ValueError(f"the run length of rule {rule} must be whole numbers, not {given}")
    if not _FEWEST[rule] <= needed <= window or (rule not in _WINDOWED and needed != window):
        raise ValueError(f"rule {rule} cannot ask for {needed} points out of {window}")
    if rule == 1 and needed != 1:
        raise ValueError("rule 1 is about one point; its run length is 1")
    return int(needed), int(window)


def _one_a_point(name: str, given: np.ndarray, size: int) -> np.ndarray:
    if given.ndim and given.shape != (size,):
        raise ValueError(f"{name} must be one number or one a point ({size}), not of shape {given.shape}")
    return np.broadcast_to(given, (size,))


def rule_texts(
    rules: Sequence[int] = ALL_RULES, lengths: Mapping[int, int | tuple[int, int]] | None = None
) -> tuple[str, ...]:
    """The rules in use in words with their run lengths, to be printed with the chart.

    Parameters
    ----------
    rules, lengths
        As in `run_lengths`.

    Returns
    -------
    tuple of str
        One line a rule.

    Raises
    ------
    ValueError
        As `run_lengths`.

    Source: `nelson_1984`.

    >>> rule_texts((1, 2), {2: 8})
    ('1: one point beyond 3σ', '2: 8 in a row on one side of the centre')
    """
    chosen = run_lengths(rules, lengths)
    return tuple(
        f"{rule}: {_TEXTS[rule].format(needed=needed, window=window)}" for rule, (needed, window) in chosen.items()
    )


@formula(
    "1: |z| > 3; 2: n in a row z > 0 or z < 0; 3: n in a row rising or falling; 4: n alternating; "
    "5: a of b with z > 2 (or < −2); 6: a of b with z > 1 (or < −1); 7: n with |z| ≤ 1; 8: n with |z| > 1, both signs",
    source="nelson_1984",
    holds_when="independent, roughly normal points; z = (point − centre)/σ of the point",
)
def run_rules(
    points: ArrayLike,
    centre: ArrayLike = 0.0,
    sigma: ArrayLike = 1.0,
    rules: Sequence[int] = ALL_RULES,
    lengths: Mapping[int, int | tuple[int, int]] | None = None,
) -> tuple[Signal, ...]:
    """Find the patterns that count as signals among the points of a control chart.

    Parameters
    ----------
    points : sequence of float
        Plotted points in order, any unit.
    centre, sigma : float or array
        Centre line and standard deviation of the plotted point, one number or one a point, unit of the points;
        sigma 0 or more (at 0 whatever is off the centre lies beyond every limit).
    rules, lengths
        As in `run_lengths`.

    Returns
    -------
    tuple of Signal
        By position, then by rule. A point on a limit is not beyond it, and a point on the centre ends a run on
        one side. A pattern is reported at the point that completes it and again at each point that goes on with
        it; that point itself belongs to the pattern. One point can break rule 1 only.

    Raises
    ------
    ValueError
        For no points, NaN, a sigma below 0, a centre or sigma of another length, and as `run_lengths`.

    Source: `nelson_1984`; run lengths there: 9, 6, 14, 2 of 3, 4 of 5, 15, 8.

    >>> [(found.rule, found.position) for found in run_rules([0.1, 2.5, 0.4, 2.2, 3.5], rules=(1, 5))]
    [(5, 3), (1, 4), (5, 4)]
    """
    chosen, texts = run_lengths(rules, lengths), rule_texts(rules, lengths)
    numbers = finite_row(points)
    spread = _one_a_point("sigma", within("sigma", sigma, at_least=0, has_nan=False), numbers.size)
    off = numbers - _one_a_point("centre", within("centre", centre, has_nan=False), numbers.size)
    z = np.where(off == 0, 0.0, np.copysign(np.inf, off))  # without spread
    np.divide(off, spread, out=z, where=spread > 0)
    found = []
    for text, (rule, (needed, window)) in zip(texts, chosen.items(), strict=True):
        places = np.flatnonzero(_breaks(rule, z, numbers, needed, window))
        found += [Signal(rule, int(place), text) for place in places]
    return tuple(sorted(found, key=lambda signal: (signal.position, signal.rule)))


def _breaks(rule: int, z: np.ndarray, numbers: np.ndarray, needed: int, window: int) -> np.ndarray:
    """Where the rule is broken, one truth value a point."""
    if rule in (3, 4):
        return _moves(rule, numbers, needed)
    if rule == 7:
        return _often(np.abs(z) <= 1 + _ROUNDING, needed, needed)
    if rule == 8:
        outside = np.abs(z) > 1 + _ROUNDING
        on_one_side = _often(z > 0, needed, needed) | _often(z < 0, needed, needed)
        return _often(outside, needed, needed) & ~on_one_side
    limit = {1: 3, 2: 0, 5: 2, 6: 1}[rule] + _ROUNDING
    return _often(z > limit, needed, window) | _often(z < -limit, needed, window)


def _moves(rule: int, numbers: np.ndarray, needed: int) -> np.ndarray:
    step = np.sign(np.diff(numbers, prepend=numbers[0]))  # the first point has no step
    if rule == 3:
        return _often(step > 0, needed - 1, needed - 1) | _often(step < 0, needed - 1, needed - 1)
    turns = np.concatenate([[False], step[1:] * step[:-1] < 0])
    return _often(turns, needed - 2, needed - 2)


def _often(marks: np.ndarray, needed: int, window: int) -> np.ndarray:
    """Points that are marked themselves, with `needed` marks among the last `window` points."""
    counts = np.convolve(marks.astype(int), np.ones(window, dtype=int))[: marks.size]
    return marks & (counts >= needed)
