"""Issuing a qualification: judged as on record, refused with names, kept byte for byte."""

import hashlib
import json
from datetime import UTC, datetime

import pytest
from django.db import IntegrityError, ProgrammingError, connection, transaction
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

import analysis
from labrecords import trail
from labrecords.actions import assessments, criteria, liquids, methods, qualifications, runs
from labrecords.actions.evidence import Stored
from labrecords.errors import NotAllowed, NothingToJudge, ValueRefused
from labrecords.models import Laboratory, Qualification
from tests import factories as make

pytestmark = pytest.mark.django_db


def as_json(evidence):
    return json.dumps(evidence, sort_keys=True).encode()


@pytest.fixture
def by():
    return make.make_person("quality")


@pytest.fixture
def revision(by):
    return make.make_shedding_criteria(by)


@pytest.fixture
def batch(by, revision):
    return make.make_tested_batch(by, n=3, drops=4, read_at=timezone.now())


def issue(by, batch, revision, render=as_json, **details):
    return make.issue_report(batch, revision, approver=by, render=render, **details)


def test_what_is_issued_is_kept_byte_for_byte(by, batch, revision):
    issued = Qualification.objects.get(pk=issue(by, batch, revision).pk)
    assert bytes(issued.file) == as_json(issued.evidence)
    assert issued.sha256 == hashlib.sha256(issued.file).hexdigest()
    assert issued.verdict == issued.evidence["judgement"]["verdict"]
    assert issued.outcomes == issued.evidence["judgement"]["outcomes"]
    assert issued.issued_by == by


def test_the_verdict_is_that_of_the_analysis(by, batch, revision):
    from labrecords.actions import analyses

    records = [qualifications.record_for(row) for row in revision.criteria.all()]
    expected = analysis.as_data(analysis.judge(records, analyses.batch_records(batch)))
    assert issue(by, batch, revision).evidence["judgement"] == expected


def test_report_numbers_follow_each_other_by_year(by, batch, revision):
    when = datetime(2026, 5, 1, 12, tzinfo=UTC), datetime(2027, 1, 2, 12, tzinfo=UTC)
    numbers = [issue(by, batch, revision, issued_at=moment).report_number for moment in (when[0], when[0], when[1])]
    assert numbers == ["QR-26-0001", "QR-26-0002", "QR-27-0001"]


def test_a_later_report_names_the_earlier_ones_and_why_it_was_issued(by, batch, revision):
    first = issue(by, batch, revision)
    later = issue(by, batch, revision, why="customer's address was wrong")
    assert [row["number"] for row in later.evidence["report"]["earlier"]] == [first.report_number]
    assert later.evidence["report"]["why"] == "customer's address was wrong"
    assert later.events.get().pgh_context.metadata["why"] == "customer's address was wrong"


@pytest.mark.parametrize("role", ["operator", "developer", "reviewer", "administrator"])
def test_only_quality_issues(role, batch, revision):
    with pytest.raises(NotAllowed):
        issue(make.make_person(role), batch, revision)
    assert not Qualification.objects.exists()


def test_runs_in_draft_are_refused_by_name(by, batch, revision):
    draft = make.make_run(by, coupon=batch.members.first().coupon)
    with pytest.raises(NothingToJudge, match=draft.code):
        issue(by, batch, revision)


def test_a_batch_without_treated_coupons_is_refused(by, revision):
    batch = make.make_batch(by, 1, treated=[], control=[make.make_coupon(by)])
    with pytest.raises(NothingToJudge, match="no treated coupons"):
        issue(by, batch, revision)


def test_a_batch_without_completed_runs_is_refused(by, revision):
    with pytest.raises(NothingToJudge, match="none of its treated coupons"):
        issue(by, make.make_batch(by, 3), revision)


def test_a_render_that_fails_leaves_nothing_behind(by, batch, revision):
    def broken(evidence):
        raise RuntimeError("no paper")

    with pytest.raises(RuntimeError):
        issue(by, batch, revision, render=broken)
    assert not Qualification.objects.exists()


def test_a_criterion_that_cannot_be_judged_is_a_refusal(by, batch):
    row = {
        "label": "C1",
        "kind": "mean_interval",
        "quantity": "hysteresis",
        "limit": 1,
        "parameters": {"statistic": "mode"},
    }
    with pytest.raises(ValueRefused, match="mode"):
        issue(
            by,
            batch,
            criteria.create(
                by=by,
                code="ODD",
                title="x",
                fixed_on=datetime(2026, 1, 1).date(),
                when_inconclusive="x",
                criteria=[row],
            ),
        )


