"""Why a number is what it is: one page for any result of a run, a batch or a qualification."""

from urllib.parse import urlencode

from django.http import Http404
from django.shortcuts import render
from django.urls import path, reverse

import analysis
from labrecords.actions import analyses
from labrecords.models import TestRun
from labrecords.web import batches, qualifications, results, runs


def _page(request, chains, key, *, about, back, address):
    """`address(key)` leads to another result of the same kind; the wanted one is shown, the others are offered."""
    found = next((chain for chain in chains if chain["key"] == key), None)
    if found is None:
        raise Http404(f"There is no result “{key}” here.")
    others = [{"title": chain["title"], "address": address(chain["key"])} for chain in chains if chain is not found]
    context = {
        "chain": found | {"tone": results.TONES.get(found["answer"], "")},
        "others": others,
        "about": about,
        "back": back,
        "code_version": analysis.CODE_VERSION,
    }
    return render(request, "labrecords/explanations/page.html", context)


def of_run(request, code, key):
    run = runs.loaded(request, code)
    whole = analyses.records_with_baselines(TestRun.objects.filter(coupon=run.coupon_id))
    record, baseline = next((record, baseline) for item, record, baseline in whole if item.pk == run.pk)
    return _page(
        request,
        analysis.as_data(analysis.explain_run(record, baseline)),
        key,
        about=f"run {run.code}, coupon {run.coupon}",
        back=reverse("run", args=[code]),
        address=lambda other: reverse("run-why", args=[code, other]),
    )


def of_batch(request, code, key):
    """The group of coupons is named in the address, as the batch's page names it."""
    batch, group = batches.loaded(request, code), request.GET.get("group", "")
    told = analysis.explain_batch(analyses.batch_records(batch))
    if group not in told:
        raise Http404(f"Batch {batch.code} has no group “{group}”.")
    return _page(
        request,
        analysis.as_data(told[group]),
        key,
        about=f"batch {batch.code}",
        back=reverse("batch", args=[code]),
        address=lambda other: f"{reverse('batch-why', args=[code, other])}?{urlencode({'group': group})}",
    )


def of_report(request, number, key):
    """As it was explained when the report was issued."""
    issued = qualifications.found(request, number, "file")
    chains = issued.evidence.get("explanations", {}).get("outcomes", [])
    return _page(
        request,
        chains,
        key,
        about=f"report {issued.report_number}",
        back=reverse("qualification", args=[number]),
        address=lambda other: reverse("report-why", args=[number, other]),
    )


urlpatterns = [
    path("runs/<str:code>/why/<path:key>/", of_run, name="run-why"),
    path("batches/<str:code>/why/<path:key>/", of_batch, name="batch-why"),
    path("qualifications/<str:number>/why/<path:key>/", of_report, name="report-why"),
]
