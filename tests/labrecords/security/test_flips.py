"""One byte, value or row changed anywhere by the owner of everything, with all triggers off: it is found each time."""

import json
import random
from datetime import timedelta
from uuid import uuid4

import pytest
from django.apps import apps
from django.db import DatabaseError, connection, transaction
from psycopg import sql

from labrecords.actions import chain
from labrecords.models import Person
from labrecords.postgresql import guards
from tests.factories import issue_report, make_lab, make_person, make_shedding_criteria, make_tested_batch

SEED = 20261125
# The bookkeeping of a context beside what it says; for the rest the models say what moves by itself.
APART = {"pghistory_context": {"created_at", "updated_at"}}
SHARE = 40  # in the ordinary suite; a thousand with --run-slow


@pytest.fixture
def records(transactional_db):
    """A small lab with an issued report, so that every kind of record is there to be altered."""
    quality = make_person("quality")
    make_lab(quality)
    batch = make_tested_batch(quality, n=2, drops=2, reviewer=make_person("reviewer"))
    issue_report(batch, make_shedding_criteria(quality))
    assert list(chain.breaks(chain.noted())) == []


def tables():
    """Every table that the chain answers for and that has rows."""
    tracked = {event.pgh_tracked_model for event in guards.events()}
    models = [*tracked, *guards.events(), apps.get_model("pghistory.Context"), apps.get_model("labrecords.Link")]
    return sorted((model for model in models if model.objects.exists()), key=lambda model: model._meta.db_table)


def altered(value, draw):
    """The value with one thing about it changed."""
    if value is None:
        return None
    if isinstance(value, bool):
        return not value
    if isinstance(value, int):
        return value + draw.choice([-1, 1, 1000])
    if isinstance(value, float):
        return value + draw.choice([0.1, -0.1, 1e-9])
    if isinstance(value, bytes | memoryview):
        data = bytearray(value)
        data[draw.randrange(len(data))] ^= 1 << draw.randrange(8)
        return bytes(data)
    if isinstance(value, str):
        place = draw.randrange(len(value)) if value else 0
        other = draw.choice([sign for sign in "aZ07-x" if sign != value[place : place + 1]])
        return value[:place] + other + value[place + 1 :]
    if hasattr(value, "year"):
        return value + timedelta(days=1)
    return uuid4()


def altered_json(value, draw):
    """One leaf of it, wherever it lies."""
    if isinstance(value, dict) and value:
        key = draw.choice(sorted(value))
        return value | {key: altered_json(value[key], draw)}
    if isinstance(value, list) and value:
        place = draw.randrange(len(value))
        return [*value[:place], altered_json(value[place], draw), *value[place + 1 :]]
    return {"forged": 1} if value in (None, {}, []) else altered(value, draw)


def flip(model, draw):
    """Alter, delete or double one row; returns what was done."""
    table, key = sql.Identifier(model._meta.db_table), sql.Identifier(model._meta.pk.column)
    with connection.cursor() as cursor:
        pk = draw.choice(list(model.objects.order_by("pk").values_list("pk", flat=True)))
        what = draw.random()
        if what < 0.1:
            cursor.execute(sql.SQL("DELETE FROM {} WHERE {} = %s").format(table, key), [pk])
            return f"deleted {model._meta.db_table} {pk}"
        if what < 0.2 and model._meta.db_table != "pghistory_context":  # a context that nothing refers to says nothing
            double(cursor, model, pk)
            return f"doubled {model._meta.db_table} {pk}"
        return change(cursor, model, pk, draw)


def apart(model):
    return APART.get(model._meta.db_table, set(getattr(model, "MOVES_BY_ITSELF", ())))


def change(cursor, model, pk, draw):
    fields = [field for field in model._meta.concrete_fields if field.column not in apart(model)]
    field = draw.choice(fields)
    table, column, key = (sql.Identifier(name) for name in (model._meta.db_table, field.column, model._meta.pk.column))
    cursor.execute(sql.SQL("SELECT {} FROM {} WHERE {} = %s").format(column, table, key), [pk])
    [value] = cursor.fetchone()
    if field.get_internal_type() == "JSONField":
        new = json.dumps(altered_json(json.loads(value), draw))
    else:
        new = altered(value, draw)
    if new is None:
        new = {"CharField": "x", "TextField": "x", "FloatField": 1.5}.get(field.get_internal_type(), 1)
    cursor.execute(sql.SQL("UPDATE {} SET {} = %s WHERE {} = %s").format(table, column, key), [new, pk])
    return f"{model._meta.db_table} {pk}: {field.column} from {str(value)[:40]} to {str(new)[:40]}"


def double(cursor, model, pk):
    """The same row again under the next free number."""
    columns = [field.column for field in model._meta.concrete_fields if not field.primary_key]
    names = sql.SQL(", ").join(map(sql.Identifier, columns))
    table, key = sql.Identifier(model._meta.db_table), sql.Identifier(model._meta.pk.column)
    cursor.execute(
        sql.SQL("INSERT INTO {t} ({k}, {n}) SELECT (SELECT max({k}) + 1 FROM {t}), {n} FROM {t} WHERE {k} = %s").format(
            t=table, k=key, n=names
        ),
        [pk],
    )


def without_rules(cursor):
    """No triggers, no foreign keys, no checks, nothing unique, no limit of length: all that the owner could remove."""
    cursor.execute("SET LOCAL session_replication_role = replica")
    cursor.execute(
        "SELECT conrelid::regclass::text, conname FROM pg_constraint "
        "WHERE contype IN ('c', 'f', 'u') AND connamespace = 'public'::regnamespace"
    )
    for table, name in sorted(cursor.fetchall(), key=lambda row: "_fk_" not in row[1]):
        cursor.execute(f'ALTER TABLE {table} DROP CONSTRAINT IF EXISTS "{name}" CASCADE')
    cursor.execute(
        "SELECT indexrelid::regclass::text FROM pg_index WHERE indisunique AND NOT indisprimary "
        "AND indrelid::regclass::text LIKE 'labrecords%'"
    )
    for (name,) in cursor.fetchall():
        cursor.execute(f"DROP INDEX IF EXISTS {name}")


def found_after_each(count):
    """How many of so many alterations, each alone, are found; and those that are not."""
    draw = random.Random(SEED)
    missed, known = [], chain.noted()
    with transaction.atomic():
        with connection.cursor() as cursor:
            without_rules(cursor)
        done = 0
        while done < count:
            with transaction.atomic():
                try:
                    with transaction.atomic():
                        what = flip(draw.choice(tables()), draw)
                except DatabaseError:  # not of the column's type: no alteration, so another one
                    continue
                done += 1
                if next(chain.breaks(known), None) is None:
                    missed.append(what)
                transaction.set_rollback(True)
        transaction.set_rollback(True)
    return missed


def test_every_alteration_is_found(records):
    assert found_after_each(SHARE) == []


@pytest.mark.slow
def test_every_one_of_a_thousand_alterations_is_found(records):
    assert found_after_each(1000) == []


def test_without_the_chain_alterations_are_missed(records, monkeypatch):
    """The control: with links and trail left out of the check, altered records pass."""
    monkeypatch.setattr(chain, "_of_links", lambda known: iter(()))
    monkeypatch.setattr(chain, "_of_entries", lambda event: iter(()))
    monkeypatch.setattr(chain, "_of_records", lambda event: iter(()))
    assert len(found_after_each(SHARE)) > SHARE / 2
    assert Person.objects.exists()
