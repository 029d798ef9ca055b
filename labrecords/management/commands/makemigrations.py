"""makemigrations as Django has it, except that it does not start the embedded database."""

import warnings

from django.core.management.commands import makemigrations
from django.db import connection


class Command(makemigrations.Command):
    def handle(self, *labels, **options):
        # Django only wants to look at the migrations already applied; it does without when no server runs.
        connection.may_start = False
        try:
            with warnings.catch_warnings():
                warnings.filterwarnings("ignore", "Got an error checking a consistent migration history")
                super().handle(*labels, **options)
        finally:
            connection.may_start = True
