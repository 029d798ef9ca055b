"""People at the API: each signed in by a real token."""

import json

import pytest
from rest_framework.test import APIClient

from tests.factories import PASSWORD, make_person


class Caller:
    """A person with a token; answers come as (status, data)."""

    def __init__(self, person):
        self.person, self.client = person, APIClient()
        answer = self.client.post("/api/sign-in/", {"username": person.username, "password": PASSWORD}, format="json")
        self.token = answer.json()["token"]
        self.client.credentials(HTTP_AUTHORIZATION=f"Token {self.token}")

    def get(self, path, **query):
        answer = self.client.get(f"/api/{path}", query)
        return answer.status_code, answer.json()

    def post(self, path, body=None):
        answer = self.client.post(f"/api/{path}", body or {}, format="json")
        return answer.status_code, answer.json() if answer.content else None

    def send(self, path, text, kind="application/json"):
        """Bytes as they are, for what no serialiser would write."""
        answer = self.client.generic("POST", f"/api/{path}", text, content_type=kind)
        return answer.status_code, json.loads(answer.content)


@pytest.fixture
def quality(db):
    return Caller(make_person("quality"))


@pytest.fixture
def operator(db):
    return Caller(make_person("operator"))


@pytest.fixture
def administrator(db):
    return Caller(make_person("administrator"))
