"""A server that may forget what it has acknowledged is refused, asked once a process at its first connection."""

from __future__ import annotations

import os

from labrecords.errors import DatabaseUnavailable

SETTINGS = ("fsync", "synchronous_commit", "full_page_writes")
_asked = set()


def is_throwaway() -> bool:
    """Records that may be lost: the embedded server is started fast, and any server is taken."""
    return os.environ.get("LABRECORDS_THROWAWAY") == "1"


def check(connection) -> None:
    """Refuse a server with one of the settings off. `connection`: the driver's own, at its start."""
    server = (connection.info.host, connection.info.port, connection.info.dbname)
    if is_throwaway() or server in _asked:
        return
    for name in SETTINGS:
        if connection.execute("SELECT current_setting(%s)", [name]).fetchone()[0] == "off":
            raise DatabaseUnavailable(
                why=f"The database server has {name} off and may lose what it has acknowledged: switch it on "
                "(for records that may be lost, set LABRECORDS_THROWAWAY=1)."
            )
    if not connection.autocommit:
        connection.rollback()
    _asked.add(server)
