"""All changes of a time span, by person and kind of record, for those who look after the records; as a file too."""

from datetime import datetime, time, timedelta

from django import forms
from django.core.paginator import Paginator
from django.http import StreamingHttpResponse
from django.shortcuts import render
from django.urls import path
from django.utils import timezone

from labrecords import history, journal
from labrecords.exchange.journal import as_csv
from labrecords.models import Person
from labrecords.visibility import sight_of
from labrecords.web.forms import DayField
from labrecords.web.history import shown

PAGE = 50
DAYS = 7  # what is shown before anybody asks


def _nouns():
    words = sorted((str(model._meta.verbose_name), noun) for noun, model in history.nouns().items())
    return [("", "any"), *((noun, word) for word, noun in words)]


def _people():
    return [("", "anybody"), *Person.objects.order_by("full_name").values_list("username", "full_name")]


class Asked(forms.Form):
    since = DayField(label="From day")
    until = DayField(label="To day")
    who = forms.ChoiceField(label="By", required=False, choices=_people)
    noun = forms.ChoiceField(label="Kind of record", required=False, choices=_nouns)

    def clean(self):
        since, until = self.cleaned_data.get("since"), self.cleaned_data.get("until")
        if since and until and since > until:
            self.add_error("until", "To day lies before From day.")
        return self.cleaned_data

    @property
    def span(self):
        """From the start of the first day to the end of the last one, in the lab's time."""
        said = self.cleaned_data
        since, until = (
            timezone.make_aware(datetime.combine(said[name], at))
            for name, at in (("since", time.min), ("until", time.max))
        )
        return journal.Span(since, until, said["who"], said["noun"])


def _asked(request):
    today = timezone.localdate()
    start = {"since": str(today - timedelta(days=DAYS)), "until": str(today)}
    return Asked(start | request.GET.dict())


def listed(request):
    form, names, sight = _asked(request), history.people(), sight_of(request.user)
    context = {"form": form, "entries": []}
    if form.is_valid():
        page = Paginator(journal.found(request.user, form.span), PAGE).get_page(request.GET.get("page"))
        context["page"] = page
        context["entries"] = [
            shown(change, names, sight) | {"noun": noun, "name": change.name}
            for noun, change in journal.changes(list(page))
        ]
    return render(request, "labrecords/history/journal.html", context, status=200 if form.is_valid() else 400)


def exported(request):
    form = _asked(request)
    if not form.is_valid():
        return render(request, "labrecords/history/journal.html", {"form": form, "entries": []}, status=400)
    headers = {"Content-Disposition": 'attachment; filename="changes.csv"', "X-Content-Type-Options": "nosniff"}
    lines = journal.found(request.user, form.span)
    return StreamingHttpResponse(as_csv(request.user, lines), content_type="text/csv; charset=utf-8", headers=headers)


urlpatterns = [
    path("changes/", listed, name="changes"),
    path("changes/file/", exported, name="changes-file"),
]
