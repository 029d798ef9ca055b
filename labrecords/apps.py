from django.apps import AppConfig


class LabRecords(AppConfig):
    name = "labrecords"
    verbose_name = "Lab records"
