"""Batches made by a known model, and how often what is stated of them is true.

Model: reading = true mean + coupon effect + drop effect, both normal; the drop standard deviation is 1 and the true
mean 0, so that every number is in drop standard deviations. Drops above a common stage limit did not move.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from itertools import product

import numpy as np
from scipy.special import ndtri

from tests.analysis.promises import rules

SEED = 20251125
BATCHES_AT_ONCE = 4000
COUPONS, DROPS, SPREADS, SHARES = (3, 4, 6, 10), (5, 10), (0.0, 0.5, 1.0, 3.0), (0.0, 0.1, 0.2, 0.4)


@dataclass(frozen=True, slots=True)
class Case:
    """One kind of batch."""

    coupons: int
    drops: int
    spread: float = 0.0  # standard deviation between coupons, in those of the drops
    censored: float = 0.0  # share of all drops beyond the stage limit
    is_balanced: bool = True  # else of every three coupons the second lacks 30 % of its drops, the third 60 %

    @property
    def sizes(self) -> np.ndarray:
        if self.is_balanced:
            return np.full(self.coupons, self.drops)
        return np.array([math.ceil(self.drops * (1.0, 0.7, 0.4)[coupon % 3]) for coupon in range(self.coupons)])

    @property
    def stage_limit(self) -> float:
        return -float(ndtri(self.censored)) * math.hypot(1, self.spread) if self.censored else math.inf

    def __str__(self):
        missing = "" if self.is_balanced else ", drops missing"
        beyond = f", {100 * self.censored:g} % censored" if self.censored else ""
        return f"{self.coupons} × {self.drops}, spread {self.spread:g}{beyond}{missing}"


def cases(coupons=COUPONS, drops=DROPS, spreads=SPREADS, shares=(0.0,), balance=(True,)) -> list[Case]:
    return [Case(*facts) for facts in product(coupons, drops, spreads, shares, balance)]


def batches(case: Case, replicates: int, seed: int = SEED) -> Iterator[rules.Batches]:
    """Invented batches of one kind, some thousands at once; the same seed gives the same batches."""
    facts = [case.coupons, case.drops, int(100 * case.spread), int(100 * case.censored), int(case.is_balanced)]
    rng = np.random.default_rng([seed, *facts])
    is_missing = np.arange(case.drops) >= case.sizes[:, None]
    for first in range(0, replicates, BATCHES_AT_ONCE):
        size = min(BATCHES_AT_ONCE, replicates - first)
        values = rng.normal(size=(size, case.coupons, case.drops))
        values += case.spread * rng.normal(size=(size, case.coupons, 1))
        values[:, is_missing] = math.nan
        stays = values > case.stage_limit  # NaN is not
        yield rules.Batches(np.where(stays, case.stage_limit, values), stays, case.stage_limit)


@dataclass(frozen=True, slots=True)
class Share:
    """How often something happened, with two Monte Carlo standard errors."""

    count: int
    total: int

    @property
    def value(self) -> float:
        return self.count / self.total if self.total else math.nan

    def error(self, at: float | None = None, times: float = 2) -> float:
        """Standard errors of a share that is really `at` (left out: the one found)."""
        share = self.value if at is None else at
        return times * math.sqrt(share * (1 - share) / max(self.total, 1))

    def is_at_most(self, bound: float, times: float = 4) -> bool:
        """Whether the share lies at or below a bound but for Monte Carlo error: four standard errors, since many
        cases are looked at (in 300 cases that lie exactly at the bound, one would fail by chance in 100 repeats)."""
        return self.value <= bound + self.error(bound, times)

    def is_at_least(self, bound: float, times: float = 4) -> bool:
        return self.value >= bound - self.error(bound, times)

    def __add__(self, other: Share) -> Share:
        return Share(self.count + other.count, self.total + other.total)

    def __str__(self):
        return f"{100 * self.value:.1f} ± {100 * self.error():.1f} %"


@dataclass(frozen=True, slots=True)
class Score:
    """What a rule said of batches whose true mean is 0, of which the limit 0 was asked."""

    answered: Share  # with an interval
    covered: Share  # of those
    below: Share  # of all: the interval lies wholly below the true mean, so it would pass "at most" that mean
    above: Share
    passed: Share  # of all, the worse of "at most" and "at least"
    failed: Share

    def __add__(self, other: Score) -> Score:
        return Score(*(getattr(self, name) + getattr(other, name) for name in Score.__slots__))


@lru_cache(maxsize=4096)
def score(rule: Callable, case: Case, replicates: int, seed: int = SEED) -> Score:
    """How often a rule's interval holds the true mean, and its verdicts when that mean sits at the limit."""
    counts = np.zeros(8, dtype=int)
    for batch in batches(case, replicates, seed):
        found = rule(batch)
        below, above = found.high < 0, found.low > 0  # NaN is neither
        verdicts = [found.verdict(0.0, side) for side in ("at_most", "at_least")]
        marks = [found.has_interval, found.has_interval & ~below & ~above, below, above]
        marks += [verdict * sign > 0 for sign in (1, -1) for verdict in verdicts]
        counts += [int(mark.sum()) for mark in marks]
    answered, covered, below, above, *judged = (int(count) for count in counts)
    rest = (Share(count, replicates) for count in (below, above, max(judged[:2]), max(judged[2:])))
    return Score(Share(answered, replicates), Share(covered, answered), *rest)


def how_often(case: Case, replicates: int, happens: Callable[[rules.Batches], np.ndarray], seed: int = SEED) -> Share:
    """Share of batches of which something is true."""
    return Share(sum(int(happens(batch).sum()) for batch in batches(case, replicates, seed)), replicates)


def extreme(scores: Iterable[Score], name: str, is_low: bool = False) -> Share:
    """The largest (or smallest) share of several cases."""
    return (min if is_low else max)((getattr(item, name) for item in scores), key=lambda share: share.value)