def another(by, batch, revision, **fields):
    """A report, not stored yet, that the database would take: of an assessment that is approved."""
    issued = issue(by, batch, revision)
    way = make.sign(assessments.prepare(by=by, batch=batch, criterion_revision=revision))
    copy = Qualification.objects.get(pk=issued.pk)
    copy.pk, copy._state.adding = None, True
    for field, value in {"assessment": way, "evidence": way.content.evidence, **fields}.items():
        setattr(copy, field, value)
    return copy


def test_the_database_takes_another_report_of_an_approved_assessment(by, batch, revision):
    """The refusals below are for their own reasons."""
    with trail.recorded("x", "another"):
        another(by, batch, revision, report_number="QR-26-9999").save()
    assert Qualification.objects.count() == 2


@pytest.mark.parametrize("change", [{"file": b"%PDF-1.4 tampered"}, {"sha256": "0" * 64}])
def test_the_database_refuses_a_file_that_does_not_match_its_hash(change, by, batch, revision):
    copy = another(by, batch, revision, report_number="QR-26-9999")
    for field, value in change.items():
        setattr(copy, field, value)
    with pytest.raises(IntegrityError, match="qualification_file_matches_sha256"), trail.recorded("x", "tamper"):
        copy.save()


def test_the_database_refuses_every_later_change(by, batch, revision):
    issued = issue(by, batch, revision)
    for sql in (
        "UPDATE labrecords_qualification SET verdict = 'fail'",
        "UPDATE labrecords_qualification SET file = 'x'",
        "DELETE FROM labrecords_qualification",
    ):
        with pytest.raises(ProgrammingError, match="Cannot"), transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(sql)
    assert Qualification.objects.get().sha256 == issued.sha256


def test_the_same_report_number_is_refused_by_the_database(by, batch, revision):
    with pytest.raises(IntegrityError, match="report_number"), trail.recorded("x", "twice"):
        another(by, batch, revision).save()


def test_the_number_of_queries_does_not_grow_with_the_coupons(by, revision):
    counts = []
    for n in (3, 7):
        batch = make.make_tested_batch(by, n=n, drops=3)
        with CaptureQueriesContext(
            connection,
        ) as asked:
            qualifications.assemble(batch, revision)
        counts.append(len(asked))
    assert counts[0] == counts[1]
    assert counts[0] < 45


def test_what_is_added_later_does_not_change_the_evidence(by, batch, revision):
    issued = issue(by, batch, revision)
    before = as_json(issued.evidence)
    lot = batch.members.first().coupon.runs.first().liquid_lot
    liquids.add_property(by=by, liquid_lot=lot, quantity="surface_tension", value=60, source="later")
    assert as_json(Qualification.objects.get().evidence) == before
    assert as_json(qualifications.assemble(batch, revision)) != before


def test_control_coupons_stand_in_their_own_role_after_the_treated(by, batch, revision):
    evidence = qualifications.assemble(batch, revision)
    assert [row["role"] for row in evidence["coupons"]] == ["treated"] * 3 + ["control"]
    assert [group["role"] for group in evidence["groups"]] == ["treated", "treated", "control", "control"]
    assert (
        evidence["counts"]
        | {
            "treated": 3,
            "treated_tested": 3,
            "others": 1,
            "not_tested": "",
            "runs": 8,
            "readings": 48,
            "not_moved": 4,
            "lost": 0,
        }
        == evidence["counts"]
    )


def test_a_clean_batch_has_no_deviations(by, revision):
    reviewer = make.make_person("reviewer")
    batch = make.make_tested_batch(by, reviewer=reviewer, read_at=timezone.now())
    assert qualifications.assemble(batch, revision)["deviations"] == []


