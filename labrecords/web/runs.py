"""Test runs: list, new, the page of one with its readings, and what is done to it."""

from django import forms
from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Count, Q
from django.http import Http404
from django.shortcuts import redirect, render
from django.urls import path
from django.utils import timezone
from django.views.decorators.http import require_POST

from analysis import EXPOSURES, METHODS
from labrecords import access, entry
from labrecords.actions import runs
from labrecords.actions.rows import hold
from labrecords.errors import Refusal
from labrecords.models import BatchMember, Instrument, LiquidLot, MethodVersion, Person, TestRun
from labrecords.models.run import DOSE_KINDS, DRAFT, RUN_STATES, lateness
from labrecords.trail import recorded
from labrecords.visibility import visible
from labrecords.web import grid, run_parts
from labrecords.web.forms import MomentField, NumberField, WholeField, form_of, offered, show
from labrecords.web.methods import setting_field
from labrecords.web.picking import CouponsField

PAGE = 50


class Search(forms.Form):
    state = forms.ChoiceField(required=False, choices=[("", "any"), *RUN_STATES.items()])
    coupon = forms.CharField(required=False, label="Coupon code or mark")
    method = forms.ChoiceField(
        required=False, choices=lambda: [("", "any"), *((key, item.title) for key, item in METHODS.items())]
    )
    batch = forms.CharField(required=False, label="Batch code")


def listing(request):
    search = Search(request.GET)
    wanted = search.cleaned_data if search.is_valid() else {}
    found = TestRun.objects.select_related("coupon", "method_version", "liquid_lot__liquid", "created_by")
    found = visible(found, request.user).order_by("-id")
    found = found.annotate(n_readings=Count("readings", filter=Q(readings__is_current=True))).with_last_entry()
    if wanted.get("state"):
        found = found.filter(state=wanted["state"])
    if wanted.get("coupon"):
        found = found.filter(Q(coupon__code__icontains=wanted["coupon"]) | Q(coupon__mark__icontains=wanted["coupon"]))
    if wanted.get("method"):
        found = found.filter(method_version__method=wanted["method"])
    if wanted.get("batch"):
        members = BatchMember.objects.filter(batch__code__icontains=wanted["batch"])
        found = found.filter(coupon__in=members.values("coupon"))
    page = Paginator(found, PAGE).get_page(request.GET.get("page"))
    for run in page:
        run.late = lateness(run.observed_at, max(run.created_at, run.entered_last or run.created_at))
    return render(request, "labrecords/runs/list.html", {"form": search, "page": page})


# ---- new ---------------------------------------------------------------------------------------------

_FIELD_OF = {"liquid": "liquid_lot"}  # a method's condition -> the field that holds it


def _lot_label(lot):
    over = lot.expires_on and lot.expires_on < timezone.localdate()
    return f"{lot} – expired on {lot.expires_on}" if over else str(lot)


def _instrument_label(instrument):
    done = list(instrument.calibrations.all())
    if not done:
        return f"{instrument} – no calibration recorded"
    due = done[-1].due_on
    return (
        f"{instrument} – calibration over since {due}"
        if due < timezone.localdate()
        else f"{instrument} (calibrated until {due})"
    )


class NewRun(
    form_of(
        TestRun, "method_version", "liquid_lot", "instrument", "exposure_kind", "exposure", "not_recorded", "remark",
        "dose_kind", "drop_volume_ul", "room_temperature_c", "room_humidity_pct",
        coupons=CouponsField(label="Coupons"),
        dose=NumberField(label="Dose", required=False, help_text="0 or nothing for a fresh coupon."),
        observed_at=MomentField(label="Observed at"),
        operators=forms.ModelMultipleChoiceField(
            Person.objects.filter(is_active=True, role__in=filter(access.measures, access.ROLES)),
            required=False, widget=forms.CheckboxSelectMultiple, help_text="Nobody ticked: you.",
        ),
        positions=WholeField(
            label="Number of positions", required=False, help_text="Rows of the entry grid; more can be added there."
        ),
        drops=WholeField(label="Drops at each position", required=False),
    )
):  # fmt: skip
    """Conditions of a run; those that the chosen method makes mandatory are marked, the action demands them."""

    field_order = [
        "coupons", "method_version", "liquid_lot", "drop_volume_ul", "instrument", "room_temperature_c",
        "room_humidity_pct", "observed_at", "dose", "dose_kind", "exposure_kind", "exposure", "operators", "positions",
        "drops", "not_recorded", "remark",
    ]  # fmt: skip

    def __init__(self, *args, version=None, exposure=None, **options):
        super().__init__(*args, **options)
        fields, self.exposure_fields = self.fields, []
        for setting in exposure.conditions if exposure else ():
            field = fields[f"exposure_{setting.key}"] = setting_field(setting)
            field.is_needed, field.required = field.required, False  # the action demands it
            self.exposure_fields.append(f"exposure_{setting.key}")
        fields["dose_kind"].choices = list(DOSE_KINDS.items())
        fields["method_version"].queryset = MethodVersion.objects.select_related("liquid")
        fields["method_version"].empty_label = "choose a method"
        fields["liquid_lot"].queryset = LiquidLot.objects.select_related("liquid").order_by(
            "liquid__name", "-prepared_on"
        )
        fields["liquid_lot"].label_from_instance = _lot_label
        fields["instrument"].queryset = Instrument.objects.filter(is_in_service=True).prefetch_related("calibrations")
        fields["instrument"].label_from_instance = _instrument_label
        for condition in version.declaration.conditions if version else ():
            fields[_FIELD_OF.get(condition, condition)].is_needed = True

    @property
    def of_exposure(self):
        """What the coupon went through before the run, the kind itself apart."""
        return [self[name] for name in ("dose", "dose_kind", *self.exposure_fields, "exposure")]

    @property
    def of_conditions(self):
        apart = {"coupons", "method_version", "operators", "positions", "drops", "exposure_kind"}
        apart |= {field.name for field in self.of_exposure}
        return [field for field in self if field.name not in apart]

    def clean_dose(self):
        return self.cleaned_data["dose"] or 0.0


