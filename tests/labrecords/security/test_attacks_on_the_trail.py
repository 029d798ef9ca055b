"""What somebody can try who has got hold of the working role's connection.

The first twelve are the attacks that were measured on PostgreSQL for this project: with a web role that owns the
table eight of them succeed, with a separate owner two. Behind them stand what this installation adds to attack.
"""

import psycopg
import pytest
from django.db import connection

from labrecords import trail
from labrecords.actions import chain
from tests.factories import make_coupon, make_person
from tests.labrecords.security.roles import as_working_role, trail_digest

pytestmark = pytest.mark.django_db(transaction=True)

REFUSALS = (
    psycopg.errors.InsufficientPrivilege,
    psycopg.errors.RaiseException,
    psycopg.errors.NotNullViolation,  # an entry without who and why
)
COLUMNS = "pgh_created_at, pgh_label, pgh_obj_id, pgh_context_id, id, code, number, lot_id, state, created_by_id"
ENTRY = f"INSERT INTO labrecords_couponevent ({COLUMNS}) SELECT {{}} FROM labrecords_couponevent LIMIT 1"  # noqa: S608
SAME = COLUMNS.replace("pgh_created_at, ", "")
TRIGGER = (
    "(SELECT tgname FROM pg_trigger WHERE tgrelid = 'labrecords_couponevent'::regclass "
    "AND tgname LIKE 'pgtrigger_append%')"
)
TWELVE = {
    "change an entry": ["UPDATE labrecords_couponevent SET place = 'forged'"],
    "delete an entry": ["DELETE FROM labrecords_couponevent"],
    "empty the table": ["TRUNCATE labrecords_couponevent"],
    "switch triggers off, then change": [
        "ALTER TABLE labrecords_couponevent DISABLE TRIGGER ALL",
        "UPDATE labrecords_couponevent SET place = 'forged'",
    ],
    "drop a trigger, then delete": [
        f"DO $$ BEGIN EXECUTE 'DROP TRIGGER ' || {TRIGGER} || ' ON labrecords_couponevent'; END $$",
        "DELETE FROM labrecords_couponevent",
    ],
    "rewrite a column by its type": [
        "ALTER TABLE labrecords_couponevent ALTER place TYPE varchar(80) USING 'forged'",
    ],
    "drop the table": ["DROP TABLE labrecords_couponevent CASCADE"],
    "a rule that swallows entries": [
        "CREATE RULE swallow AS ON INSERT TO labrecords_couponevent DO INSTEAD NOTHING",
    ],
    "insert a back-dated entry": [ENTRY.format(f"timestamptz '2001-01-01', {SAME}")],
    "insert an entry with a chosen number": [
        "INSERT INTO labrecords_couponevent (pgh_id, pgh_label) VALUES (999999, 'insert')"
    ],
    "set the sequence of numbers": [
        "SELECT setval(pg_get_serial_sequence('labrecords_couponevent', 'pgh_id'), 999999)"
    ],
    "act as a replica, which fires no triggers": [
        "SET session_replication_role = replica",
        "UPDATE labrecords_couponevent SET place = 'forged'",
    ],
}
MORE = {
    "any entry at all": [ENTRY.format(f"now(), {SAME}")],
    "become the owner": ["SET ROLE labrecords"],
    "become the owner for the session": ["SET SESSION AUTHORIZATION labrecords"],
    "change a link": ["UPDATE labrecords_link SET entry = 'forged'"],
    "delete a link": ["DELETE FROM labrecords_link"],
    "insert a link": ["INSERT INTO labrecords_link (seq, source, event, entry, hash) VALUES (9999, 'x', 1, 'x', 'x')"],
    "append by the database's own function": [
        "SELECT labrecords_append('labrecords_coupon', '{}'::jsonb, '{}'::text[], 'x')"
    ],
    "replace that function": [
        "CREATE OR REPLACE FUNCTION labrecords_chain() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN RETURN NULL; END $$"
    ],
    "a function of the same name before it": ["CREATE SCHEMA mine"],
    "a table of one's own to fire the trail's triggers": ["CREATE TEMP TABLE mine (LIKE labrecords_coupon)"],
    "a table in the same place": ["CREATE TABLE mine (id int)"],
    "rewrite who and why": ['UPDATE pghistory_context SET metadata = \'{"who": "x", "why": "x"}\''],
    # The grant itself only warns that nothing was granted.
    "give oneself rights": [
        "GRANT ALL ON labrecords_couponevent TO labrecords_web",
        "INSERT INTO labrecords_couponevent DEFAULT VALUES",
    ],
    "take the table over": ["ALTER TABLE labrecords_couponevent OWNER TO labrecords_web"],
    "make a role": ["CREATE ROLE helper SUPERUSER"],
    "run a program": ["COPY labrecords_coupon TO PROGRAM 'cat'"],
    "read a file of the server": ["SELECT pg_read_file('postgresql.conf')"],
    "delete a record": ["DELETE FROM labrecords_coupon"],
    "empty the records": ["TRUNCATE labrecords_coupon CASCADE"],
    "change a record without who and why": ["UPDATE labrecords_coupon SET place = 'elsewhere'"],
}