def test_deviations_told_by_the_records_name_their_runs(by, batch, revision):
    told = {row["what"]: row["concerns"] for row in qualifications.assemble(batch, revision)["deviations"]}
    assert list(told) == ["8 of 8 runs have not been reviewed by a second person"]
    coupon = batch.members.first().coupon
    version = methods.fix_version(
        by=by,
        method="sliding_angle",
        settings=make.SETTINGS["sliding_angle"],
        drop_volume_ul=5,
        liquid=make.make_liquid(by, name="Salt water"),
    )
    run = make.make_run(
        by,
        coupon=coupon,
        method_version=version,
        dose=3,
        dose_kind="h",
        instrument=make.make_instrument(by, due=datetime(2026, 1, 31).date()),
    )
    runs.record(by=by, run=run, readings=make.sliding([1.5]))
    runs.complete(by=by, run=run)
    told = {row["what"]: row["concerns"] for row in qualifications.assemble(batch, revision)["deviations"]}
    text = " | ".join(told)
    assert "drop volume 10 µL instead of 5 µL and liquid Water instead of Salt water" in text
    assert "used after its calibration was due on 2026-01-31" in text
    assert told[next(what for what in told if "drop volume" in what)] == run.code


def test_every_check_of_every_run_is_counted(by, batch, revision):
    stored = Stored(batch, revision)
    evidence = qualifications.assemble(batch, revision)
    counted = sum(row["holds"] + row["does_not_hold"] + row["cannot_tell"] for row in evidence["checks"])
    assert counted == sum(len(result.checks) for result in stored.results.values())
    told = sum(len(item["runs"]) for row in evidence["checks"] for item in row["told"])
    assert told == sum(row["does_not_hold"] + row["cannot_tell"] for row in evidence["checks"])


def test_cautions_of_the_steps_end_with_whom_to_defer_to(by, batch, revision):
    lines = qualifications.assemble(batch, revision)["cautions"]
    assert lines[0].startswith("Hot or boiling water")
    assert "qualified person" in lines[-1]


def test_without_the_lab_s_address_nothing_is_issued(by, batch, revision, monkeypatch):
    monkeypatch.setattr(Laboratory.objects, "exists", lambda: False)
    with pytest.raises(NothingToJudge, match="name and address"):
        qualifications.assemble(batch, revision)


def test_a_criterion_goes_to_the_analysis_whole(by):
    liquid = make.make_liquid(by)
    row = {
        "label": "C9",
        "kind": "worst_coupon",
        "quantity": "receding_angle",
        "limit": 103,
        "side": "at_least",
        "liquid": liquid,
        "drop_volume_ul": 10,
        "dose": 20,
        "dose_kind": "cycles",
        "role": "control",
        "wording": "w",
        "parameters": {"statistic": "median"},
    }
    stored = make.make_criteria(by, [row]).criteria.get()
    expected = analysis.Criterion(
        "C9",
        "worst_coupon",
        "receding_angle",
        103,
        {"statistic": "median"},
        "at_least",
        liquid.code,
        10,
        "control",
        20,
        "cycles",
        "w",
    )
    assert qualifications.record_for(stored) == expected


def test_drops_stand_in_the_order_of_their_positions(by):
    """hand: the tenth position comes after the ninth, for the checks over drops as well as in the annex."""
    batch = make.make_batch(by, 1)
    run = make.make_run(by, coupon=batch.members.get().coupon)
    typed = [
        runs.Typed(quantity="sliding_angle", position=str(place), value=f"{place}.5") for place in range(12, 0, -1)
    ]
    runs.record(by=by, run=run, readings=typed)
    runs.complete(by=by, run=run)
    evidence = qualifications.assemble(batch, make.make_shedding_criteria(by))
    assert [row["position"] for row in evidence["runs"][0]["readings"]] == [str(place) for place in range(1, 13)]
    assert [value for value, *_ in evidence["groups"][0]["figures"][0]["coupons"][0]["values"]] == [
        place + 0.5 for place in range(1, 13)
    ]


def test_baseline_of_a_run_after_a_dose_is_the_coupon_s_own_fresh_run():
    from dataclasses import replace

    from labrecords.actions.evidence.stored import baseline

    fresh = analysis.Run("F", "C1", "sliding_angle", (), drop_volume_ul=10)
    later = replace(fresh, code="L", dose=20, dose_kind="cycles")
    others = [
        replace(fresh, code="X", coupon="C2"),
        replace(fresh, code="Y", drop_volume_ul=5),
        replace(fresh, code="Z", method="static_angle"),
    ]
    assert baseline(later, [fresh, *others, later]) is fresh
    assert baseline(later, [*others, later]) is None
    assert baseline(fresh, [fresh, later]) is None
