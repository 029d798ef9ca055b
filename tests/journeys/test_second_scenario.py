"""Signing and amending as a new user does them, in a real browser: every step by hand, each by its own person."""

import json

import pytest
from django.core.management import call_command
from playwright.sync_api import expect
from rest_framework.test import APIClient

from analysis import as_data
from labrecords.actions import batches
from labrecords.actions.analyses import batch_result
from labrecords.actions.rows import find
from labrecords.models import Assessment, Batch, Coupon, RecipeRevision, SubstrateLot
from tests.factories import PASSWORD, make_person
from tests.journeys import second_scenario as told
from tests.journeys.conftest import DESKTOP, TABLET
from tests.journeys.tools import needs_poppler, pdf_text


@needs_poppler
@pytest.mark.django_db
def test_by_commands(tmp_path, capsys):
    quality = make_person("quality")
    told.surroundings(quality)
    call_command("log_coupons", lot="PES-3", marks="P1,P2,P3,P4", by=quality.username)
    codes = dict(zip(told.SLIDING, capsys.readouterr().out.split(), strict=True))
    # A batch is formed on a page or through the API; there is no command for it.
    batches.form(
        by=quality,
        code="PES-B",
        recipe_revision=RecipeRevision.objects.get(),
        lot=find(SubstrateLot, "PES-3"),
        treated=list(Coupon.objects.all()),
    )
    (tmp_path / "readings.csv").write_bytes(told.readings_csv(codes))
    call_command("record_readings", str(tmp_path / "readings.csv"), by=quality.username)
    call_command("record_readings", str(tmp_path / "readings.csv"), by=quality.username)  # adds nothing
    capsys.readouterr()
    call_command("results", batch="PES-B", format="json")
    found = json.loads(capsys.readouterr().out)
    told.check_results(_batch_of(found), codes)
    call_command("results", batch="PES-B", format="table")
    table = capsys.readouterr().out
    mean, low, high = told.expected()["hysteresis"]
    assert all(f"{number:.2f}" in table for number in (mean, low, high))
    call_command("qualify_batch", "PES-B", "--criteria", "OIL-1", "--by", quality.username)
    assert "fail" in capsys.readouterr().out
    number, secret = str(Assessment.objects.get().pk), tmp_path / "password"
    secret.write_text(PASSWORD)
    for step, by in {"complete": quality, "review": make_person("reviewer"), "approve": make_person("quality")}.items():
        call_command("assessment", number, step, "--by", by.username, "--password-file", str(secret))
    call_command("assessment", number, "issue", "--by", quality.username, "--out", str(tmp_path / "report.pdf"))
    told.check_report(pdf_text(tmp_path / "report.pdf"))


def _batch_of(found):
    """The batch's result inside what `results --format json` prints."""
    (batch,) = found["batches"]
    return batch.get("result", batch)


