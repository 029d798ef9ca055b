"""The main job through the API: log, run, readings, qualification file."""

import hashlib
import io
from base64 import b64encode

import numpy as np
import pytest
from pypdf import PdfReader
from scipy import stats

from labrecords.models import Qualification
from tests.factories import PASSWORD, make_batch, make_criteria, make_lab, make_person
from tests.labrecords.api.conftest import Caller

pytestmark = pytest.mark.django_db
# Invented pairs (advancing, receding), one coupon a row.
PAIRS = [[(110, 108), (111, 109.5)], [(112, 110), (111, 109)], [(110, 107.5), (112, 110.5)]]

SETTINGS = {
    "start_volume_ul": 5,
    "end_volume_ul": 10,
    "flow_rate_ul_per_s": 0.5,
    "pause_s": 2,
    "needle": "in",
    "fit": "tangent",
}
CONDITIONS = {
    "method": "advancing_receding",
    "liquid_lot": "W1",
    "drop_volume_ul": 10,
    "instrument": "RIG",
    "room_temperature_c": 23,
    "room_humidity_pct": 50,
    "observed_at": "2026-03-02T09:00Z",
}


@pytest.fixture
def author(db):
    return Caller(make_person("developer"))


@pytest.fixture
def issued(quality, author):
    """From an empty lab to an issued report by requests alone; the answer to the last one."""
    make_lab(quality.person)

    def ok(path, **body):
        status, data = quality.post(path, body)
        assert status in (200, 201), (path, data)
        return data

    ok("materials/", code="S1", material="Aluminium", form="sheet")
    codes = [row["code"] for row in ok("coupons/", lot="S1", count=3, exposed_area_mm2=1600)]
    ok("recipes/", code="R1", title="Boiled", steps=[{"kind": "boiling", "planned": {"duration_min": {"value": 20}}}])
    ok("batches/", code="B1", lot="S1", recipe="R1", treated=codes)
    ok("processing/", batch="B1", step=1, coupons=[{"coupon": code} for code in codes], started_at="2026-03-01T08:00Z",
       finished_at="2026-03-01T08:20Z", actual={"duration_min": 20})  # fmt: skip
    ok("liquids/", code="W", name="Water")
    for quantity, value in (("surface_tension", 72.74), ("density", 998.2)):
        ok("properties/", liquid="W", quantity=quantity, value=value, uncertainty=0.1, source="invented")
    ok("liquid-lots/", code="W1", liquid="W", prepared_on="2026-01-05")
    ok("instruments/", code="RIG", title="Goniometer")
    ok("instruments/RIG/calibrate/", done_on="2026-01-01", due_on="2027-01-01", result="fine")
    ok("method-versions/", method="advancing_receding", settings=SETTINGS)
    for code, drops in zip(codes, PAIRS, strict=True):
        run = ok("runs/", coupon=code, **CONDITIONS)
        readings = [
            {"quantity": quantity, "drop": drop, "value": value}
            for drop, pair in enumerate(drops, start=1)
            for quantity, value in zip(("advancing_angle", "receding_angle"), pair, strict=True)
        ]
        ok(f"runs/{run['code']}/readings/", version=run["version"], readings=readings)
        ok(f"runs/{run['code']}/complete/")
    ok("specifications/", code="Q1", title="Shedding", fixed_on="2026-01-01", when_inconclusive="six more", criteria=[
        {"label": "C1", "kind": "mean_interval", "quantity": "hysteresis", "limit": 3.5},
    ])  # fmt: skip
    way = ok("assessments/", batch="B1", criteria="Q1")
    assert (way["state"], way["next"], way["verdict"]) == ("draft", "complete", "pass")
    for caller, verb in ((author, "complete"), (quality, "review"), (quality, "approve")):
        body = {"version": way["version"], "password": PASSWORD}
        status, way = caller.post(f"assessments/{way['id']}/{verb}/", body)
        assert status == 200, way
    way = ok(f"assessments/{way['id']}/issue/", why="asked for by the customer")
    assert way["state"] == "issued"
    return quality.get(f"qualifications/{way['report']}/")[1]


