"""The server's settings without which an acknowledged entry may be lost, and the refusal to serve without them."""

from __future__ import annotations

from labrecords.errors import DatabaseUnavailable
from labrecords.postgresql.cluster import is_throwaway

NEEDED = ("fsync", "full_page_writes", "synchronous_commit")


def switched_off(connection) -> list[str]:
    """Those of the needed settings that are off for this role in this database."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT name FROM unnest(%s::text[]) name WHERE current_setting(name) = 'off'", [list(NEEDED)])
        return [name for (name,) in cursor.fetchall()]


def refuse_unsafe(connection) -> None:
    """Called before the first request: nothing is served from a database that may lose what it has acknowledged."""
    if is_throwaway():
        return
    try:
        off = switched_off(connection)
    finally:
        connection.close()  # the process may fork
    if off:
        raise DatabaseUnavailable(
            why=f"The database may lose what it has acknowledged, so nothing is served: switch on {', '.join(off)}."
        )
