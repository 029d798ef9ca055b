"""The figures of DEVELOPERS.md: `python -m tests.analysis.promises.table` simulates them all and prints the tables.

With the word `quick` a fiftieth of the batches: a look whether all of it runs.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from analysis.statistics.acceptance import acceptance_probability
from tests.analysis.promises import components, ends, limits, rules
from tests.analysis.promises.simulation import SHARES, Case, Score, Share, cases, extreme, score

PLENTY, MANY, FEW = 20_000, 6_000, 3_000
PASS_RISK, LEAST, MOST = 0.025, 0.93, 0.97


@dataclass(frozen=True, slots=True)
class Scored:
    """One rule on several kinds of batch."""

    label: str
    scores: dict[Case, Score]

    @property
    def covers(self) -> bool:
        """93 to 97 % in every case, but for Monte Carlo error."""
        return all(item.covered.is_at_least(LEAST) and item.covered.is_at_most(MOST) for item in self.scores.values())

    @property
    def keeps_risk(self) -> bool:
        return all(item.passed.is_at_most(PASS_RISK) for item in self.scores.values())

    @property
    def cells(self) -> list[str]:
        found = self.scores.values()
        low, high = extreme(found, "covered", is_low=True), extreme(found, "covered")
        worst = extreme(found, "answered", is_low=True), low, high, extreme(found, "passed"), extreme(found, "failed")
        return [self.label, str(len(found)), *(str(share) for share in worst)]


@dataclass(frozen=True, slots=True)
class Kept:
    """Another promise: what is claimed, what was found, and whether it holds."""

    what: str
    claim: str
    found: str
    is_kept: bool

    @property
    def cells(self) -> list[str]:
        return [self.what, self.claim, self.found, "yes" if self.is_kept else "**no**"]


def scored(label: str, rule: Callable, kinds: Sequence[Case], sizes: tuple[int, int], part: int) -> Scored:
    """`sizes`: batches a case with up to 4 coupons, and with more."""
    return Scored(label, {case: score(rule, case, sizes[case.coupons > 4] // part) for case in kinds})


@lru_cache(maxsize=2)
def intervals(part: int = 1) -> tuple[Scored, ...]:
    """Interval and verdict of the batch mean, in the order of the table."""
    return tuple(_intervals(part))


def _intervals(part: int) -> Iterator[Scored]:
    for rule, name in ((rules.by_means, "means"), (rules.by_medians, "medians")):
        for share in SHARES:
            for is_balanced in (True, False):
                beyond = f"{100 * share:g} % of drops beyond" if share else "all drops measured"
                label = f"coupon {name}, {beyond}{'' if is_balanced else ', drops missing'}"
                slow = share and rule is rules.by_means
                coupons = (3, 6) if slow and not is_balanced else (3, 4, 6, 10)
                kinds = cases(coupons, shares=(share,), balance=(is_balanced,))
                yield scored(label, rule, kinds, (MANY, FEW) if slow else (PLENTY, PLENTY), part)


@lru_cache(maxsize=2)
def contrasts(part: int = 1) -> tuple[Scored, ...]:
    """What wrong ways would give; the product does not offer them."""
    plenty = (PLENTY, PLENTY)
    return (
        scored("wrong: drops pooled, 3 × 10, spread 1.25", rules.pooled, [Case(3, 10, 1.25)], plenty, part),
        scored("coupon means, the same batches", rules.by_means, [Case(3, 10, 1.25)], plenty, part),
        scored("wrong: limit for the drop, 20 % beyond", rules.limit_for_the_drop, cases(shares=(0.2,)), plenty, part),
    )


@lru_cache(maxsize=2)
def others(part: int = 1) -> tuple[Kept, ...]:
    """Tolerance limits, acceptance by variables, components of variance, and values near the end of their range."""
    return (
        *_tolerances(PLENTY // part, max(1000 // part, 50)),
        *_components(PLENTY // part, max(300 // part, 10)),
        *_near_an_end(max(4000 // part, 100)),
    )


def _range(shares: dict) -> str:
    low, high = (pick(shares, key=lambda kind: shares[kind].value) for pick in (min, max))
    return f"{shares[low]} ({low}) to {shares[high]} ({high})"


def _at_least(what: str, shares: dict, claim: float) -> Kept:
    kept = all(share.is_at_least(claim) for share in shares.values())
    return Kept(what, f"at least {100 * claim:g} %", _range(shares), kept)


def _at_most(what: str, shares: dict, claim: float) -> Kept:
    kept = all(share.is_at_most(claim) for share in shares.values())
    return Kept(what, f"at most {100 * claim:g} %", _range(shares), kept)


def _each(kinds: Sequence[Case], happens: Callable[[Case, int], Share], replicates: int) -> dict[Case, Share]:
    return {case: happens(case, replicates) for case in kinds}


def _tolerances(plenty: int, few: int) -> Iterator[Kept]:
    for is_balanced, words in ((True, ""), (False, ", drops missing")):
        kinds = cases(balance=(is_balanced,))
        yield _at_least(f"one-sided tolerance limit{words}", _each(kinds, limits.holds_one_sided, plenty), 0.95)
        yield _at_least(f"two-sided tolerance interval{words}", _each(kinds, limits.holds_two_sided, plenty), 0.95)
        single = cases((3, 6, 10) if is_balanced else (6,), balance=(is_balanced,))
        yield _at_least(f"tolerance limit for single drops{words}", _each(single, limits.drops_held, few), 0.95)
    for share in SHARES:
        words = f"{100 * share:g} % of drops beyond" if share else "all drops measured"
        found = _each(cases(shares=(share,)), limits.passes_at_the_quantile, plenty)
        yield _at_most(f"tolerance rule passes at the limit, {words}", found, 0.05)
    for depth, words in ((1, "one-sided"), (2, "two-sided")):
        n, share = limits.holds_without_distribution(depth, plenty)
        found = f"{share} ({n} coupons, exponential values)"
        yield Kept(f"distribution-free limit, {words}", "at least 95 %", found, share.is_at_least(0.95))
    yield _acceptance(plenty)
    for spreads, words in (((0.0,), "are alike"), ((0.5, 1.0, 3.0), "differ")):
        held = _each(cases(spreads=spreads, shares=SHARES[1:]), limits.bound_holds, plenty)
        yield _at_least(f"bound of the share of drops that stay, coupons {words}", held, 0.95)


def _acceptance(plenty: int) -> Kept:
    worst, is_kept = "", True
    most = 0.0
    for n, k in ((3, 0.9), (6, 1.3), (10, 1.5)):
        for quality in (0.01, 0.05, 0.10, 0.25):
            share = limits.accepted_by_variables(Case(n, 5, 1.0), k, quality, plenty)
            expected = float(acceptance_probability(n, k, quality))
            is_kept &= abs(share.value - expected) <= share.error(expected, times=4)
            if abs(share.value - expected) >= most:
                most = abs(share.value - expected)
                worst = f"{share} for {100 * expected:.1f} % ({n} coupons, k = {k}, {100 * quality:g} % beyond)"
    return Kept("operating characteristic of acceptance by variables", "as computed", f"farthest {worst}", is_kept)


def _components(plenty: int, few: int) -> Iterator[Kept]:
    for is_balanced, words in ((True, ""), (False, ", drops missing")):
        farthest, is_kept, told = -1.0, True, ""
        for case in cases(balance=(is_balanced,)):
            between, within = components.average_moments(case, plenty)
            for found, true, name in ((between, case.spread**2, "between"), (within, 1.0, "within")):
                errors = abs(found.value - true) / (found.error / 2)
                is_kept &= bool(errors <= 4)
                if errors > farthest:
                    farthest, told = errors, f"{found.value:.3f} ± {found.error:.3f} for {true:g} ({name}, {case})"
        yield Kept(f"variances by moments{words}", "right on average", f"farthest {told}", is_kept)
    fits = {case: components.by_restricted_likelihood(case, few) for case in cases((3, 6), (5,), (0.0, 1.0, 3.0))}
    least = min(float(np.nanmin(found)) for found in fits.values())
    fitted = all(np.isfinite(found).all() for found in fits.values())
    yield Kept("variances by REML", "none below 0", f"smallest {least:.3f}, all fitted", least >= 0 and fitted)
    kinds = cases()
    held = _each(kinds, components.correlation_held, plenty)
    yield _at_least("interval of the intraclass correlation", held, 0.95)
    yield _at_least("Satterthwaite interval of the SD of a reading", _each(kinds, components.total_held, plenty), 0.93)


def _near_an_end(replicates: int) -> Iterator[Kept]:
    for draw, centres, words in (
        (ends.normal_values, ends.normal_centres(), "normal coupons 2.5 SD from 0"),
        (ends.skewed_values, ends.skewed_centres(), "lognormal coupons (σ 0.6), outside the model"),
    ):
        found = {coupons: ends.held(draw, centres, coupons, replicates) for coupons in (3, 4, 6, 10)}
        for place, what in enumerate(("the mean", "what the result names, mean or median")):
            shares = {f"{coupons} coupons": pair[place] for coupons, pair in found.items()}
            yield _at_least(f"interval of {what}: {words}", shares, LEAST)


def as_markdown(head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    lines = [head, ["---"] * len(head), *rows]
    return "\n".join("| " + " | ".join(line) + " |" for line in lines)


INTERVAL_HEAD = (
    "batches",
    "cases",
    "with interval",
    "coverage, least",
    "greatest",
    "passes at limit",
    "fails at limit",
)
OTHER_HEAD = ("promise", "claim", "found (2 Monte Carlo SE)", "kept")


def tables(part: int = 1) -> str:
    first = as_markdown(INTERVAL_HEAD, [row.cells for row in (*intervals(part), *contrasts(part))])
    return f"{first}\n\n{as_markdown(OTHER_HEAD, [row.cells for row in others(part)])}"


if __name__ == "__main__":
    print(tables(50 if "quick" in sys.argv else 1))
