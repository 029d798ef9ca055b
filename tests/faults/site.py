"""A lab's data folder with its web process and its database server: real processes, worked with from outside."""

import json
import os
import signal
import socket
import subprocess
import sys
import time
from contextlib import closing, contextmanager, suppress

import psutil
import psycopg

from tests.labrecords.postgresql.lab import CHECKOUT, is_alive, is_open, is_server, remove

SEED = """
import json, django
django.setup()
from django.core.management import call_command
call_command("migrate", verbosity=0, interactive=False)
from tests import factories
by = factories.make_person("quality", "first")
people = [by, *(factories.make_person(role, name) for role, name in (("quality", "second"), ("reviewer", "third")))]
version = factories.make_method_version(by)
coupons = [factories.make_coupon(by).code for _ in range(60)]
print(json.dumps({
    "people": [person.username for person in people], "password": factories.PASSWORD, "coupons": coupons,
    "method_version": version.number, "lot": factories.make_liquid_lot(by).code,
    "instrument": factories.make_instrument(by).code,
}))
"""


class Nursery:
    """Forks web processes on demand and reaps them."""

    def __init__(self, process):
        self.process = process

    def fork(self, port):
        return Forked(self, int(self._say(f"fork {port}")))

    def _say(self, line):
        self.process.stdin.write(line + "\n")
        return self.process.stdout.readline()


class Forked:
    """A child of the nursery, handled as subprocess.Popen is."""

    def __init__(self, nursery, pid):
        self.nursery, self.pid = nursery, pid

    def poll(self):
        return None if psutil.pid_exists(self.pid) else -1

    def kill(self):
        os.kill(self.pid, signal.SIGKILL)

    def wait(self):
        self.nursery._say(f"reap {self.pid}")


class Site:
    def __init__(self, folder):
        self.folder, self.data = folder, folder / "data"
        self.data.mkdir(exist_ok=True)
        self.web, self.port, self.facts, self.environment = None, 0, {}, {}

    def seed(self):
        """Tables, people, coupons and what a run needs; the database server stays up."""
        self.run(["manage.py", "db", "start"])
        self.facts = json.loads(self.run(["-c", SEED]))
        return self

    def run(self, arguments, **environment):
        """A Python process of the checkout to its end; its output."""
        done = subprocess.run(
            [sys.executable, *arguments],
            **self.surroundings(environment),
            capture_output=True,
            text=True,
            check=False,
            timeout=300,
        )
        assert done.returncode == 0, done.stderr[-3000:]
        return done.stdout.strip()

    def spawn(self, arguments, **environment):
        nowhere = subprocess.DEVNULL
        return subprocess.Popen(
            [sys.executable, *arguments], **self.surroundings(environment), stdout=nowhere, stderr=nowhere
        )

    def start_web(self, removed="", **environment):
        """`manage.py serve`, or the same without the named protections; returns when it answers."""
        self.port = self.port or free_port()
        script = ["-m", "tests.faults.served", removed] if removed else ["manage.py"]
        self.web = self.spawn([*script, "serve", "--port", str(self.port)], **environment)
        self._wait_for_web()

    def start_web_from(self, nursery):
        """The same web process, forked off one that has read the code already: many kills need quick starts."""
        self.port = self.port or free_port()
        self.web = nursery.fork(self.port)
        self._wait_for_web()

    def _wait_for_web(self):
        wait_until(lambda: is_open(self.port) or self.web.poll() is not None, 120)
        assert self.web.poll() is None, "the web process did not start"

    def kill_web(self):
        if self.web is not None:
            self.web.kill()
            self.web.wait()
            self.web = None

    @contextmanager
    def nursery(self, removed="", **environment):
        """Of web processes; without the named protections."""
        arguments = [sys.executable, "-m", "tests.faults.nursery", removed]
        pipe = subprocess.PIPE
        with subprocess.Popen(
            arguments, **self.surroundings(environment), stdin=pipe, stdout=pipe, text=True, bufsize=1
        ) as process:
            try:
                yield Nursery(process)
            finally:
                self.kill_web()
                process.stdin.close()
                process.wait(30)

    def database_processes(self):
        """The server's head process, then its workers."""
        heads = [p for p in psutil.process_iter(["cmdline", "status"]) if is_server(p, self.folder)]
        return [process for head in heads for process in (head, *head.children())]

    def kill_database(self):
        """-9 for all of them, and wait until none is left: a server does not start beside the workers of a dead one."""
        killed = self.database_processes()
        for process in killed:
            with suppress(psutil.NoSuchProcess):
                process.kill()
        wait_until(lambda: not any(is_alive(process) for process in killed), 30)
        return len(killed)

    def ask(self, sql, *values):
        """As the owner of the tables, past the product."""
        with closing(self.connect()) as connection:
            found = connection.execute(sql, values or None)
            return found.fetchall() if found.description else None

    def connect(self):
        password = (self.data / "pg" / "password").read_text()
        pgdata = self.data / "pg" / "data"
        options = {"user": "labrecords", "password": password, "dbname": "labrecords", "autocommit": True}
        return psycopg.connect(host=str(pgdata), port=5432, **options)

    def remove(self):
        self.kill_web()
        self.kill_database()
        remove(self.folder)

    def surroundings(self, environment=None):
        own = {name: value for name, value in os.environ.items() if name != "LABRECORDS_THROWAWAY"}
        own |= {"LABRECORDS_DATA": str(self.data), "DJANGO_SETTINGS_MODULE": "labrecords.settings"}
        return {"cwd": CHECKOUT, "env": own | {"PYTHONPATH": str(CHECKOUT)} | self.environment | (environment or {})}


def free_port():
    with socket.create_server(("127.0.0.1", 0)) as probe:
        return probe.getsockname()[1]


def wait_until(condition, limit):
    end = time.monotonic() + limit
    while not condition():
        assert time.monotonic() < end, "waited in vain"
        time.sleep(0.01)
