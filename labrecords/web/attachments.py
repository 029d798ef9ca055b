"""Files of a record: listed, attached, sent to be saved, withdrawn with a reason."""

from django.contrib import messages
from django.http import Http404
from django.shortcuts import redirect, render
from django.urls import path, reverse
from django.views.decorators.http import require_POST

from labrecords import history as trail
from labrecords import uploads
from labrecords.actions import attachments
from labrecords.errors import Refusal
from labrecords.models import Attachment
from labrecords.web.history import own_page


def page(request, noun, name):
    """The files of one record; posted to, it takes one more."""
    owner = trail.found(request.user, noun, name)
    try:
        attachments.owner_field(owner)
    except Refusal as refusal:
        raise Http404(str(refusal)) from None
    context = {"owner": owner, "noun": str(owner._meta.verbose_name), "back": own_page(owner)}
    if request.method == "POST":
        note = request.POST.get("note", "").replace("\0", "").strip()
        try:
            name, data = uploads.received(request.FILES.get("file"))
            added = attachments.add(by=request.user, owner=owner, name=name, data=data, note=note)
        except Refusal as refusal:
            context |= {"refusal": refusal, "note": note}
            return render(request, "labrecords/attachments/page.html", context, status=refusal.status)
        messages.success(request, f"Attached: {added.name}.")
        return redirect(_back(owner))
    return render(request, "labrecords/attachments/page.html", context)


def download(request, pk):
    return uploads.sent(_found(request, pk))


@require_POST
def withdraw(request, pk):
    attachment = _found(request, pk)
    attachments.withdraw(by=request.user, attachment=attachment, why=request.POST.get("why", "").replace("\0", ""))
    messages.success(request, f"Withdrawn: {attachment.name}. It stays readable.")
    return redirect(_back(attachment.owner))


def _found(request, pk):
    return trail.found(request.user, trail.noun_of(Attachment), str(pk))


def _back(owner):
    own = own_page(owner)
    return f"{own}#files" if own else reverse("files", args=[trail.noun_of(owner), trail.name_of(owner)])


urlpatterns = [
    path("attachments/<int:pk>/", download, name="attachment"),
    path("attachments/<int:pk>/withdraw/", withdraw, name="attachment-withdraw"),
    path("files/<str:noun>/<path:name>/", page, name="files"),
]
