"""“Why?”: one page for any result of a run, a batch or a report, with the same chain as the report's annex."""

import io
from urllib.parse import urlencode

import pytest
from django.urls import reverse
from pypdf import PdfReader

import analysis
from labrecords.actions import analyses
from labrecords.models import TestRun
from tests.factories import issue_report, make_criteria
from tests.labrecords.web.test_batches import read_batch

pytestmark = pytest.mark.django_db


@pytest.fixture
def batch(person):
    return read_batch(person)


def issued(page, batch, person):
    row = {"label": "C1", "kind": "mean_interval", "quantity": "sliding_angle", "limit": 8.0}
    criteria = make_criteria(person, rows=[row])
    return issue_report(batch, criteria, approver=person)


def test_each_result_of_a_run_leads_to_its_explanation(page, batch):
    run = TestRun.objects.first()
    content = run.analyses.get(is_current=True).content
    shown = page.get(reverse("run", args=[run.code])).text
    for row in [*content["statistics"], *content["checks"]]:
        address = reverse("run-why", args=[run.code, row["key"]])
        assert address in shown
        answer = page.get(address)
        assert answer.status_code == 200
        assert "What would change it" in answer.text


def test_explanation_shows_formula_readings_source_and_version(page, batch):
    run = TestRun.objects.first()
    text = page.get(reverse("run-why", args=[run.code, "sliding_angle_median"])).text
    chain = next(
        item
        for item in analysis.explain_run(analyses.records_with_baselines(TestRun.objects.filter(pk=run.pk))[0][1])
        if item.key == "sliding_angle_median"
    )
    for words in ("3.5; 5.7; 4.0; 4.5; 3.7", run.code, chain.method, "Version of its settings", analysis.CODE_VERSION):
        assert words in text
    for step in chain.steps:
        for words in (step.formula, step.holds_when, *step.sources):
            assert not words or words.replace("&", "&amp;").replace("'", "&#x27;") in text


def test_each_statistic_of_a_batch_is_explained_coupon_by_coupon(page, batch):
    shown = page.get(reverse("batch", args=[batch.code])).text
    [group] = analyses.batch_result(batch).groups
    address = f"{reverse('batch-why', args=[batch.code, 'sliding_angle_median'])}?{urlencode({'group': group.key})}"
    assert f"group={group.key.replace('|', '%7C')}" in shown
    text = page.get(address).text
    for coupon, value in zip(group.coupons, ("4.0°", "2.9°", "3.9°"), strict=True):  # hand: the middle of five drops
        assert coupon in text
        assert value in text


def test_outcome_of_a_report_is_explained_as_it_was_issued(page, batch, person):
    report = issued(page, batch, person)
    address = reverse("report-why", args=[report.report_number, "C1"])
    assert address in page.get(reverse("qualification", args=[report.report_number])).text
    text = page.get(address).text
    assert report.evidence["explanations"]["outcomes"][0]["turns"] in text
    assert "The decision" in text


def test_report_prints_the_same_chain(page, batch, person):
    report = issued(page, batch, person)
    pages = PdfReader(io.BytesIO(bytes(report.file))).pages
    printed = " ".join(" ".join(item.extract_text().split()) for item in pages)
    told = report.evidence["explanations"]
    assert "how each result was obtained" in printed
    for chain in told["outcomes"]:
        assert " ".join(chain["turns"].split()) in printed
        for step in chain["steps"]:
            assert step["title"] in printed
    for step in told["formulas"]:
        assert " ".join(step["formula"].split()) in printed


@pytest.mark.parametrize("wrong", ["no_such_statistic", "..", "C9"])
def test_result_that_does_not_exist_is_not_found(page, batch, wrong):
    run = TestRun.objects.first()
    assert page.get(f"/runs/{run.code}/why/{wrong}/").status_code == 404
    assert page.get(f"/batches/{batch.code}/why/{wrong}/", {"group": "x"}).status_code == 404


def test_every_formula_can_be_printed():
    """The report's font has each sign that a formula, its validity and its inputs are written with."""
    from labrecords.reports import look

    missing = set()
    for key, item in analysis.FORMULAS.items():
        texts = [
            item.statement,
            item.holds_when,
            item.title,
            item.library,
            *(said for row in item.inputs for said in row),
        ]
        missing |= {(key, sign) for text in texts for sign in text if ord(sign) not in look.GLYPHS}
    assert missing == set()
