"""How fast the main pages answer on the demo data, and a report is written. Repeat the README's figures with
`.venv/bin/python -m pytest tests/journeys/test_speed.py -s`.
"""

import statistics
import time

import pytest
from django.db import connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext

from labrecords.actions import assessments
from labrecords.management import scenario
from labrecords.models import Batch, CriterionSet, Person
from labrecords.reports import qualification
from tests.factories import sign

PAGES = [
    "/", "/coupons/", "/coupons/{coupon}/", "/recipes/", "/recipes/D-LIS/", "/liquids/", "/instruments/", "/methods/",
    "/runs/", "/runs/new/", "/runs/SL-B03/", "/runs/AR-A01/", "/batches/", "/batches/D-B/", "/batches/D-B/step/4/",
    "/specifications/", "/qualifications/", "/lab/",
]  # fmt: skip


pytestmark = [pytest.mark.django_db, pytest.mark.alone]


@pytest.fixture(scope="module")
def demo(django_db_setup, django_db_blocker):
    with django_db_blocker.unblock(), transaction.atomic():
        scenario.load("dew-plates-7")
        scenario.qualify("dew-plates-7")
        client = Client()
        client.force_login(Person.objects.get(username="pell"))
        yield client
        transaction.set_rollback(True)


def timed(call, times=7):
    taken = []
    for _ in range(times):
        started = time.perf_counter()
        call()
        taken.append(1000 * (time.perf_counter() - started))
    return taken


# As it was landed: the page of the largest batch takes 90 to 120 ms; at 100 ms this would toss a coin.
LIMIT_MS = 150


def test_main_pages_answer_under_150_ms_on_the_demo_data(demo):
    coupon = Batch.objects.get(code="D-B").members.first().coupon.code
    print("\npage                              median ms   best ms   queries")
    slow = {}
    for address in PAGES:
        address = address.format(coupon=coupon)
        assert demo.get(address).status_code == 200
        taken = timed(lambda address=address: demo.get(address))
        with CaptureQueriesContext(connection) as seen:
            demo.get(address)
        print(f"{address:34s}{statistics.median(taken):9.0f}{min(taken):10.0f}{len(seen):10d}")
        # The best of seven is judged: what else the machine does must not make a slow page, nor hide one.
        if min(taken) > LIMIT_MS:
            slow[address] = min(taken)
    assert slow == {}


def test_report_of_six_coupons_and_thirty_drops_takes_under_2_s(demo):
    batch, revision = Batch.objects.get(code="D-A"), CriterionSet.objects.get().revisions.get()
    pell, prepared, signed, issued = Person.objects.get(username="pell"), [], [], []
    for _ in range(3):
        ways = []
        prepared += timed(
            lambda ways=ways: ways.append(assessments.prepare(by=pell, batch=batch, criterion_revision=revision)), 1
        )
        signed += timed(lambda ways=ways: ways.append(sign(ways[0])), 1)
        issued += timed(lambda ways=ways: qualification.issue(by=pell, assessment=ways[1]), 1)
    told = {"prepared": prepared, "signed three times": signed, "checked, rendered and stored": issued}
    for words, taken in told.items():
        print(f"\nqualification {words}: median {statistics.median(taken):.0f} ms")
    assert min(prepared) + min(issued) < 2000
