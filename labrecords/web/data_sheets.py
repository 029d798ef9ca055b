"""Safety data sheets by which the lab works."""

from django.core.paginator import Paginator
from django.http import Http404
from django.shortcuts import render
from django.urls import path, reverse

from labrecords.actions import data_sheets
from labrecords.models import DataSheet
from labrecords.processes import HAZARDS
from labrecords.web.forms import form_of, form_page, hazards_field, reason_field

SheetForm = form_of(
    DataSheet, "material", "place", "revised_on",
    hazards=hazards_field(
        "Tick the cautions that it belongs to; it is then named beside them.",
        [hazard for hazard in HAZARDS.values() if hazard.is_of_substance],
    ),
)  # fmt: skip


def listed(request):
    rows = DataSheet.objects.select_related("withdrawn_by")
    page = Paginator(rows, 50).get_page(request.GET.get("page"))
    in_force = set(DataSheet.objects.in_force().values_list("pk", flat=True))
    return render(request, "labrecords/data_sheets/list.html", {"page": page, "in_force": in_force})


def add(request):
    said = request.GET
    form = SheetForm(request.POST or None, initial=said.dict() | {"hazards": said.getlist("hazards")})
    return form_page(
        request,
        form,
        data_sheets.record,
        title="Record a data sheet",
        button="Store",
        back=reverse("data-sheets"),
        trail="Data sheets",
        done="Stored: {}.",
        intro="The sheet that came with the material, from its supplier. The newest edition of a material counts; "
        "earlier ones stay in the list.",
    )


def withdraw(request, pk):
    sheet = DataSheet.objects.filter(pk=pk).first()
    if sheet is None:
        raise Http404("There is no such data sheet.")
    form = form_of(DataSheet)(request.POST or None)
    form.fields["why"] = reason_field()
    return form_page(
        request,
        form,
        data_sheets.withdraw,
        data_sheet=sheet,
        title=f"Withdraw {sheet}",
        button="Withdraw",
        back=reverse("data-sheets"),
        trail="Data sheets",
        done="Withdrawn: {}.",
        intro="For a material that is not in the lab any more, or a sheet that was recorded wrongly. "
        "It stays in the list, with the reason, and no earlier edition takes its place. "
        "For a newer edition record that one instead; after a mistake record the sheet again.",
    )


urlpatterns = [
    path("data-sheets/", listed, name="data-sheets"),
    path("data-sheets/add/", add, name="data-sheet-add"),
    path("data-sheets/<int:pk>/withdraw/", withdraw, name="data-sheet-withdraw"),
]
