"""Start, stop and look at the embedded database; back up, restore and rehearse the restore of either kind."""

import argparse
import hashlib
import sys
from datetime import UTC, datetime
from pathlib import Path

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.db import connection

from labrecords import archive
from labrecords.archive import container, latest
from labrecords.archive.files import SECRET
from labrecords.archive.restore import unapplied
from labrecords.errors import DatabaseUnavailable, SettingRefused
from labrecords.management import passphrase, rehearsal
from labrecords.postgresql.base import as_owner, embedded_server
from labrecords.postgresql.cluster import is_throwaway

VERBS = {
    "start": "start the embedded server and leave it running until stop",
    "stop": "stop it, now or when the last process that uses it ends",
    "status": "say what runs and where, starting nothing",
    "backup": "write database and files to a new archive",
    "restore": "read such an archive into an empty place; only one whose origin you know, for it holds SQL that is run "
    "as the owner of the database (compare its SHA-256 with the one that backup printed)",
    "drill": "restore it into a throw-away place and prove that everything is equal",
}
OF_A_FILE = {"backup", "restore", "drill"}


class Command(BaseCommand):
    help = "The database: start, stop, status, backup FILE, restore FILE, drill FILE."
    requires_system_checks = []  # a backup must be possible whatever state the code is in

    def add_arguments(self, parser):
        parser.add_argument("verb", choices=VERBS, help="; ".join(f"{verb}: {does}" for verb, does in VERBS.items()))
        parser.add_argument("file", nargs="?", type=Path, help="of backup, restore and drill")
        parser.add_argument("--encrypt", action="store_true", help="backup: ask for a passphrase and encrypt")
        parser.add_argument(
            "--passphrase-file", type=Path, metavar="PATH", help=f"holds the passphrase; or set {passphrase.VARIABLE}"
        )
        parser.add_argument("--here", action="store_true", help=argparse.SUPPRESS)  # the drill's own child
        parser.add_argument("--data", help="folder of database and reports (default: var)")

    def handle(self, *, verb, file, **options):
        if (verb in OF_A_FILE) != bool(file):
            raise CommandError(f"db {verb} needs a file." if not file else f"db {verb} takes no file.")
        with as_owner(connection):
            getattr(self, f"_{verb}")(**({"file": file, "options": options} if file else {}))

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

    def _backup(self, file, options):
        secret = passphrase.to_encrypt(options["passphrase_file"], options["encrypt"])
        made = archive.back_up(connection, settings.DATA, file, secret)
        size = file.stat().st_size / 2**20
        self.stdout.write(f"Database “{self._name}” was written to {file} ({size:.1f} MB).")
        kept = [item.name for item in made.files if item.name != container.DUMP]
        self.stdout.write(
            f"{len(made.tables)} tables, {made.rows} rows, {len(kept)} files, "
            f"as of {made.taken_at:%Y-%m-%d %H:%M:%S %Z}{'; encrypted' if secret else ''}."
        )
        if not secret and any(name.startswith(f"{SECRET}/") for name in kept):
            self.stdout.write("It holds the key that seals reports, not encrypted: keep it as you keep that key.")
        with open(file, "rb") as written:
            digest = hashlib.file_digest(written, "sha256").hexdigest()
        self.stdout.write(f"SHA-256 {digest}: note it elsewhere, and compare it before a restore.")
        try:
            latest.note(settings.DATA, file, made.taken_at, bool(secret))
        except OSError as error:
            self.stderr.write(
                f"The health page will not know of it: {settings.DATA} cannot be written: {error.strerror}."
            )

    def _restore(self, file, options):
        done = archive.restore(connection, settings.DATA, file, passphrase.to_decrypt(options["passphrase_file"]))
        self.stdout.write(f"{file} was read into database “{self._name}” ({len(done.tables)} tables).")
        if done.files:
            self.stdout.write(f"Files: {', '.join(done.files)}.")
        if not done.manifest and done.migrations:
            self.stdout.write("It is a dump of an earlier release, which says nothing to compare it with.")
        self._bring_up(done.migrations)
        self._end_tokens(done.migrations)

    def _bring_up(self, migrations):
        """After every restore, also when nothing is to be migrated: what follows migrations (grants, guards) is due."""
        if not migrations:
            return
        newer = unapplied(migrations)
        if newer:
            self.stdout.write(f"It is of an earlier release: {len(newer)} migrations are applied now.")
        call_command("migrate", verbosity=0, interactive=False)

    def _end_tokens(self, migrations):
        """Those of the archive may have been revoked since; the restore itself has made them useless already."""
        if not migrations:
            return
        from labrecords.actions import account

        ended = account.end_restored_tokens()
        self.stdout.write(
            f"Everybody signs in anew: sessions and API tokens of the archive have ended (tokens: {ended})."
        )

    def _drill(self, file, options):
        secret = passphrase.to_decrypt(options["passphrase_file"])
        if options["here"]:
            self._prove(file, secret)
            return
        done = rehearsal.run(file, secret() if container.is_encrypted(file) else "")
        self.stdout.write(done.stdout, ending="")
        if done.returncode:
            sys.exit(1)

    def _prove(self, file, secret):
        from labrecords.actions import drill

        if not is_throwaway():
            raise SettingRefused(name="--here", value=settings.DATA, rule="is for the throw-away place of a drill only")
        findings = []
        for finding in drill.prove(
            connection,
            settings.DATA,
            file,
            secret,
            now=datetime.now(UTC),
            migrate=lambda: call_command("migrate", verbosity=0, interactive=False),
        ):
            findings.append(finding)
            self.stdout.write(f"{finding.what:<14} {'' if finding.is_fine else 'WRONG: '}{finding.found}")
        if all(finding.is_fine for finding in findings):
            self.stdout.write("Nothing differs.")
        else:
            self.stdout.write("The drill failed.")
            sys.exit(1)

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
