"""A signed-in client a role; every page answers within a fixed number of queries."""

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from tests.factories import make_person


@pytest.fixture
def person(db):
    return make_person("quality")


@pytest.fixture
def page(person):
    """The client of a person who may do all the bench and design work."""
    client = Client()
    client.force_login(person)
    return client


@pytest.fixture
def operator_page(db):
    client = Client()
    client.force_login(make_person("operator"))
    return client


@pytest.fixture
def queries_of():
    """How many queries each page asks; a list that grows must not ask more."""

    def counted(client, addresses):
        numbers = {}
        for address in addresses:
            client.get("/lab/")  # once a minute the last use of a session is written down; not while we count
            with CaptureQueriesContext(connection) as seen:
                assert client.get(address).status_code == 200
            numbers[address] = len(seen)
        return numbers

    return counted
