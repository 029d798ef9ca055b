"""What the database itself guards, renewed after every migration: the trail's clock, its chain, and the working role.

Two roles: the owner makes and migrates the tables; the working role, as which pages, API and commands connect, reads
and writes records but can neither write nor alter the trail. Entries of the trail are made by triggers that run with
the owner's rights, get the server's clock at the statement, and are hashed into the chain when the transaction ends.
"""

from __future__ import annotations

from pathlib import Path

from django.apps import apps
from django.db import transaction
from psycopg import sql

_PATH = "SET search_path = pg_catalog, public, pg_temp"

# How values become text in the chain, whatever a role or a session has set for itself: times in UTC, numbers in full.
# The functions say the same of themselves.
TEXT_FORMS = (
    "SET LOCAL timezone = 'UTC'; SET LOCAL datestyle = 'ISO, MDY'; SET LOCAL intervalstyle = 'postgres'; "
    "SET LOCAL extra_float_digits = 1; SET LOCAL bytea_output = 'hex'"
)
FUNCTIONS = Path(__file__).with_suffix(".sql")


def renew(connection, **_):
    """Install functions and triggers, chain what is not chained yet, and give the working role its rights."""
    with transaction.atomic(using=connection.alias), connection.cursor() as cursor:
        cursor.execute(FUNCTIONS.read_text())
        for event in events():
            _guard_trail(cursor, event)
        for model in records():
            _trigger(cursor, "stamped", "BEFORE INSERT OR UPDATE", model._meta.db_table, "labrecords_stamp_row")
        _trigger(cursor, "stamped", "BEFORE INSERT", "labrecords_securityevent", "labrecords_stamp_log")
        for operation in ("UPDATE", "DELETE"):
            name = f"kept_{operation.lower()}"
            _trigger(cursor, name, f"BEFORE {operation}", "pghistory_context", "labrecords_keep_context")
        cursor.execute(f"ALTER FUNCTION _pgh_attach_context() SECURITY DEFINER {_PATH}")
        _chain_earlier(cursor)
        if role := connection.working_role():
            _make_role(cursor, connection, role)
            give_rights(cursor, role, connection.settings_dict["NAME"])


def events():
    """The models of the trail's entries."""
    return [model for model in apps.get_models() if hasattr(model, "pgh_tracked_model")]


def records():
    """Models that say who entered them and when."""
    from labrecords.models.record import Record

    return [model for model in apps.get_models() if issubclass(model, Record)]


def kept_apart(event):
    """Columns of the tracked table that its entries leave out; the chain keeps their digests, but of those that move by
    themselves.
    """
    tracked = event.pgh_tracked_model
    own = {field.column for field in event._meta.fields}
    left_out = [field.column for field in tracked._meta.fields if field.column not in own]
    return sorted(set(left_out) - set(getattr(tracked, "MOVES_BY_ITSELF", ())))


def _guard_trail(cursor, event):
    table, source = event._meta.db_table, event.pgh_tracked_model._meta.db_table
    columns = "{" + ",".join(kept_apart(event)) + "}"
    _trigger(cursor, "stamped", "BEFORE INSERT", table, "labrecords_stamp_entry")
    cursor.execute(
        sql.SQL(
            "DROP TRIGGER IF EXISTS chained ON {table}; CREATE CONSTRAINT TRIGGER chained AFTER INSERT ON {table} "
            "DEFERRABLE INITIALLY DEFERRED FOR EACH ROW EXECUTE FUNCTION labrecords_chain({source}, {columns})"
        ).format(table=sql.Identifier(table), source=sql.Literal(source), columns=sql.Literal(columns))
    )
    # The triggers that make the entries act for the owner: nobody else may write them.
    cursor.execute(
        "SELECT tgfoid::regproc::text FROM pg_trigger WHERE tgrelid = %s::regclass AND tgname LIKE 'pgtrigger\\_%%'",
        [source],
    )
    for (function,) in cursor.fetchall():
        cursor.execute(f"ALTER FUNCTION {function}() SECURITY DEFINER {_PATH}")


