"""One archive of invented records a module, and empty databases to restore into, on the suite's own server."""

from types import SimpleNamespace

import pytest
from django.core.management import call_command
from django.db import connection

from labrecords import archive
from labrecords.reports import qualification
from tests.factories import issue_report, make_person, make_shedding_criteria, make_tested_batch

NAME = "labrecords_restored"


@pytest.fixture(scope="module")
def lab(django_db_setup, django_db_blocker, tmp_path_factory):
    """A tested batch with its issued report, a sealing key beside it, and the archive of both."""
    folder = tmp_path_factory.mktemp("lab")
    data = data_folder(folder / "data")
    with django_db_blocker.unblock():
        by = make_person("quality")
        batch = make_tested_batch(by, n=2, drops=3, reviewer=make_person("reviewer"))
        report = issue_report(batch, make_shedding_criteria(by), render=qualification.render)
        made = archive.back_up(connection, data, folder / "lab.tar")
        archive.back_up(connection, data, folder / "lab.tar.age", "a long passphrase")
        call_command("flush", verbosity=0, interactive=False)
        connection.close()
    return SimpleNamespace(
        file=folder / "lab.tar", encrypted=folder / "lab.tar.age", manifest=made, data=data, report=bytes(report.file)
    )


def data_folder(folder):
    """With files that belong into an archive, and with some that do not."""
    for name in ("certificate/lab.key", "certificate/lab.crt", "reports/copy.pdf", "secret-key", "demo-sign-in.txt"):
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(f"an invented {name}\n" * 40)
    return folder


@pytest.fixture
def empty(django_db_setup, django_db_blocker):
    """A connection to an empty database beside the suite's."""
    with django_db_blocker.unblock():
        suite, own = connection.copy(), connection.copy()
        own.settings_dict["NAME"] = NAME
        with suite.cursor() as cursor:
            cursor.execute(f"DROP DATABASE IF EXISTS {NAME}")
            cursor.execute(f"CREATE DATABASE {NAME}")
        yield own
        own.close()
        with suite.cursor() as cursor:
            cursor.execute(f"DROP DATABASE {NAME} WITH (FORCE)")
        suite.close()


@pytest.fixture
def place(tmp_path):
    """An empty data folder."""
    folder = tmp_path / "restored"
    folder.mkdir()
    return folder


def never():
    raise AssertionError("nobody should be asked for a passphrase")


def restore(own, place, file, passphrase=never):
    return archive.restore(own, place, file, passphrase)
