"""Reports on batches that are not as a textbook has them: what they say, against numpy and scipy."""

import os
import re
from dataclasses import dataclass
from datetime import date
from io import BytesIO
from pathlib import Path

import numpy as np
import pypdf
import pytest
from scipy import stats

from labrecords.actions import batches, liquids, processing, runs
from tests import factories as make

pytestmark = pytest.mark.django_db

HYSTERESIS = {"label": "C1", "kind": "mean_interval", "quantity": "hysteresis", "limit": 5}
SLIDING = {
    "label": "C2",
    "kind": "mean_interval",
    "quantity": "sliding_angle",
    "limit": 12,
    "parameters": {"statistic": "median"},
}
STUCK = {"label": "C3", "kind": "count_not_moved", "quantity": "sliding_angle", "limit": 1}


@dataclass
class Bench:
    """A batch whose coupons are read one by one, with one liquid lot and one rig."""

    by: object
    batch: object
    shared: dict
    angles: object
    tilts: object

    @property
    def treated(self):
        return [member.coupon for member in self.batch.members.filter(role="treated")]

    def read(self, coupon, typed, version=None, **fields):
        run = make.make_run(self.by, coupon=coupon, method_version=version or self.tilts, **self.shared | fields)
        runs.record(by=self.by, run=run, readings=typed)
        return runs.complete(by=self.by, run=run)

    def issue(self, *rows, **fields):
        revision = make.make_criteria(self.by, list(rows), **fields)
        issued = make.issue_report(self.batch, revision, approver=self.by)
        if os.environ.get("KEEP_REPORTS"):
            name = re.sub(r"\W+", "-", os.environ["PYTEST_CURRENT_TEST"].split("::")[-1].split(" ")[0])
            Path(os.environ["KEEP_REPORTS"], f"{name}.pdf").write_bytes(bytes(issued.file))
        text = " ".join(page.extract_text() for page in pypdf.PdfReader(BytesIO(issued.file)).pages)
        return issued.evidence, re.sub(r"\s+", " ", text)


@pytest.fixture
def bench():
    return bench_of(3)


def bench_of(n, **fields):
    by = make.make_person("quality", full_name="Q. Uality")
    return Bench(
        by,
        make.make_batch(by, n, **fields),
        {"liquid_lot": make.make_liquid_lot(by), "instrument": make.make_instrument(by)},
        make.make_method_version(by, "advancing_receding"),
        make.make_method_version(by, "sliding_angle"),
    )


def t_interval(values):
    """independent: scipy.stats.t over coupon values."""
    return stats.t.interval(0.95, len(values) - 1, loc=np.mean(values), scale=stats.sem(values))


def test_three_coupons_of_three_drops(bench):
    tilts = [[3.0, 4.0, 6.0], [5.0, 5.5, 7.0], [2.0, 4.5, 9.0]]
    for coupon, values in zip(bench.treated, tilts, strict=True):
        bench.read(coupon, make.sliding(values))
    evidence, text = bench.issue(SLIDING)
    medians = [np.median(values) for values in tilts]
    low, high = t_interval(medians)
    outcome = evidence["judgement"]["outcomes"][0]
    assert (outcome["low"], outcome["high"]) == pytest.approx((low, high))
    assert f"{np.mean(medians):.1f}° [{low:.1f}, {high:.1f}]° (95 %) 3 9 at most 12.0°" in text


def test_twelve_coupons_of_sixty_drops():
    bench = bench_of(12)
    draw = np.random.default_rng(5)
    means = []
    for coupon in bench.treated:
        values = np.round(draw.normal(draw.normal(4, 1), 0.6, 60), 1)
        means.append(values.mean())
        bench.read(coupon, make.sliding(values.tolist()))
    evidence, text = bench.issue(SLIDING | {"parameters": {"statistic": "mean"}}, STUCK)
    outcome = evidence["judgement"]["outcomes"][0]
    assert (outcome["low"], outcome["high"]) == pytest.approx(t_interval(means))
    assert (outcome["n_coupons"], outcome["n_drops"]) == (12, 720)
    # independent: Clopper & Pearson through the beta distribution, 0 of 720
    assert f"at most {100 * stats.beta.ppf(0.95, 1, 720):.1f} %" in text


