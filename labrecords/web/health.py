"""How the installation is: for the administrator and quality."""

from django.shortcuts import render
from django.urls import path

from labrecords.actions import health


def page(request):
    items = health.look(by=request.user)
    context = {"items": items, "wrong": health.needs_attention(items)}
    return render(request, "labrecords/health/page.html", context)


urlpatterns = [path("health/", page, name="health")]
