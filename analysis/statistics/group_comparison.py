"""Comparing several recipes: two factors, and all pairs with one joint error rate. One value a coupon.

Whether several recipes differ at all is asked of `one_way_anova` in `moments`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from analysis.formula import formula
from analysis.statistics.comparison import HIGHER, LOWER, UNDECIDED, percent, sample
from analysis.statistics.replication import require_share


@dataclass(frozen=True, slots=True)
class VarianceLine:
    """One line of an analysis of variance."""

    label: str
    sum_of_squares: float
    df: int
    f: float | None  # None for the residual line, and where there is no residual spread
    p: float | None


@dataclass(frozen=True, slots=True)
class PairDifference:
    """One pair of recipes: first less second, with an interval that holds for all pairs at once."""

    first: str
    second: str
    difference: float
    low: float
    high: float
    p: float  # adjusted for the number of pairs
    outcome: str  # "higher", "lower" (the first against the second) or "cannot tell yet"
    sentence: str


@formula(
    "y = μ + αᵢ + βⱼ + (αβ)ᵢⱼ + e;  sums of squares of type II",
    source="box_cox_1964",
    holds_when="one value a coupon, coupons independent, near normal with one common spread, several a cell",
    library="statsmodels.stats.anova.anova_lm",
)
def two_way_anova(values: Sequence[float], first: Sequence, second: Sequence) -> tuple[VarianceLine, ...]:
    """Do two factors of a recipe act, and does one change what the other does?

    Parameters
    ----------
    values : sequence of float
        One value a coupon, any unit.
    first, second : sequence
        Level of each factor for each coupon.

    Returns
    -------
    tuple of VarianceLine
        "first", "second", "interaction", "residual".

    Raises
    ------
    ValueError
        For NaN, other lengths, a factor with one level, a combination of levels without a coupon, only one coupon a
        combination, or values without spread inside the combinations.

    Source: `box_cox_1964` (poison data).

    >>> lines = two_way_anova([1, 2, 3, 4, 6, 5, 9, 8], list("aaaabbbb"), list("ccddccdd"))
    >>> [round(line.sum_of_squares, 2) for line in lines]
    [40.5, 12.5, 0.5, 2.0]
    """
    numbers = sample(values)
    rows, columns = (np.unique([str(level) for level in factor], return_inverse=True)[1] for factor in (first, second))
    if not rows.shape == columns.shape == numbers.shape:
        raise ValueError(f"{rows.size} and {columns.size} levels for {numbers.size} values")
    cells = rows * (columns.max() + 1) + columns
    counts = np.bincount(cells, minlength=(rows.max() + 1) * (columns.max() + 1))
    if min(rows.max(), columns.max()) < 1 or counts.min() < 1 or counts.max() < 2:
        raise ValueError("each factor needs two levels, each combination a coupon, and one of them two coupons")
    size = float(np.max(np.abs(numbers)))
    if all(np.ptp(numbers[cells == cell]) <= 1e-13 * size for cell in np.unique(cells)):
        raise ValueError("no combination shows any spread between its coupons")
    import pandas as pd
    from statsmodels.formula.api import ols
    from statsmodels.stats.anova import anova_lm

    frame = pd.DataFrame({"y": numbers - numbers[0], "a": rows, "b": columns})  # a common part would cost digits
    table = anova_lm(ols("y ~ C(a) * C(b)", frame).fit(), typ=2)
    lines = [
        VarianceLine(label, float(line["sum_sq"]), int(line["df"]), float(line["F"]), float(line["PR(>F)"]))
        for label, (_, line) in zip(("first", "second", "interaction"), table.iloc[:3].iterrows(), strict=True)
    ]
    rest = table.iloc[3]
    return (*lines, VarianceLine("residual", float(rest["sum_sq"]), int(rest["df"]), None, None))


@formula(
    "x̄ᵢ − x̄ⱼ ± q(1 − α; k, N − k)·√(MSE/2·(1/nᵢ + 1/nⱼ))",
    source="nist_handbook_7_4_7_1",
    holds_when="one value a coupon, coupons independent, near normal with one common spread",
    library="scipy.stats.tukey_hsd",
)
def all_pairs(
    groups: Mapping[str, Sequence[float]], confidence: float = 0.95, unit: str = "", decimals: int = 2
) -> tuple[PairDifference, ...]:
    """Which of several recipes differ? All pairs by Tukey's honest significance, with one joint error rate.

    Parameters
    ----------
    groups : mapping of str to sequence of float
        One value a coupon of each recipe, any unit.
    confidence : float
        That all intervals hold at once [-].
    unit, decimals
        For the sentences.

    Returns
    -------
    tuple of PairDifference
        Each recipe against each later one, in the order given.

    Raises
    ------
    ValueError
        For NaN, an empty recipe, one with a single coupon, fewer than two recipes, or no spread within any.

    Source: `nist_handbook_7_4_7_1`.

    >>> pairs = all_pairs({"A": [6.9, 5.4, 5.8, 4.6, 4.0], "B": [8.3, 6.8, 7.8, 9.2, 6.5]})
    >>> pairs[0].outcome
    'lower'
    """
    require_share("confidence", confidence)
    arrays, names = _arrays(groups), [str(name) for name in groups]
    size = max(float(np.max(np.abs(array))) for array in arrays)
    if all(np.ptp(array) <= 1e-13 * size for array in arrays):
        raise ValueError("no recipe shows any spread between its coupons: no interval can be given")
    from scipy.stats import tukey_hsd

    found = tukey_hsd(*arrays)
    interval = found.confidence_interval(confidence)
    return tuple(
        _pair(
            (names[i], names[j]),
            tuple(float(numbers[i, j]) for numbers in (found.statistic, interval.low, interval.high, found.pvalue)),
            confidence,
            unit,
            decimals,
        )
        for i in range(len(arrays))
        for j in range(i + 1, len(arrays))
    )


def _arrays(groups: Mapping[str, Sequence[float]]) -> list[np.ndarray]:
    arrays = [sample(values) for values in groups.values()]
    if len(arrays) < 2:
        raise ValueError(f"{len(arrays)} recipes cannot be compared with each other")
    single = [str(name) for name, array in zip(groups, arrays, strict=True) if array.size < 2]
    if single:
        raise ValueError(
            f"each recipe needs two coupons or more; a single coupon of {', '.join(single)} shows no spread"
        )
    return arrays


def _pair(names, numbers, confidence, unit, decimals) -> PairDifference:
    difference, low, high, p = numbers
    outcome = HIGHER if low > 0 else LOWER if high < 0 else UNDECIDED
    behind = f"{'' if unit in ('', '°') else ' '}{unit}"
    figures = f"{difference:+.{decimals}f}{behind}, {percent(confidence)} interval for all pairs at once"
    figures = f"{figures} {low:+.{decimals}f} to {high:+.{decimals}f}".replace("-", "−")
    if outcome == UNDECIDED:
        sentence = f"Which of {names[0]} and {names[1]} is higher cannot be told yet ({figures})."
    else:
        sentence = f"{names[0]} is {outcome} than {names[1]} ({figures})."
    return PairDifference(*names, difference, low, high, p, outcome, sentence)
