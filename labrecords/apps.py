from django.apps import AppConfig
from django.db.models.signals import post_migrate


def renew_guards(using, **_):
    from django.db import connections

    from labrecords.postgresql import guards

    guards.renew(connections[using])


class LabRecords(AppConfig):
    name = "labrecords"
    verbose_name = "Lab records"

    def ready(self):
        post_migrate.connect(renew_guards, sender=self)
        from labrecords import checks, sign_in  # noqa: F401  both register themselves
