"""The chain from readings to every result: complete, in the words of the declarations, without a second copy."""

import dataclasses
import json
import re

import pytest

from analysis.batch import analyse_batch
from analysis.criteria import judge
from analysis.criterion import CRITERION_KINDS
from analysis.explanation import explain_batch, explain_judgement, explain_run, formula_steps, in_words
from analysis.formula import FORMULAS
from analysis.methods import METHODS
from analysis.records import Criterion, Reading, as_data
from analysis.run import analyse_run
from analysis.sources import citation
from tests.analysis import demo_batches
from tests.analysis.runs import OIL, make_angles, make_run, make_sliding

VALUES = [21.0, 19.5, 20.2, 22.4, 20.9]  # invented
every_method = pytest.mark.parametrize("key", METHODS)


def chains_of(run, baseline=None):
    return {chain.key: chain for chain in explain_run(run, baseline)}


def angle_runs(batch):
    return [demo_batches.angle_run(coupon) for coupon in demo_batches.coupons(batch)]


@every_method
def test_every_statistic_and_check_of_a_run_is_explained(key):
    run = make_run(key, VALUES, lubricant=OIL, dose=20.0)
    result = analyse_run(run, make_run(key, VALUES, lubricant=OIL))
    chains = explain_run(run, make_run(key, VALUES, lubricant=OIL))
    assert [chain.key for chain in chains] == [item.key for item in (*result.statistics, *result.checks)]
    for chain in chains:
        assert chain.steps
        assert chain.turns.endswith(".")
        assert chain.answer
        assert chain.method == METHODS[key].title


@every_method
def test_explanations_are_plain_data(key):
    text = json.dumps(as_data(explain_run(make_run(key, VALUES, lubricant=OIL))), allow_nan=False)
    assert "nan" not in text.split('"')


def test_chain_goes_from_the_readings_over_each_formula_to_the_number():
    run = dataclasses.replace(make_angles([(113.1, 111.3), (114.1, 111.3)]), method_version="3")
    chain = chains_of(run)["hysteresis_mean"]
    read, difference, mean = chain.steps
    assert [item.value for item in read.inputs] == ["113.1; 114.1", "111.3; 111.3"]
    assert {item.unit for item in read.inputs} == {"°"}
    assert all("run R1, coupon C1" in item.source for item in read.inputs)
    assert (difference.formula, difference.result) == ("Δθ = θa − θr", "1.80°; 2.80°")  # hand: 113.1−111.3, 114.1−111.3
    assert (mean.result, chain.answer) == ("2.30°", "2.30°")  # hand: (1.8 + 2.8)/2
    assert chain.method_version == "3"


def test_excluded_and_lost_readings_are_told_with_reason_and_name():
    run = make_run("static_angle", [110.0, 112.0])
    left_out = (
        Reading("static_angle", 40.0, drop=3, excluded=True, reason="needle touched", excluded_by="Invented Person"),
        Reading("static_angle", None, "lost", drop=4, reason="dust"),
    )
    chain = chains_of(dataclasses.replace(run, readings=run.readings + left_out))["static_angle_mean"]
    told = [(item.value, item.source) for item in chain.steps[0].inputs[1:]]
    assert told == [
        ("40.0", "position 1, drop 3: needle touched, by Invented Person"),
        ("lost", "position 1, drop 4: dust"),
    ]


def test_drops_that_did_not_move_stand_as_what_they_are():
    chain = chains_of(make_sliding([12.0, ">30", 18.0]))["sliding_angle_median"]
    assert chain.steps[0].inputs[0].value == "12.0; > 30.0 (not moved); 18.0"
    assert chain.answer == "18.0°"  # hand: the middle one, the drop that stayed ranking last


def test_property_of_the_liquid_comes_with_unit_uncertainty_and_source():
    chain = chains_of(make_angles([(113.1, 111.3)]))["retention_per_width_mean"]
    tension = chain.steps[0].inputs[-1]
    assert (tension.what, tension.unit) == ("Surface tension of water", "mN/m")
    assert tension.value == "72 ± 0.3 (standard uncertainty)"
    assert tension.source == "invented for the test"


