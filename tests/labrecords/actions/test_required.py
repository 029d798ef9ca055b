"""What a report has to say (ISO/IEC 17025:2017, 7.8.2.1) is on record before it is prepared, or excused by name."""

import pytest

from labrecords.actions import assessments, processing, projects
from labrecords.actions.evidence import required
from labrecords.errors import ReportIncomplete
from tests.factories import make_criteria, make_person, make_tested_batch

pytestmark = pytest.mark.django_db


@pytest.fixture
def by():
    return make_person("quality")


def prepared(by, **project):
    made = projects.start(by=by, code="P-1", title="Plates", **project)
    batch = make_tested_batch(by, n=2, drops=2, project=made)
    return batch, lambda: assessments.prepare(by=by, batch=batch, criterion_revision=make_criteria(by))


def test_missing_items_are_named_with_their_letter_and_place(by):
    _, prepare = prepared(by, customer="A customer (invented)")
    with pytest.raises(ReportIncomplete) as refusal:
        prepare()
    assert "contact of the customer (item e; the project)" in str(refusal.value)
    assert "sampling plan (item k; the batch)" in str(refusal.value)


def test_work_for_nobody_outside_needs_no_contact_and_no_plan(by):
    _, prepare = prepared(by)
    assert prepare().state == "draft"


def test_deviation_that_names_the_item_excuses_it(by):
    batch, prepare = prepared(by, customer="A customer (invented)", customer_contact="Room 1")
    processing.note_deviation(
        by=by, batch=batch, what="No sampling plan", reason="the customer chose the coupons", impact="none known"
    )
    assert prepare().state == "draft"


@pytest.mark.parametrize("item", required.ITEMS, ids=[item.letter for item in required.ITEMS])
def test_each_item_is_found_missing(item):
    """Each alone, taken out of a complete evidence."""
    full = {
        "laboratory": {"name": "Lab", "address": "Street"},
        "customer": {"name": "A customer", "contact": "Room 1"},
        "lots": [{"material": "Aluminium"}],
        "runs": [{"observed_at": "2026-03-02"}],
        "batch": {"sampling": "all"},
        "deviations": [],
    }
    assert required.missing(full) == []
    holes = {
        "b": {"laboratory": {"name": "Lab", "address": " "}},
        "e": {"customer": {"name": "A customer", "contact": ""}},
        "g": {"lots": [{"material": ""}]},
        "i": {"runs": [{"observed_at": ""}]},
        "k": {"batch": {"sampling": ""}},
    }
    assert required.missing(full | holes[item.letter]) == [item]