def test_most_drops_not_moved_never_pass_and_have_no_finite_mean(bench):
    for coupon in bench.treated:
        bench.read(coupon, make.sliding([8.0, ">", ">", ">", ">"]))
    evidence, text = bench.issue(SLIDING, STUCK)
    assert [item["verdict"] for item in evidence["judgement"]["outcomes"]] == ["fail", "fail"]
    assert "12 of 15 not moved" in text
    assert "beyond the stage limit" in text


def test_control_that_slides_fails_its_requirement_and_says_so():
    by = make.make_person("quality")
    bench = bench_of(3, control=[make.make_coupon(by, mark="K")])
    for member in bench.batch.members.all():
        bench.read(member.coupon, make.sliding([3.0, 4.0, 5.0, 6.0, 5.0]))
    control = STUCK | {"label": "K1", "role": "control", "side": "at_least", "limit": 5}
    evidence, text = bench.issue(SLIDING, control)
    assert evidence["judgement"]["verdict"] == "fail"
    assert "1 coupon (K); 5 readings" in text
    assert "not met: K1" in text


def test_control_that_holds_every_drop_is_bounded_from_below():
    """independent (scipy): Clopper & Pearson, 5 of 5 from below."""
    by = make.make_person("quality")
    bench = bench_of(3, control=[make.make_coupon(by, mark="K")])
    for member in bench.batch.members.all():
        bench.read(member.coupon, make.sliding([">"] * 5 if member.role == "control" else [3.0, 4.0, 5.0]))
    _, text = bench.issue(SLIDING)
    words = f"lower bound {100 * stats.beta.ppf(0.05, 5, 1):.1f} %"
    assert f"share not moved 100.0 %: 5 of 5 not moved; exact one-sided 95 % {words}" in text


def test_two_liquids_and_two_volumes_are_not_pooled(bench):
    oil = make.make_liquid_lot(bench.by, make.make_liquid(bench.by, "Hexadecane", 27.5, 773))
    for coupon in bench.treated:
        bench.read(coupon, make.sliding([3.0, 4.0, 5.0]))
        bench.read(coupon, make.sliding([13.0, 14.0, 15.0]), drop_volume_ul=5.0)
        bench.read(coupon, make.sliding([23.0, 24.0, 25.0]), liquid_lot=oil)
    evidence, text = bench.issue(SLIDING)
    assert evidence["judgement"]["verdict"] == "inconclusive"
    assert "The criterion applies to 3 groups of runs that differ" in text
    assert [group["rows"][0]["value"] for group in evidence["groups"]] == [4, 14, 24]  # hand: the middle of three
    assert "drop volumes: 10 µL, 5 µL" in text


def test_a_coupon_without_a_complete_pair_is_not_left_out(bench):
    for coupon, lost in zip([*bench.treated, make_extra(bench)], (False, False, False, True), strict=True):
        typed = make.pairs([(113.0, 111.0), (113.2, 111.1), (113.1, 111.2)])
        if lost:
            typed = [row for row in typed if row.quantity == "advancing_angle"]
            typed += [
                runs.Typed(quantity="receding_angle", drop=drop, qualifier="lost", reason="line never moved")
                for drop in (1, 2, 3)
            ]
        bench.read(coupon, typed, bench.angles)
    evidence, text = bench.issue(HYSTERESIS)
    assert evidence["judgement"]["verdict"] == "inconclusive"
    assert "a coupon that was read is not left out" in text


def test_a_coupon_missing_after_the_dose_is_named(bench):
    for index, coupon in enumerate([*bench.treated, make_extra(bench)]):
        bench.read(coupon, make.sliding([3.0, 4.0, 5.0]))
        if index < 3:
            bench.read(
                coupon, make.sliding([4.0, 5.0, 6.5 + index]), dose=20, dose_kind="cycles", exposure="freeze and thaw"
            )
    _, text = bench.issue(SLIDING)
    assert "Not every coupon was tested: Treated coupons: Sliding angle" in text


def test_dose_runs_without_a_fresh_one_cannot_tell_a_change(bench):
    for coupon in bench.treated:
        bench.read(coupon, make.sliding([3.0, 4.0, 5.0]), dose=20, dose_kind="cycles", exposure="freeze and thaw")
    _, text = bench.issue(SLIDING | {"dose": 20, "dose_kind": "cycles"})
    assert "The coupon has no run of this kind at dose 0." in text
    assert "all 3 runs checked" in text


