"""The OpenAPI document: valid, without warnings, complete."""

import re

import pytest
import yaml
from django.core.management import call_command
from django.urls import URLPattern, URLResolver
from rest_framework.test import APIClient

from labrecords.api import urls

OPEN = {"/api/sign-in/", "/api/schema/"}


@pytest.fixture(scope="module")
def document(tmp_path_factory):
    file = tmp_path_factory.mktemp("schema") / "openapi.yml"
    call_command("spectacular", "--validate", "--fail-on-warn", "--file", str(file))
    return yaml.safe_load(file.read_text())


def addresses(patterns, prefix="/api/"):
    for pattern in patterns:
        if isinstance(pattern, URLResolver):
            yield from addresses(pattern.url_patterns, prefix + str(pattern.pattern))
        elif isinstance(pattern, URLPattern):
            yield prefix + str(pattern.pattern).removeprefix("^").removesuffix(r"\Z").removesuffix("$")


def shape(address):
    """An address with its parameters made alike: regex groups, converters and braces."""
    return re.sub(r"\(\?P<\w+>[^)]*\)|<[^>]+>|\{\w+\}", "{}", address)


def test_every_address_is_in_the_document(document):
    served = {shape(address) for address in addresses(urls.urlpatterns)}
    served -= {"/api/", "/api/{}", "/api/schema/"}  # what is not there, and the document itself
    assert {shape(address) for address in document["paths"]} == served
    assert len(served) > 80


def test_every_operation_but_sign_in_asks_for_a_token(document):
    for address, operations in document["paths"].items():
        for operation in operations.values():
            schemes = {name for option in operation.get("security", []) for name in option}
            assert ("knoxApiToken" in schemes) is (address not in OPEN), address


def test_reason_is_required_exactly_where_the_verb_has_no_default(document):
    bodies = document["components"]["schemas"]
    assert "why" in bodies["CouponsMove"]["required"]
    assert "why" in bodies["RunsExclude"]["required"]
    assert "why" in bodies["CouponsLog"]["properties"]
    assert "why" not in bodies["CouponsLog"].get("required", [])


def test_results_are_described_field_by_field(document):
    statistic = document["components"]["schemas"]["Statistic"]["properties"]
    assert {"value", "low", "high", "n_coupons", "n_drops", "unit", "note"} <= set(statistic)


def test_document_is_served_and_holds_no_records():
    answer = APIClient().get("/api/schema/")
    assert answer.status_code == 200
    assert yaml.safe_load(answer.content)["openapi"].startswith("3.")


@pytest.mark.django_db
def test_every_address_refuses_a_stranger(document):
    for address in document["paths"]:
        if address not in OPEN:
            answer = APIClient().get(re.sub(r"\{\w+\}", "1", address))
            assert answer.status_code in (401, 405), address
            if answer.status_code == 405:  # a verb: asked properly
                answer = APIClient().post(re.sub(r"\{\w+\}", "1", address), {}, format="json")
                assert answer.status_code == 401, address
