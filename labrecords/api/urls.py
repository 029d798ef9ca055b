"""Addresses of the API: one prefix a noun, verbs below the row that they act on."""

from django.urls import path
from drf_spectacular.views import SpectacularAPIView
from rest_framework.routers import SimpleRouter

from labrecords.api import (
    account,
    assessments,
    attachments,
    batches,
    coupons,
    criteria,
    data_sheets,
    declarations,
    health,
    history,
    instruments,
    laboratory,
    liquids,
    materials,
    methods,
    people,
    processing,
    qualifications,
    recipes,
    refusals,
    releases,
    runs,
    tokens,
)

router = SimpleRouter()
for prefix, views in {
    "people": people.PersonViews,
    "tokens": tokens.TokenViews,
    "projects": laboratory.ProjectViews,
    "materials": materials.SubstrateLotViews,
    "coupons": coupons.CouponViews,
    "recipes": recipes.RecipeViews,
    "batches": batches.BatchViews,
    "processing": processing.ProcessViews,
    "deviations": processing.DeviationViews,
    "liquids": liquids.LiquidViews,
    "liquid-lots": liquids.LiquidLotViews,
    "lubricants": liquids.LubricantViews,
    "lubricant-lots": liquids.LubricantLotViews,
    "bath-lots": liquids.BathLotViews,
    "properties": liquids.PropertyViews,
    "instruments": instruments.InstrumentViews,
    "data-sheets": data_sheets.DataSheetViews,
    "method-versions": methods.MethodVersionViews,
    "runs": runs.RunViews,
    "readings": runs.ReadingViews,
    "specifications": criteria.SpecificationViews,
    "assessments": assessments.AssessmentViews,
    "qualifications": qualifications.QualificationViews,
    "attachments": attachments.AttachmentViews,
    "releases": releases.ReleaseViews,
}.items():
    router.register(prefix, views)

urlpatterns = [
    path("sign-in/", people.SignIn.as_view()),
    path("sign-out/", people.SignOut.as_view()),
    path("account/", account.AccountView.as_view()),
    path("account/password/", account.change_password),
    path("account/end-other-sessions/", account.end_other_sessions),
    path("account/second-factor/start/", account.start_second_factor),
    path("account/second-factor/confirm/", account.confirm_second_factor),
    path("account/second-factor/end/", account.end_second_factor),
    path("laboratory/", laboratory.LaboratoryView.as_view()),
    path("health/", health.HealthView.as_view()),
    path("schema/", SpectacularAPIView.as_view()),
    path("history/", history.JournalView.as_view()),
    path("history/<str:noun>/<str:name>/", history.HistoryView.as_view()),
    path("history/<str:noun>/<str:name>/as-of/", history.PastView.as_view()),
]
for prefix, (many, one) in {
    "methods": declarations.METHOD_VIEWS,
    "exposures": declarations.EXPOSURE_VIEWS,
    "step-kinds": declarations.STEP_KIND_VIEWS,
    "criterion-kinds": declarations.CRITERION_KIND_VIEWS,
    "quantities": declarations.QUANTITY_VIEWS,
}.items():
    urlpatterns += [path(f"{prefix}/", many), path(f"{prefix}/<str:key>/", one)]
urlpatterns += [*router.urls, path("", refusals.nothing_here), path("<path:address>", refusals.nothing_here)]
