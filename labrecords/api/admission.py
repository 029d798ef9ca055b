"""Which verb opens an address of the API: that of its noun, as for pages. Asked before every view."""

from rest_framework.permissions import BasePermission

from labrecords import access, visibility


class MayLook(BasePermission):
    """Refuses with NotAllowed, in the words of the actions. A view of unknown make opens to nobody."""

    def has_permission(self, request, view):
        visibility.remember(request.user)
        access.check(request.user, f"{noun_of(view)}.look")
        return True


def noun_of(view):
    """What the view says as `noun`, else the module of the API that it stands in."""
    where, _, module = type(view).__module__.rpartition(".")
    return getattr(view, "noun", None) or (module if where == "labrecords.api" else "unknown")