def new(request):
    said = request.POST or request.GET
    version, exposure = _version(said), EXPOSURES.get(said.get("exposure_kind", ""))
    if request.method == "POST":
        form = offered(NewRun(request.POST, version=version, exposure=exposure), request.user)
        made = _open(request.user, form) if form.is_valid() else None
        if made:
            _remember_size(request, made, form.cleaned_data)
            if len(made) > 1:
                messages.success(request, f"{len(made)} runs opened. This is the first; “Next draft” leads on.")
            return redirect("run", made[0].code)
    else:
        form = NewRun(initial=_first_values(request, version), version=version, exposure=exposure)
    return render(
        request,
        "labrecords/runs/new.html",
        {"form": form, "version": version, "exposure": exposure},
        status=400 if form.errors else 200,
    )


def _version(data):
    key = data.get("method_version", "")
    return MethodVersion.objects.select_related("liquid").filter(pk=key).first() if key.isdecimal() else None


def _first_values(request, version):
    """What was typed before the method was chosen, then what the method's version fixes."""
    values = {
        "observed_at": timezone.localtime(),
        "operators": [request.user.pk],
        "dose": "0",
    } | request.GET.dict()
    values |= {"operators": request.GET.getlist("operators")} if "operators" in request.GET else {}
    if version and version.drop_volume_ul is not None:
        values["drop_volume_ul"] = f"{version.drop_volume_ul:g}"
    if version and version.liquid_id:
        lots = version.liquid.lots.filter(Q(expires_on=None) | Q(expires_on__gte=timezone.localdate())).order_by(
            "-prepared_on"
        )
        values["liquid_lot"] = lots.values_list("pk", flat=True).first()
    return values


def _open(by, form):
    """One run a coupon, all or none; None when refused."""
    own = ("coupons", "positions", "drops", *form.exposure_fields)
    details = {key: value for key, value in form.cleaned_data.items() if key not in own}
    conditions = {name.removeprefix("exposure_"): form.cleaned_data[name] for name in form.exposure_fields}
    details["exposure_conditions"] = {key: value for key, value in conditions.items() if value not in (None, "")}
    try:
        with recorded(by.username, "run opened"):
            hold([coupon.pk for coupon in form.cleaned_data["coupons"]])
            return [runs.enter(by=by, coupon=coupon, **details) for coupon in form.cleaned_data["coupons"]]
    except Refusal as refusal:
        show(form, refusal)
        return None


def _remember_size(request, made, data):
    """How many rows were asked for, until readings are stored; kept with the session, it is no record."""
    size = [min(data["positions"] or grid.DROPS, grid.MOST_ROWS), min(data["drops"] or 1, 50)]
    sizes = request.session.get("grids", {}) | {run.code: size for run in made}
    request.session["grids"] = dict(list(sizes.items())[-200:])


# ---- one run -----------------------------------------------------------------------------------------


def loaded(request, code):
    run = visible(TestRun.objects.with_names().filter(code=code), request.user).first()
    if run is None:
        raise Http404(f"There is no run {code}.")
    return run


def page(request, run, sheet=None, refusal=None, saved="", status=200, said=None):
    """The page of a run; `sheet` holds what was typed when a save was refused, `said` what belongs to which verb."""
    rows = run_parts.all_readings(run)
    current = [row for row in rows if row.is_current]
    size = request.session.get("grids", {}).get(run.code)
    context = run_parts.context(request.user, run, rows, current) | {
        "run": run,
        "grid": sheet or grid.of_run(run, current, size),
        "blank_row": grid.blank_row(run),
        "refusal": refusal,
        "said": said,
        "saved": saved,
        "why": request.POST.get("why", ""),
        "next_draft": visible(TestRun.objects.filter(state=DRAFT, id__gt=run.pk), request.user)
        .select_related("coupon")
        .order_by("id")
        .first(),
    }
    return render(request, "labrecords/runs/page.html", context, status=status)


def run_page(request, code):
    return page(request, loaded(request, code), saved=request.GET.get("saved", ""))


def _verb(action, done):
    """A view that does one thing to a run and comes back to its page."""

    @require_POST
    def view(request, code):
        run = loaded(request, code)
        said = {"why": request.POST["why"]} if "why" in request.POST else {}
        try:
            if "version" in request.POST:
                said["version"] = entry.whole(request.POST["version"], field="version", label="Version")
            action(by=request.user, run=run, **said)
        except Refusal as refusal:
            return page(request, loaded(request, code), said=refusal, status=refusal.status)
        messages.success(request, done)
        return redirect("run", code)

    return view


urlpatterns = [
    path("runs/", listing, name="runs"),
    path("runs/new/", new, name="run-new"),
    path("runs/<str:code>/", run_page, name="run"),
    path("runs/<str:code>/complete/", _verb(runs.complete, "Run complete."), name="run-complete"),
    path("runs/<str:code>/review/", _verb(runs.review, "Run reviewed; it is locked now."), name="run-review"),
    path(
        "runs/<str:code>/lift-review/",
        _verb(runs.lift_review, "Review lifted: the run is a draft again."),
        name="run-lift-review",
    ),
    path("runs/<str:code>/reopen/", _verb(runs.reopen, "Run is a draft again."), name="run-reopen"),
]
