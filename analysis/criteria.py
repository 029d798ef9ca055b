"""Kinds of acceptance rule: one function each, found by the `criterion_kind` in front of it.

Every rule ends in pass, fail or inconclusive. A rule never passes on missing data, never pools liquids,
volumes or methods, and never takes a drop for a coupon. What a kind declares: `analysis.criterion`.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence

from analysis.batch import analyse_batch
from analysis.coupon_values import LEAST, fit_over_coupons
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
from analysis.statistics.replication import MeanInterval, mean_interval
from analysis.statistics.sample_size import coupons_to_decide
from analysis.statistics.tolerance import tolerance_limit

__all__ = ["CRITERION_KINDS", "judge", "judge_one"]

FEWEST_COUPONS = 3  # for a statement about the batch; common practice, no source

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
        f"{citation('iso_10576')}). With normal, independent coupons a batch whose true mean lies beyond the "
        f"limit passes with a risk of at most {risk}, and one whose true mean lies within it fails with at most "
        f"{risk}; each criterion and each further look at the batch carries this risk anew."
    )
    refusal = _too_little(case)
    if refusal:
        return case.outcome(INCONCLUSIVE, refusal, rule)
    if any(math.isinf(value) for value in case.known):
        return _censored_mean(case, rule, confidence)
    interval = mean_interval(case.known, confidence)
    verdict = _interval_verdict(case, interval.low, interval.high)
    why = (
        f"The mean of {interval.n} coupons is {case.text(interval.mean)}, {percent(confidence)} interval "
        f"{case.text(interval.low)} to {case.text(interval.high)}: {_against_limit(case, verdict)}."
    )
    if interval.low == interval.high:
        why += " All coupon values are equal, so the interval says nothing of their scatter or of the resolution."
    numbers = {"value": interval.mean, "low": interval.low, "high": interval.high, "confidence": confidence}
    numbers["turns"] = _turns_of_interval(case, interval, verdict)
    return case.outcome(verdict, why + _fitted(case) + _gone(case) + _left_out(case), rule, **numbers)


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
    worst = _worst(case)
    if beyond:
        named = ", ".join(item.coupon for item in beyond)
        why = f"{len(beyond)} of {len(case.known)} coupons beyond the limit: {named}."
        return case.outcome(FAIL, why, rule, value=worst)
    refusal = _unknown(case) or ("" if case.known else "No coupon gave a value.")
    undecided = [item.coupon for item in case.values if case.is_undecided(item)]
    if undecided:
        refusal = f"Beyond a stage limit that tells nothing about the limit: {', '.join(undecided)}."
    if refusal:
        return case.outcome(INCONCLUSIVE, refusal, rule, value=worst)
    why = f"The worst of {len(case.known)} coupons has {case.text(worst)}."
    why += _fitted(case) + _gone(case) + _left_out(case)
    return case.outcome(PASS, why, rule, value=worst)


@criterion_kind(
    "count_not_moved",
    "Drops not moved",
    "The number of drops that did not move up to the stage limit is held against the limit.",
    "{quantity}_not_moved",
    subject="{title}, number of drops not moved up to the stage limit",
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
        f"{count} of {total} drops did not move; the true share is {SIDES[case.criterion.side]} "
        f"{as_text(100 * bound, '%', 1)} (exact one-sided {percent(confidence)} bound)."
    )
    if total < fewest and not is_settled:
        why = f"{why} The criterion asks for at least {fewest} drops."
        return case.outcome(INCONCLUSIVE, why, rule, **numbers)
    return case.outcome(PASS if case.meets(count) else FAIL, why + _left_out(case), rule, **numbers)


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
        f"do; otherwise inconclusive."
    )
    refusal = _too_little(case)
    if refusal:
        return case.outcome(INCONCLUSIVE, refusal, rule)
    if any(math.isinf(value) for value in case.known):
        return _half_beyond(case, rule) or case.outcome(
            INCONCLUSIVE, "A coupon lies beyond the stage limit: there is no tolerance limit.", rule
        )
    side = "upper" if case.criterion.side == "at_most" else "lower"
    tolerance = tolerance_limit(case.known, coverage, confidence, side)
    other = tolerance_limit(case.known, coverage, 1 - confidence, side).limit
    verdict = PASS if case.meets(tolerance.limit) else INCONCLUSIVE if case.meets(other) else FAIL
    why = (
        f"{percent(coverage)} of coupons are {SIDES[case.criterion.side]} {case.text(tolerance.limit)} with "
        f"{percent(confidence)} confidence (mean {case.text(tolerance.mean)}, SD {case.text(tolerance.sd)}, "
        f"factor {tolerance.factor:.3f}, {tolerance.n} coupons); from the other side the same quantile is "
        f"bounded by {case.text(other)}."
    )
    return case.outcome(verdict, why + _left_out(case), rule, value=tolerance.limit, confidence=confidence)


def _turns_of_interval(case: Case, interval: MeanInterval, verdict: str) -> str:
    """What would change the verdict of an interval: another limit, a shift of all coupons, more coupons."""
    limit, at_most = case.criterion.limit, case.criterion.side == "at_most"
    near, far = (interval.high, interval.low) if at_most else (interval.low, interval.high)
    passing, failing = ("or more", "below") if at_most else ("or less", "above")
    told = (
        f"With these coupons it passes for a limit of {case.text(near)} {passing}, fails for one {failing} "
        f"{case.text(far)}, and is inconclusive between."
    )
    if verdict != INCONCLUSIVE:
        room = abs((near if verdict == PASS else far) - limit)
        return f"{told} All coupons together would have to move by {case.text(room)} and past it."
    more = coupons_to_decide(interval, limit)
    if more is None:
        return f"{told} More coupons alone are not likely to decide: the mean lies too near the limit."
    return f"{told} With the same mean and scatter, {more} further coupons would decide it."


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


def _too_little(case: Case) -> str:
    """Why a statement about the batch cannot be made; empty when it can."""
    unknown = _unknown(case)
    if unknown:
        return unknown
    if len(case.known) < FEWEST_COUPONS:
        return f"{len(case.known)} coupons with a value: the rule needs at least {FEWEST_COUPONS} coupons."
    return ""


def _unknown(case: Case) -> str:
    """Coupons that were read but whose value cannot be given: leaving them out would choose the result."""
    named = [item.coupon for item in case.values if item.is_unknown]
    if not named:
        return ""
    return f"No value can be given for coupon {', '.join(named)}, and a coupon that was read is not left out."


def _left_out(case: Case) -> str:
    named = [item.coupon for item in case.values if item.value is None and not item.is_unknown]
    return f" Without a usable reading: {', '.join(named)}." if named else ""


def _fitted(case: Case) -> str:
    """Where drops did not move, how the coupon's mean was still found."""
    if case.parameters.get("statistic") != "mean" or not any(item.n_not_moved for item in case.values):
        return ""
    return " Coupons with drops that did not move enter with the mean of a fitted censored normal distribution."