def test_check_says_what_it_compared_and_what_would_turn_it():
    chain = chains_of(make_run("sliding_angle", VALUES, lubricant=OIL))["cloaking"]
    assert chain.answer in ("holds", "does not hold", "cannot tell")
    assert "spreading coefficient" in " ".join(item.what for step in chain.steps for item in step.inputs)
    assert "sign" in chain.turns
    assert citation("smith_2013") in chain.steps[-1].sources


def test_each_group_of_a_batch_is_explained_coupon_by_coupon():
    runs = angle_runs("A")
    [group] = analyse_batch(runs).groups
    told = explain_batch(runs)[group.key]
    assert [chain.key for chain in told] == [item.key for item in group.statistics]
    chain = next(item for item in told if item.key == "hysteresis_mean")
    assert chain.answer.startswith("1.97° (1.59° to 2.34°, 95 % confidence)")  # the demo scenario's printed numbers
    values = next(step for step in chain.steps if step.title.startswith("One value a coupon"))
    assert [item.value for item in values.inputs] == ["2.36°", "1.88°", "2.32°", "1.66°", "2.10°", "1.48°"]
    liquid = [item for step in chain.steps for item in step.inputs if item.what.startswith("Surface tension")]
    assert len(liquid) <= 1  # one liquid, one line, however many coupons


LIMIT = Criterion("C1", "mean_interval", "hysteresis", 3.5, side="at_most")


@pytest.mark.parametrize(
    ("batch", "verdict", "words"),
    [
        ("A", "pass", "would have to move by 1.16°"),  # hand: 3.5 − 2.34 (upper end of the printed interval)
        ("B", "fail", "would have to move by 1.15°"),  # hand: 4.65 − 3.5
        (
            "C",
            "inconclusive",
            "19 further coupons",
        ),  # hand: t(24)·1.464/√25 = 0.604 < 0.613, t(23)·1.464/√24 = 0.618 > it
    ],
)
def test_outcome_ends_in_the_decision_and_what_would_change_it(batch, verdict, words):
    [chain] = explain_judgement([LIMIT], angle_runs(batch))
    assert chain.answer == verdict
    assert chain.steps[-1].title == "The decision"
    assert words in chain.turns


@pytest.mark.parametrize("batch", ["A", "B", "C"])
def test_what_would_change_the_verdict_does_change_it(batch):
    """The limits named in the sentence are where the verdict turns: judged a little on either side of each."""
    runs = angle_runs(batch)
    [outcome] = judge([LIMIT], runs).outcomes
    for limit, near, far in ((outcome.high, "pass", "inconclusive"), (outcome.low, "inconclusive", "fail")):
        verdicts = [judge([dataclasses.replace(LIMIT, limit=limit + step)], runs).verdict for step in (1e-6, -1e-6)]
        assert verdicts == [near, far]


STUCK = [[3.0, 4.0, 5.0], [3.5, 4.5, ">30"], [">30", ">30", 6.0], [4.0, 4.2, 4.1]]
FEW_STUCK = [[3.0, 4.0, 5.0], [3.5, 4.5, ">30"], [5.0, 5.2, 6.0], [4.0, 4.2, 4.1]]


