"""Pages ask the database the same number of times however many rows they show."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from labrecords.actions import runs
from labrecords.models import TestRun
from tests.factories import (
    issue_report,
    make_batch,
    make_coupon,
    make_criteria,
    make_instrument,
    make_liquid_lot,
    make_method_version,
    make_person,
    make_run,
    sliding,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def person():
    return make_person("quality")


@pytest.fixture
def asked(client, person):
    """How many queries a page asks, after a first visit that fills what is read once."""
    client.force_login(person)

    def count(url):
        client.get(url)
        with CaptureQueriesContext(connection) as queries:
            assert client.get(url).status_code == 200
        return len(queries)

    return count


def read(person, coupon, drops, shared):
    run = make_run(person, coupon=coupon, **shared)
    return runs.complete(by=person, run=runs.record(by=person, run=run, readings=sliding(drops)))


@pytest.fixture
def shared(person):
    return {
        "method_version": make_method_version(person),
        "liquid_lot": make_liquid_lot(person),
        "instrument": make_instrument(person),
    }


def test_run_page(asked, person, shared):
    small, large = make_coupon(person), make_coupon(person)
    few = read(person, small, [3.5, 5.7, 4.0], shared)
    many = read(person, large, [3.5, 5.7, 4.0] * 10, shared)
    for reading in many.readings.all()[:5]:
        runs.exclude(by=person, why="scratch", reading=reading)
    runs.complete(by=person, run=runs.reopen(by=person, why="once more", run=TestRun.objects.get(pk=many.pk)))
    runs.record(
        by=person,
        run=TestRun.objects.get(pk=many.pk),
        why="misread",
        readings=[runs.Typed("sliding_angle", drop=7, value="9")],
    )
    counts = [asked(reverse("run", args=[run.code])) for run in (few, many)]
    assert counts[0] == counts[1]


def test_batch_page_and_outcome(asked, person, shared):
    revision, counts = make_criteria(person), []
    for n in (3, 6):
        batch = make_batch(person, n=n)
        for member in batch.members.all():
            read(person, member.coupon, [3.5, 5.7, 4.0, ">"], shared)
        qualify = f"{reverse('qualify', args=[batch.code])}?specification={revision.pk}"
        counts.append((asked(reverse("batch", args=[batch.code])), asked(qualify)))
    assert counts[0] == counts[1]


@pytest.mark.parametrize(
    "name", ["runs", "batches", "specifications", "methods", "qualifications", "run-new", "batch-new"]
)
def test_lists_and_forms(asked, person, shared, name):
    def more():
        batch = make_batch(person, n=3)
        for member in batch.members.all():
            read(person, member.coupon, [3.5, 5.7, 4.0], shared)
        make_coupon(person)
        make_method_version(person)
        issue_report(batch, make_criteria(person), approver=person)

    more()
    first = asked(reverse(name))
    more()
    assert asked(reverse(name)) == first


def test_specification_and_its_next_revision(asked, person):
    row = {"kind": "worst_coupon", "quantity": "sliding_angle", "limit": 10}
    few = make_criteria(person, rows=[row | {"label": "C1"}])
    many = make_criteria(person, rows=[row | {"label": f"C{number}"} for number in range(1, 9)])
    for name in ("specification", "specification-revise"):
        counts = [asked(reverse(name, args=[item.criterion_set.code])) for item in (few, many)]
        assert counts[0] == counts[1]
