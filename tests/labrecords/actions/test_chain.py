"""The chain of all entries: every way of writing is in it, and a change of anything shows."""

import hashlib

import psycopg
import pytest
from django.core.management import CommandError, call_command
from django.db import DatabaseError, connection, transaction
from django.test import Client
from rest_framework.test import APIClient

from labrecords import trail
from labrecords.actions import account, attachments, chain
from labrecords.models import ApiToken, Coupon, Link, Project
from tests.factories import PASSWORD, make_coupon, make_person
from tests.labrecords.security.roles import as_working_role

pytestmark = pytest.mark.django_db(transaction=True)


def links():
    return list(Link.objects.order_by("seq"))


def test_chain_can_be_followed_with_sha256_alone():
    """As a reader without our code does it: the hash before, then the digest of the entry's text."""
    make_coupon(make_person())
    before = bytes(32)
    for place, link in enumerate(links(), start=1):
        assert link.seq == place
        before = hashlib.sha256(before + hashlib.sha256(link.entry.encode("utf-8")).digest()).digest()
        assert before == bytes(link.hash)
    assert chain.head()["hash"] == before.hex()


def raw_sql(person):
    with connection.cursor() as cursor:
        cursor.execute("UPDATE labrecords_coupon SET place = 'elsewhere'")


def copy(person):
    with connection.cursor() as cursor:
        # COPY carries no context of its own: a statement before it does.
        cursor.execute("UPDATE labrecords_coupon SET place = place || '' WHERE false")
        line = f"P9\tcopied\t\t\tf\t{person.pk}\n"
        columns = "code, title, customer, customer_contact, members_only, created_by_id"
        with cursor.copy(f"COPY labrecords_project ({columns}) FROM STDIN") as into:
            into.write(line)


def bulk_update(person):
    coupon = Coupon.objects.get()
    coupon.place = "elsewhere"
    Coupon.objects.bulk_update([coupon], ["place"])


def save(person):
    coupon = Coupon.objects.get()
    coupon.place = "elsewhere"
    coupon.save()


WAYS = {
    "save": save,
    "update": lambda person: Coupon.objects.update(place="elsewhere"),
    "bulk_update": bulk_update,
    "bulk_create": lambda person: Project.objects.bulk_create([Project(code="P9", title="x", created_by=person)]),
    "raw SQL": raw_sql,
    "COPY": copy,
}


@pytest.mark.parametrize("write", WAYS.values(), ids=WAYS)
def test_each_way_of_writing_is_in_the_chain(write):
    person = make_person()
    make_coupon(person)
    before = len(links())
    with trail.recorded("tests", "another way"):
        write(person)
    [link] = links()[before:]
    assert ('"who": "tests"' in link.entry, '"why": "another way"' in link.entry) == (True, True)
    assert list(chain.breaks()) == []


@pytest.mark.parametrize("delete", [
    lambda: Coupon.objects.all().delete(), lambda: Coupon.objects.all()._raw_delete("default")
], ids=["delete", "_raw_delete"])  # fmt: skip
def test_deleting_is_no_way_of_writing(delete):
    make_coupon(make_person())
    with pytest.raises(DatabaseError, match="Cannot delete"), trail.recorded("tests", "tidy up"):
        delete()
    assert Coupon.objects.count() == 1


def test_what_is_rolled_back_is_in_no_link_and_leaves_no_gap():
    person = make_person()
    make_coupon(person)
    before = len(links())
    with trail.recorded("tests", "nothing"):
        Coupon.objects.update(place="elsewhere")
        transaction.set_rollback(True)
    make_coupon(person)
    assert [link.seq for link in links()] == list(range(1, len(links()) + 1))
    assert len(links()) > before


def test_link_names_the_role_that_wrote():
    person = make_person()
    with as_working_role() as working:
        working.execute("SELECT set_config('pghistory.context_id', gen_random_uuid()::text, true)")
        working.execute("""SELECT set_config('pghistory.context_metadata', '{"who": "x", "why": "y"}', true)""")
        working.execute("UPDATE labrecords_person SET full_name = 'Other' WHERE id = %s", [person.pk])
    assert '"role": "labrecords_web"' in links()[-1].entry


def _as_owner_without_triggers(statement):
    with connection.cursor() as cursor:
        cursor.execute("BEGIN; SET LOCAL session_replication_role = replica")
        cursor.execute(statement)
        cursor.execute("COMMIT")