@pytest.mark.parametrize("statements", [*TWELVE.values(), *MORE.values()], ids=[*TWELVE, *MORE])
def test_attack_is_refused_and_leaves_the_trail_as_it_was(statements):
    make_coupon(make_person())
    before = trail_digest()
    with as_working_role() as working:
        refusals = [problem for statement in statements if (problem := _refusal(working, statement))]
    assert refusals
    # Refused for want of the right, or by a guard; not because the statement makes no sense.
    assert all(isinstance(problem, REFUSALS) for problem in refusals), refusals
    assert trail_digest() == before
    assert list(chain.breaks()) == []


def _refusal(working, statement):
    """Each in a transaction of its own: one that is refused does not hinder the next."""
    try:
        working.execute(statement)
        working.commit()
    except psycopg.Error as problem:
        working.rollback()
        return problem
    return None


@pytest.mark.parametrize("statements", TWELVE.values(), ids=TWELVE)
def test_the_same_attack_succeeds_for_the_owner(statements):
    """So that a refusal above is the role's, not a mistyped statement. Two are refused by triggers even then."""
    make_coupon(make_person())
    refused = {"change an entry", "delete an entry"}
    name = next(name for name, given in TWELVE.items() if given is statements)
    with connection.cursor() as cursor:
        cursor.execute("BEGIN")
        try:
            for statement in statements:
                cursor.execute(statement)
            succeeded = True
        except Exception as problem:
            # An owner's insert lacks columns that the table asks for; it got as far as the row.
            succeeded = "null value in column" in str(problem)
        finally:
            cursor.execute("ROLLBACK")
    assert succeeded is (name not in refused)


def test_naming_triggers_to_be_skipped_skips_none():
    """The trigger library reads this session variable; without the guard a change leaves no entry."""
    coupon = make_coupon(make_person())
    with as_working_role() as working:
        working.execute("SELECT set_config('pgtrigger.ignore', '{labrecords_coupon:*,*}', true)")
        names = working.execute(
            "SELECT tgname FROM pg_trigger WHERE tgrelid = 'labrecords_coupon'::regclass"
        ).fetchall()
        listed = "{" + ",".join(f"labrecords_coupon:{name}" for (name,) in names) + "}"
        working.execute("SELECT set_config('pgtrigger.ignore', %s, true)", [listed])
        with pytest.raises(psycopg.Error, match="pgh_context"):
            working.execute("UPDATE labrecords_coupon SET place = 'elsewhere'")
    coupon.refresh_from_db()
    assert coupon.place == ""


def test_context_of_an_earlier_change_cannot_be_given_other_words():
    """The library's own function would update the context of a change that has been made."""
    coupon = make_coupon(make_person())
    context = coupon.events.get().pgh_context_id
    before = trail_digest()
    with as_working_role() as working:
        working.execute("SELECT set_config('pghistory.context_id', %s, true)", [str(context)])
        working.execute("""SELECT set_config('pghistory.context_metadata', '{"who": "x", "why": "forged"}', true)""")
        with pytest.raises(psycopg.Error, match="never rewritten"):
            working.execute("UPDATE labrecords_coupon SET place = 'elsewhere'")
    assert trail_digest() == before


