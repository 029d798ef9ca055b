"""The rows of every table, counted and hashed alike on both sides of an archive.

The hash of a table is the SHA-256 of what `COPY (SELECT … ORDER BY primary key) TO STDOUT` gives with the settings
below, so that psql and sha256sum can repeat it. A table without a primary key is ordered by its rows as text.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable

from labrecords.archive.manifest import Table

SETTINGS = """
SET timezone = 'UTC'; SET datestyle = 'ISO, MDY'; SET intervalstyle = 'postgres'; SET extra_float_digits = 1;
SET bytea_output = 'hex'; SET client_encoding = 'UTF8'; SET xmlbinary = 'base64';
"""
# Names are quoted by the server. Text is ordered by code point, whatever the database's own order is.
TABLES = """
SELECT pg_catalog.json_build_object('table', n.nspname || '.' || c.relname, 'select', pg_catalog.format(
    'SELECT %s FROM %I.%I t ORDER BY %s',
    (SELECT pg_catalog.string_agg(pg_catalog.format('%I', a.attname), ', ' ORDER BY a.attnum)
        FROM pg_catalog.pg_attribute a WHERE a.attrelid = c.oid AND a.attnum > 0 AND NOT a.attisdropped),
    n.nspname, c.relname,
    coalesce((SELECT pg_catalog.string_agg(
            pg_catalog.format('%I', a.attname) || CASE WHEN a.attcollation <> 0 THEN ' COLLATE "C"' ELSE '' END,
            ', ' ORDER BY pg_catalog.array_position(i.indkey::int2[], a.attnum))
        FROM pg_catalog.pg_index i JOIN pg_catalog.pg_attribute a ON a.attrelid = c.oid AND a.attnum = ANY (i.indkey)
        WHERE i.indrelid = c.oid AND i.indisprimary), 't::text COLLATE "C"')))::text
FROM pg_catalog.pg_class c JOIN pg_catalog.pg_namespace n ON n.oid = c.relnamespace
WHERE c.relkind = 'r' AND c.relpersistence <> 't' AND n.nspname !~ '^pg_' AND n.nspname <> 'information_schema'
ORDER BY n.nspname COLLATE "C", c.relname COLLATE "C"
"""


def stored(cursor) -> dict[str, Table]:
    """Every table as this cursor's transaction sees it."""
    cursor.execute(SETTINGS)
    cursor.execute(TABLES)
    found = {}
    for table, statement in _named(line for (line,) in cursor.fetchall()):
        with cursor.copy(f"COPY ({statement}) TO STDOUT") as lines:
            found[table] = _counted(lines)
    return found


def loaded(loading) -> dict[str, Table]:
    """Every table as a restore that is not committed yet sees it."""
    list(loading.ask(SETTINGS))
    named = list(_named(loading.ask(TABLES)))
    return {table: _counted(loading.ask(f"COPY ({statement}) TO STDOUT")) for table, statement in named}


def differences(expected: dict[str, Table], found: dict[str, Table]) -> list[str]:
    """One sentence a table that is not as it should be."""
    return [
        sentence
        for table in sorted(expected.keys() | found.keys())
        if (sentence := _difference(table, expected.get(table), found.get(table)))
    ]


def _difference(table, expected, found):
    if found is None:
        return f"table {table} is missing"
    if expected is None:
        return f"table {table} is not in the manifest"
    if expected.rows != found.rows:
        return f"table {table} has {found.rows} rows, the manifest says {expected.rows}"
    return "" if expected == found else f"rows of table {table} differ from the manifest"


def _named(lines):
    for line in lines:
        said = json.loads(line)
        yield said["table"], said["select"]


def _counted(lines: Iterable[bytes]) -> Table:
    digest, rows = hashlib.sha256(), 0
    for line in lines:
        digest.update(line)
        rows += bytes(line).count(b"\n")  # COPY writes a line break inside a value as \n in letters
    return Table(rows, digest.hexdigest())
