"""People at pages and API, and the security log as they leave it."""

import json
import logging

import pytest
from django.test import Client
from rest_framework.test import APIClient

from labrecords.models import SecurityEvent
from labrecords.security import Line
from tests.factories import PASSWORD, make_person


class At:
    """Somebody at a network address, with page and API."""

    def __init__(self, address="192.0.2.1"):
        self.page = Client(REMOTE_ADDR=address)
        self.api = APIClient(REMOTE_ADDR=address)

    def sign_in(self, username, password=PASSWORD, **more):
        return self.page.post("/sign-in/", {"username": username, "password": password} | more)

    def token(self, username, password=PASSWORD, **more):
        body = {"username": username, "password": password} | more
        return self.api.post("/api/sign-in/", body, format="json")


@pytest.fixture
def at():
    return At


@pytest.fixture
def person(db):
    return make_person("operator")


@pytest.fixture
def administrator(db):
    return make_person("administrator")


@pytest.fixture
def keeper(administrator):
    """The administrator's page."""
    client = Client()
    client.force_login(administrator)
    return client


@pytest.fixture
def lines():
    """What the log's file gets, line by line, as it is written."""
    written = []

    class Catch(logging.Handler):
        def emit(self, record):
            written.append(self.format(record))

    handler = Catch()
    handler.setFormatter(Line())
    loggers = [logging.getLogger(name) for name in ("labrecords.security", "django.security")]
    for logger in loggers:
        logger.addHandler(handler)
    yield written
    for logger in loggers:
        logger.removeHandler(handler)


@pytest.fixture
def events(lines):
    """Names of the events so far, from the file's lines."""
    return lambda: [json.loads(line)["event"] for line in lines]


@pytest.fixture
def stored(db):
    """The same from the table."""
    return lambda: list(SecurityEvent.objects.order_by("id").values_list("event", flat=True))