def test_lubricant_without_properties_is_told_and_not_guessed():
    by = make.make_person("quality")
    steps = [{"kind": "infuse_drip", "planned": {"drain_min": {"value": 60, "tolerance": 10}}}]
    bench = bench_of(3, recipe_revision=make.make_recipe(by, steps))
    oil = liquids.create_lubricant(by=by, code="OIL-N", name="Oil without data", is_pfas=False)
    lot = liquids.log_lubricant_lot(by=by, lubricant=oil, code="OIL-N-1", prepared_on=date(2026, 1, 2))
    details = {"step": bench.batch.recipe_revision.steps.get(), "coupons": bench.treated, "lubricant_lots": [lot]}
    at = make.timezone.make_aware(make.datetime(2026, 2, 26, 8, 0))
    processing.record(
        by=by, batch=bench.batch, started_at=at, finished_at=at + make.timedelta(hours=2),
        actual={"drain_min": 60}, **details,
    )  # fmt: skip
    for coupon in bench.treated:
        bench.read(coupon, make.sliding([3.0, 4.0, 5.0]))
    _, text = bench.issue(SLIDING)
    assert "Cannot be computed without" in text
    assert "lubricant" in text


def test_very_long_names_break_and_stay(bench):
    name = "Verylongname" * 12
    for index, coupon in enumerate(bench.treated):
        bench.read(coupon, make.sliding([3.0, 4.0, 5.0 + index]), remark=f"{name}-run")
    processing.note_deviation(by=bench.by, batch=bench.batch, what=name, reason=name, impact=name)
    _, text = bench.issue(SLIDING | {"wording": name}, title=name)
    assert re.sub(r"\s", "", text).count(name) >= 5  # hand: specification, wording, deviation with reason and impact


def make_extra(bench):
    extra = make.make_coupon(bench.by, lot=bench.batch.lot, mark="EXTRA")
    batches.join(by=bench.by, why="a fourth", batch=bench.batch, coupon=extra, role="treated")
    return extra


def test_a_coupon_whose_readings_are_all_lost_is_named_beside_the_outcome(bench):
    for coupon in bench.treated:
        bench.read(coupon, make.sliding([3.0, 4.0, 5.0]))
    lost = [
        runs.Typed(quantity="sliding_angle", drop=drop, qualifier="lost", reason="stage stopped") for drop in (1, 2)
    ]
    extra = make_extra(bench)
    bench.read(extra, lost)
    evidence, text = bench.issue(SLIDING)
    assert f"Without a usable reading: {extra.code}" in text
    assert evidence["judgement"]["outcomes"][0]["n_coupons"] == 3


def test_one_figure_stands_for_a_quantity_that_a_criterion_judges(bench):
    for index, coupon in enumerate(bench.treated):
        bench.read(coupon, make.sliding([3.0, 4.0, 5.0 + index]))
    evidence, _ = bench.issue(SLIDING | {"parameters": {"statistic": "mean"}})
    (group,) = evidence["groups"]
    assert [figure["title"] for figure in group["figures"]] == ["C2: Sliding angle"]


def test_label_of_a_requirement_is_one_word_and_a_reason_nobody_gave_is_not_printed(bench):
    for coupon, drops in zip(bench.treated, ([4, 5, 6], [5, 6, 7], [6, 6, 8]), strict=True):
        bench.read(coupon, make.sliding(drops))
    evidence, text = bench.issue(SLIDING | {"label": "Shedding"}, STUCK)
    assert "Shed ding" not in text
    assert evidence["report"]["why"] == ""
    assert "Reason of this issue" not in text


def test_uncertainty_says_which_interval_is_of_which_kind():
    """Sliding angles with drops that never moved come from likelihoods, hysteresis from Student's t."""
    bench = bench_of(4)
    read = ([5, 7, 9, 8, 11], [6.5, ">", 12], [4, 5, 6, 7.5], [">", ">", 14, ">"])
    for coupon, tilts in zip(bench.treated, read, strict=True):
        bench.read(coupon, make.sliding(tilts))
        bench.read(coupon, make.pairs([(113, 109), (112, 109.5), (114, 110)]), bench.angles)
    _, text = bench.issue(HYSTERESIS, SLIDING | {"parameters": {"statistic": "mean"}})
    told = text.split("The intervals hold what differs")[0].rpartition("intervals given with means")[2]
    student, by_drops, by_medians = told.split("; except ")
    assert "by Student t over coupon values" in student
    assert by_drops.startswith("by maximum likelihood over coupons and drops")
    assert by_drops.endswith(": requirement C2")
    assert "over coupon medians (Treated coupons" in by_medians
    assert "ysteresis" not in told
