"""Every change carries who and why; the database refuses the rest."""

import pytest
from django.db import DatabaseError, connection, transaction

from labrecords import trail
from labrecords.actions import coupons
from labrecords.errors import NotAllowed, ReasonMissing
from labrecords.models import Coupon, Project
from tests.factories import make_coupon, make_person, make_run, sliding

pytestmark = pytest.mark.django_db
# What ends with a transaction needs real transactions (slower: all tables are emptied afterwards).
real_transactions = pytest.mark.django_db(transaction=True)


@real_transactions
def test_raw_sql_without_who_and_why_is_refused_by_the_database():
    coupon = make_coupon(make_person())
    with pytest.raises(DatabaseError, match="pgh_context"), connection.cursor() as cursor:
        cursor.execute("UPDATE labrecords_coupon SET place = 'elsewhere' WHERE id = %s", [coupon.pk])
    coupon.refresh_from_db()
    assert coupon.place == ""


@real_transactions
@pytest.mark.parametrize("write", [
    lambda person: Project.objects.create(code="X", title="X", created_by=person),
    lambda person: Project.objects.bulk_create([Project(code="X", title="X", created_by=person)]),
    lambda person: Coupon.objects.update(place="elsewhere"),
], ids=["create", "bulk_create", "update"])  # fmt: skip
def test_orm_write_without_who_and_why_is_refused_by_the_database(write):
    person = make_person()
    make_coupon(person)
    with pytest.raises(DatabaseError):
        write(person)


@pytest.mark.parametrize("metadata", [{}, {"who": "somebody"}, {"who": "somebody", "why": ""}])
@real_transactions
def test_context_that_does_not_say_who_and_why_is_refused(metadata):
    import pghistory

    person = make_person()
    with (
        pytest.raises(DatabaseError, match="context_says_who_and_why"),
        pghistory.context(**metadata),
        transaction.atomic(),
    ):
        Project.objects.create(code="X", title="X", created_by=person)


@real_transactions
def test_reason_ends_with_its_transaction():
    person = make_person()
    with trail.recorded("one", "first"):
        Project.objects.create(code="A", title="A", created_by=person)
    with trail.recorded("two", "second"):
        Project.objects.create(code="B", title="B", created_by=person)
    said = {p.code: p.events.get().pgh_context.metadata for p in Project.objects.all()}
    assert said == {"A": {"who": "one", "why": "first"}, "B": {"who": "two", "why": "second"}}


def test_change_of_a_stored_value_asks_for_a_reason():
    person = make_person()
    coupon = make_coupon(person)
    with pytest.raises(ReasonMissing):
        coupons.amend(by=person, coupon=coupon, place="drawer 4")
    with pytest.raises(ReasonMissing):
        coupons.amend(by=person, why="  ", coupon=coupon, place="drawer 4")
    coupons.amend(by=person, why="moved house", coupon=coupon, place="drawer 4")
    last = coupon.events.order_by("-pgh_id").first()
    assert (last.place, last.pgh_context.metadata["why"]) == ("drawer 4", "moved house")


def test_history_of_states_names_who_and_why():
    person = make_person()
    coupon = make_coupon(person)
    coupons.move(by=person, why="bent in the vice", coupon=coupon, state="discarded")
    states = [(event.state, event.pgh_context.metadata["why"]) for event in coupon.events.order_by("pgh_id")]
    assert states == [("in_stock", "logged"), ("discarded", "bent in the vice")]


@real_transactions
def test_events_cannot_be_changed_or_deleted():
    coupon = make_coupon(make_person())
    for statement in ("UPDATE labrecords_couponevent SET place = 'x'", "DELETE FROM labrecords_couponevent"):
        with pytest.raises(DatabaseError), connection.cursor() as cursor:
            cursor.execute(statement)
    assert coupon.events.count() == 1


def test_role_without_the_verb_is_refused_in_the_action():
    person = make_person()
    coupon = make_coupon(person)
    with pytest.raises(NotAllowed, match="may not change the state of a coupon: that is open to operator"):
        coupons.move(by=make_person("administrator"), why="tidy up", coupon=coupon, state="discarded")


def test_correction_is_a_new_row_beside_the_old_one():
    from labrecords.actions import runs

    person = make_person()
    run = make_run(person)
    runs.record(by=person, run=run, readings=sliding(["4,5"]))
    runs.record(by=person, run=run, readings=sliding(["4.6"]), why="misread the scale")
    rows = [(row.value, row.is_current, row.typed) for row in run.readings.order_by("id")]
    assert rows == [(4.5, False, "4,5"), (4.6, True, "4.6")]