@needs_poppler
@pytest.mark.django_db
def test_by_api(tmp_path):
    for role, name in {"quality": "pia", "reviewer": "rob"}.items():
        make_person(role, username=name)
    make_person("quality", username="ada")
    client = APIClient()
    token = client.post("/api/sign-in/", {"username": "pia", "password": PASSWORD}, format="json").json()["token"]
    client.credentials(HTTP_AUTHORIZATION=f"Token {token}")

    def post(path, **body):
        answer = client.post(f"/api/{path}", body, format="json")
        assert answer.status_code in (200, 201), answer.content
        return answer.json()

    post("laboratory/", name="Invented Lab", address="2 Example Lane", site="AP")
    post("materials/", code="PES-3", material="Polyester", grade="plain weave", form="fabric", thickness_mm=0.3)
    post("liquids/", code="HEX", name="Hexadecane")
    post(
        "properties/",
        liquid="HEX",
        quantity="surface_tension",
        value=told.TENSION,
        uncertainty=0.1,
        source="Jasper 1972",
    )
    post("liquid-lots/", code="HEX-1", liquid="HEX", prepared_on="2026-05-01", expires_on="2026-12-31")
    post("instruments/", code="RIG-9", title="Tilt stage")
    post("instruments/RIG-9/calibrate/", done_on="2026-01-02", due_on="2027-01-02", result="in order")
    for method, settings in told.SETTINGS.items():
        post("method-versions/", method=method, settings=settings, liquid="HEX", drop_volume_ul=20)
    post("recipes/", code="F-SH", title="Sprayed polyester", steps=told.STEPS)
    post(
        "specifications/",
        code="OIL-1",
        title="Oil",
        fixed_on="2026-05-02",
        when_inconclusive="four more, once",
        criteria=told.CRITERIA,
    )
    made = post("coupons/", lot="PES-3", count=4, marks=list(told.SLIDING))
    codes = {row["mark"]: row["code"] for row in made}
    post("batches/", code="PES-B", recipe="F-SH", lot="PES-3", treated=list(codes.values()))
    conditions = {
        "liquid_lot": "HEX-1",
        "drop_volume_ul": 20,
        "instrument": "RIG-9",
        "room_temperature_c": 22.5,
        "room_humidity_pct": 45,
        "observed_at": "2026-05-04T10:00",
    }
    for mark, code in codes.items():
        sliding = [
            {"quantity": "sliding_angle", "position": str(n), "qualifier": "not_moved"}
            if value == ">"
            else {"quantity": "sliding_angle", "position": str(n), "value": value}
            for n, value in enumerate(told.SLIDING[mark], 1)
        ]
        angles = [
            {"quantity": quantity, "position": str(n), "value": value}
            for n, pair in enumerate(told.PAIRS[mark], 1)
            for quantity, value in zip(("advancing_angle", "receding_angle"), pair, strict=True)
        ]
        for method, readings in (("sliding_angle", sliding), ("advancing_receding", angles)):
            run = post("runs/", coupon=code, method=method, **conditions)
            post(f"runs/{run['code']}/readings/", version=run["version"], readings=readings)
            post(f"runs/{run['code']}/complete/")
    told.check_results(_result(client.get("/api/batches/PES-B/results/").json()), codes)
    way = post("assessments/", batch="PES-B", criteria="OIL-1")
    assert way["verdict"] == "fail"
    for step, name in {"complete": "pia", "review": "rob", "approve": "ada"}.items():
        said = {"username": name, "password": PASSWORD}
        token = client.post("/api/sign-in/", said, format="json").json()["token"]
        client.credentials(HTTP_AUTHORIZATION=f"Token {token}")
        way = post(f"assessments/{way['id']}/{step}/", version=way["version"], password=PASSWORD)
    issued = post(f"assessments/{way['id']}/issue/")
    file = client.get(f"/api/qualifications/{issued['report']}/file/")
    (tmp_path / "report.pdf").write_bytes(b"".join(file) if file.streaming else file.content)
    told.check_report(pdf_text(tmp_path / "report.pdf"))


def _result(data):
    return data.get("result", data)


@needs_poppler
@pytest.mark.browser
@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("size", ["desktop", pytest.param("tablet", marks=pytest.mark.thorough)])
def test_by_pages(size, browser_page, sign_in, tmp_path):
    page, quality = browser_page, make_person("quality")
    told.surroundings(quality, with_recipe=False)
    page.set_viewport_size({"desktop": DESKTOP, "tablet": TABLET}[size])
    sign_in(page, quality)
    _write_recipe(page)
    codes = _log_coupons(page)
    _form_batch(page, codes)
    for mark, code in codes.items():
        _enter_run(page, code, "Sliding angle", [[value] for value in told.SLIDING[mark]])
        _enter_run(page, code, "Advancing and receding", told.PAIRS[mark])
    told.check_results(as_data(batch_result(Batch.objects.get())), codes)
    page.goto("/batches/PES-B/")
    mean, low, high = told.expected()["hysteresis"]
    shown = page.locator("main").inner_text()
    assert all(f"{number:.2f}" in shown for number in (mean, low, high))
    assert page.evaluate("document.documentElement.scrollWidth") <= page.viewport_size["width"]
    told.check_report(pdf_text(_qualify(page, sign_in, tmp_path)))


def _write_recipe(page):
    page.goto("/recipes/new/")
    page.get_by_label("Code").fill("F-SH")
    page.locator("[name=title]").fill("Sprayed polyester")
    for number, step in enumerate(told.STEPS, 1):
        if number > 1:
            page.get_by_role("button", name="Add a step").click()
            _settled(page, f"#fieldset-step-{number}")
        page.locator(f"#fieldset-step-{number} select").select_option(step["kind"])
        for key, planned in step["planned"].items():
            page.locator(f"[name=step-{number}-value_{key}]").fill(str(planned["value"]))
            page.locator(f"[name=step-{number}-tolerance_{key}]").fill(str(planned["tolerance"]))
    assert "flash fire" in page.locator("#steps").inner_text()  # the caution of spraying from solvent
    page.get_by_role("button", name="Store the recipe").click()
    page.get_by_role("heading", name="F-SH").wait_for()


