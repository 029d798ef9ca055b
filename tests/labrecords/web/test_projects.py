"""The page of a project, where each role comes in, and what the navigation shows."""

import re

import pytest
from django.test import Client
from django.urls import reverse

from labrecords.actions import projects
from labrecords.models import ProjectMember
from tests.factories import (
    issue_report,
    make_criteria,
    make_person,
    make_tested_batch,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def project(person):
    return projects.start(by=person, code="P-1", title="Wings")


def signed_in(person):
    client = Client()
    client.force_login(person)
    return client


def links(client, address="/"):
    text = client.get(address, follow=True).text
    return re.findall(r'href="([^"]+)"', re.search(r"<nav.*?</nav>", text, re.DOTALL)[0])


def test_members_are_admitted_and_dismissed_on_the_page(page, person, project):
    other = make_person("operator")
    assert reverse("project-admit", args=["P-1"]).startswith("/projects/")
    answer = page.post(reverse("project-admit", args=["P-1"]), {"person": other.pk}, follow=True)
    assert other.full_name in answer.text
    assert page.post(reverse("project-admit", args=["P-1"]), {"person": other.pk}).status_code == 200
    assert ProjectMember.objects.count() == 1
    dismiss = reverse("project-dismiss", args=["P-1", other.pk])
    assert "Say why" in page.post(dismiss, {"why": ""}).text
    assert "Members before" in page.post(dismiss, {"why": "moved on"}, follow=True).text


def test_switch_of_members_only(page, person, project):
    page.post(reverse("project-restrict", args=["P-1"]), {"why": "the customer asks"})
    text = page.get(reverse("project", args=["P-1"])).text
    assert "members only" in text
    assert person.full_name in text
    stranger = signed_in(make_person("developer"))
    assert stranger.get(reverse("project", args=["P-1"])).status_code == 404
    assert "P-1" not in stranger.get(reverse("laboratory")).text
    page.post(reverse("project-open-up", args=["P-1"]), {"why": "published"})
    assert stranger.get(reverse("project", args=["P-1"])).status_code == 200


def test_customer_comes_in_at_own_reports(person, project):
    author, reviewer = make_person("developer"), make_person("reviewer")
    for signer in (author, reviewer):
        projects.admit(by=person, project=project, person=signer)
    batch = make_tested_batch(person, n=1, drops=3, control=False, project=project)
    report = issue_report(batch, make_criteria(person), author=author, reviewer=reviewer, approver=person)
    customer = make_person("customer")
    client = signed_in(customer)
    assert report.report_number not in client.get("/", follow=True).text
    projects.admit(by=person, project=project, person=customer)
    answer = client.get("/", follow=True)
    assert answer.redirect_chain == [(reverse("qualifications"), 302)]
    assert "Your reports" in answer.text
    assert report.report_number in answer.text
    one = client.get(reverse("qualification", args=[report.report_number]))
    assert one.status_code == 200
    assert reverse("batch", args=[report.batch.code]) not in one.text
    assert "/why/" not in one.text
    file = client.get(reverse("qualification-file", args=[report.report_number]))
    assert file.content == bytes(report.file)


def test_navigation_shows_what_the_role_may_open():
    assert links(signed_in(make_person("customer"))) == ["/qualifications/"]
    assert links(signed_in(make_person("administrator"))) == ["/lab/", "/people/"]
    assert len(links(signed_in(make_person("operator")))) == 13


@pytest.mark.parametrize("role", ["customer", "administrator", "operator", "quality"])
def test_every_link_of_the_navigation_opens(role):
    client = signed_in(make_person(role))
    for address in links(client):
        assert client.get(address).status_code == 200


def test_page_that_the_role_does_not_open_says_so():
    answer = signed_in(make_person("administrator")).get(reverse("runs"))
    assert answer.status_code == 403
    assert "may not look at runs and readings" in answer.text
