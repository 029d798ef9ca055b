"""A server that DATABASE_URL names, with a role that owns the tables and another that works with them."""

import os
import subprocess
import sys
from urllib.parse import quote

import psycopg
import pytest
from django.conf import settings
from django.db import connection

from tests.labrecords.security.test_attacks_on_the_trail import TWELVE

pytestmark = pytest.mark.django_db(transaction=True)
NAMES = {"database": "named_lab", "owner": "named_owner", "work": "named_work"}


@pytest.fixture
def urls():
    """A second database on the suite's server, with roles as an administrator would make them."""
    parameters = connection.get_connection_params()
    host, port = parameters["host"], parameters["port"]
    own = {key: parameters[key] for key in ("host", "port", "user", "password")}
    with psycopg.connect(**own, dbname="postgres", autocommit=True) as admin:
        for name in ("owner", "work"):
            admin.execute(f"CREATE ROLE {NAMES[name]} LOGIN PASSWORD 'made-for-a-test'")
        admin.execute("CREATE DATABASE named_lab OWNER named_owner")
        try:
            yield {
                name: f"postgresql://{NAMES[name]}:made-for-a-test@/named_lab?host={quote(host, safe='')}&port={port}"
                for name in ("owner", "work")
            }
        finally:
            admin.execute("DROP DATABASE named_lab WITH (FORCE)")
            admin.execute("DROP ROLE named_work; DROP ROLE named_owner")


def manage(*arguments, **environment):
    done = subprocess.run(
        [sys.executable, "manage.py", *arguments],
        cwd=settings.ROOT,
        env={**os.environ, **environment},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


@pytest.mark.thorough
def test_working_role_of_a_named_server_has_no_way_to_the_trail(urls):
    environment = {"DATABASE_URL": urls["work"], "LABRECORDS_OWNER_URL": urls["owner"]}
    manage("migrate", "--verbosity", "0", **environment)
    person = "add_person", "ada", "--name", "Ada", "--role", "administrator"
    manage(*person, **environment, LABRECORDS_NEW_PASSWORD="bench-water-tilt-7")
    assert "as they were written" in manage("verify_records", **environment)
    with psycopg.connect(urls["work"], autocommit=True) as working:
        for statements in TWELVE.values():
            with pytest.raises(psycopg.errors.InsufficientPrivilege):
                _all(working, statements)
    assert "as they were written" in manage("verify_records", **environment)


def _all(working, statements):
    for statement in statements:
        working.execute(statement)