def test_no_lock_of_the_working_role_keeps_others_from_committing():
    """It may take what it likes; what guards the end of a transaction is out of its reach."""
    person = make_person()
    modes = ["ROW SHARE", "ROW EXCLUSIVE", "SHARE UPDATE EXCLUSIVE", "SHARE", "SHARE ROW EXCLUSIVE", "EXCLUSIVE",
             "ACCESS EXCLUSIVE"]  # fmt: skip
    attempts = [f"LOCK TABLE labrecords_link IN {mode} MODE" for mode in modes]
    attempts.append("SELECT 1 FROM labrecords_link FOR KEY SHARE")
    with as_working_role() as working:
        assert [sql for sql in attempts if not isinstance(_refusal(working, sql), REFUSALS[0])] == []
        working.execute("SELECT pg_advisory_lock(hashtext('labrecords_link'))")
        working.execute("LOCK TABLE labrecords_link IN ACCESS SHARE MODE; SELECT * FROM labrecords_link")
        with connection.cursor() as cursor:
            cursor.execute("SET lock_timeout = '3s'")
        try:
            make_coupon(person)
        finally:
            connection.close()  # with its setting


def test_who_reads_the_chain_waits_for_nobody_and_keeps_nobody_waiting():
    """A check of the records, or a back-up, stands beside a transaction that has linked and not ended yet."""
    coupon = make_coupon(make_person())
    told = """SELECT set_config('pghistory.context_id', gen_random_uuid()::text, true),
        set_config('pghistory.context_metadata', '{"who": "x", "why": "y"}', true)"""
    with as_working_role() as writing, as_working_role() as reading:
        writing.execute(told)
        writing.execute("UPDATE labrecords_coupon SET place = 'elsewhere' WHERE id = %s", [coupon.pk])
        writing.execute("SET CONSTRAINTS ALL IMMEDIATE")
        reading.execute("SET lock_timeout = '3s'")
        [before] = reading.execute("SELECT count(*) FROM labrecords_link").fetchone()
        reading.execute("LOCK TABLE labrecords_link IN ACCESS SHARE MODE")  # as pg_dump does
        writing.commit()
        [after] = reading.execute("SELECT count(*) FROM labrecords_link").fetchone()
    assert after == before + 1
    assert list(chain.breaks()) == []


def test_records_are_stamped_by_the_server_and_keep_who_entered_them():
    person = make_person()
    other = make_person()
    coupon = make_coupon(person)
    with as_working_role() as working:
        told = """SELECT set_config('pghistory.context_id', gen_random_uuid()::text, true),
            set_config('pghistory.context_metadata', '{"who": "x", "why": "y"}', true)"""
        working.execute(told)
        working.execute(
            "INSERT INTO labrecords_project "
            "(code, title, customer, customer_contact, members_only, created_by_id, created_at) "
            "VALUES ('P', 'P', '', '', false, %s, '2001-01-01')",
            [person.pk],
        )
        [age] = working.execute("SELECT clock_timestamp() - created_at FROM labrecords_project").fetchone()
        assert age.total_seconds() < 5
        working.commit()
        working.execute(told)
        with pytest.raises(psycopg.Error, match="never change"):
            working.execute("UPDATE labrecords_coupon SET created_by_id = %s WHERE id = %s", [other.pk, coupon.pk])


def test_entries_have_the_time_of_the_statement_not_of_the_transaction():
    person = make_person()
    with trail.recorded("tests", "two changes, half a second apart"):
        first = make_coupon(person)
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_sleep(0.5)")
        second = make_coupon(person)
    apart = second.events.get().pgh_created_at - first.events.get().pgh_created_at
    assert 0.5 <= apart.total_seconds() < 5
