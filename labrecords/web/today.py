"""What needs attention today."""

from django.shortcuts import render
from django.urls import path


def today(request):
    return render(request, "labrecords/today/today.html")


urlpatterns = [path("", today, name="today")]
