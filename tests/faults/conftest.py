"""A lab to kill: one for all fault tests, which only ever add rows of their own."""

import random

import pytest

from tests.faults.site import Site
from tests.labrecords.postgresql.lab import new_folder


@pytest.fixture(scope="session")
def lab_under_fault():
    made = Site(new_folder())
    yield made.seed()
    made.remove()


@pytest.fixture
def site(lab_under_fault):
    """The lab without a web process; the next test finds database and settings as they should be."""
    yield lab_under_fault
    lab_under_fault.kill_web()
    lab_under_fault.environment = {}


@pytest.fixture
def draw():
    return random.Random(20261125)
