"""Kinds of acceptance rule: one function each, found by the `criterion_kind` in front of it.

Every rule ends in pass, fail or inconclusive. A rule never passes on missing data, never pools liquids,
volumes or methods, and never takes a drop for a coupon. What a kind declares: `analysis.criterion`.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence

from analysis.batch import analyse_batch
from analysis.coupon_interval import coupon_interval, coupon_tolerance
from analysis.criterion import (
    CRITERION_KINDS,
    SIDES,
    Case,
    Parameter,
    applies,
    as_text,
    blank_outcome,
    checked,
    conditions,
    criterion_kind,
    percent,
    quantity_key,
)
from analysis.records import (
    FAIL,
    INCONCLUSIVE,
    PASS,
    BatchGroup,
    BatchResult,
    Criterion,
    Judgement,
    Outcome,
    Run,
)
from analysis.sources import citation
from analysis.statistics.censoring import proportion_lower_bound, proportion_upper_bound
from analysis.verdicts import (
    against_limit,
    censored_mean,
    fitted,
    gone,
    half_beyond,
    interval_verdict,
    left_out,
    too_little,
    turns_between,
    turns_of_interval,
    turns_of_worst,
    unknown,
    worst_value,
)

__all__ = ["CRITERION_KINDS", "judge", "judge_one"]

STATISTIC = Parameter(
    "statistic", "Value of a coupon", "mean", choices=(("mean", "mean of its drops"), ("median", "median"))
)
CONFIDENCE = Parameter("confidence", "Confidence", 0.95, low=0.5, high=0.999)
COVERAGE = Parameter("coverage", "Share of coupons to be held", 0.90, low=0.5, high=0.999)
FEWEST_DROPS = Parameter("fewest_drops", "Fewest drops to be tried", 1, low=1, high=10000)


@criterion_kind(
    "mean_interval",
    "Batch mean with its interval",
    "The interval of the batch mean, taken over coupon values, must lie wholly inside the limit.",
    "{quantity}_{statistic}",
    subject="{title}, mean of coupon {statistic}s",
    parameters=(STATISTIC, CONFIDENCE),
    formulas=("statistics.replication.mean_interval",),
)
def mean_within(case: Case) -> Outcome:
    """Interval rule on the mean of coupon means or medians (Student t, coupons − 1 degrees of freedom)."""
    confidence = case.parameters["confidence"]
    risk = percent((1 - confidence) / 2)
    rule = (
        f"Pass when the two-sided {percent(confidence)} interval of the batch mean (Student t over coupon "
        f"values, coupons − 1 degrees of freedom, {citation('nist_handbook_1_3_5_2')}) lies wholly inside "
        f"the limit, fail when wholly outside, otherwise inconclusive (three outcomes as in "
        f"{citation('iso_10576')}). Where this interval would leave the physical range it is taken on a transformed "
        f"scale and is that of the median; with drops that stayed beyond a limit it is that of a likelihood over "
        f"coupons and drops, and where no interval can be had then, at least half of the coupons beyond the limit fail "
        f"the batch (common practice, without a stated risk). With normal, independent coupons a batch whose true "
        f"mean lies beyond the limit passes with a risk of at most {risk}, and one whose true mean lies within it "
        f"fails with at most {risk}; each criterion and each further look at the batch carries this risk anew."
    )
    refusal = too_little(case, by_drops=True)
    if refusal:
        return case.outcome(INCONCLUSIVE, refusal, rule)
    if any(math.isinf(value) for value in case.known):
        return censored_mean(case, rule, confidence)
    interval = coupon_interval(case.values, case.quantity, confidence)
    if interval.mean is None:
        return case.outcome(INCONCLUSIVE, f"The batch mean cannot be given: {interval.how}.", rule)
    verdict = interval_verdict(case, interval.low, interval.high)
    how = f" ({interval.how})" if interval.how else ""
    why = (
        f"The mean of {interval.n} coupons is {case.text(interval.mean)}, {percent(confidence)} interval "
        f"{case.text(interval.low)} to {case.text(interval.high)}{how}: {against_limit(case, verdict)}."
    )
    if interval.low == interval.high:
        why += " All coupon values are equal, so the interval says nothing of their scatter or of the resolution."
    numbers = {"value": interval.mean, "low": interval.low, "high": interval.high, "confidence": confidence}
    numbers["turns"] = turns_of_interval(case, interval, verdict)
    numbers["formulas"] = (interval.formula,)
    return case.outcome(verdict, why + fitted(case) + gone(case) + left_out(case), rule, **numbers)


@criterion_kind(
    "retained_share",
    "Share retained after a dose",
    "The interval of the mean share of lubricant left on the coupons must lie wholly inside the limit.",
    "retained_share_mean",
    subject="{title}, mean of coupons",
    parameters=(CONFIDENCE,),
    quantity="retained_share",
    formulas=("statistics.replication.mean_interval",),
)
def share_retained(case: Case) -> Outcome:
    """Interval rule on each coupon's mass after the dose as a share of its own mass at dose 0."""
    outcome = mean_within(case)
    return dataclasses.replace(outcome, runs=case.group.baseline_runs + case.group.runs)