def _trigger(cursor, name, when, table, function):
    cursor.execute(
        sql.SQL(
            f"CREATE OR REPLACE TRIGGER {{name}} {when} ON {{table}} FOR EACH ROW EXECUTE FUNCTION {function}()"
        ).format(name=sql.Identifier(name), table=sql.Identifier(table))
    )


def _chain_earlier(cursor):
    """Entries from before there was a chain, in the order they were made."""
    cursor.execute("SELECT 1 FROM labrecords_link LIMIT 1")
    if cursor.fetchone():
        return
    parts = [
        sql.SQL(
            "SELECT {source}::text AS source, to_jsonb(e) AS event, {apart}::text[] AS apart FROM {table} e"
        ).format(
            source=sql.Literal(event.pgh_tracked_model._meta.db_table),
            apart=sql.Literal("{" + ",".join(kept_apart(event)) + "}"),
            table=sql.Identifier(event._meta.db_table),
        )
        for event in events()
    ]
    cursor.execute(TEXT_FORMS)
    cursor.execute(
        sql.SQL(
            "SELECT labrecords_append(source, event, apart, 'earlier release') FROM (SELECT * FROM ({all}) every "
            "ORDER BY event ->> 'pgh_created_at', source, (event ->> 'pgh_id')::bigint) ordered"
        ).format(all=sql.SQL(" UNION ALL ").join(parts))
    )


# Rights ------------------------------------------------------------------------------------------------


def rights_of(model) -> str:
    """What the working role may do with a table, from what the model says of itself."""
    triggers = {trigger.name for trigger in getattr(model._meta, "triggers", [])}
    if hasattr(model, "pgh_tracked_model") or model._meta.app_label in ("pghistory", "contenttypes", "auth"):
        return "SELECT"
    if model._meta.model_name == "link":  # written by the database alone
        return "SELECT"
    if "append_only" in triggers:
        return "SELECT, INSERT"
    if "never_deleted" in triggers:
        return "SELECT, INSERT" if "frozen" in triggers else "SELECT, INSERT, UPDATE"
    return "SELECT, INSERT, UPDATE, DELETE"


def _make_role(cursor, connection, role):
    """In the embedded server of an earlier release; on a named server roles are its administrator's."""
    cursor.execute("SELECT 1 FROM pg_roles WHERE rolname = %s", [role])
    if cursor.fetchone() is None and (password := connection.working_password()):
        statement = sql.SQL("CREATE ROLE {role} LOGIN PASSWORD {password}")
        cursor.execute(statement.format(role=sql.Identifier(role), password=sql.Literal(password)))


def give_rights(cursor, role, database):
    """From nothing up, so that a right that is no longer meant is gone."""
    names = {"role": sql.Identifier(role), "database": sql.Identifier(database)}

    def do(text, **more):
        cursor.execute(sql.SQL(text).format(**names, **more))

    do("REVOKE ALL ON ALL TABLES IN SCHEMA public FROM PUBLIC, {role}")
    do("REVOKE ALL ON ALL SEQUENCES IN SCHEMA public FROM PUBLIC, {role}")
    do("REVOKE ALL ON ALL FUNCTIONS IN SCHEMA public FROM PUBLIC, {role}")
    do("REVOKE ALL ON SCHEMA public FROM PUBLIC, {role}")
    do("REVOKE ALL ON DATABASE {database} FROM PUBLIC, {role}")
    do("GRANT CONNECT ON DATABASE {database} TO {role}")
    do("GRANT USAGE ON SCHEMA public TO {role}")
    do("GRANT SELECT ON ALL TABLES IN SCHEMA public TO {role}")
    for model in apps.get_models(include_auto_created=True):
        if model._meta.managed and not model._meta.proxy:
            do(f"GRANT {rights_of(model)} ON {{table}} TO {{role}}", table=sql.Identifier(model._meta.db_table))
    # The one sequence that an action asks for a number itself.
    do("GRANT USAGE ON SEQUENCE labrecords_testrun_id_seq TO {role}")
