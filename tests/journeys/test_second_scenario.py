"""The second scenario through commands, API and pages: three ways in, the same numbers."""

import json

import pytest
from django.core.management import call_command
from rest_framework.test import APIClient

from labrecords.actions import batches
from labrecords.actions.rows import find
from labrecords.models import Coupon, RecipeRevision, SubstrateLot
from tests.factories import PASSWORD, make_person
from tests.journeys import second_scenario as told
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
    call_command(
        "qualify_batch", "PES-B", "--criteria", "OIL-1", "--out", str(tmp_path / "report.pdf"), "--by", quality.username
    )
    assert "fail" in capsys.readouterr().out
    told.check_report(pdf_text(tmp_path / "report.pdf"))


def _batch_of(found):
    """The batch's result inside what `results --format json` prints."""
    (batch,) = found["batches"]
    return batch.get("result", batch)


@needs_poppler
@pytest.mark.django_db
def test_by_api(tmp_path):
    make_person("quality", username="pia")
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
    issued = post("qualifications/", batch="PES-B", criteria="OIL-1")
    assert issued["verdict"] == "fail"
    file = client.get(f"/api/qualifications/{issued['report_number']}/file/")
    (tmp_path / "report.pdf").write_bytes(b"".join(file) if file.streaming else file.content)
    told.check_report(pdf_text(tmp_path / "report.pdf"))


def _result(data):
    return data.get("result", data)