@criterion_kind(
    "worst_coupon",
    "Worst coupon",
    "No coupon may lie beyond the limit.",
    "{quantity}_{statistic}",
    subject="{title}, {statistic} of every coupon",
    parameters=(STATISTIC,),
)
def worst_within(case: Case) -> Outcome:
    """Every coupon's own value is held against the limit; nothing is said of coupons not tested."""
    rule = (
        "Pass when every coupon value meets the limit, fail when one does not; no allowance for its "
        "uncertainty (simple acceptance), and no statement on coupons that were not tested."
    )
    beyond = [item for item in case.values if case.is_known_beyond(item)]
    worst = worst_value(case)
    if beyond:
        named = ", ".join(item.coupon for item in beyond)
        why = f"{len(beyond)} of {len(case.known)} coupons beyond the limit: {named}."
        return case.outcome(FAIL, why, rule, value=worst, turns=turns_of_worst(case))
    refusal = unknown(case) or ("" if case.known else "No coupon gave a value.")
    undecided = [item.coupon for item in case.values if case.is_undecided(item)]
    if undecided:
        refusal = f"Beyond a {case.quantity.limit} that tells nothing about the limit: {', '.join(undecided)}."
    if refusal:
        return case.outcome(INCONCLUSIVE, refusal, rule, value=worst, turns=turns_of_worst(case))
    why = f"The worst of {len(case.known)} coupons has {case.text(worst)}."
    why += fitted(case) + gone(case) + left_out(case)
    return case.outcome(PASS, why, rule, value=worst, turns=turns_of_worst(case))


@criterion_kind(
    "count_not_moved",
    "Drops not moved",
    "The number of readings beyond their limit (drops not moved up to the stage limit) is held against the limit.",
    "{quantity}_not_moved",
    subject="{title}, number {beyond} up to the {end}",
    parameters=(CONFIDENCE, FEWEST_DROPS),
    unit="",
    decimals=0,
    formulas=("statistics.proportions.proportion_upper_bound",),
)
def count_within(case: Case) -> Outcome:
    """Count of drops that stayed, of all that were tried, with the exact bound of the share beside it."""
    confidence, fewest = case.parameters["confidence"], int(case.parameters["fewest_drops"])
    rule = (
        "Pass when the count meets the limit, fail when it does not; the bound says what the count leaves "
        f"open ({citation('clopper_pearson_1934')}). The bound takes drops as independent; where drops of one "
        "coupon are alike it is too narrow, and the outcome does not rest on it."
    )
    count, total = int(sum(case.known)), sum(item.n_drops for item in case.values)
    if not total:
        return case.outcome(INCONCLUSIVE, "No drop gave a reading.", rule)
    at_most = case.criterion.side == "at_most"
    bound = (proportion_upper_bound if at_most else proportion_lower_bound)(count, total, confidence)
    is_settled = case.meets(count) != at_most  # more drops cannot undo a count that is too high, or high enough
    numbers = {"value": float(count), "confidence": confidence}
    why = (
        f"{count} of {total} {case.quantity.beyond}; the true share is {SIDES[case.criterion.side]} "
        f"{as_text(100 * bound, '%', 1)} (exact one-sided {percent(confidence)} bound)."
    )
    if total < fewest and at_most:
        numbers["turns"] = f"It passes at no limit while fewer than {fewest} drops have been tried."
    if total < fewest and not is_settled:
        why = f"{why} The criterion asks for at least {fewest} drops."
        return case.outcome(INCONCLUSIVE, why, rule, **numbers)
    return case.outcome(PASS if case.meets(count) else FAIL, why + left_out(case), rule, **numbers)


