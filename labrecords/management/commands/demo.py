"""The demo scenario: database, invented records, one qualification PDF a batch, and the pages when asked."""

from django.conf import settings
from django.core.management import BaseCommand, call_command

from labrecords import serving


class Command(BaseCommand):
    help = "Loads the invented demo scenario, writes one qualification PDF a batch, and serves the pages with --serve."

    def add_arguments(self, parser):
        parser.add_argument("--serve", action="store_true", help="serve the pages afterwards")
        parser.add_argument("--port", type=int, default=8000)
        parser.add_argument("--data", help="folder of database and reports (default: var)")

    def handle(self, *, serve, port, **options):
        if serve:
            serving.refuse_port_in_use(port)
        serving.prepare_folder(settings.DATA)
        call_command("migrate", verbosity=0, interactive=False)
        from labrecords.management import scenario

        password = scenario.password()
        scenario.load(password)
        self._write_reports(scenario.qualify(password))
        self.stdout.write(
            f"Sign in as pell (quality), oda (reviewer), mirun (developer) or tavi (operator); password: {password}"
        )
        if serve:
            serving.serve(port, say=self.stdout.write)

    def _write_reports(self, qualifications):
        folder = settings.DATA / "reports"
        folder.mkdir(exist_ok=True)
        for item in qualifications:
            path = folder / f"{item.batch.code}-{item.report_number}.pdf"
            path.write_bytes(bytes(item.file))
            self.stdout.write(f"{path}  {item.batch.code}: {item.verdict}")
