"""Statement 37, W10: a real browser under the strict policy complains about no page; the second factor in it."""

import base64
import re

import pytest
from django.test import Client

from labrecords.models import Person
from tests.factories import PASSWORD, make_person
from tests.journeys.conftest import DESKTOP
from tests.labrecords.security.addresses import World
from tests.labrecords.security.test_second_factor import code_of

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
# What makes a browser complain: the negative control.
FOREIGN = "<script>document.title = 'ran'</script><p style='color: red'>x</p><img src='http://127.0.0.1:9/x.png'>"


@pytest.fixture
def watched(chromium, live_server):
    """A browser page, what it complains about, and which addresses it asked for."""
    context = chromium.new_context(viewport=DESKTOP, base_url=live_server.url)
    context.set_default_timeout(15_000)
    page, complaints, asked = context.new_page(), [], []
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.on("console", lambda message: message.type in ("error", "warning") and complaints.append(message.text))
    page.on("request", lambda request: asked.append(request.url))
    yield page, complaints, asked
    context.close()


def test_browser_complains_about_what_the_policy_forbids(watched, sign_in, monkeypatch):
    from django.http import HttpResponse

    from labrecords.web import doors, today

    page, complaints, _ = watched
    sign_in(page, make_person())
    monkeypatch.setattr(today.urlpatterns[0], "callback", lambda request: HttpResponse(FOREIGN))
    monkeypatch.setattr(doors, "verb_of", lambda view: None)  # a view of nobody's is open to nobody
    page.goto("/")
    assert page.title() != "ran"
    assert len([text for text in complaints if "Content Security Policy" in text]) >= 3


@pytest.mark.thorough
def test_no_page_makes_the_browser_complain_or_ask_elsewhere(watched, sign_in, live_server):
    page, complaints, asked = watched
    world = World(make_person("quality"))
    sign_in(page, world.person)
    client = Client()
    client.force_login(world.person)
    answers = {a: client.get(a) for a in sorted(world.addresses()) if not a.startswith("/api/")}
    pages = [
        address
        for address, answer in answers.items()
        if answer.status_code == 200 and "attachment" not in answer.headers.get("Content-Disposition", "")
    ]
    for address in pages:
        if not address.endswith("/file/"):
            page.goto(address)
            assert complaints == [], address
    assert len(pages) > 35
    assert {url for url in asked if not url.startswith(live_server.url)} == set()


def test_htmx_and_the_grid_work_under_the_policy(watched, sign_in):
    page, complaints, _ = watched
    world = World(make_person("quality"))
    sign_in(page, world.person)
    page.goto("/")
    assert page.evaluate("window.htmx.config.allowEval") is False
    assert page.evaluate("window.htmx.config.includeIndicatorStyles") is False
    page.evaluate("htmx.trigger('#running', 'every')")
    page.goto("/runs/new/")
    with page.expect_response(lambda answer: "method_version" in answer.url):
        page.get_by_label("Method").first.select_option(index=1)
    assert complaints == []


def test_second_factor_is_turned_on_and_asked_for(watched, sign_in):
    page, complaints, _ = watched
    person = make_person()
    sign_in(page, person)
    page.goto("/account/")
    page.get_by_role("link", name="Turn it on").click()
    page.get_by_label("Your password").fill(PASSWORD)
    page.get_by_role("button", name="Continue").click()
    key = base64.b32decode(re.search(r"Key: ([A-Z2-7 ]+)", page.inner_text("main"))[1].replace(" ", ""))
    assert page.locator("svg rect").count() > 200
    page.get_by_role("textbox", name="Code").fill(code_of(key))
    page.get_by_role("button", name="Turn it on").click()
    page.wait_for_url("**/account/")
    assert complaints == []
    page.get_by_role("button", name="Sign out").click()
    page.goto("/sign-in/")
    page.get_by_label("Sign-in name").fill(person.username)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    assert "six-digit code" in page.inner_text("main")
    assert Person.objects.get(pk=person.pk).has_second_factor
