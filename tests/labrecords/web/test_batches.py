"""Pages of batches and qualifications: form, page, deviations, preview, issue, file."""

import hashlib
import re

import pytest
from django.urls import reverse

from labrecords.actions import assessments, batches, coupons, runs
from labrecords.errors import ValueRefused
from labrecords.models import Assessment, Batch, Deviation, Qualification
from tests.factories import (
    make_batch,
    make_coupon,
    make_criteria,
    make_instrument,
    make_liquid_lot,
    make_lot,
    make_method_version,
    make_person,
    make_recipe,
    make_run,
    sign,
    sliding,
)

pytestmark = pytest.mark.django_db
DROPS = ([3.5, 5.7, 4.0, 4.5, 3.7], [2.4, 2.9, 6.4, 3.7, 2.5], [5.6, 5.1, 3.9, 3.7, 3.0])


@pytest.fixture
def person():
    return make_person("quality")


@pytest.fixture
def page(client, person):
    client.force_login(person)
    return client


def read_batch(person, n=3, drops=DROPS):
    """A batch whose treated coupons have one completed sliding-angle run each."""
    batch = make_batch(person, n=n)
    version, lot, rig = make_method_version(person), make_liquid_lot(person), make_instrument(person)
    for index, member in enumerate(batch.members.all()):
        run = make_run(person, coupon=member.coupon, method_version=version, liquid_lot=lot, instrument=rig)
        run = runs.record(by=person, run=run, readings=sliding(drops[index % len(drops)]))
        runs.complete(by=person, run=run)
    return batch


def new_batch(person, **more):
    lot = make_lot(person)
    data = {"code": "B-7", "recipe_revision": make_recipe(person).pk, "lot": lot.pk}
    return lot, data | more


def test_batch_of_pasted_codes_marks_and_ticked_coupons(page, person):
    lot, data = new_batch(person)
    first, second, third = make_coupon(person, lot), make_coupon(person, lot, marks=["K2"]), make_coupon(person, lot)
    control = make_coupon(person)
    data |= {"treated": f"{first.code.lower()},\n K2", "pick-treated": [third.pk], "control": control.code}
    answer = page.post(reverse("batch-new"), data)
    assert answer.url == reverse("batch", args=["B-7"])
    members = Batch.objects.get().members.values_list("coupon", "role")
    assert set(members) == {
        (first.pk, "treated"), (second.pk, "treated"), (third.pk, "treated"), (control.pk, "control"),
    }  # fmt: skip


def test_refused_batch_keeps_what_was_typed(page, person):
    _, data = new_batch(person, title="Kept words")
    stranger = make_coupon(person)
    answer = page.post(reverse("batch-new"), data | {"treated": stranger.code, "pick-control": [stranger.pk]})
    assert answer.status_code == 400
    assert "is not of the batch&#x27;s substrate lot" in answer.text
    assert "Kept words" in answer.text
    assert stranger.code in answer.context["form"]["treated"].value()
    assert (
        f'name="pick-control" value="{stranger.pk}" aria-label="{stranger.code} untreated control" checked'
        in answer.text
    )
    assert not Batch.objects.exists()


def test_mistyped_code_is_refused_in_the_words_of_the_action(page, person):
    _, data = new_batch(person)
    code = make_coupon(person).code
    wrong = code[:-1] + ("A" if code[-1] != "A" else "B")
    answer = page.post(reverse("batch-new"), data | {"treated": wrong})
    assert f"“{wrong}” is no valid coupon code" in answer.text


def test_batch_page_counts_coupons_and_drops_apart(page, person):
    batch = read_batch(person)
    answer = page.get(reverse("batch", args=[batch.code]))
    row = answer.context["groups"][0]["rows"][0]
    assert (row["n_coupons"], row["n_drops"]) == (3, 15)
    assert "<svg" in answer.text


def test_runs_for_all_coupons_leaves_out_those_that_take_no_readings(page, person):
    first, second = [member.coupon for member in make_batch(person, n=2).members.select_related("coupon")]
    coupons.move(by=person, coupon=second, state="consumed", why="cut up")
    text = page.get(reverse("batch", args=[Batch.objects.get().code])).text
    offered = text.split("?coupons=")[1].split('"')[0]
    assert offered == f"{first.code}+"


def test_deviation_is_added_and_one_without_reason_is_refused(page, person):
    batch = make_batch(person)
    url = reverse("batch-deviation", args=[batch.code])
    refused = page.post(url, {"what": "boil water from the wrong line", "reason": ""})
    assert refused.status_code == 400
    assert "boil water from the wrong line" in refused.text
    assert page.post(url, {"what": "boil water from the wrong line", "reason": "valve"}).status_code == 302
    assert Deviation.objects.get().reason == "valve"


