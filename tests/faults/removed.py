"""The protections that a control takes away, each by its name: a fault test has to fail without them."""

import os
import time
from contextlib import nullcontext
from types import SimpleNamespace


def one_transaction():
    """Every statement commits by itself."""
    from django.db.models import QuerySet

    from labrecords import trail

    trail.transaction = SimpleNamespace(atomic=nullcontext)
    QuerySet.select_for_update = lambda queryset, *args, **details: queryset  # refused outside a transaction


def durable_commit():
    """The server acknowledges before the log is on the disk."""
    from labrecords.postgresql import cluster, durability

    cluster.DURABLE = ()
    cluster.SETTINGS = (*cluster.SETTINGS, "synchronous_commit=off", "wal_writer_delay=2s")
    durability.check = lambda connection: None


def refusal_of_write_errors():
    """What the database could not store is answered as if it were stored."""
    from rest_framework.response import Response

    from labrecords.api import refusals

    kept = refusals.answer

    def ignoring(problem, context):
        answer = kept(problem, context)
        failed = answer is None or answer.status_code >= 500 or answer.data.get("code") == "DatabaseRefused"
        return Response({"code": "R-0"}, status=201) if failed else answer

    refusals.answer = ignoring


def check_of_version():
    """A stale version is saved over."""
    from labrecords.actions import runs

    kept = runs._locked
    runs._locked = lambda run, version=None: kept(run)


def check_of_changed_records():
    """What was prepared is signed and issued, whatever the records say now."""
    from labrecords.actions import assessments

    assessments._to_be_signed = lambda assessment: assessment.content


def atomic_migrations():
    """Every statement of a migration commits by itself."""
    from django.db.migrations import Migration
    from django.db.migrations.loader import MigrationLoader

    kept = MigrationLoader.load_disk

    def loaded(loader):
        kept(loader)
        for migration in loader.disk_migrations.values():
            migration.atomic = False

    Migration.atomic, MigrationLoader.load_disk = False, loaded


def file_with_its_row():
    """A report's row is committed first, its file in a second transaction."""
    from django.db import connection

    from labrecords.actions import assessments
    from labrecords.models import Qualification

    rule = "qualification_file_matches_sha256"

    kept = assessments.write
    connection.settings_dict["AS_OWNER"] = True

    def in_two(row, by=None):
        if not isinstance(row, Qualification):
            return kept(row, by)
        file, row.file, row.created_by = row.file, b"", by
        with connection.cursor() as cursor:
            # The database's own rules are part of what is removed.
            cursor.execute("SET session_replication_role = replica")
            cursor.execute(f"ALTER TABLE labrecords_qualification DROP CONSTRAINT IF EXISTS {rule}")
            row.save()
            cursor.execute("COMMIT")
            Qualification.objects.filter(pk=row.pk).update(file=file)
        return row

    assessments.write = in_two


def server_clock():
    """Completion and review are dated by the process."""
    from django.utils import timezone

    from labrecords.actions import runs

    runs.now = lambda: timezone.now()


def steady_clock():
    """No protection, a fault: the process's clock is off by LABRECORDS_CLOCK_STEP seconds."""
    from datetime import timedelta

    from django.utils import timezone

    step, now, seconds = float(os.environ["LABRECORDS_CLOCK_STEP"]), timezone.now, time.time
    timezone.now = lambda: now() + timedelta(seconds=step)
    time.time = lambda: seconds() + step
