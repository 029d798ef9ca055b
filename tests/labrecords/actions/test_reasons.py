"""Changing what is stored asks for a reason: derived from the actions themselves, and from the trail they leave."""

import importlib
import inspect
import pkgutil
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from labrecords import actions, history
from labrecords.actions import coupons, laboratory, processing, runs
from labrecords.errors import FileRefused, ReasonMissing
from labrecords.exchange.readings import import_file
from labrecords.models import Laboratory, Reading, TestRun
from tests.factories import (
    issue_report,
    make_batch,
    make_coupon,
    make_lab,
    make_method_version,
    make_person,
    make_run,
    make_shedding_criteria,
    make_tested_batch,
    sliding,
)

pytestmark = pytest.mark.django_db(transaction=True)

# Verbs that have a reason by themselves, and why each is an entry of something new and no change of what is stored.
ENTRIES = {
    "account.change_password": "one's own secret; when it was set is in the trail, what it is nowhere",
    "account.confirm_second_factor": "one's own sign-in; no value of a record",
    "account.end_other_sessions": "one's own sign-in; no value of a record",
    "account.issue_token": "a new token",
    "account.revoke_token": "one's own sign-in; no value of a record",
    "account.sign_in_token": "a new token",
    "account.start_second_factor": "one's own sign-in; no value of a record",
    "assessments.approve": "a signature, whose meaning is said",
    "assessments.complete": "a signature, whose meaning is said",
    "assessments.issue": "a new report",
    "assessments.prepare": "a new assessment",
    "assessments.review": "a signature, whose meaning is said",
    "attachments.add": "a further file beside the others",
    "attachments.keep_import": "the imported file beside what was read from it",
    "batches.form": "a new batch",
    "coupons.log": "new coupons",
    "coupons.split": "new pieces; that the parent is used up is said by the cut itself",
    "criteria.create": "a new specification",
    "data_sheets.record": "a further edition beside the earlier ones",
    "instruments.calibrate": "a further calibration beside the earlier ones",
    "instruments.create": "a new instrument",
    "laboratory.set_up": "the lab's first data; it asks as soon as something stored becomes another",
    "liquids.add_property": "a further value beside the earlier ones; its source says where it is from",
    "liquids.create": "a new liquid",
    "liquids.create_lubricant": "a new lubricant",
    "liquids.log_bath_lot": "a new lot",
    "liquids.log_lot": "a new lot",
    "liquids.log_lubricant_lot": "a new lot",
    "materials.log_lot": "a new lot",
    "methods.fix_version": "a further version beside the earlier ones; its note says what is other",
    "people.add": "a new person",
    "processing.finish": "the end of a step; it asks as soon as something stored becomes another",
    "processing.note_deviation": "a new deviation, with a reason of its own",
    "processing.record": "what was done",
    "projects.start": "a new project",
    "projects.admit": "a new membership",
    "recipes.create": "a new recipe",
    "runs.complete": "an act: who and when are what it says; no value changes",
    "releases.put_to_use": "a further record beside the earlier ones",
    "runs.enter": "a new run",
    "runs.record": "new readings; it asks as soon as a stored one becomes another",
    "runs.review": "an act: who and when are what it says; no value changes",
}
# What an entry moves by itself, and why that is no value somebody typed.
FOLLOWS = {
    ("assessment", "state"): "the act itself",
    ("coupon", "state"): "where the coupon stands follows from what was done with it",
    ("laboratory", "last_coupon_number"): "a counter",
    ("test-run", "version"): "a counter",
    ("test-run", "state"): "the act itself",
    ("test-run", "completed_by"): "the act itself",
    ("test-run", "completed_at"): "the act itself",
    ("test-run", "reviewed_by"): "the act itself",
    ("test-run", "reviewed_at"): "the act itself",
    ("analysis", "is_current"): "computed anew from what was entered",
}


def verbs():
    found = {}
    for module in pkgutil.walk_packages(actions.__path__, "labrecords.actions."):
        for item in vars(importlib.import_module(module.name)).values():
            if inspect.isfunction(item) and hasattr(item, "verb"):
                found[item.verb] = inspect.signature(item).parameters["why"].default
    return found


