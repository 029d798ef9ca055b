"""A server that may forget what it has acknowledged is refused: at the start of serving, and by every process at its
first connection in each role."""

from __future__ import annotations

import os

from labrecords.errors import DatabaseUnavailable

SETTINGS = ("fsync", "full_page_writes", "synchronous_commit")
_asked = set()


def is_throwaway() -> bool:
    """Records that may be lost: the embedded server is started fast, and any server is taken."""
    return os.environ.get("LABRECORDS_THROWAWAY") == "1"


def switched_off(connection) -> list[str]:
    """Those of the settings that are off for this role in this database. `connection`: the driver's own."""
    query = "SELECT name FROM unnest(%s::text[]) name WHERE current_setting(name) = 'off'"
    return [name for (name,) in connection.execute(query, [list(SETTINGS)]).fetchall()]


def check(connection) -> None:
    """Refuse a server with one of the settings off. `connection`: the driver's own, at its start."""
    info = connection.info
    seen = (info.host, info.port, info.dbname, info.user)  # a setting can be off for one role alone
    if is_throwaway() or seen in _asked:
        return
    if off := switched_off(connection):
        raise DatabaseUnavailable(
            why=f"The database server has {', '.join(off)} off and may lose what it has acknowledged: switch it on "
            "(for records that may be lost, set LABRECORDS_THROWAWAY=1)."
        )
    if not connection.autocommit:
        connection.rollback()
    _asked.add(seen)
