"""migrate as Django has it, which also takes --data like every other command here."""

from django.core.management.commands import migrate
from django.db import connections

from labrecords.postgresql.base import as_owner


class Command(migrate.Command):
    def add_arguments(self, parser):
        super().add_arguments(parser)
        parser.add_argument("--data", help="folder of database and reports (default: var)")

    def handle(self, *labels, database, **options):
        with as_owner(connections[database]):
            super().handle(*labels, database=database, **options)
