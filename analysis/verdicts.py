"""What the kinds of acceptance rule share: what is missing, where an interval lies, what would change a verdict."""

from __future__ import annotations

import math

from analysis.coupon_interval import CouponInterval, coupon_interval, in_range
from analysis.coupon_values import LEAST, fit_over_coupons
from analysis.criterion import Case, percent
from analysis.records import FAIL, INCONCLUSIVE, PASS, Outcome
from analysis.statistics.sample_size import coupons_to_decide

FEWEST_COUPONS = 3  # for a statement about the batch; common practice, no source


def turns_of_interval(case: Case, interval: CouponInterval, verdict: str) -> str:
    """What would change the verdict of an interval: another limit, a shift of all coupons, more coupons."""
    limit, at_most = case.criterion.limit, case.criterion.side == "at_most"
    near, far = (interval.high, interval.low) if at_most else (interval.low, interval.high)
    told = turns_between(case, near, far)
    if interval.sd is None:  # a shift or more coupons would change the scale as well
        return told
    if verdict != INCONCLUSIVE:
        room = abs((near if verdict == PASS else far) - limit)
        return f"{told} All coupons together would have to move by {case.text(room)} and past it."
    more = coupons_to_decide(interval, limit)
    if more is None:
        return f"{told} More coupons alone are not likely to decide: the mean lies too near the limit."
    return f"{told} With the same mean and scatter, {more} further coupons would decide it."


def turns_between(case: Case, near: float, far: float) -> str:
    """Where the verdict turns: it passes from one end on, fails from the other on; an infinite end is never reached."""
    at_most = case.criterion.side == "at_most"
    passing, failing = ("or more", "below") if at_most else ("or less", "above")
    passes = f"passes for a limit of {case.text(near)} {passing}" if math.isfinite(near) else "passes for no limit"
    fails = f"fails for one {failing} {case.text(far)}" if math.isfinite(far) else "fails for none"
    between = "between" if math.isfinite(near) and math.isfinite(far) else "else"
    return f"With these coupons it {passes}, {fails}, and is inconclusive {between}."


def turns_of_worst(case: Case) -> str:
    """What would change the verdict on the worst coupon; a coupon beyond its limit meets what lies no farther out."""
    at_most = case.criterion.side == "at_most"
    beyond = [item for item in case.values if item.value is not None and math.isinf(item.value)]
    if not case.known or unknown(case):
        return "It changes when a value can be given for every coupon that was read."
    if beyond and (at_most or any(item.stage_limit is None for item in beyond)):
        return f"With these coupons it passes for no limit: {beyond[0].coupon} lies beyond the {case.quantity.limit}."
    ends = [item.stage_limit if item in beyond else item.value for item in case.values if item.value is not None]
    turn, side = (max(ends), "or more") if at_most else (min(ends), "or less")
    return f"With these coupons it passes for a limit of {case.text(turn)} {side}, and for no other."


def too_little(case: Case, by_drops: bool = False) -> str:
    """Why a statement about the batch cannot be made; empty when it can.

    `by_drops`: where drops did not move the rule rests on the drops, so a coupon needs no value of its own.
    """
    refusal = unknown(case, by_drops)
    if refusal:
        return refusal
    count = sum(item.value is not None or (by_drops and bool(item.drops)) for item in case.values)
    return (
        ""
        if count >= FEWEST_COUPONS
        else f"{count} coupons with a value: the rule needs at least {FEWEST_COUPONS} coupons."
    )


def unknown(case: Case, by_drops: bool = False) -> str:
    """Coupons that were read but whose value cannot be given: leaving them out would choose the result."""
    named = [item.coupon for item in case.values if item.is_unknown and not (by_drops and item.drops)]
    if not named:
        return ""
    return f"No value can be given for coupon {', '.join(named)}, and a coupon that was read is not left out."


def left_out(case: Case) -> str:
    named = [item.coupon for item in case.values if item.value is None and not item.is_unknown]
    return f" Without a usable reading: {', '.join(named)}." if named else ""


