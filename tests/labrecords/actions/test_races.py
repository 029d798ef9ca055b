"""Several people at once, each on a connection of their own: nothing is lost, doubled or stuck."""

import threading
import time

import pytest
from django.db import connection

from labrecords import content
from labrecords.actions import analyses, assessments, coupons, liquids, methods, runs, signing
from labrecords.errors import (
    CouponConsumed,
    NotFromThisState,
    RecordsChanged,
    Refusal,
    RunLocked,
    SavedByOther,
    ValueRefused,
)
from labrecords.exchange.readings import import_file
from labrecords.models import Analysis, Coupon, MethodVersion, Qualification, Reading, TestRun
from tests.factories import (
    PASSWORD,
    make_coupon,
    make_criteria,
    make_instrument,
    make_lab,
    make_liquid_lot,
    make_lot,
    make_method_version,
    make_person,
    make_run,
    make_tested_batch,
    pairs,
    sign,
    sliding,
)

pytestmark = pytest.mark.django_db(transaction=True)


def at_once(*calls):
    """What each call gave, or the exception that it raised; all start together."""
    found, start = [None] * len(calls), threading.Barrier(len(calls))

    def work(index, call):
        start.wait()
        try:
            found[index] = call()
        except Exception as problem:
            found[index] = problem
        finally:
            connection.close()

    threads = [threading.Thread(target=work, args=item) for item in enumerate(calls)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    return found


@pytest.fixture
def slowly(monkeypatch):
    """Every write of readings is held up before its analysis, so that two of them do overlap."""
    redo = analyses.redo

    def held_up(**details):
        time.sleep(0.3)
        return redo(**details)

    monkeypatch.setattr(analyses, "redo", held_up)


def failures(found):
    return [item for item in found if isinstance(item, Exception) and not isinstance(item, Refusal)]


def test_second_of_two_who_save_the_same_run_sees_the_conflict_and_the_first_is_kept(slowly):
    one, two = make_person(), make_person()
    run = make_run(one)
    found = at_once(
        lambda: runs.record(by=one, run=run, readings=sliding(["4.5"]), version=1),
        lambda: runs.record(by=two, run=run, readings=sliding(["9.5"]), version=1),
    )
    assert sorted(type(item).__name__ for item in found) == ["SavedByOther", "TestRun"]
    assert run.readings.count() == 1
    assert run.analyses.count() == 1


def test_two_runs_of_a_coupon_saved_at_once_are_both_analysed_from_what_is_stored(slowly):
    person = make_person()
    coupon, lot = make_coupon(person), make_liquid_lot(person)
    angles = make_run(person, coupon, make_method_version(person, "advancing_receding"), liquid_lot=lot)
    tilts = make_run(person, coupon, liquid_lot=lot)
    runs.record(by=person, run=angles, readings=pairs([("113", "110")]))
    runs.record(by=person, run=tilts, readings=sliding(["4.5"]))
    found = at_once(
        lambda: runs.record(by=person, run=angles, why="misread", readings=pairs([("113", "100")])),
        lambda: runs.record(by=person, run=tilts, why="misread", readings=sliding(["9.5"])),
    )
    assert failures(found) == []
    stored = Analysis.objects.filter(is_current=True)
    before = {row.run_id: row.inputs_digest for row in stored}
    analyses.redo(by=person, run=angles)
    assert before == {row.run_id: row.inputs_digest for row in stored.all()}, "computed from older readings"


@pytest.mark.parametrize("other", [
    lambda by, other, run: runs.complete(by=by, run=run, version=run.version),
    lambda by, other, run: runs.exclude(by=by, why="dust", reading=run.readings.current().first()),
], ids=["complete", "exclude"])  # fmt: skip
def test_reading_and_another_verb_at_once_end_in_an_order_and_never_in_a_fault(slowly, other):
    one, two = make_person(), make_person()
    run = make_run(one)
    run = runs.record(by=one, run=run, readings=sliding(["4.5"]))
    found = at_once(
        lambda: runs.record(by=one, run=run, why="misread", readings=sliding(["4.6"]), version=run.version),
        lambda: other(two, one, run),
    )
    assert failures(found) == []
    run.refresh_from_db()
    assert run.version == 2 + sum(not isinstance(item, Exception) for item in found)
    assert run.readings.current().count() == 1


def test_reviewer_does_not_lock_what_was_corrected_after_the_page_was_opened():
    person, reviewer = make_person(), make_person("reviewer")
    run = make_run(person)
    runs.record(by=person, run=run, readings=sliding(["4.5"]))
    seen = runs.complete(by=person, run=run)
    runs.record(by=person, run=run, readings=sliding(["14.5"]), why="misread the scale")
    with pytest.raises(SavedByOther):
        runs.review(by=reviewer, run=run, version=seen.version)
    run.refresh_from_db()
    assert run.state == "complete"


def test_correction_and_review_at_once_never_change_a_locked_run(slowly):
    person, reviewer = make_person(), make_person("reviewer")
    run = make_run(person)
    runs.record(by=person, run=run, readings=sliding(["4.5"]))
    run = runs.complete(by=person, run=run)
    found = at_once(
        lambda: runs.record(by=person, run=run, readings=sliding(["14.5"]), why="misread", version=run.version),
        lambda: runs.review(by=reviewer, run=run, version=run.version),
    )
    assert sorted(type(item) for item in found if isinstance(item, Exception)) in ([RunLocked], [SavedByOther])


def test_coupon_consumed_while_its_reading_is_stored_is_refused_in_words_or_comes_after(slowly):
    one, two = make_person(), make_person()
    for _ in range(3):
        run = make_run(one)
        found = at_once(
            lambda run=run: runs.record(by=one, run=run, readings=sliding(["4.5"])),
            lambda run=run: coupons.move(by=two, why="cut up", coupon=run.coupon, state="consumed"),
        )
        assert failures(found) == []
        assert Coupon.objects.get(pk=run.coupon_id).state == "consumed"
        assert not isinstance(found[1], Exception)


def test_run_opened_on_an_old_view_of_a_coupon_does_not_bring_a_consumed_one_back():
    person = make_person()
    coupon = make_coupon(person)
    old = Coupon.objects.get(pk=coupon.pk)
    coupons.move(by=person, why="cut up", coupon=coupon, state="consumed")
    with pytest.raises(CouponConsumed):
        make_run(person, coupon=old)
    assert Coupon.objects.get(pk=coupon.pk).state == "consumed"


def test_run_opened_on_an_old_view_of_a_coupon_keeps_what_somebody_amended():
    person = make_person()
    coupon = make_coupon(person)
    old = Coupon.objects.get(pk=coupon.pk)
    coupons.amend(by=person, why="moved house", coupon=coupon, place="drawer 4")
    make_run(person, coupon=old)
    assert Coupon.objects.get(pk=coupon.pk).place == "drawer 4"


def test_coupon_codes_logged_at_once_by_several_people_are_all_different():
    people = [make_person("operator") for _ in range(4)]
    lot = make_lot(make_person())
    found = at_once(*[lambda by=by: coupons.log(by=by, lot=lot, count=5) for by in people])
    assert failures(found) == []
    codes = [coupon.code for made in found for coupon in made]
    assert len(set(codes)) == len(codes) == 20
    assert sorted(Coupon.objects.values_list("number", flat=True)) == list(range(1, 21))


def test_runs_opened_at_once_get_codes_of_their_own():
    person = make_person()
    made = [make_coupon(person) for _ in range(4)]
    shared = {"liquid_lot": make_liquid_lot(person), "instrument": make_instrument(person)}
    version = make_method_version(person)
    found = at_once(*[lambda coupon=coupon: make_run(person, coupon, version, **shared) for coupon in made])
    assert [item for item in found if isinstance(item, Exception)] == []
    assert len({run.code for run in found}) == 4


def test_run_code_that_somebody_typed_does_not_block_the_lab_s_own_numbers():
    person = make_person()
    last = make_run(person)
    plain, number = last.code.rsplit("-", 1)
    typed = make_run(person, code=f"{plain}-{int(number) + 2:05d}")
    own = [make_run(person).code for _ in range(2)]
    assert len({last.code, typed.code, *own}) == 4


def test_two_files_that_name_the_same_coupons_in_another_order_do_not_block_each_other(slowly):
    person = make_person()
    made = [make_coupon(person) for _ in range(3)]
    version, lot = make_method_version(person), make_liquid_lot(person)

    def file(name, ordered):
        lines = ["run,coupon,method,liquid,drop_volume_ul,dose,position,drop,quantity,value,qualifier"]
        lines += [
            f"{name}-{coupon.code},{coupon.code},{version.method},{lot.code},10,0,1,1,sliding_angle,4.5,measured"
            for coupon in ordered
        ]
        return "\n".join([*lines, ""]).encode()

    found = at_once(
        lambda: import_file(by=person, data=file("A", made), name="a.csv"),
        lambda: import_file(by=person, data=file("B", made[::-1]), name="b.csv"),
    )
    assert [item for item in found if isinstance(item, Exception)] == []
    assert TestRun.objects.count() == Reading.objects.count() == 6


def test_same_file_imported_twice_at_once_adds_once(slowly):
    person = make_person()
    coupon, version, lot = make_coupon(person), make_method_version(person), make_liquid_lot(person)
    head = "run,coupon,method,liquid,drop_volume_ul,dose,position,drop,quantity,value,qualifier"
    line = f"A,{coupon.code},{version.method},{lot.code},10,0,1,1,sliding_angle,4.5,measured"
    data = f"{head}\n{line}\n".encode()
    found = at_once(*[lambda: import_file(by=person, data=data, name="a.csv")] * 2)
    assert failures(found) == []
    assert Reading.objects.count() == 1


def approved(person, batch=None):
    """An assessment that could be issued, of a batch of its own where none is given."""
    batch = batch or make_tested_batch(person, n=2, drops=2, control=False)
    return sign(assessments.prepare(by=person, batch=batch, criterion_revision=make_criteria(person)))


def issue(person, assessment):
    return lambda: assessments.issue(by=person, assessment=assessment, render=lambda evidence: b"%PDF")


def test_two_qualifications_issued_at_once_have_numbers_of_their_own():
    person = make_person()
    batch = make_tested_batch(person, n=2, drops=2, control=False)
    found = at_once(*[issue(person, approved(person, batch)) for _ in range(2)])
    assert [item for item in found if isinstance(item, Exception)] == []
    assert len(set(Qualification.objects.values_list("report_number", flat=True))) == 2


def test_one_assessment_issued_twice_at_once_is_one_report():
    one, two = make_person(), make_person()
    assessment = approved(one)
    found = at_once(issue(one, assessment), issue(two, assessment))
    assert [type(item) for item in found if isinstance(item, Exception)] == [NotFromThisState]
    assert Qualification.objects.get().assessment_id == assessment.pk


def test_two_who_approve_at_once_leave_one_signature():
    one, two = make_person(), make_person()
    batch = make_tested_batch(one, n=2, drops=2, control=False)
    assessment = assessments.prepare(by=one, batch=batch, criterion_revision=make_criteria(one))
    assessment = sign(assessment, until="review")
    approve = lambda by: assessments.approve(  # noqa: E731
        by=by, assessment=assessment, version=1, password=PASSWORD
    )
    found = at_once(lambda: approve(one), lambda: approve(two))
    assert [type(item) for item in found if isinstance(item, Exception)] == [NotFromThisState]
    assert list(assessment.signatures.values_list("meaning", flat=True)) == ["author", "review", "approval"]
    assert signing.broken_signatures() == []


def test_two_amendments_of_one_report_issued_at_once_leave_one():
    person = make_person()
    batch = make_tested_batch(person, n=2, drops=2, control=False)
    first = issue(person, approved(person, batch))()
    told = {"batch": batch, "amends": first, "amendment": "replaces", "amendment_reason": "a wrong name"}
    ways = [sign(assessments.prepare(by=person, criterion_revision=make_criteria(person), **told)) for _ in range(2)]
    found = at_once(*[issue(person, way) for way in ways])
    assert [type(item) for item in found if isinstance(item, Exception)] == [ValueRefused]
    assert Qualification.objects.filter(amends=first).count() == 1


@pytest.mark.parametrize("step", ["complete", "review", "approve", "issue"])
def test_step_while_a_reading_changes_is_refused_or_comes_first_and_never_other_content(slowly, step):
    person, other = make_person(), make_person()
    batch = make_tested_batch(person, n=2, drops=2, control=False)
    run = TestRun.objects.filter(method_version__method="sliding_angle").first()
    assessment = assessments.prepare(by=person, batch=batch, criterion_revision=make_criteria(person))
    steps = ["complete", "review", "approve"]
    for earlier in steps[: steps.index(step)] if step in steps else steps:
        assessment = getattr(assessments, earlier)(
            by=make_person(), assessment=assessment, version=1, password=PASSWORD
        )
    taken = (
        issue(other, assessment)
        if step == "issue"
        else lambda: getattr(assessments, step)(by=other, assessment=assessment, version=1, password=PASSWORD)
    )
    found = at_once(taken, lambda: runs.record(by=person, run=run, readings=sliding(["28"]), why="misread"))
    assert failures(found) == []
    assert not isinstance(found[1], Exception)
    if isinstance(found[0], Exception):
        assert isinstance(found[0], RecordsChanged)
    assert signing.broken_signatures() == []
    kept = assessment.content
    assert content.content_sha256(kept.evidence) == kept.content_sha256
    for report in Qualification.objects.all():
        assert content.content_sha256(report.evidence) == kept.content_sha256
    # Whoever came first, the next step is refused: what was signed is no longer what the records say.
    assessment.refresh_from_db()
    if assessment.is_open:
        with pytest.raises(RecordsChanged):
            assessments._to_be_signed(assessment)


def test_split_twice_at_once_makes_one_set_of_children():
    person = make_person()
    coupon = make_coupon(person)
    found = at_once(*[lambda: coupons.split(by=person, coupon=coupon, pieces=[{}, {}])] * 2)
    assert [type(item) for item in found if isinstance(item, Exception)] == [NotFromThisState]
    assert coupon.children.count() == 2


def test_two_versions_of_a_method_fixed_at_once_are_numbered_apart():
    person = make_person()
    make_lab(person)
    settings = make_method_version(person).settings
    fix = lambda: methods.fix_version(by=person, method="sliding_angle", settings=settings)  # noqa: E731
    found = at_once(fix, fix, fix)
    assert [item for item in found if isinstance(item, Exception)] == []
    assert sorted(MethodVersion.objects.values_list("number", flat=True)) == [1, 2, 3, 4]


def test_property_added_while_readings_are_saved_leaves_no_result_of_earlier_values(slowly):
    person = make_person()
    lot = make_liquid_lot(person)
    run = make_run(person, liquid_lot=lot)
    runs.record(by=person, run=run, readings=sliding(["4.5"]))
    found = at_once(
        lambda: runs.record(by=person, run=run, why="misread", readings=sliding(["9.5"])),
        lambda: liquids.add_property(
            by=person, liquid=lot.liquid, quantity="surface_tension", value=50.0, source="invented", uncertainty=0.1
        ),
    )
    assert failures(found) == []
    before = run.analyses.get(is_current=True).inputs_digest
    analyses.redo(by=person, run=run)
    assert run.analyses.get(is_current=True).inputs_digest == before
