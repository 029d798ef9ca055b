"""Instruments and their calibrations."""

from django import forms
from django.core.paginator import Paginator
from django.shortcuts import render
from django.urls import path, reverse

from labrecords.actions import instruments
from labrecords.actions.rows import find
from labrecords.models import Calibration, Instrument
from labrecords.web.forms import form_of, form_page, reason_field

InstrumentForm = form_of(Instrument, "code", "title", "model", "serial_number", "software", "place")
CalibrationForm = form_of(Calibration, "done_on", "due_on", "result", "certificate")
WithdrawForm = form_of(Instrument, "in_doubt_from")


def listed(request):
    rows = Instrument.objects.prefetch_related("calibrations", "events")
    page = Paginator(rows, 25).get_page(request.GET.get("page"))
    for instrument in page:
        instrument.doubts = instruments.doubts(instrument)
    return render(request, "labrecords/instruments/list.html", {"page": page})


def add(request):
    page = {
        "title": "Add an instrument",
        "button": "Store",
        "back": reverse("instruments"),
        "trail": "Instruments",
    }
    return form_page(request, InstrumentForm(request.POST or None), instruments.create, done="Stored: {}.", **page)


def calibrate(request, code):
    instrument = find(Instrument, code)
    page = {"title": f"Calibration of {instrument}", "button": "Store", "back": reverse("instruments")}
    return form_page(
        request,
        CalibrationForm(request.POST or None),
        instruments.calibrate,
        instrument=instrument,
        done="Stored: {}.",
        trail="Instruments",
        **page,
    )


def withdraw(request, code):
    instrument = find(Instrument, code)
    return _service(
        request,
        WithdrawForm(request.POST or None),
        instruments.withdraw,
        instrument,
        title=f"Take {instrument} out of service",
        button="Take out of service",
        intro="No new readings from that day on; what was read since is listed, with the reports that rest on it.",
    )


def put_back(request, code):
    instrument = find(Instrument, code)
    return _service(
        request,
        forms.Form(request.POST or None),
        instruments.put_back,
        instrument,
        title=f"Put {instrument} back into service",
        button="Put back into service",
        intro="Enter its new calibration as well. Readings that are in doubt stay so.",
    )


def _service(request, form, action, instrument, **page):
    form.fields["why"] = reason_field()
    back = reverse("instrument-affected", args=[instrument.code])
    page |= {"done": "Stored: {}.", "trail": "Instrument", "back": back}
    return form_page(request, form, action, instrument=instrument, **page)


def affected(request, code):
    """What an instrument in doubt touches: runs and issued reports."""
    instrument = find(Instrument, code)
    runs, reports = instruments.affected(instrument, by=request.user)
    page = {"instrument": instrument, "doubts": instruments.doubts(instrument), "runs": runs, "reports": reports}
    return render(request, "labrecords/instruments/affected.html", page)


urlpatterns = [
    path("instruments/", listed, name="instruments"),
    path("instruments/add/", add, name="instrument-add"),
    path("instruments/<path:code>/calibrate/", calibrate, name="instrument-calibrate"),
    path("instruments/<path:code>/withdraw/", withdraw, name="instrument-withdraw"),
    path("instruments/<path:code>/put-back/", put_back, name="instrument-put-back"),
    path("instruments/<path:code>/affected/", affected, name="instrument-affected"),
]
