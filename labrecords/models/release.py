"""Releases of this program that the lab put to use, each with what was checked before."""

import pghistory
from django.db import models

from labrecords.models.record import Record, frozen, not_empty


@pghistory.track()
class Release(Record):
    """A version of the program as it runs here, checked by the lab and put to use; written once."""

    PROJECT = None

    program = models.CharField(max_length=40, editable=False)
    analysis = models.CharField(max_length=40, editable=False)
    surroundings = models.CharField(max_length=300, editable=False)
    checked = models.TextField(
        "what was checked, and the outcome",
        max_length=20_000,
        help_text="For example the last lines of the test run on this machine, or known numbers judged anew.",
    )
    place = models.CharField(
        "where its record lies", max_length=300, help_text="The whole log of the test run: folder, number or address."
    )
    authorised_because = models.CharField(
        "why it is put to use", max_length=300, help_text="What the release changes for the lab."
    )

    class Meta(Record.Meta):
        ordering = ["-id"]
        constraints = [not_empty("release_checked", "checked"), not_empty("release_kept", "place")]
        triggers = [*Record.Meta.triggers, frozen()]

    def __str__(self):
        return f"release {self.program}, analysis {self.analysis}"