def test_outcome_equals_a_computation_apart(issued):
    """independent (scipy 1.17): interval of the mean of coupon means, Student's t for 3 coupons."""
    means = [np.mean(np.subtract(*np.array(drops).T)) for drops in PAIRS]
    low, high = stats.t.interval(0.95, 2, np.mean(means), stats.sem(means))
    outcome = issued["outcomes"][0]
    assert (outcome["value"], outcome["low"], outcome["high"]) == pytest.approx((np.mean(means), low, high))
    assert high <= 3.5  # so the interval lies wholly inside the limit
    assert (issued["verdict"], outcome["verdict"]) == ("pass", "pass")
    assert (issued["batch"], issued["criteria"], issued["revision"]) == ("B1", "Q1", 1)


def test_file_is_the_stored_one_byte_for_byte(quality, issued):
    answer = quality.client.get(f"/api/qualifications/{issued['report_number']}/file/", HTTP_ACCEPT="application/pdf")
    assert (answer.status_code, answer["Content-Type"]) == (200, "application/pdf")
    assert answer["Content-Disposition"] == f'attachment; filename="{issued["report_number"]}.pdf"'
    assert answer.content == bytes(Qualification.objects.get().file)
    digest = hashlib.sha256(answer.content)
    assert issued["sha256"] == digest.hexdigest()
    # RFC 9530, section 3: Repr-Digest is a dictionary of byte sequences, sha-256=:base64:
    assert answer["Repr-Digest"] == f"sha-256=:{b64encode(digest.digest()).decode()}:"
    assert issued["report_number"] in PdfReader(io.BytesIO(answer.content)).pages[0].extract_text()


def test_list_and_one_hold_no_file(quality, issued):
    status, data = quality.get("qualifications/", verdict="pass", batch="b1", criteria="Q1")
    assert (status, data["count"]) == (200, 1)
    assert not {"file", "evidence"} & set(data["results"][0])
    assert quality.get(f"qualifications/{issued['report_number']}/")[1] == issued
    assert quality.get("batches/B1/")[1]["qualifications"] == [issued["report_number"]]


def test_history_says_why_it_was_issued(quality, issued):
    _, history = quality.get(f"qualifications/{issued['report_number']}/history/")
    assert [line["why"] for line in history] == ["asked for by the customer"]
    assert "file" not in history[0]["changed"]


def test_batch_without_runs_is_refused(quality):
    batch, revision = make_batch(quality.person), make_criteria(quality.person)
    body = {"batch": batch.code, "criteria": revision.criterion_set.code}
    status, data = quality.post("assessments/", body)
    assert (status, data["code"], data["field"]) == (409, "NothingToJudge", "batch")
    assert quality.post("assessments/", body | {"revision": 2})[1]["code"] == "UnknownCode"
    assert quality.post("assessments/", body | {"verdict": "pass"})[1]["field"] == "verdict"
    assert Qualification.objects.count() == 0


def test_nothing_is_issued_in_one_step(quality):
    batch, revision = make_batch(quality.person), make_criteria(quality.person)
    status, _ = quality.post("qualifications/", {"batch": batch.code, "criteria": revision.criterion_set.code})
    assert status == 405


def test_operator_does_not_prepare(operator, quality):
    batch, revision = make_batch(quality.person), make_criteria(quality.person)
    status, data = operator.post("assessments/", {"batch": batch.code, "criteria": revision.criterion_set.code})
    assert (status, data["code"]) == (403, "NotAllowed")


def test_unknown_report_is_not_there(quality):
    for address in ("qualifications/QR-26-9999/", "qualifications/QR-26-9999/file/"):
        answer = quality.client.get(f"/api/{address}")
        assert answer.status_code == 404
