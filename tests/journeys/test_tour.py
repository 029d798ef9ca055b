"""Every main page of the demo in a real browser, at desktop and tablet size; the pictures of the README's tour.

`LABRECORDS_WRITE_TOUR=1 .venv/bin/python -m pytest tests/journeys/test_tour.py` takes the pictures anew.
"""

import os
import re
import subprocess
from pathlib import Path

import pytest
from django.utils import timezone

from labrecords.actions import assessments, batches, coupons, processing, runs
from labrecords.actions.rows import find
from labrecords.management import scenario
from labrecords.models import (
    Batch,
    Coupon,
    CriterionRevision,
    Instrument,
    LiquidLot,
    MethodVersion,
    Person,
    RecipeRevision,
    SubstrateLot,
)
from tests.journeys.conftest import DESKTOP, TABLET
from tests.journeys.tools import needs_poppler

ROOT = Path(__file__).resolve().parents[2]
PICTURES = ROOT / ".tour"
TOUR = {
    "today": "/",
    "coupon": "/coupons/{b1}/",
    "recipe": "/recipes/D-LIS/",
    "step": "/batches/D-D/step/4/",
    "entry": "/runs/SL-D01/",
    "run": "/runs/SL-B03/",
    "why": "/runs/SL-B03/why/sliding_angle_median/",
    "batch": "/batches/D-C/",
    "assessment": "/assessments/{assessment}/",
    "history": "/history/test-run/SL-B03/",
    "qualification": "/qualifications/QR-{year}-0003/",
}
OTHERS = [
    "/coupons/",
    "/coupons/log/",
    "/runs/",
    "/runs/new/",
    "/runs/new/?exposure_kind=abrasion",
    "/runs/SL-B03/why/retention_relation/",
    "/qualifications/QR-{year}-0003/why/C1/",
    "/batches/",
    "/batches/new/",
    "/recipes/",
    "/recipes/new/",
    "/specifications/",
    "/specifications/WX-17-P1/",
    "/methods/",
    "/materials/",
    "/liquids/",
    "/instruments/",
    "/qualifications/",
    "/batches/D-B/qualify/",
    "/lab/",
    "/changes/",
    "/health/",
    "/people/",
    "/account/",
    "/instruments/RIG-2/affected/",
    "/files/coupon/{b1}/",
]

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def demo():
    """The demo with one more batch half-way: a step running, a run in draft."""
    scenario.load("bench-water-tilt-7")  # the password that the browser's sign-in types
    scenario.qualify("bench-water-tilt-7")
    tavi, mirun = Person.objects.get(username="tavi"), Person.objects.get(username="mirun")
    lot = find(SubstrateLot, "AL-1050-0326")
    made = coupons.log(by=tavi, lot=lot, count=2, marks=["D01", "D02"], exposed_area_mm2=1600.0)
    batch = batches.form(
        by=mirun,
        code="D-D",
        title="Dew-plates, next",
        lot=lot,
        treated=made,
        recipe_revision=RecipeRevision.objects.get(number=3),
    )
    step = batch.recipe_revision.steps.get(kind="boiling")
    processing.record(by=tavi, batch=batch, step=step, coupons=made, started_at=timezone.now())
    run = runs.enter(
        by=tavi,
        code="SL-D01",
        coupon=made[0],
        method_version=MethodVersion.objects.get(method="sliding_angle"),
        liquid_lot=find(LiquidLot, "WATER-SEALED-1"),
        instrument=find(Instrument, "RIG-2"),
        drop_volume_ul=10.0,
        room_temperature_c=22.6,
        room_humidity_pct=47.0,
        observed_at=timezone.now(),
    )
    typed = [("1", "4,5", "measured"), ("2", "5.7", "measured"), ("3", "", "not_moved"), ("4", "3.9", "measured")]
    runs.record(by=tavi, run=run, readings=[runs.Typed("sliding_angle", p, value=v, qualifier=q) for p, v, q in typed])
    on_its_way = assessments.prepare(
        by=mirun, batch=Batch.objects.get(code="D-B"), criterion_revision=CriterionRevision.objects.first()
    )
    on_its_way = assessments.complete(by=mirun, assessment=on_its_way, version=1, password="bench-water-tilt-7")
    return {
        "assessment": on_its_way.pk,
        "b1": Coupon.objects.get(mark="B01").code,
        "year": f"{timezone.localdate():%y}",
    }


def test_every_page_fits_and_complains_of_nothing(demo, browser_page, sign_in):
    page = browser_page
    complaints = []
    page.on("console", lambda message: complaints.append(message.text) if message.type == "error" else None)
    sign_in(page, Person.objects.get(username="pell"))
    for size in (TABLET, DESKTOP):
        page.set_viewport_size(size)
        for address in [*TOUR.values(), *OTHERS]:
            answer = page.goto(address.format(**demo))
            assert answer.status == 200, address
            assert page.evaluate("document.documentElement.scrollWidth") <= size["width"], address
    assert complaints == []
    if os.environ.get("LABRECORDS_WRITE_TOUR") == "1":
        _take_pictures(page, demo)


def _take_pictures(page, demo):
    PICTURES.mkdir(exist_ok=True)
    for name, address in TOUR.items():
        page.set_viewport_size(TABLET if name in ("step", "entry") else DESKTOP)
        page.goto(address.format(**demo))
        page.screenshot(path=PICTURES / f"{name}.png")
    _report_page()


@needs_poppler
def _report_page():
    file = PICTURES / "report.pdf"
    file.write_bytes(bytes(Batch.objects.get(code="D-C").qualifications.first().file))
    subprocess.run(
        ["pdftoppm", "-r", "60", "-f", "1", "-l", "1", "-singlefile", "-png", file, PICTURES / "report"], check=True
    )
    file.unlink()


def test_pictures_of_the_readme_are_there():
    named = set(re.findall(r"\]\((\.tour/[^)]+)\)", (ROOT / "README.md").read_text(encoding="utf-8")))
    assert named == {f".tour/{path.name}" for path in PICTURES.glob("*.png")}
    assert {Path(name).stem for name in named} == {*TOUR, "report"}
