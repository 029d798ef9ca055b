"""Reads a tidy CSV of readings into the records: the whole file or nothing."""

from pathlib import Path

from labrecords.errors import ValueRefused
from labrecords.exchange import readings
from labrecords.exchange.conditions import DEFAULTS
from labrecords.management.acting import ActingCommand

_OPTIONS = {"room_temperature_c": "--temperature", "room_humidity_pct": "--humidity"}


class Command(ActingCommand):
    help = "Reads a CSV of readings (columns: see README). Whole file or nothing; importing it again adds nothing."
    verb = "runs.record"

    def add_arguments(self, parser):
        super().add_arguments(parser)
        parser.add_argument("file", type=Path)
        for column in DEFAULTS:
            option = _OPTIONS.get(column, f"--{column.replace('_', '-')}")
            parser.add_argument(option, dest=column, help=f"{column} of new runs whose lines do not give it")

    def handle(self, *, file, by, why, **options):
        report = readings.import_file(
            by=self.person(by),
            why=why,
            data=_bytes_of(file),
            name=file.name,
            defaults={column: options[column] for column in DEFAULTS},
        )
        self.stdout.write(
            f"{report.runs_added} runs and {report.readings_added} readings added; "
            f"{report.runs_known} runs and {report.readings_known} readings were there already."
        )
        if report.drafts:
            self.stdout.write(f"In draft, because readings are missing: {', '.join(report.drafts)}")


def _bytes_of(file):
    try:
        return file.read_bytes()
    except OSError as problem:
        rule = f"cannot be read: {problem.strerror}"
        raise ValueRefused(field="file", label="File", value=file, rule=rule) from None
