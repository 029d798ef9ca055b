"""How many further coupons would settle an open verdict."""

from __future__ import annotations

from typing import Protocol

import numpy as np

from analysis.formula import formula


class Spread(Protocol):
    """What an interval of a mean must say: mean, standard deviation over coupons, coupons, confidence."""

    mean: float
    sd: float | None
    n: int
    confidence: float


MOST = 1000  # further coupons beyond which nobody would go on testing; common practice, no source


@formula(
    "smallest k with t(n + k − 1; (1 + C)/2)·s/√(n + k) < |x̄ − limit|",
    source="nist_handbook_1_3_5_2",
    holds_when="mean and scatter of the coupons stay as they are, which nobody can promise",
    library="scipy.special.stdtrit",
)
def coupons_to_decide(interval: Spread, limit: float) -> int | None:
    """Further coupons after which the interval of the mean would no longer hold the limit.

    Parameters
    ----------
    interval : Spread
        Of the coupon values so far, at least two of them.
    limit : float
        In the unit of the values.

    Returns
    -------
    int or None
        0 when it is settled already; None when more than a thousand would be needed, or with one coupon.

    Source: `nist_handbook_1_3_5_2`.

    >>> from analysis.statistics.replication import mean_interval
    >>> coupons_to_decide(mean_interval([4.96, 1.28, 4.06, 1.40, 2.50, 3.12]), 3.5)
    19
    """
    from scipy.special import stdtrit

    if interval.sd is None:
        return None
    more = np.arange(MOST + 1)
    n = interval.n + more
    half_widths = stdtrit(n - 1, (1 + interval.confidence) / 2) * interval.sd / np.sqrt(n)
    settled = np.flatnonzero(half_widths < abs(interval.mean - limit))
    return int(more[settled[0]]) if settled.size else None
