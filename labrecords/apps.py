from django.apps import AppConfig


class LabRecords(AppConfig):
    name = "labrecords"
    verbose_name = "Lab records"

    def ready(self):
        from labrecords import checks, sign_in  # noqa: F401  both register themselves
