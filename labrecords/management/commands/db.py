"""Start, stop and look at the embedded database; back up and restore either kind."""

from pathlib import Path

from django.core.management.base import BaseCommand, CommandError
from django.db import connection

from labrecords.errors import DatabaseUnavailable
from labrecords.postgresql import transfer
from labrecords.postgresql.base import as_owner, embedded_server

VERBS = {
    "start": "start the embedded server and leave it running until stop",
    "stop": "stop it, now or when the last process that uses it ends",
    "status": "say what runs and where, starting nothing",
    "backup": "write everything to a new file",
    "restore": "read such a file into an empty database",
}


class Command(BaseCommand):
    help = "The database: start, stop, status, backup FILE, restore FILE."
    requires_system_checks = []  # a backup must be possible whatever state the code is in

    def add_arguments(self, parser):
        parser.add_argument("verb", choices=VERBS, help="; ".join(f"{verb}: {does}" for verb, does in VERBS.items()))
        parser.add_argument("file", nargs="?", type=Path, help="of backup and restore")
        parser.add_argument("--data", help="folder of database and reports (default: var)")

    def handle(self, *, verb, file, **_):
        if (verb in {"backup", "restore"}) != bool(file):
            raise CommandError(f"db {verb} needs a file." if not file else f"db {verb} takes no file.")
        with as_owner(connection):
            getattr(self, f"_{verb}")(**({"file": file} if file else {}))

    def _start(self):
        server = self._embedded()
        server.keep()
        self.stdout.write(f"The database runs in {server.place.folder} until `manage.py db stop`.")

    def _stop(self):
        server = self._embedded()
        was_running = server.cluster.state()
        if not server.stop():
            self.stdout.write("Another process still uses the database; it stops when the last of them ends.")
        else:
            self.stdout.write("The database has stopped." if was_running else "The database was not running.")

    def _status(self):
        if connection.settings_dict.get("EMBEDDED_IN"):
            self.stdout.write(self._embedded_status(self._embedded()))
        else:
            with connection.cursor() as cursor:
                cursor.execute("SELECT current_setting('server_version')")
                version = cursor.fetchone()[0]
            self.stdout.write(f"Database “{self._name}” on {self._host}: PostgreSQL {version}.")

    def _embedded_status(self, server):
        state, folder = server.cluster.state(), server.place.folder
        if not state:
            return f"Embedded database in {folder}: not running."
        until = "until `manage.py db stop`" if server.is_kept() else "while a process uses it"
        return f"Embedded database in {folder}: {state} (process {server.cluster.pid()}), {until}."

    def _backup(self, file):
        transfer.back_up(connection, file)
        size = file.stat().st_size / 2**20
        self.stdout.write(f"Database “{self._name}” was written to {file} ({size:.1f} MB).")

    def _restore(self, file):
        transfer.restore(connection, file)
        with connection.cursor() as cursor:
            tables = len(connection.introspection.table_names(cursor))
        self.stdout.write(f"{file} was read into database “{self._name}” ({tables} tables).")

    @property
    def _name(self):
        return connection.settings_dict["NAME"]

    @property
    def _host(self):
        return connection.settings_dict["HOST"] or "this machine"

    def _embedded(self):
        data = connection.settings_dict.get("EMBEDDED_IN")
        if data is None:
            raise DatabaseUnavailable(why="DATABASE_URL names a server; it is started and stopped where it runs.")
        return embedded_server(data)
