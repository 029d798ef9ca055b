"""The people of a report, and a batch on its way to one."""

import pytest

from labrecords.actions import assessments
from tests.factories import (
    make_criteria,
    make_person,
    make_tested_batch,
)


@pytest.fixture
def author():
    return make_person("developer", full_name="Ann “O’Thor” Ωmega")


@pytest.fixture
def reviewer():
    return make_person("reviewer")


@pytest.fixture
def quality():
    return make_person("quality")


@pytest.fixture
def batch(quality):
    return make_tested_batch(quality, n=1, drops=1, control=False)


@pytest.fixture
def assessment(author, batch):
    return assessments.prepare(by=author, batch=batch, criterion_revision=make_criteria(author))
