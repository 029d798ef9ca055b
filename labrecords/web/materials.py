"""Substrate lots: what coupons are cut from."""

from django.core.paginator import Paginator
from django.db.models import Count, Q
from django.shortcuts import render
from django.urls import path, reverse

from labrecords.actions import materials
from labrecords.models import SubstrateLot
from labrecords.web.forms import form_of, form_page

LotForm = form_of(
    SubstrateLot, "code", "material", "grade", "form", "thickness_mm", "supplier_lot", "roughness_ra_um",
    "direction", "received_on", "remark",
)  # fmt: skip


def listed(request):
    words = request.GET.get("q", "")
    found = SubstrateLot.objects.annotate(coupon_count=Count("coupons")).order_by("-id")
    for word in words.split():
        found = found.filter(Q(code__icontains=word) | Q(material__icontains=word) | Q(grade__icontains=word))
    page = Paginator(found, 50).get_page(request.GET.get("page"))
    return render(request, "labrecords/materials/list.html", {"page": page, "words": words})


def log(request):
    return form_page(
        request,
        LotForm(request.POST or None),
        materials.log_lot,
        title="Log a substrate lot",
        button="Log",
        back=reverse("materials"),
        trail="Substrates",
        done="Logged: {}.",
    )


urlpatterns = [
    path("materials/", listed, name="materials"),
    path("materials/log/", log, name="material-log"),
]
