"""Why a number is what it is: the chain from readings to result, as data.

Formulas, what their inputs mean and where they hold are those declared beside the functions
(`analysis.formula`); values, units and sources are those of the records. Nothing is written twice.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from analysis.batch import analyse_batch
from analysis.criteria import judge
from analysis.criterion import CRITERION_KINDS
from analysis.formula import FORMULAS
from analysis.method import Method
from analysis.methods import METHODS
from analysis.quantities import QUANTITIES, Quantity, quantity_of
from analysis.records import (
    INCONCLUSIVE,
    BatchGroup,
    Check,
    Criterion,
    Judgement,
    Outcome,
    Run,
    Statistic,
)
from analysis.run import analyse_run
from analysis.run_facts import Input, facts_of, in_words, plain_text, sourced
from analysis.sources import citation

UNCHANGING = "A number without a verdict: it changes with its readings only; no decision rests on it alone."


@dataclass(frozen=True, slots=True)
class Step:
    """One step of the chain: a formula in standard notation, what went in, what came out."""

    title: str
    formula: str = ""  # in standard notation
    symbols: tuple[tuple[str, str], ...] = ()  # (name, meaning with unit and range)
    inputs: tuple[Input, ...] = ()
    result: str = ""
    holds_when: str = ""
    library: str = ""  # what did the computing; "" = this program's own arithmetic
    sources: tuple[str, ...] = ()  # citations
    rule: str = ""  # of a decision


@dataclass(frozen=True, slots=True)
class Chain:
    """The whole way from readings to one result."""

    key: str
    title: str
    answer: str  # the result in words, with unit and interval
    method: str  # title of the method, or the kind of rule
    method_version: str  # the lab's own number of its settings; "" where none is known
    steps: tuple[Step, ...]
    turns: str  # what would change the verdict
    notes: tuple[str, ...] = ()


def explain_run(run: Run, baseline: Run | None = None) -> tuple[Chain, ...]:
    """The chain behind every statistic and every check of one run.

    Parameters
    ----------
    run, baseline : Run
        As in `analysis.run.analyse_run`.

    Returns
    -------
    tuple of Chain
        One for each statistic, then one for each check, in the order of the result.

    Raises
    ------
    KeyError
        For a method that does not exist.

    Source: of each formula, with it.

    >>> from analysis.records import Reading
    >>> readings = (Reading("advancing_angle", 113.1), Reading("receding_angle", 111.3))
    >>> chains = explain_run(Run("R1", "C1", "advancing_receding", readings))
    >>> next(chain for chain in chains if chain.key == "hysteresis_mean").steps[1].formula
    'Δθ = θa − θr'
    """
    method, result = METHODS[run.method], analyse_run(run, baseline)
    notes = tuple(method.notes(run)) if method.notes else ()
    statistics = [_of_statistic(item, run, method, notes) for item in result.statistics]
    return (*statistics, *(_of_check(item, run, method) for item in result.checks))


def explain_batch(runs: Sequence[Run]) -> dict[str, tuple[Chain, ...]]:
    """The chains behind every statistic of every group of a batch, by the key of the group.

    Source: of each formula, with it.

    >>> from analysis.records import Reading
    >>> list(explain_batch([Run("R1", "C1", "mass", (Reading("lubricant_mass", 18.4),))]))
    ['treated|mass|||0.0||']
    """
    return {
        group.key: tuple(_of_batch_statistic(item, group, runs) for item in group.statistics)
        for group in analyse_batch(runs).groups
    }


def explain_judgement(
    criteria: Sequence[Criterion], runs: Sequence[Run], judgement: Judgement | None = None
) -> tuple[Chain, ...]:
    """The chain behind the outcome of each criterion, ending in what would change its verdict.

    Parameters
    ----------
    criteria, runs : sequence
        As in `analysis.criteria.judge`.
    judgement : Judgement, optional
        What `judge` said of them, where it is at hand already.

    Returns
    -------
    tuple of Chain
        One for each criterion, in their order.

    Raises
    ------
    ValueError
        As in `analysis.criteria.judge`.

    Source: of each rule, with it.

    >>> explain_judgement([Criterion("C1", "mean_interval", "hysteresis", 3.5)], [])[0].answer
    'inconclusive'
    """
    outcomes = (judgement or judge(criteria, runs)).outcomes
    return tuple(_of_outcome(item, outcome, runs) for item, outcome in zip(criteria, outcomes, strict=True))


def formula_steps(keys: Iterable[str]) -> tuple[Step, ...]:
    """Each formula once, as a step without numbers: what a list of the formulas of a report prints.

    Parameters
    ----------
    keys : iterable of str
        Keys of `analysis.formula.FORMULAS`; several times the same is fine.

    Returns
    -------
    tuple of Step
        In the order of first mention.

    Raises
    ------
    KeyError
        For a key that is not declared.

    Source: of each formula, with it.

    >>> formula_steps(["wetting.hysteresis.hysteresis"])[0].title
    'Advancing minus receding angle of one drop.'
    """
    return tuple(_formula_step(key) for key in dict.fromkeys(keys))


# ---- statistics of a run -------------------------------------------------------------------------


def _of_statistic(item: Statistic, run: Run, method: Method, notes: tuple[str, ...]) -> Chain:
    derived = next((found for found in method.derived if item.key.startswith(f"{found.quantity}_")), None)
    quantity = quantity_of(item.key)
    needs = derived.needs if derived else (quantity.key,)
    steps = [Step("What was read and what else is needed", inputs=tuple(facts_of(run, needs)))]
    for key in item.formulas:
        is_derivation = derived is not None and key == derived.formula_of(run)
        result = _row(derived.values(run), quantity) if is_derivation else _answer(item, quantity)
        steps.append(_formula_step(key, result))
    note = (item.note,) if item.note else ()
    return Chain(
        item.key, item.label, _answer(item, quantity), method.title, run.method_version, tuple(steps), UNCHANGING,
        (*note, *notes),
    )  # fmt: skip


def _row(values: Sequence[float], quantity: Quantity) -> str:
    return "; ".join(in_words(value, quantity.decimals, quantity.unit, quantity.limit) for value in values)


def _answer(item: Statistic | Outcome, quantity: Quantity) -> str:
    text = in_words(item.value, item.decimals, item.unit, quantity.limit)
    if item.low is None and item.high is None:
        return text
    low, high = (in_words(end, item.decimals, item.unit, quantity.limit) for end in (item.low, item.high))
    share = f", {100 * item.confidence:g} % confidence" if item.confidence else ""
    return f"{text} ({low} to {high}{share})"


def _formula_step(key: str, result: str = "", inputs: tuple[Input, ...] = ()) -> Step:
    known = FORMULAS[key]
    return Step(
        known.title,
        known.statement,
        known.inputs,
        inputs,
        result,
        known.holds_when,
        known.library,
        tuple(citation(source) for source in known.source.split()),
    )


# ---- checks --------------------------------------------------------------------------------------


def _of_check(item: Check, run: Run, method: Method) -> Chain:
    steps = []
    if item.needs:
        steps.append(Step("What was read and what else is needed", inputs=tuple(facts_of(run, item.needs))))
    steps += [_formula_step(key) for key in item.formulas]
    numbers = tuple(_number(label, value) for label, value in item.numbers.items())
    sources = (sourced(item.source),) if item.source else ()
    steps.append(Step("What the check compared", inputs=numbers, result=item.why, sources=sources))
    title = f"Check: {item.title}"
    return Chain(item.key, title, item.outcome, method.title, run.method_version, tuple(steps), item.turns)


def _number(label: str, value: object) -> Input:
    what, bracket, unit = label.partition(" [")
    return Input(what, "–" if value is None else plain_text(value), unit.rstrip("]") if bracket else "")


# ---- batches and verdicts ------------------------------------------------------------------------


def _of_batch_statistic(item: Statistic, group: BatchGroup, runs: Sequence[Run]) -> Chain:
    quantity = quantity_of(item.key)
    members = [run for run in runs if run.code in group.runs]
    steps = (*_coupon_steps(group.coupon_values.get(item.key, ()), quantity, members), *_last(item, quantity))
    method = METHODS.get(group.method)
    return Chain(
        item.key, item.label, _answer(item, quantity), method.title if method else group.method, _versions(members),
        steps, UNCHANGING, (item.note,) if item.note else (),
    )  # fmt: skip


def _coupon_steps(values, quantity: Quantity, runs: Sequence[Run]) -> Iterator[Step]:
    """Readings of each coupon, what is derived from each drop, and the one value each coupon enters with."""
    method = METHODS.get(runs[0].method) if runs else None
    derived = next((item for item in method.derived if item.quantity == quantity.key), None) if method else None
    was_read = any(reading.quantity == quantity.key for run in runs for reading in run.readings)
    needs = derived.needs if derived else (quantity.key,) if was_read else ()
    inputs = tuple(dict.fromkeys(item for run in runs for item in facts_of(run, needs)))  # one liquid, one line
    if inputs:
        yield Step("What was read and what else is needed, coupon by coupon", inputs=inputs)
    for key in dict.fromkeys(map(derived.formula_of, runs)) if derived else ():
        alike = [run for run in runs if derived.formula_of(run) == key]
        yield _formula_step(key, "; ".join(f"{run.coupon}: {_row(derived.values(run), quantity)}" for run in alike))
    if values:
        told = tuple(
            Input(
                f"coupon {item.coupon}",
                in_words(item.value, quantity.decimals, quantity.unit, quantity.limit),
                source=f"{item.n_drops} readings"
                + (f", {item.n_not_moved} {quantity.beyond}" if item.n_not_moved else ""),
            )
            for item in values
        )
        yield Step("One value a coupon: the coupon is the unit of replication", inputs=told,
                   sources=(citation("hurlbert_1984"),))  # fmt: skip


def _last(item: Statistic | Outcome, quantity: Quantity) -> Iterator[Step]:
    has_interval = item.low is not None or item.high is not None
    for key in item.formulas:
        # What a bound or a factor came to is said in the sentence of the decision.
        yield _formula_step(key, _answer(item, quantity) if has_interval or isinstance(item, Statistic) else "")


def _turns_at(outcome: Outcome) -> str:
    """Where a rule without an interval turns: at the value that it holds against the limit."""
    is_known = outcome.value is not None and math.isfinite(outcome.value)
    if not is_known or outcome.verdict == INCONCLUSIVE:  # what is missing would be missing at any limit
        return "It changes when the criterion, or the runs that it names, change."
    side = "or more" if outcome.side == "at_most" else "or less"
    at = in_words(outcome.value, outcome.decimals, outcome.unit)
    return f"With these coupons it passes for a limit of {at} {side}, and for no other."


def _versions(runs: Sequence[Run]) -> str:
    return ", ".join(sorted({run.method_version for run in runs if run.method_version}))


def _of_outcome(criterion: Criterion, outcome: Outcome, runs: Sequence[Run]) -> Chain:
    kind, quantity = CRITERION_KINDS[criterion.kind], QUANTITIES[outcome.quantity or criterion.quantity]
    members = [run for run in runs if run.code in outcome.runs]
    limit = in_words(outcome.limit, outcome.decimals, outcome.unit)
    decision = Step(
        "The decision",
        inputs=(Input("Requirement", outcome.requirement, "", "the specification"), Input("Limit", limit)),
        result=f"{outcome.verdict}: {outcome.why}",
        rule=outcome.rule,
    )
    shown = replace(quantity, unit=outcome.unit, decimals=outcome.decimals)  # a count of drops has no unit
    steps = (*_coupon_steps(outcome.coupon_values, shown, members), *_last(outcome, shown), decision)
    title = f"{outcome.label}: {kind.title}"
    turns = outcome.turns or _turns_at(outcome)
    return Chain(outcome.label, title, outcome.verdict, kind.title, _versions(members), steps, turns)
