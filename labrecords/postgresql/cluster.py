"""The files and the process of one PostgreSQL server: make, start, watch, stop. The caller locks."""

from __future__ import annotations

import os
import re
import secrets
import shutil
import signal
import socket
import sys
import time
from pathlib import Path

import psutil

from labrecords.errors import DatabaseUnavailable
from labrecords.postgresql import programs
from labrecords.postgresql.durability import SETTINGS as DURABLE
from labrecords.postgresql.durability import is_throwaway
from labrecords.postgresql.place import Place, refusing
from labrecords.postgresql.roles import NAME, WORKING

PASSWORDS = {NAME: "password", WORKING: "password-working"}  # files beside the data, for the account alone
PATIENCE_S = 300  # recovery after a crash reads the log since the last checkpoint again
SILENCE_S = 5  # after that long a waiting person is told why
STOP_S = 60
LONGEST_SOCKET = 100  # bytes; systems allow 103 to 107
FREE_BYTES = 200 * 2**20  # a new server takes about 50 MB, then its first log segments
SETTINGS = ("max_connections=100", "timezone=UTC", "log_timezone=UTC", "lc_messages=C")


class Cluster:
    def __init__(self, place: Place):
        self.place = place
        self.log = place.folder / "server.log"

    def pid(self) -> int:
        """The living server process of this folder, or 0."""
        return self._pid_file()[0]

    def state(self) -> str:
        """The server's own word: starting, ready, stopping; empty when there is none."""
        pid, *lines = self._pid_file()
        if not pid:
            return ""
        return lines[6].strip() if len(lines) > 6 else "starting"

    def address(self, role=NAME) -> dict:
        _, *lines = self._pid_file()
        port, sockets = (lines[2].strip(), lines[3].strip()) if len(lines) > 3 else ("5432", ".")
        host = str(self.place.pgdata) if sockets else "127.0.0.1"
        return {"host": host, "port": port, "user": role, "password": self.password(role)}

    def password(self, role) -> str:
        """Made with the cluster; in a folder of an earlier release the working role's is made when first asked for."""
        with refusing(self.place.folder):
            self.place.new_file(PASSWORDS[role], secrets.token_urlsafe(24))
            return (self.place.folder / PASSWORDS[role]).read_text()

    def make_ready(self) -> None:
        if self.state() == "stopping":
            self._wait_until_gone()
        if not self.pid():
            if not self.place.pgdata.is_dir():
                self._create()
            self._refuse_other_major()
            self._start()
        self._wait_until_ready()

    def stop(self) -> None:
        if pid := self.pid():
            os.kill(pid, signal.SIGINT)  # "fast": roll back what is open, write everything, end
            if not self._wait_until_gone():
                os.kill(pid, signal.SIGQUIT)  # for example on a full disk; the next start recovers
                self._wait_until_gone()

    def _pid_file(self):
        """postmaster.pid as (pid, line 2, line 3, …); only a pid 0 when that process is not this server."""
        try:
            lines = (self.place.pgdata / "postmaster.pid").read_text().splitlines()
            pid = int(lines[0])
        except PermissionError:
            with refusing(self.place.folder):
                raise
        except (OSError, ValueError, IndexError):
            return (0,)
        return (pid, *lines[1:]) if self._is_ours(pid) else (0,)

    def _is_ours(self, pid):
        """After a reboot the number may belong to a stranger: the command line tells."""
        try:
            process = psutil.Process(pid)
            command = process.cmdline()
        except psutil.Error:
            return False
        is_server = bool(command) and Path(command[0]).name == "postgres"
        return is_server and str(self.place.pgdata) in command and _is_alive(pid)

    # Making -----------------------------------------------------------------------------------------------

    def _create(self):
        """Everything under another name first: a killed attempt leaves no half database."""
        folder = self.place.folder
        if shutil.disk_usage(folder).free < FREE_BYTES:
            needed = f"{FREE_BYTES >> 20} MB"
            raise DatabaseUnavailable(why=f"The disk of {folder} has less than {needed} free; a database needs that.")
        for left in folder.glob("new-*"):
            shutil.rmtree(left, ignore_errors=True)
        self.password(NAME)
        fresh, programs_folder = folder / f"new-{os.getpid()}", self._programs()
        access = ["--data-checksums", "-U", NAME, "-A", "scram-sha-256", "--pwfile", folder / PASSWORDS[NAME]]
        self._must([programs_folder / "initdb", "-D", fresh, *access, *_locale(programs_folder), *_sync()])
        single = [programs_folder / "postgres", "--single", "-D", fresh, "postgres"]
        working = f"CREATE ROLE {WORKING} LOGIN PASSWORD '{self.password(WORKING)}';"
        self._must(single, input=f"CREATE DATABASE {NAME};\n{working}\n")
        fresh.rename(self.place.pgdata)

    def _must(self, command, **options):
        done = self.place.run(command, **options)
        if done.returncode or re.search("FATAL|ERROR", done.stderr):
            raise DatabaseUnavailable(why=f"The database could not be made: {_reason(done.stderr)}")

    def _programs(self):
        return programs.usable(programs.folder(), self.place)

    def _refuse_other_major(self):
        stored = int((self.place.pgdata / "PG_VERSION").read_text())
        ours = programs.version(programs.folder())[0]
        if stored != ours:
            raise DatabaseUnavailable(
                why=f"The database in {self.place.folder} was written by PostgreSQL {stored}, "
                f"but the programs are version {ours}: back it up with programs of version {stored} "
                "(`manage.py db backup FILE` with their folder in LABRECORDS_PG_BIN), move that folder away, "
                "then `manage.py db restore FILE`."
            )

    # Starting ---------------------------------------------------------------------------------------------

    def _start(self):
        for attempt in range(10):
            for name in ("postmaster.pid", ".s.PGSQL.5432", ".s.PGSQL.5432.lock"):
                # Of a server that is no more; it would be believed if its number now belongs to a stranger.
                (self.place.pgdata / name).unlink(missing_ok=True)
            read_from = self.log.stat().st_size if self.log.exists() else 0
            started = self._launch()
            while not self.pid() and _is_alive(started):
                time.sleep(0.01)
            if self.pid():
                return
            with open(self.log, errors="replace") as file:
                file.seek(read_from)
                said = file.read()
            # Workers of a server that was killed need a moment to notice.
            if "shared memory block" not in said or attempt == 9:
                raise DatabaseUnavailable(why=f"The database could not be started: {_reason(said)}")
            time.sleep(1)

    def _launch(self):
        # Said on the command line, durability stands above whatever somebody wrote into the server's files.
        durability = [f"{name}={'off' if is_throwaway() else 'on'}" for name in DURABLE]
        settings = [*SETTINGS, *self._listening(), *durability]
        command = [self._programs() / "postgres", "-D", self.place.pgdata]
        # The shell ends at once: the server is not our child and outlives this process.
        background = 'umask 077; "$@" >>server.log 2>&1 </dev/null & echo $!'
        options = [part for setting in settings for part in ("-c", setting)]
        shell = ["/bin/sh", "-c", background, "sh", *command, *options]
        return int(self.place.run(shell, cwd=self.place.folder).stdout or 0)

    def _listening(self):
        path = os.fsencode(self.place.pgdata / ".s.PGSQL.5432")
        if len(path) <= LONGEST_SOCKET and b"," not in path:  # clients read a comma as a list of hosts
            # "." is the server's own folder, which other users may not enter.
            return (
                "listen_addresses=",
                "unix_socket_directories=.",
                "unix_socket_permissions=0700",
                "port=5432",
            )
        with socket.create_server(("127.0.0.1", 0)) as probe:
            port = probe.getsockname()[1]
        return ("listen_addresses=127.0.0.1", "unix_socket_directories=", f"port={port}")

    def _wait_until_ready(self):
        begun, told = time.monotonic(), False
        while (state := self.state()) != "ready":
            waited = time.monotonic() - begun
            if not state:
                said = self.log.read_text(errors="replace")[-4000:]
                raise DatabaseUnavailable(why=f"The database could not be started: {_reason(said)}")
            if waited > PATIENCE_S:
                raise DatabaseUnavailable(why=f"The database still recovers after {PATIENCE_S} s: try later.")
            if waited > SILENCE_S and not told:
                say("The database is recovering after a crash; this can take some minutes …")
                told = True
            time.sleep(0.01 if waited < 1 else 0.1)

    def _wait_until_gone(self):
        end = time.monotonic() + STOP_S
        while self.pid() and time.monotonic() < end:
            time.sleep(0.01)
        return not self.pid()


def say(sentence):
    sys.stderr.write(sentence + "\n")


def _locale(programs_folder):
    """UTF-8, sorted by code point: the same on every system."""
    if programs.version(programs_folder)[0] >= 17:
        return ["-E", "UTF8", "--locale=C", "--locale-provider=builtin", "--builtin-locale=C.UTF-8"]
    return ["-E", "UTF8", "--locale=C.UTF-8"]


def _sync():
    return ["--no-sync"] if is_throwaway() else []


def _is_alive(pid):
    try:
        return psutil.Process(pid).status() not in {psutil.STATUS_ZOMBIE, psutil.STATUS_DEAD}
    except psutil.Error:
        return False


def _reason(said):
    """The last complaint in a log, without its time stamp."""
    found = re.findall(r"(?:FATAL|PANIC|ERROR|error|could not)[^\n]*", said)
    return (found[-1] if found else said.strip()[-300:] or "it gave no reason").rstrip(".") + "."
