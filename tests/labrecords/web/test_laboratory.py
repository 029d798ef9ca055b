"""The lab's page: its data, projects, people."""

import pytest
from django.test import Client
from django.urls import reverse

from labrecords.actions import materials
from labrecords.models import Laboratory, Person, Project
from tests.factories import make_person

pytestmark = pytest.mark.django_db


@pytest.fixture
def keeper():
    client = Client()
    client.force_login(make_person("administrator"))
    return client


def test_lab_is_set_up_and_changed(keeper):
    assert "Not set up yet" in keeper.get(reverse("laboratory")).text
    lab = {"name": "Invented Lab", "address": "1 Example Lane", "site": "iv", "coupon_scheme": "{site}-{number:05d}"}
    assert keeper.post(reverse("laboratory-set-up"), lab).status_code == 302
    assert Laboratory.objects.get().site == "IV"
    assert 'value="Invented Lab"' in keeper.get(reverse("laboratory-set-up")).text
    refused = keeper.post(reverse("laboratory-set-up"), lab | {"coupon_scheme": "{place}-{number}"}).text
    assert "may use {site}, {year} and {number} only" in refused


def test_project_is_started(page):
    page.post(reverse("project-start"), {"code": "WX-9", "title": "Gauges", "customer": "Invented Customer"})
    assert Project.objects.get().customer == "Invented Customer"
    assert "WX-9" in page.get(reverse("laboratory")).text


def test_person_is_added_and_disabled_by_the_administrator_only(keeper, page):
    body = {"username": "nils", "full_name": "New Hand", "role": "operator", "password": "long-enough-77"}
    assert "may not add people: that is open to administrator" in page.post(reverse("person-add"), body).text
    assert "too short" in keeper.post(reverse("person-add"), body | {"password": "abc"}).text
    keeper.post(reverse("person-add"), body)
    person = Person.objects.get(username="nils")
    assert Client().login(username="nils", password="long-enough-77")
    address = reverse("person-disable", args=[person.pk])
    assert "Say why" in keeper.post(address, {"why": ""}).text
    keeper.post(address, {"why": "left the lab"})
    assert not Client().login(username="nils", password="long-enough-77")
    assert person.events.order_by("-pgh_id").first().pgh_context.metadata["why"] == "left the lab"


def test_log_without_a_lab_says_what_comes_first(page, person):
    lot = materials.log_lot(by=person, code="S1", material="Glass", form="plate")
    text = page.post(reverse("coupon-log"), {"lot": lot.pk, "count": "1"}).text
    assert "The lab is not set up yet" in text