def test_further_coupons_join_with_a_reason(page, person):
    batch = make_batch(person)
    coupon = make_coupon(person, batch.lot)
    url = reverse("batch-join", args=[batch.code])
    page.post(url, {"coupon": coupon.code, "role": "treated", "why": "after an inconclusive outcome"})
    assert batch.members.filter(coupon=coupon, role="treated").exists()


def test_outcome_is_shown_before_preparing_and_issue_keeps_the_file(page, person):
    batch, revision = read_batch(person), make_criteria(person)
    url = reverse("qualify", args=[batch.code])
    preview = page.get(url, {"specification": revision.pk})
    assert preview.status_code == 200
    assert "pass" in preview.context["outcomes"][0]["words"]
    assert not Qualification.objects.exists()
    prepared = page.post(url, {"specification": revision.pk})
    assessment = Assessment.objects.get()
    assert prepared.url == reverse("assessment", args=[assessment.pk])
    assert not Qualification.objects.exists()
    sign(assessment)
    issued = page.post(reverse("assessment-issue", args=[assessment.pk]), {"version": 1})
    made = Qualification.objects.get()
    assert issued.url == reverse("qualification", args=[made.report_number])
    assert made.sha256 in page.get(issued.url).text
    file = page.get(reverse("qualification-file", args=[made.report_number]))
    assert hashlib.sha256(file.content).hexdigest() == made.sha256
    assert file["Content-Disposition"].startswith("attachment; filename=")
    assert file["X-Content-Type-Options"] == "nosniff"
    assert made.report_number in page.get(reverse("qualifications")).text


def test_batch_with_a_draft_is_not_qualified_and_says_which(page, person):
    batch, revision = read_batch(person), make_criteria(person)
    draft = make_run(person, coupon=batch.members.first().coupon)
    answer = page.get(reverse("qualify", args=[batch.code]), {"specification": revision.pk})
    assert answer.status_code == 409
    assert draft.code in answer.text


def test_operator_sees_the_outcome_but_no_button_to_prepare(client, person):
    batch, revision = read_batch(person), make_criteria(person)
    client.force_login(make_person("operator"))
    url = reverse("qualify", args=[batch.code])
    assert "Prepare the report" not in client.get(url, {"specification": revision.pk}).text
    assert client.post(url, {"specification": revision.pk}).status_code == 403
    assert not Assessment.objects.exists()


def test_developer_sees_an_approved_assessment_but_no_button_to_issue(client, person):
    batch, revision = read_batch(person), make_criteria(person)
    assessment = sign(assessments.prepare(by=person, batch=batch, criterion_revision=revision))
    client.force_login(make_person("developer"))
    url = reverse("assessment", args=[assessment.pk])
    assert "Issue the report</button>" not in client.get(url).text
    assert client.post(reverse("assessment-issue", args=[assessment.pk]), {"version": 1}).status_code == 403
    assert not Qualification.objects.exists()


@pytest.mark.parametrize(
    "name", ["runs", "batches", "methods", "specifications", "qualifications", "run-new", "batch-new"]
)
def test_stranger_is_sent_to_sign_in(client, name):
    answer = client.get(reverse(name))
    assert answer.status_code == 302
    assert reverse("sign-in") in answer.url


def test_sampling_plan_is_entered_later_with_a_reason(page, person):
    batch = make_batch(person, 1)
    address = reverse("batch-amend", args=[batch.code])
    assert address in page.get(reverse("batch", args=[batch.code])).text
    plan = {"sampling": "each third coupon"}
    assert "a change of a stored value needs a reason" in page.post(address, plan).text
    assert page.post(address, plan | {"why": "it was forgotten"}).status_code == 302
    batch.refresh_from_db()
    assert batch.sampling == "each third coupon"
    assert [event.pgh_context.metadata["why"] for event in batch.events.order_by("pgh_id")][-1] == "it was forgotten"
    assert "differs from what is stored" in page.post(address, plan | {"why": "again"}).text


def test_nobody_measures_whose_role_does_not(page, person):
    customer = make_person("customer", full_name="Custo Mer")
    assert "Custo Mer" not in page.get(reverse("run-new")).text
    with pytest.raises(ValueRefused, match="measures nothing"):
        make_run(person, operators=[customer])


def test_amending_from_a_page_of_before_another_amendment_is_refused(page, person):
    batch = make_batch(person, n=1)
    address = reverse("batch-amend", args=[batch.code])
    seen = re.search(r'name="seen" value="(\d+)"', page.get(address).text)[1]
    batches.amend(by=person, why="by the plan", batch=batch, sampling="each third")
    answer = page.post(address, {"title": batch.title, "sampling": "", "remark": "late", "why": "late", "seen": seen})
    assert "was changed by" in answer.text
    batch.refresh_from_db()
    assert (batch.sampling, batch.remark) == ("each third", "")
