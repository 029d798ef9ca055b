"""Challenge liquids, lubricants and baths: their lots and their properties, each with unit and source."""

from django import forms
from django.core.paginator import Paginator
from django.db.models import Prefetch
from django.http import Http404
from django.shortcuts import render
from django.urls import path, reverse

from analysis import METHODS, QUANTITIES
from labrecords.actions import liquids
from labrecords.actions.rows import find
from labrecords.models import BathLot, ChallengeLiquid, LiquidLot, Lubricant, LubricantLot, Property, Recipe
from labrecords.web.forms import form_of, form_page, hazards_field

_with_properties = Prefetch("properties", Property.objects.select_related("against_liquid", "against_lubricant"))
# What the page shows: title, rows, and the owner that a property of a row has.
SHELVES = {
    "liquids": ("Challenge liquids", ChallengeLiquid.objects.prefetch_related(_with_properties), "liquid"),
    "liquid-lots": (
        "Lots of liquids",
        LiquidLot.objects.select_related("liquid").prefetch_related(_with_properties).order_by("-prepared_on", "-id"),
        "liquid_lot",
    ),
    "lubricants": ("Lubricants", Lubricant.objects.prefetch_related(_with_properties), "lubricant"),
    "lubricant-lots": (
        "Lots of lubricants",
        LubricantLot.objects.select_related("lubricant")
        .prefetch_related(_with_properties)
        .order_by("-prepared_on", "-id"),
        "lubricant_lot",
    ),
    "baths": ("Baths", BathLot.objects.order_by("-prepared_on", "-id"), ""),
}


def shelf(request):
    key = request.GET.get("show") if request.GET.get("show") in SHELVES else "liquids"
    title, rows, owner = SHELVES[key]
    words = request.GET.get("q", "").strip()
    rows = rows.filter(code__icontains=words) if words else rows.all()
    page = Paginator(rows, 25).get_page(request.GET.get("page"))
    context = {"page": page, "owner": owner, "shown": key, "title": title, "words": words}
    context |= {"add": ADD[key][0], "add_verb": ADD[key][2].verb}
    context["shelves"] = [(other, entry[0]) for other, entry in SHELVES.items()]
    return render(request, "labrecords/liquids/shelf.html", context)


HINT = "Tick what the current safety data sheet names; the caution is then shown here."
# One way of adding a row for each shelf: words, form, action.
ADD = {
    "liquids": (
        "Add a challenge liquid",
        form_of(ChallengeLiquid, "code", "name", "is_newtonian", hazards=hazards_field(HINT)),
        liquids.create,
    ),
    "liquid-lots": (
        "Log a lot of a liquid",
        form_of(LiquidLot, "code", "liquid", "prepared_on", "expires_on", "remark"),
        liquids.log_lot,
    ),
    "lubricants": (
        "Add a lubricant",
        form_of(Lubricant, "code", "name", "family", "is_pfas", hazards=hazards_field(HINT)),
        liquids.create_lubricant,
    ),
    "lubricant-lots": (
        "Log a lot of a lubricant",
        form_of(LubricantLot, "code", "lubricant", "supplier_lot", "prepared_on", "expires_on"),
        liquids.log_lubricant_lot,
    ),
    "baths": (
        "Log a bath",
        form_of(
            BathLot, "code", "title", "composition", "prepared_on", "expires_on", "ph", "conductivity_us_cm",
            "remark", hazards=hazards_field(HINT),
        ),
        liquids.log_bath_lot,
    ),
}  # fmt: skip


def add(request, shelf):
    if shelf not in ADD:
        raise Http404
    title, form, action = ADD[shelf]
    back = f"{reverse('liquids')}?show={shelf}"
    page = {
        "title": title,
        "button": "Store",
        "back": back,
        "trail": SHELVES[shelf][0],
        "done": "Stored: {}.",
    }
    return form_page(request, form(request.POST or None, initial=request.GET.dict()), action, **page)


OWNERS = {
    "liquid": ChallengeLiquid,
    "liquid_lot": LiquidLot,
    "lubricant": Lubricant,
    "lubricant_lot": LubricantLot,
    "recipe": Recipe,
}
# A property of a material is known beforehand; what the methods read is measured in runs.
_read = {kind.quantity for method in METHODS.values() for kind in method.readings}
PropertyForm = form_of(
    Property, "value", "uncertainty", "temperature_c", "source", "against_liquid", "against_lubricant",
)  # fmt: skip


class _WithQuantity(PropertyForm):
    quantity = forms.ChoiceField(
        choices=[("", "choose"), *((key, item.label) for key, item in QUANTITIES.items() if key not in _read)],
        help_text="The unit stands in brackets.",
    )
    field_order = ["quantity"]

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields[
            "against_liquid"
        ].help_text = "Where the value is “to” or “of” a liquid, as an interfacial tension is."


def add_property(request, owner, code):
    if owner not in OWNERS:
        raise Http404
    row = find(OWNERS[owner], code, by=request.user)
    shelf = next((key for key, entry in SHELVES.items() if entry[2] == owner), None)
    back = f"{reverse('liquids')}?show={shelf}" if shelf else reverse("recipe", args=[row.code])
    return form_page(
        request,
        _WithQuantity(request.POST or None),
        liquids.add_property,
        title=f"A property of {row}",
        button="Store",
        back=back,
        trail=row.code,
        done="Stored; the newest value of a quantity counts.",
        intro="Never without its source. Earlier values stay to be seen.",
        **{owner: row},
    )


urlpatterns = [
    path("liquids/", shelf, name="liquids"),
    path("liquids/add/<str:shelf>/", add, name="liquid-add"),
    path("liquids/property/<str:owner>/<path:code>/", add_property, name="property-add"),
]
