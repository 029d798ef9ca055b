"""Serves the pages on this machine."""

from django.conf import settings
from django.core.management import BaseCommand, call_command

from labrecords import serving


class Command(BaseCommand):
    help = "Migrates the database and serves the pages on 127.0.0.1."

    def add_arguments(self, parser):
        parser.add_argument("--port", type=int, default=8000)
        parser.add_argument("--data", help="folder of database and reports (default: var)")

    def handle(self, *, port, **options):
        serving.refuse_port_in_use(port)
        serving.prepare_folder(settings.DATA)
        call_command("migrate", verbosity=0, interactive=False)
        serving.serve(port, say=self.stdout.write)