FORGERIES = {
    "UPDATE labrecords_coupon SET place = 'forged'": "labrecords_coupon, row",
    "UPDATE labrecords_couponevent SET place = 'forged'": "trail of labrecords_coupon",
    "UPDATE labrecords_link SET entry = replace(entry, 'logged', 'forged') WHERE source = 'labrecords_coupon'": "chain",
    'UPDATE pghistory_context SET metadata = \'{"who": "x", "why": "x"}\'': "trail of",
    "DELETE FROM labrecords_coupon": "labrecords_coupon, row",
    "DELETE FROM labrecords_couponevent": "trail of labrecords_coupon",
    "DELETE FROM labrecords_link WHERE seq = 2": "chain, link 3",
    "INSERT INTO labrecords_project (code, title, customer, customer_contact, members_only, created_by_id) "
    "SELECT 'F', 'F', '', '', false, created_by_id FROM labrecords_coupon": "labrecords_project, row",
}


@pytest.mark.parametrize(("statement", "where"), FORGERIES.items(), ids=[key[:40] for key in FORGERIES])
def test_forgery_by_the_owner_is_found_and_named(statement, where, capsys):
    make_coupon(make_person())
    call_command("verify_records")
    assert "as they were written" in capsys.readouterr().out
    _as_owner_without_triggers(statement)
    with pytest.raises(CommandError, match="not as they were written"):
        call_command("verify_records")
    assert capsys.readouterr().out.startswith(f"First break: {where}")


def test_shortened_chain_is_found_by_a_head_that_was_noted():
    """Whoever cuts the end off everywhere leaves a chain that fits; only a noted head tells."""
    person = make_person()
    make_coupon(person)
    noted = chain.head()
    known = f"{noted['number']}:{noted['hash']}"
    call_command("verify_records", head=[known])
    _as_owner_without_triggers(
        "DELETE FROM labrecords_coupon; DELETE FROM labrecords_couponevent; "
        "DELETE FROM labrecords_link WHERE source = 'labrecords_coupon'"
    )
    _as_owner_without_triggers("DELETE FROM labrecords_link WHERE seq > 3")
    broken = [str(found) for found in chain.breaks({noted["number"]: noted["hash"]})]
    assert any("is gone" in text for text in broken)


def test_working_role_cannot_write_links():
    with as_working_role() as working, pytest.raises(psycopg.errors.InsufficientPrivilege):
        working.execute("INSERT INTO labrecords_link (seq, source, event, entry, hash) VALUES (1, 'x', 1, 'x', 'x')")


def test_what_moves_by_itself_breaks_nothing():
    """Sign-in by page and API, a token in use, a password changed and a wrong one: the daily life of a lab."""
    person = make_person("quality")
    page, api = Client(), APIClient()
    page.post("/sign-in/", {"username": person.username, "password": PASSWORD})
    told = api.post(
        "/api/sign-in/", {"username": person.username, "password": PASSWORD, "scope": "write"}, format="json"
    )
    api.credentials(HTTP_AUTHORIZATION=f"Token {told.json()['token']}")
    assert api.get("/api/coupons/").status_code == 200
    page.post("/sign-in/", {"username": person.username, "password": "wrong"})
    account.change_password(by=person, password=PASSWORD, new_password="another-bench-water-8")
    person.refresh_from_db()
    assert person.last_login
    assert ApiToken.objects.get().last_used_at
    assert list(chain.breaks()) == []


def test_password_exchanged_past_the_trail_is_found():
    make_person()
    _as_owner_without_triggers("UPDATE labrecords_person SET password = 'argon2$forged'")
    assert "password is not what the chain says" in str(next(chain.breaks()))


@pytest.mark.parametrize(
    "setting",
    ["bytea_output = 'escape'", "timezone = 'Asia/Kathmandu'", "extra_float_digits = -15", "datestyle = 'German'",
     "intervalstyle = 'sql_standard'"],
)  # fmt: skip
def test_settings_of_a_session_change_nothing_of_what_is_found(setting):
    """A role may set them for itself, and records that are intact would be called altered."""
    person = make_person()
    coupon = make_coupon(person)
    attachments.add(by=person, owner=coupon, name="a.txt", data=b"an invented certificate\n")
    try:
        with connection.cursor() as cursor:
            cursor.execute(f"SET {setting}")
        assert list(chain.breaks()) == []
        with trail.recorded("tests", "written with this setting"), connection.cursor() as cursor:
            cursor.execute(
                "INSERT INTO labrecords_storedfile (sha256, kind, size, file, created_by_id, created_at) SELECT "
                "encode(sha256('other'), 'hex'), kind, 5, 'other', created_by_id, now() FROM labrecords_storedfile"
            )
        connection.close()
        assert list(chain.breaks()) == []
    finally:
        connection.close()
