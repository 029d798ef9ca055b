"""The form of an acceptance rule: what a kind declares, what a criterion says in words."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from analysis.criteria import CRITERION_KINDS, judge
from analysis.criterion import Parameter, criterion_kind, requirement
from analysis.records import CONTROL, FAIL, PASS, Criterion
from tests.analysis.demo_batches import angle_run, split


@pytest.mark.parametrize(
    ("criterion", "words"),
    [
        (
            Criterion("C3", "retained_share", "lubricant_mass", 80, side="at_least", dose=60, dose_kind="min"),
            "Lubricant retained, mean of coupons (treated coupons, after 60 min): at least 80.0 %",
        ),
        (
            Criterion("C6", "count_not_moved", "sliding_angle", 10, side="at_least", role=CONTROL),
            "Sliding angle, number not moved up to the stage limit (untreated control coupons, fresh): at least 10",
        ),
        (
            Criterion("C4", "worst_coupon", "receding_angle", 103, side="at_least", drop_volume_ul=7.5),
            "Receding contact angle, mean of every coupon (treated coupons, 7.5 µL, fresh): at least 103.0°",
        ),
        (
            Criterion("C7", "tolerance_limit", "hysteresis", 3.125, {"coverage": 0.9}),
            "Contact angle hysteresis, tolerance limit of coupon means for 90 % of coupons "
            "(treated coupons, fresh): at most 3.125°",
        ),
    ],
)
def test_requirement_says_quantity_conditions_limit_and_unit(criterion, words):
    assert requirement(criterion) == words


@pytest.mark.parametrize("kind", CRITERION_KINDS.values(), ids=list(CRITERION_KINDS))
def test_every_kind_declares_what_a_form_needs(kind):
    assert kind.title
    assert kind.what.endswith(".")
    for parameter in kind.parameters:
        assert parameter.label
        assert parameter.accept(parameter.default) == parameter.default
    criterion = Criterion("C", kind.key, kind.quantity or "sliding_angle", 8.25)
    assert "8.25" in requirement(criterion)
    assert "{" not in requirement(criterion)


def test_a_new_kind_is_one_declared_function():
    @criterion_kind(
        "at_most_twice",
        "Twice the mean",
        "Twice the mean must meet the limit.",
        "{quantity}_mean",
        subject="{title}, twice the mean of {weight}",
        parameters=(Parameter("weight", "Weight", 2, low=1, high=3),),
    )
    def twice(case):
        value = case.parameters["weight"] * sum(case.known)
        return case.outcome(PASS if case.meets(value) else FAIL, "twice", "rule.", value=value)

    criterion = Criterion("N", "at_most_twice", "hysteresis", 10)
    try:
        found = judge([criterion], [angle_run("A01")]).outcomes[0]
        assert found.verdict == PASS
        assert_allclose(found.value, 2 * np.mean([a - r for a, r, _ in split("A01")]), rtol=1e-12)
        with pytest.raises(ValueError, match="taken"):
            criterion_kind("at_most_twice", "", "", "")(twice)
    finally:
        del CRITERION_KINDS["at_most_twice"]
