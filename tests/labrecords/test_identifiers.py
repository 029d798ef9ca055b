"""People are disabled, never deleted; what names a person, a coupon or a report is never given a second time."""

from contextlib import suppress

import pytest
from django.db import DatabaseError, IntegrityError, connection, transaction

from labrecords import trail
from labrecords.actions import coupons, people
from labrecords.errors import UnknownCode, ValueRefused
from labrecords.models import Coupon, Laboratory, Person
from tests.factories import PASSWORD, make_coupon, make_lot, make_person

pytestmark = pytest.mark.django_db
real_transactions = pytest.mark.django_db(transaction=True)


class TakenBack(Exception):
    pass


def refused_by_database(change):
    with pytest.raises(DatabaseError), trail.recorded("tests", "try"), transaction.atomic():
        change()


def test_disabled_person_stays_with_name_and_number():
    administrator, leaver = make_person("administrator"), make_person("operator", "leaver")
    coupon = make_coupon(leaver, lot=make_lot(make_person("quality")))
    people.disable(by=administrator, why="left the lab", person=leaver)
    assert people.find("leaver").pk == leaver.pk
    assert Coupon.objects.get(pk=coupon.pk).created_by.full_name == leaver.full_name
    refused_by_database(lambda: Person.objects.filter(pk=leaver.pk).delete())
    refused_by_database(lambda: raw("DELETE FROM labrecords_person WHERE id = %s", leaver.pk))


def raw(statement, *values):
    with connection.cursor() as cursor:
        cursor.execute(statement, values)


@pytest.mark.parametrize("name", ["leaver", "LEAVER", " Leaver "])
def test_name_of_a_disabled_person_is_not_given_to_another(name):
    administrator, leaver = make_person("administrator"), make_person("operator", "leaver")
    people.disable(by=administrator, why="left the lab", person=leaver)
    with pytest.raises(ValueRefused, match="already exists"):
        people.add(by=administrator, username=name, full_name="Another", role="operator", password=PASSWORD)
    assert Person.objects.filter(username__iexact="leaver").get().full_name == leaver.full_name


def test_name_of_a_person_does_not_change_hands():
    one, two = make_person("operator", "one"), make_person("operator", "two")
    refused_by_database(lambda: Person.objects.filter(pk=one.pk).update(username="three"))
    refused_by_database(lambda: Person.objects.filter(pk=two.pk).update(username="one"))
    assert set(Person.objects.values_list("username", flat=True)) == {"one", "two"}


@real_transactions
def test_number_of_a_person_is_not_given_again_after_a_rollback():
    with suppress(TakenBack), transaction.atomic():
        never = make_person("operator", "never")
        raise TakenBack
    assert not Person.objects.filter(username="never").exists()
    assert make_person("operator", "next").pk > never.pk


@real_transactions
def test_coupon_code_that_was_stored_is_not_given_again_whatever_is_rolled_back():
    person = make_person()
    lot = make_lot(person)
    stored = [coupons.log(by=person, lot=lot)[0].code]
    for _ in range(3):
        with suppress(TakenBack), trail.recorded(person.username, "try"):
            coupons.log(by=person, lot=lot, count=2)
            raise TakenBack
        stored += [row.code for row in coupons.log(by=person, lot=lot, count=2)]
    assert len(stored) == len(set(stored)) == Coupon.objects.count() == 7


@real_transactions
def test_coupon_keeps_its_code_and_a_code_its_coupon():
    person = make_person()
    coupon, other = make_coupon(person), make_coupon(person)
    coupons.move(by=person, why="broken", coupon=coupon, state="discarded")
    refused_by_database(lambda: Coupon.objects.filter(pk=coupon.pk).update(code="TS-26-0099-X"))
    refused_by_database(lambda: Coupon.objects.filter(pk=coupon.pk).update(number=99))
    refused_by_database(lambda: Coupon.objects.filter(pk=coupon.pk).delete())
    with pytest.raises(IntegrityError), trail.recorded("tests", "try"), transaction.atomic():
        Coupon.objects.create(code=coupon.code, number=1000, lot=other.lot, created_by=person)


@real_transactions
def test_counter_of_coupons_never_runs_back():
    make_coupon(make_person())
    refused_by_database(lambda: Laboratory.objects.update(last_coupon_number=0))
    assert Laboratory.objects.get().last_coupon_number == 1


def test_code_of_a_discarded_coupon_still_leads_to_it():
    person = make_person()
    coupon = make_coupon(person)
    coupons.move(by=person, why="broken", coupon=coupon, state="discarded")
    assert coupons.find(coupon.code) == coupon
    with pytest.raises(UnknownCode):
        coupons.find(coupons.with_check_character("TS-26-9999"))