@criterion_kind(
    "tolerance_limit",
    "Tolerance limit over coupons",
    "The one-sided normal tolerance limit of the coupon means must lie inside the limit.",
    "{quantity}_mean",
    subject="{title}, tolerance limit of coupon means for {coverage} of coupons",
    parameters=(COVERAGE, CONFIDENCE),
    formulas=("statistics.tolerance.tolerance_factor_one_sided",),
)
def tolerance_within(case: Case) -> Outcome:
    """A share of all coupons (coverage) lies inside the limit with the stated confidence; normal coupons."""
    coverage, confidence = case.parameters["coverage"], case.parameters["confidence"]
    rule = (
        f"Pass when the one-sided normal tolerance limit (coverage {percent(coverage)}, confidence "
        f"{percent(confidence)}, {citation('nist_handbook_7_2_6_3')}) lies inside the limit; fail when the "
        f"bound of the same quantile from the other side shows, with the same confidence, that fewer coupons "
        f"do; otherwise inconclusive. Where normal tolerance limits would leave the physical range, both are taken "
        f"on a transformed scale."
    )
    refusal = too_little(case)
    if refusal:
        return case.outcome(INCONCLUSIVE, refusal, rule)
    if any(math.isinf(value) for value in case.known):
        return half_beyond(case, rule) or case.outcome(
            INCONCLUSIVE, f"A coupon lies beyond the {case.quantity.limit}: there is no tolerance limit.", rule
        )
    side = "upper" if case.criterion.side == "at_most" else "lower"
    found = coupon_tolerance(case.known, case.quantity, coverage, confidence, side)
    verdict = PASS if case.meets(found.limit) else INCONCLUSIVE if case.meets(found.other) else FAIL
    why = (
        f"{percent(coverage)} of coupons are {SIDES[case.criterion.side]} {case.text(found.limit)} with "
        f"{percent(confidence)} confidence ({found.how}); from the other side the same quantile is "
        f"bounded by {case.text(found.other)}."
    )
    turns = turns_between(case, found.limit, found.other)
    numbers = {"value": found.limit, "confidence": confidence, "turns": turns, "formulas": found.formulas}
    return case.outcome(verdict, why + left_out(case), rule, **numbers)


def judge(criteria: Sequence[Criterion], runs: Sequence[Run]) -> Judgement:
    """Hold the runs of a batch against every criterion.

    Parameters
    ----------
    criteria : sequence of Criterion
        At least one; each with a known kind, quantity, side and parameters.
    runs : sequence of Run
        All runs of the batch: each criterion takes those that it names.

    Returns
    -------
    Judgement
        Fail when a criterion fails, else inconclusive when one is, else pass.

    Raises
    ------
    ValueError
        For no criteria, an unknown kind, quantity, side or parameter, a limit that is not a finite number,
        and as in `analysis.batch.analyse_batch`.

    Source: `iso_17025_7_8_6`.

    >>> judge([Criterion("C1", "mean_interval", "hysteresis", 3.5)], []).verdict
    'inconclusive'
    """
    if not criteria:
        raise ValueError("a judgement needs at least one criterion")
    result = analyse_batch(runs)
    outcomes = tuple(judge_one(criterion, result) for criterion in criteria)
    verdicts = {outcome.verdict for outcome in outcomes}
    verdict = next((worst for worst in (FAIL, INCONCLUSIVE) if worst in verdicts), PASS)
    return Judgement(verdict, outcomes)


def judge_one(criterion: Criterion, result: BatchResult) -> Outcome:
    """The outcome of one criterion; what it raises is said at `judge`."""
    kind, parameters = checked(criterion)
    key = kind.statistic.format(quantity=quantity_key(criterion, kind), **parameters)
    groups = [group for group in result.groups if applies(criterion, group) and key in group.coupon_values]
    if len(groups) != 1:
        why = _several(groups) if groups else f"No run of {conditions(criterion)} gives what is asked for."
        outcome = blank_outcome(criterion, kind, parameters, INCONCLUSIVE, why)
        return dataclasses.replace(outcome, runs=tuple(code for group in groups for code in group.runs))
    return kind.decide(Case(criterion, kind, parameters, groups[0], groups[0].coupon_values[key]))


def _several(groups: Sequence[BatchGroup]) -> str:
    found = {
        name: sorted({str(getattr(group, key)) for group in groups})
        for name, key in (
            ("liquid", "liquid"),
            ("drop volume", "drop_volume_ul"),
            ("method", "method"),
            ("exposure", "exposure"),
        )
    }
    named = "; ".join(f"{name} {', '.join(values)}" for name, values in found.items() if len(values) > 1)
    return (
        f"The criterion applies to {len(groups)} groups of runs that differ ({named or 'dose kind'}): "
        "liquids, volumes, methods and exposures are never pooled, so it must name one."
    )
