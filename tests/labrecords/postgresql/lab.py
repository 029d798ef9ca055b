"""A folder to work in and child processes of real users in it, for the tests of the embedded database."""

import functools
import os
import pwd
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import textwrap
import time
from contextlib import suppress
from pathlib import Path

import psutil
import pytest

from labrecords.postgresql import programs

CHECKOUT = Path(__file__).resolve().parents[3]
MANAGE = CHECKOUT / "manage.py"
IS_ROOT = os.geteuid() == 0
VERSION = f"{sys.version_info.major}.{sys.version_info.minor}"

# A project without models: these tests are about the server, whatever state the records' tables are in.
BARE_PROJECT = """
import os
from pathlib import Path
from django.apps import AppConfig
from labrecords import database

class Bare(AppConfig):
    name = "labrecords"
    def import_models(self):
        self.models = self.apps.all_models[self.label]

SECRET_KEY = "x"
USE_TZ = True
ALLOWED_HOSTS = ["127.0.0.1"]
ROOT_URLCONF = "bare_project"
urlpatterns = []
INSTALLED_APPS = ["bare_project.Bare"]
MIGRATION_MODULES = {"labrecords": None}
DATA = Path(os.environ["LABRECORDS_DATA"])
DATABASES = {"default": database.connection_settings(os.environ.get("DATABASE_URL", ""), DATA)}
DATABASES["default"]["AS_OWNER"] = True  # it makes tables of its own
"""
QUERY = """
import django, sys, os, time
django.setup()
from django.db import connection
from labrecords.errors import Refusal
from labrecords.postgresql.base import embedded_server

def ask(sql, *values):
    with connection.cursor() as cursor:
        cursor.execute(sql, values)
        return cursor.fetchall() if cursor.description else None

def server():
    return embedded_server(connection.settings_dict["EMBEDDED_IN"])

def pid():
    return server().cluster.pid()
"""


class Lab:
    """One folder with a bare project and a data folder, and child processes that work in it."""

    def __init__(self, folder, user, name="data"):
        self.folder, self.user, self.data = folder, user, folder / name
        self.environment = {}
        self.children = []
        (folder / "bare_project.py").write_text(BARE_PROJECT)

    def start(self, code, user=..., **environment):
        return self.spawn(["-c", QUERY + textwrap.dedent(code)], user, **environment)

    def run(self, code, user=..., **environment):
        return finish(self.start(code, user, **environment))

    def manage(self, *arguments, user=..., **environment):
        return finish(self.spawn([MANAGE, *arguments], user, **environment))

    def serve(self):
        """A long-lived process: `manage.py runserver`, which reads the migrations and waits for requests."""
        with socket.create_server(("127.0.0.1", 0)) as probe:
            port = probe.getsockname()[1]
        process = self.spawn(["-u", MANAGE, "runserver", "--noreload", f"127.0.0.1:{port}"])
        wait_for(lambda: is_open(port), 30)
        return process

    @property
    def pid(self):
        """The living server process of this folder, found without the launcher."""
        found = [p.pid for p in psutil.process_iter(["cmdline", "status"]) if is_server(p, self.folder)]
        assert len(found) < 2, "two servers on one folder"
        return found[0] if found else 0

    def spawn(self, arguments, user=..., before=(), **environment):
        """Python with these arguments, as this user; `before` is a command that runs it in its own way."""
        user = self.user if user is ... else user
        fixed = {
            "PATH": os.environ["PATH"],
            "PYTHONPATH": python_path(self.folder),
            "PYTHONDONTWRITEBYTECODE": "1",
            "DJANGO_SETTINGS_MODULE": "bare_project",
            "LABRECORDS_DATA": str(self.data),
        }
        child = subprocess.Popen(
            [*before, interpreter(user), *arguments],
            env=fixed | self.environment | environment,
            cwd=self.folder,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            start_new_session=True,
            **account(user),
        )
        self.children.append(child)
        return child

    def remove(self):
        for child in self.children:
            with suppress(ProcessLookupError):
                os.killpg(child.pid, signal.SIGKILL)  # with what it forked
            child.communicate()
        remove(self.folder)


def finish(process, limit=150):
    out, err = process.communicate(timeout=limit)
    return subprocess.CompletedProcess(process.args, process.returncode, out.strip(), err.strip())


def interpreter(user):
    found = python_of(user)
    return found or pytest.skip(f"{user} may not enter this checkout, or has no Python {VERSION}")


def packages():
    return [path for path in sys.path if path.endswith("-packages")]


def python_path(*first):
    return os.pathsep.join([*map(str, first), str(CHECKOUT), *packages()])


@functools.cache
def python_of(user):
    """A Python with which this user can work in this checkout: this one, or the system's."""
    candidates = (sys.executable, f"/usr/bin/python{VERSION}")
    return next((python for python in candidates if can_work(user, python)), None)


def can_work(user, python):
    try:
        imports = [python, "-B", "-c", "import django, psycopg, labrecords.database"]
        tried = subprocess.run(
            imports, env={"PYTHONPATH": python_path()}, cwd="/", stderr=subprocess.DEVNULL, **account(user)
        )
    except OSError:
        return False
    return tried.returncode == 0


def account(user):
    if user is None:
        return {}
    found = pwd.getpwnam(user)
    return {"user": found.pw_uid, "group": found.pw_gid, "extra_groups": []}


def is_server(process, folder):
    command = process.info["cmdline"] or [""]
    running = process.info["status"] != psutil.STATUS_ZOMBIE
    return running and command[0].endswith("postgres") and any(part.startswith(f"{folder}/") for part in command[1:3])


def is_alive(process):
    try:
        return process.status() != psutil.STATUS_ZOMBIE
    except psutil.NoSuchProcess:
        return False


def cwd(process):
    try:
        return process.cwd()
    except psutil.Error:
        return ""


def wait_for(condition, limit=10):
    end = time.monotonic() + limit
    while not (found := condition()):
        assert time.monotonic() < end, "waited in vain"
        time.sleep(0.02)
    return found


def is_open(port):
    with socket.socket() as probe:
        return probe.connect_ex(("127.0.0.1", port)) == 0


def new_folder():
    """Not pytest's tmp_path: root's is closed to everybody else."""
    folder = Path(tempfile.mkdtemp(prefix="lab-"))
    folder.chmod(0o755)
    return folder


def remove(folder):
    for process in psutil.process_iter():
        if cwd(process).startswith(f"{folder}/"):
            process.kill()
    shutil.rmtree(folder, ignore_errors=True)


def owner(path):
    return path.stat().st_uid


def is_one_sentence(text):
    return text.startswith("Refused: ") and len(text.splitlines()) == 1 and text.endswith(".")


def other_version():
    """The wheel holds two versions of the programs."""
    ours = programs.version(programs.folder())[0]
    found = [path for path in programs._wheel() if programs.version(path)[0] != ours]
    return str(found[0]) if found else pytest.skip("only one version of PostgreSQL is here")


# Run by root, a normal user is `nobody`, where he can; None is whoever runs the tests.
NORMAL_USER = "nobody" if IS_ROOT and python_of("nobody") else None
as_root = pytest.mark.skipif(not IS_ROOT, reason="only root can work as several users")
as_normal_user = pytest.mark.skipif(
    IS_ROOT and not NORMAL_USER, reason="root runs the tests and no other user may enter this checkout"
)
