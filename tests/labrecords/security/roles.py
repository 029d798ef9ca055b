"""Connections as the working role, and what has to stay as it is."""

import hashlib

import psycopg
from django.db import connection

from labrecords.postgresql import guards


def as_working_role():
    """A driver connection as the role that pages, API and commands use; nothing of Django in between."""
    parameters = connection.get_connection_params()
    wanted = {key: parameters[key] for key in ("dbname", "host", "port")}
    return psycopg.connect(**wanted, user=connection.working_role(), password=connection.working_password())


def trail_digest():
    """All rows of the trail, its contexts and its chain, as their owner sees them."""
    found = hashlib.sha256()
    tables = [event._meta.db_table for event in guards.events()]
    with connection.cursor() as cursor:
        for table in [*tables, "pghistory_context", "labrecords_link"]:
            cursor.execute(f"SELECT md5(string_agg(t::text, '|' ORDER BY t::text)) FROM {table} t")  # noqa: S608
            found.update(repr((table, cursor.fetchall())).encode())
    return found.hexdigest()