@pytest.mark.parametrize("side", ["at_most", "at_least"])
@pytest.mark.parametrize(
    ("kind", "drops", "parameters"),
    [
        ("mean_interval", STUCK, {}),
        ("mean_interval", STUCK, {"statistic": "median"}),
        ("mean_interval", FEW_STUCK, {}),
        ("mean_interval", [[3.0, 4.0], [3.5, 4.5], [5.0, 5.2]], {"statistic": "median"}),
        ("worst_coupon", STUCK, {}),
        ("worst_coupon", [*FEW_STUCK, [">30", ">40"]], {}),
        ("worst_coupon", FEW_STUCK, {"statistic": "median"}),
        ("count_not_moved", STUCK, {}),
        ("count_not_moved", STUCK, {"fewest_drops": 30}),
        ("tolerance_limit", [[3.0, 4.0], [3.5, 4.5], [5.0, 5.2], [4.0, 4.1]], {}),
        ("tolerance_limit", STUCK, {}),
    ],
)
@pytest.mark.parametrize("limit", [0.0, 1.0, 4.0, 25.0, 90.0])
def test_the_limit_that_is_said_to_turn_a_verdict_turns_it(kind, drops, parameters, limit, side):
    runs = [make_sliding(row, code=f"R{n}", coupon=f"C{n}") for n, row in enumerate(drops)]
    criterion = Criterion("C1", kind, "sliding_angle", limit, parameters, side)

    def verdict_at(at):
        return judge([dataclasses.replace(criterion, limit=at)], runs).verdict

    [chain] = explain_judgement([criterion], runs)
    told = re.search(r"passes for a limit of ([\d.]+)°? or (more|less)", chain.turns)
    if told:
        at, way = float(told[1]), 1 if told[2] == "more" else -1
        assert verdict_at(at + 0.051 * way) == "pass"  # half of the last printed digit, and a little
        assert verdict_at(at - 0.051 * way) != "pass" or at == 0
    if "passes for no limit" in chain.turns or "passes at no limit" in chain.turns:
        assert {verdict_at(at) for at in (0.0, 5.0, 50.0, 89.0)} & {"pass"} == set()
    if "fails for none" in chain.turns:
        assert {verdict_at(at) for at in (0.0, 5.0, 50.0, 89.0)} & {"fail"} == set()


@pytest.mark.parametrize("kind", CRITERION_KINDS)
def test_every_kind_of_rule_is_explained(kind):
    quantity = CRITERION_KINDS[kind].quantity or ("sliding_angle" if kind == "count_not_moved" else "hysteresis")
    [chain] = explain_judgement([Criterion("C1", kind, quantity, 1.0)], angle_runs("A"))
    assert chain.steps[-1].title == "The decision"
    assert chain.steps[-1].result.startswith(f"{chain.answer}: ")
    assert chain.steps[-1].rule.endswith(".")
    assert chain.turns.endswith(".")


@every_method
def test_every_formula_that_a_result_names_is_declared(key):
    run = make_run(key, VALUES, lubricant=OIL, dose=20.0)
    result = analyse_run(run, make_run(key, VALUES, lubricant=OIL))
    named = {formula for item in (*result.statistics, *result.checks) for formula in item.formulas}
    named |= {item.formula_of(run) for item in METHODS[key].derived}
    assert named <= set(FORMULAS)


def test_formulas_of_a_report_stand_once():
    keys = ["wetting.hysteresis.hysteresis", "statistics.moments.stable_mean", "wetting.hysteresis.hysteresis"]
    assert [step.formula for step in formula_steps(keys)] == ["Δθ = θa − θr", "x̄ = x₁ + Σ(xᵢ − x₁)/n"]


@pytest.mark.parametrize(
    ("value", "text"), [(None, "–"), (float("nan"), "–"), (float("inf"), "beyond the stage limit"), (-1.25, "−1.2°")]
)
def test_numbers_in_words(value, text):
    assert in_words(value, 1, "°") == text


def test_no_formula_stands_twice():
    statements = [re.sub(r"\s", "", item.statement) for item in FORMULAS.values()]
    doubled = {text for text in statements if statements.count(text) > 1}
    shared = {key for key, item in FORMULAS.items() if re.sub(r"\s", "", item.statement) in doubled}
    assert shared == set()


def test_numbers_of_a_check_are_told_in_words():
    sticky = make_angles([(120.0, 60.0), (121.0, 61.0), (119.0, 59.5)])
    run = make_sliding([">30", ">30", ">30"], companion=sticky)
    compared = chains_of(run)["retention_relation"].steps[-1].inputs
    told = {item.what: item.value for item in compared}
    assert (told["predicted"], told["measured median"]) == ("infinite", "infinite")
    assert "k of the measured angle, with the width" not in told  # nothing was measured to take it from


def test_a_setting_left_empty_is_not_recorded():
    run = make_run("static_angle", [100.0, 101.0])
    run = dataclasses.replace(run, settings={**run.settings, "fit": None})
    facts = {item.what: item.value for item in chains_of(run)["drop_size"].steps[0].inputs}
    assert facts["Fit of the outline"] == "not recorded"
    assert chains_of(run)["drop_size"].steps[-1].result.endswith("and no fit of the outline is stated.")
