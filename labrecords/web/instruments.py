"""Instruments and their calibrations."""

from django.core.paginator import Paginator
from django.shortcuts import render
from django.urls import path, reverse

from labrecords.actions import instruments
from labrecords.actions.rows import find
from labrecords.models import Calibration, Instrument
from labrecords.web.forms import form_of, form_page

InstrumentForm = form_of(Instrument, "code", "title", "model", "serial_number", "software", "place")
CalibrationForm = form_of(Calibration, "done_on", "due_on", "result", "certificate")


def listed(request):
    rows = Instrument.objects.prefetch_related("calibrations")
    page = Paginator(rows, 25).get_page(request.GET.get("page"))
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


urlpatterns = [
    path("instruments/", listed, name="instruments"),
    path("instruments/add/", add, name="instrument-add"),
    path("instruments/<path:code>/calibrate/", calibrate, name="instrument-calibrate"),
]