def _settled(page, selector):
    """Wait until the swapped-in part is there and listens: a script is faster than any hand."""
    page.locator(selector).wait_for()
    expect(page.locator(".htmx-request, .htmx-swapping, .htmx-settling, .htmx-added")).to_have_count(0)
    page.wait_for_timeout(50)


def _log_coupons(page):
    page.goto("/coupons/log/")
    page.get_by_label("Substrate lot").select_option(index=1)
    page.get_by_label("Number of coupons").fill("4")
    page.get_by_label("Marks on the coupons").fill(", ".join(told.SLIDING))
    page.get_by_role("button", name="Log", exact=True).click()
    page.wait_for_url(lambda url: not url.endswith("/log/"))
    return dict(Coupon.objects.values_list("mark", "code"))


def _form_batch(page, codes):
    page.goto("/batches/new/")
    page.get_by_label("Code").fill("PES-B")
    page.get_by_label("Recipe revision").select_option(label="F-SH revision 1")
    page.get_by_label("Substrate lot").select_option(index=1)
    page.get_by_label("Treated coupons").fill(" ".join(codes.values()))
    page.get_by_role("button", name="Form the batch").click()
    page.get_by_role("heading", name="PES-B").wait_for()


def _enter_run(page, code, method, drops):
    """A run opened and typed by keyboard: decimal commas, `n` for a drop that did not move, Enter to go on."""
    page.goto("/runs/new/")
    page.get_by_label("Coupons").fill(code)
    option = page.locator("select[name=method_version] option", has_text=method).get_attribute("value")
    page.locator("[name=method_version]").select_option(option)
    _settled(page, "section.card")
    page.locator("[name=drop_volume_ul]").fill("20")
    page.locator("[name=liquid_lot]").select_option(index=1)
    page.locator("[name=instrument]").select_option(index=1)
    page.locator("[name=room_temperature_c]").fill("22,5")
    page.locator("[name=room_humidity_pct]").fill("45")
    page.locator("[name=observed_at]").fill("2026-05-04T10:00")
    page.locator("[name=positions]").fill(str(len(drops)))
    page.locator("[name=drops]").fill("1")
    page.get_by_role("button", name="Open the run").click()
    page.locator("html.scripted #entry input[id^=value-0-]").first.focus()  # the grid listens to its keys
    for drop in drops:
        for value in drop:
            page.keyboard.type("n" if value == ">" else str(value).replace(".", ","))
            page.keyboard.press("Enter")
    page.get_by_role("button", name="Save and complete the run").click()
    page.get_by_text("complete", exact=True).first.wait_for()


def _qualify(page, sign_in, folder):
    """Prepared and signed by the author; reviewed, approved and issued by others at the same machine."""
    page.goto("/batches/PES-B/qualify/")
    page.get_by_label("Specification").select_option(index=1)
    page.get_by_role("button", name="Show the outcome").click()
    assert "fail" in page.locator("main").inner_text()
    page.get_by_role("button", name="Prepare the report").click()
    page.get_by_role("heading", name="Assessment").wait_for()
    address = page.url
    people = {"author": None, "reviewer": make_person("reviewer"), "approver": make_person("quality")}
    for role, person in people.items():
        if person:
            page.get_by_role("button", name="Sign out").click()
            sign_in(page, person)
            page.goto(address)
        assert page.evaluate("document.documentElement.scrollWidth") <= page.viewport_size["width"]
        page.get_by_label("Your password, once again").fill(PASSWORD)
        page.get_by_role("button", name=f"Sign as {role}", exact=True).click()
        page.get_by_role("status").get_by_text(f"Signed as {role}").wait_for()
    page.get_by_role("button", name="Issue the report", exact=True).click()
    page.get_by_role("heading", name="Report").first.wait_for()
    with page.expect_download() as got:
        page.get_by_text("Download the report").click()
    got.value.save_as(folder / "report.pdf")
    return folder / "report.pdf"