def test_every_verb_asks_for_a_reason_or_is_listed_as_an_entry():
    found = verbs()
    assert {"coupons.move", "runs.exclude", "batches.join"} <= set(found)
    assert {name for name, why in found.items() if why is not inspect.Parameter.empty} == set(ENTRIES)


@pytest.fixture
def person(db):
    return make_person("quality")


def live(person):
    """A life of records in which nobody gives a reason of their own where the verb has one."""
    reviewer = make_person("reviewer")
    batch = make_tested_batch(person, n=2, reviewer=reviewer)
    issue_report(batch, make_shedding_criteria(person))
    parent = make_coupon(person)
    coupons.split(by=person, coupon=parent, pieces=[{"mark": "L"}, {"mark": "R"}])
    late = make_batch(person, n=1)
    coupon, step = late.members.first().coupon, late.recipe_revision.steps.first()
    start = timezone.now() - timedelta(hours=1)
    process = processing.record(by=person, batch=late, step=step, coupons=[coupon], started_at=start)
    processing.finish(by=person, process=process, finished_at=timezone.now(), actual={"temperature_c": 97},
                      masses={coupon.code: (5000.0, 5001.0)}, remark="calm")  # fmt: skip
    run = make_run(person)
    runs.record(by=person, run=run, readings=sliding([4.0]))
    runs.record(by=person, run=run, readings=sliding([4.0, 5.0]))


def test_what_verbs_change_without_asking_is_no_stored_value(person):
    """Read from the trail: every update that was booked with a verb's own reason, field by field."""
    live(person)
    own = {why for why in verbs().values() if isinstance(why, str)}
    changed, wrong = set(), []
    for noun, model in history.nouns().items():
        for row in model._default_manager.all():
            for change in history.changes(row):
                if change.is_entry or change.why not in own:
                    continue
                for field, (before, after) in change.values.items():
                    is_first = before in (None, "", {}) or (
                        isinstance(before, dict) and before.items() <= after.items()
                    )
                    changed.add((noun, field))
                    if not is_first and (noun, field) not in FOLLOWS:
                        wrong.append((noun, field, before, after, change.why))
    assert wrong == []
    assert set(FOLLOWS) <= changed  # what is excused here does happen


# ---- a saved reading is changed: action, page, API, import ---------------------------------------------


@pytest.fixture
def draft(person):
    run = runs.record(by=person, run=make_run(person), readings=sliding([4.5, 6.1]))
    assert run.state == "draft"
    return run


def stored(run):
    return [(row.value, row.is_current) for row in Reading.objects.filter(run=run).order_by("id")]


def test_action_refuses_a_correction_in_draft_without_its_reason(person, draft):
    with pytest.raises(ReasonMissing):
        runs.record(by=person, run=draft, readings=sliding([4.6]))
    with pytest.raises(ReasonMissing):  # one changed and one new: nothing of both
        runs.record(by=person, run=draft, readings=sliding([4.6, 6.1, 7.0]))
    assert stored(draft) == [(4.5, True), (6.1, True)]
    runs.record(by=person, run=draft, why="misread", readings=sliding([4.6]))
    assert stored(draft) == [(4.5, False), (6.1, True), (4.6, True)]


def test_new_readings_and_the_same_again_need_no_reason(person, draft):
    runs.record(by=person, run=draft, readings=sliding([4.5, "6,1", 7.0]))
    assert stored(draft) == [(4.5, True), (6.1, True), (7.0, True)]


def sheet(run, value, **more):
    data = {"version": run.version, "row": "0", "position-0": "1", "drop-0": "1", "direction-0": "", "stored-0": "1"}
    cell = "0-sliding_angle"
    return data | {f"value-{cell}": value, f"qualifier-{cell}": "measured", f"was-{cell}": "measured|4.5|"} | more


def test_page_refuses_it_keeps_what_was_typed_and_takes_it_with_a_reason(client, person, draft):
    client.force_login(person)
    url = reverse("run-save", args=[draft.code])
    refused = client.post(url, sheet(draft, "4.6"))
    assert refused.status_code == 400
    assert "Say why" in refused.text
    assert 'value="4.6"' in refused.text
    assert 'id="why"' in refused.text
    assert stored(draft) == [(4.5, True), (6.1, True)]
    assert client.post(url, sheet(draft, "4.6", why="misread")).status_code == 302
    assert (4.6, True) in stored(draft)


