"""Several tests at once: p values adjusted so that chance findings stay as rare as promised."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analysis.formula import formula
from analysis.statistics.comparison import sample
from analysis.statistics.replication import require_share

ROUNDING = 1e-12  # of alpha: 0.035·10/7 is a little more than 0.05 in binary
# our key -> the library's name
ADJUSTMENTS = {
    "bonferroni": "bonferroni",
    "holm": "holm",
    "hochberg": "simes-hochberg",
    "benjamini_hochberg": "fdr_bh",
    "benjamini_yekutieli": "fdr_by",
}


@dataclass(frozen=True, slots=True)
class AdjustedTests:
    """Adjusted p values in the order given, and which tests show something."""

    adjusted: tuple[float, ...]
    is_shown: tuple[bool, ...]
    n_shown: int
    method: str
    alpha: float


@formula(
    "Holm: max over j ≤ i of (m − j + 1)·p(j);  Hochberg: min over j ≥ i of (m − j + 1)·p(j);  "
    "Benjamini–Hochberg: min over j ≥ i of m·p(j)/j;  Benjamini–Yekutieli: that times Σ 1/i",
    source="holm_1979 hochberg_1988 benjamini_hochberg_1995 benjamini_yekutieli_2001",
    holds_when="Holm, Benjamini–Yekutieli: any dependence; Hochberg, Benjamini–Hochberg: independent or positive",
    library="statsmodels.stats.multitest.multipletests",
)
def adjusted_tests(p_values: Sequence[float], method: str = "holm", alpha: float = 0.05) -> AdjustedTests:
    """Which of several tests show something, when all of them are looked at?

    Parameters
    ----------
    p_values : sequence of float
        One a test [-], 0 to 1.
    method : str
        "holm", "hochberg" or "bonferroni" keep the chance of any false finding at alpha; "benjamini_hochberg" and
        "benjamini_yekutieli" keep the expected share of false ones among the findings at alpha.
    alpha : float
        That chance or share [-].

    Returns
    -------
    AdjustedTests
        Compare an adjusted p with alpha itself.

    Raises
    ------
    ValueError
        For NaN, no p values, one outside 0 to 1, or an unknown method.

    Source: `holm_1979`, `benjamini_hochberg_1995`.

    >>> adjusted_tests([0.01, 0.04, 0.03]).adjusted
    (0.03, 0.06, 0.06)
    """
    require_share("alpha", alpha)
    numbers = sample(p_values)
    if method not in ADJUSTMENTS:
        raise ValueError(f"unknown method {method!r}; there are {', '.join(ADJUSTMENTS)}")
    if np.any((numbers < 0) | (numbers > 1)):
        raise ValueError(f"a p value must lie between 0 and 1, not {numbers[(numbers < 0) | (numbers > 1)][0]:g}")
    from statsmodels.stats.multitest import multipletests

    _, adjusted, _, _ = multipletests(numbers, alpha, ADJUSTMENTS[method])
    shown = adjusted <= alpha * (1 + ROUNDING)
    return AdjustedTests(
        tuple(map(float, adjusted)), tuple(map(bool, shown)), int(np.count_nonzero(shown)), method, alpha
    )