def _gone(case: Case) -> str:
    """Drops that moved on placing: how many there are, and what each counts as."""
    count = sum(item.n_on_placing for item in case.values)
    in_median = case.parameters.get("statistic") == "median"
    how = "ranks below all others" if in_median else f"counts as {LEAST}, the least a sliding angle can be"
    return f" Drops that moved on placing: {count}; each {how}." if count else ""


def _censored_mean(case: Case, rule: str, confidence: float) -> Outcome:
    """Coupons beyond the stage limit: the mean is not finite, so the rule cannot pass."""
    outcome = _half_beyond(case, rule)
    if outcome:
        return outcome
    count = sum(math.isinf(value) for value in case.known)
    start = f"{count} of {len(case.known)} coupons lie beyond the stage limit, so the batch mean is not finite"
    fit = fit_over_coupons(case.values, confidence)
    if not fit.is_fitted:
        return case.outcome(INCONCLUSIVE, f"{start} and no distribution can be fitted: {fit.note}.", rule)
    verdict = _interval_verdict(case, fit.low, fit.high)
    why = (
        f"{start}; a censored normal distribution over coupons has the mean {case.text(fit.mu)}, "
        f"{percent(confidence)} profile likelihood interval {case.text(fit.low)} to {case.text(fit.high)}."
    )
    if verdict == PASS:
        verdict, why = INCONCLUSIVE, f"{why} It lies inside the limit, but such a batch does not pass."
    numbers = {"value": fit.mu, "low": fit.low, "high": fit.high, "confidence": confidence}
    return case.outcome(verdict, why, rule, **numbers)


def _half_beyond(case: Case, rule: str) -> Outcome | None:
    beyond = sum(case.is_known_beyond(item) for item in case.values)
    if 2 * beyond < len(case.known):
        return None
    why = (
        f"{beyond} of {len(case.known)} coupons are known to lie beyond the limit, with drops that never "
        "moved among them: at least half, which fails the batch (common practice, no source)."
    )
    return case.outcome(FAIL, why, rule, value=math.inf)


def _worst(case: Case) -> float | None:
    if not case.known:
        return None
    return max(case.known) if case.criterion.side == "at_most" else min(case.known)


def _interval_verdict(case: Case, low: float, high: float) -> str:
    inside = case.meets(low), case.meets(high)
    return PASS if all(inside) else FAIL if not any(inside) else INCONCLUSIVE


def _against_limit(case: Case, verdict: str) -> str:
    words = {PASS: "wholly inside", FAIL: "wholly outside", INCONCLUSIVE: "on both sides of"}
    return f"{words[verdict]} the limit {case.text(case.criterion.limit)}"