def test_page_of_a_run_without_readings_asks_for_nothing(client, person):
    client.force_login(person)
    assert 'id="why"' not in client.get(reverse("run", args=[make_run(person).code])).text


def test_api_refuses_it_and_takes_it_with_a_reason(person, draft):
    from tests.labrecords.api.conftest import Caller

    caller = Caller(person)
    body = {"version": draft.version, "readings": [{"quantity": "sliding_angle", "value": 4.6}]}
    status, data = caller.post(f"runs/{draft.code}/readings/", body)
    assert (status, data["code"], data["field"]) == (400, "ReasonMissing", "why")
    assert stored(draft) == [(4.5, True), (6.1, True)]
    assert caller.post(f"runs/{draft.code}/readings/", body | {"why": "misread"})[0] == 200


def test_import_never_changes_a_stored_reading(person):
    make_method_version(person)
    run = make_run(person)
    runs.record(by=person, run=run, readings=sliding([4.5]))
    head = "run,coupon,method,liquid,drop_volume_ul,dose,quantity,position,drop,value,qualifier\n"
    line = f"{run.code},{run.coupon.code},sliding_angle,{run.liquid_lot.code},10,0,sliding_angle,1,1,"
    with pytest.raises(FileRefused) as refused:
        import_file(by=person, data=f"{head}{line}4.6,\n".encode(), name="again.csv", why="better values")
    assert "correct it on the run page with a reason" in refused.value.lines[0]["rule"]
    assert stored(run) == [(4.5, True)]


# ---- other values that are stored -----------------------------------------------------------------------


def test_mass_stored_at_the_start_of_a_step_changes_only_with_a_reason(client, person):
    batch = make_batch(person, n=1)
    coupon, step = batch.members.first().coupon, batch.recipe_revision.steps.first()
    start = timezone.now() - timedelta(hours=1)
    process = processing.record(by=person, batch=batch, step=step, coupons=[coupon], started_at=start,
                                actual={"temperature_c": 97}, masses={coupon.code: (5000.0, None)})  # fmt: skip
    end = {"by": person, "process": process, "finished_at": timezone.now()}
    with pytest.raises(ReasonMissing):
        processing.finish(**end, masses={coupon.code: (5003.0, 5004.0)})
    with pytest.raises(ReasonMissing):
        processing.finish(**end, actual={"temperature_c": 98})
    client.force_login(person)
    url = reverse("batch-step", args=[batch.code, step.order])
    before, after = (f"coupon-{coupon.pk}-mass_{part}_mg" for part in ("before", "after"))
    typed = {"do": f"finish-{process.pk}", before: "5003", after: "5004"}
    refused = client.post(url, typed)
    assert "Say why" in refused.text
    row = process.processed.get()
    assert (row.mass_before_mg, row.mass_after_mg) == (5000.0, None)
    assert client.post(url, typed | {f"end-{process.pk}-why": "balance was not tared"}).status_code == 302
    row.refresh_from_db()
    assert (row.mass_before_mg, row.mass_after_mg) == (5003.0, 5004.0)
    assert history.changes(row)[-1].why == "balance was not tared"


def test_data_of_the_lab_change_only_with_a_reason(client, person):
    lab = make_lab(person)
    same = {"name": lab.name, "address": lab.address, "site": lab.site}
    laboratory.set_up(by=person, **same)  # nothing changes
    with pytest.raises(ReasonMissing):
        laboratory.set_up(by=person, **same | {"name": "Other Lab"})
    client.force_login(person)
    typed = same | {"name": "Other Lab", "coupon_scheme": lab.coupon_scheme}
    refused = client.post(reverse("laboratory-set-up"), typed)
    assert "Say why" in refused.text
    assert Laboratory.objects.get().name == lab.name
    assert client.post(reverse("laboratory-set-up"), typed | {"why": "new owner"}).status_code == 302
    assert history.changes(Laboratory.objects.get())[-1].why == "new owner"


def test_reasons_are_those_of_the_transaction(person, draft):
    """Every event of a correction carries the reason: the old reading, the new one and the run."""
    runs.record(by=person, run=draft, why="misread the scale", readings=sliding([4.6]))
    said = [history.changes(row)[-1].why for row in [*draft.readings.exclude(drop=2), TestRun.objects.get(pk=draft.pk)]]
    assert said == ["misread the scale"] * 3