def fitted(case: Case) -> str:
    """Where drops did not move, how the coupon's mean was still found."""
    if case.parameters.get("statistic") != "mean" or not any(item.n_not_moved for item in case.values):
        return ""
    return f" Where drops were {case.quantity.beyond}, a coupon's own mean is that of a fitted censored normal."


def gone(case: Case) -> str:
    """Drops that moved on placing: how many there are, and what each counts as."""
    count = sum(item.n_on_placing for item in case.values)
    in_median = case.parameters.get("statistic") == "median"
    how = "ranks below all others" if in_median else f"counts as {LEAST}, the least a sliding angle can be"
    return f" Drops that moved on placing: {count}; each {how}." if count else ""


def censored_mean(case: Case, rule: str, confidence: float) -> Outcome:
    """Coupons beyond the stage limit: the mean is not finite, so a rule with an upper limit cannot pass."""
    count = sum(math.isinf(value) for value in case.known)
    start = (
        f"{count} of {len(case.known)} coupons lie beyond the {case.quantity.limit}, so the batch mean is not finite"
    )
    has_drops = any(item.drops for item in case.values)
    fit = coupon_interval(case.values, case.quantity, confidence) if has_drops else over_medians(case, confidence)
    if fit.mean is None:
        why = f"{start} and no distribution can be fitted: {fit.how}."
        return half_beyond(case, rule) or case.outcome(INCONCLUSIVE, why, rule)
    verdict = interval_verdict(case, fit.low, fit.high)
    why = (
        f"{start}; {fit.how} gives the mean {case.text(fit.mean)}, {percent(confidence)} interval "
        f"{case.text(fit.low)} to {case.text(fit.high)}."
    )
    if verdict == PASS and case.criterion.side == "at_most":
        verdict, why = INCONCLUSIVE, f"{why} It lies inside the limit, but such a batch does not pass."
    numbers = {
        "value": fit.mean,
        "low": fit.low,
        "high": fit.high,
        "confidence": confidence,
        "formulas": (fit.formula,),
    }
    at_most = case.criterion.side == "at_most"  # such a batch does not pass, whatever the limit
    numbers["turns"] = turns_between(case, math.inf if at_most else fit.low, fit.low if at_most else fit.high)
    return case.outcome(verdict, why, rule, **numbers)


def over_medians(case: Case, confidence: float) -> CouponInterval:
    """Coupon values of which some lie beyond the stage limit, as a censored normal sample."""
    fit = fit_over_coupons(case.values, confidence)
    how = fit.note or "the profile likelihood of a censored normal distribution over coupons"
    mean, low, high = (in_range(end, case.quantity) for end in (fit.mu, fit.low, fit.high))
    return CouponInterval(mean, low, high, confidence, fit.n, None, how, "statistics.censoring.censored_normal_fit")


def half_beyond(case: Case, rule: str) -> Outcome | None:
    """Where no interval can be had: at least half of the coupons known to lie beyond the limit fail the batch."""
    beyond = sum(case.is_known_beyond(item) for item in case.values)
    if 2 * beyond < len(case.known):
        return None
    why = (
        f"{beyond} of {len(case.known)} coupons are known to lie beyond the limit, with drops that never "
        "moved among them: at least half, which fails the batch (common practice, no source)."
    )
    return case.outcome(FAIL, why, rule, value=math.inf)


def worst_value(case: Case) -> float | None:
    if not case.known:
        return None
    return max(case.known) if case.criterion.side == "at_most" else min(case.known)


def interval_verdict(case: Case, low: float, high: float) -> str:
    inside = case.meets(low), case.meets(high)
    return PASS if all(inside) else FAIL if not any(inside) else INCONCLUSIVE


def against_limit(case: Case, verdict: str) -> str:
    words = {PASS: "wholly inside", FAIL: "wholly outside", INCONCLUSIVE: "on both sides of"}
    return f"{words[verdict]} the limit {case.text(case.criterion.limit)}"
