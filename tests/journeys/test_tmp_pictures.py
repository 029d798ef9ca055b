import io
from datetime import timedelta
import pytest
from django.utils import timezone
from PIL import Image
from labrecords import history
from labrecords.actions import attachments, coupons, runs
from tests.factories import *
from tests.journeys.conftest import DESKTOP, TABLET
from django.urls import reverse
pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

def test_pictures(browser_page, sign_in):
    person = make_person("quality", full_name="First Hand")
    page = browser_page
    complaints = []
    page.on("console", lambda m: complaints.append(m.text) if m.type == "error" else None)
    coupon = make_coupon(person, mark="B07", place="Box 1", length_mm=40.0)
    coupons.amend(by=person, why="moved to the cold room, and the area was measured again", coupon=coupon, place="Shelf 2", exposed_area_mm2=900.0, remark="first line\nsecond line")
    run = make_run(person, coupon=coupon)
    runs.record(by=person, run=run, readings=sliding([4.5, 6.1, ">", 5.2]))
    then = timezone.now()
    runs.record(by=person, run=run, why="misread the scale", readings=sliding([4.6]))
    runs.record(by=person, run=run, why="misread it again", readings=sliding([4.7]))
    runs.exclude(by=person, why="fibre under the drop", reading=run.readings.current().get(drop=2))
    file = io.BytesIO(); Image.new("RGB", (300, 200), "teal").save(file, "PNG")
    attachments.add(by=person, owner=coupon, name="edge of the coupon, before tilting.png", data=file.getvalue(), note="detail of the edge")
    b = attachments.add(by=person, owner=run, name="rig export 2026-03-02.csv", data=b"a;b\n1;2\n")
    c = attachments.add(by=person, owner=run, name="wrong.txt", data=b"x")
    attachments.withdraw(by=person, why="belongs to another coupon", attachment=c)
    sign_in(page, person)
    h = lambda row: reverse("history", args=[history.noun_of(row), history.name_of(row)])
    urls = {
        "run-history": h(run), "run-then": h(run) + "?on=" + then.isoformat().replace("+", "%2B"),
        "coupon-history": h(coupon), "coupon": reverse("coupon", args=[coupon.code]),
        "run": reverse("run", args=[run.code]), "runs": reverse("runs"),
        "files": reverse("files", args=["substrate-lot", coupon.lot.code]), "changes": reverse("changes"),
        "instruments": reverse("instruments"), "lab": reverse("laboratory"), "materials": reverse("materials"), "liquids": reverse("liquids")+"?show=liquid-lots",
        "labsetup": reverse("laboratory-set-up"), "before": h(coupon)+"?on=2020-01-01",
    }
    for name, size in (("1280", DESKTOP), ("820", TABLET)):
        page.set_viewport_size(size)
        for key, url in urls.items():
            page.goto(url)
            if page.evaluate("document.documentElement.scrollWidth") > size["width"]:
                print("WIDE", key, name, page.evaluate("document.documentElement.scrollWidth"))
            page.screenshot(path=f"/tmp/trail_{key}_{name}.png", full_page=True)
        page.goto(urls["run"]); page.locator("#value-0-sliding_angle").fill("9.9")
        page.screenshot(path=f"/tmp/trail_correct_{name}.png", full_page=False)
    print("COMPLAINTS", complaints)
