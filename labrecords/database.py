"""Which PostgreSQL holds the records: the embedded one in the data folder, or the one DATABASE_URL names.

Reading these settings never starts anything; the embedded server starts when a connection is really opened
(labrecords/postgresql/).
"""

import re
from pathlib import Path

from labrecords.errors import SettingRefused

ENGINE = "labrecords.postgresql"


def connection_settings(url: str, data: Path, owner_url: str = "") -> dict:
    """DATABASES["default"]: host, port and password of the embedded server are asked for at connect time.

    `owner_url`: the same server and database as the role that owns the tables; migrations, back-up and restore use it.
    """
    if url:
        owner = _named_server(owner_url, "LABRECORDS_OWNER_URL") if owner_url else None
        return {"ENGINE": ENGINE, **_named_server(url, "DATABASE_URL"), **({"OWNER": _access(owner)} if owner else {})}
    return {"ENGINE": ENGINE, "NAME": "labrecords", "EMBEDDED_IN": Path(data)}


def _access(server):
    """What the driver needs to connect as another role."""
    keys = {"USER": "user", "PASSWORD": "password", "HOST": "host", "PORT": "port", "NAME": "dbname"}
    return {name: server[key] for key, name in keys.items() if server[key]}


def _named_server(url, name):
    # libpq's own parser: percent signs, IPv6, several hosts, options; it refuses what it does not know.
    from psycopg import ProgrammingError
    from psycopg.conninfo import conninfo_to_dict

    if not re.match(r"postgres(ql)?://", url):
        raise _refused(name, url, "is no postgresql:// address")
    try:
        parts = conninfo_to_dict(url)
    except ProgrammingError as error:
        said = re.sub(r'"[^"]*"', "“…”", str(error).strip().splitlines()[0])  # may quote the password
        raise _refused(name, url, f"is no valid address ({said})") from None
    ports = str(parts.get("port", "5432")).split(",")
    if not all(port.isdecimal() and 0 < int(port) < 65536 for port in ports):
        raise _refused(name, url, "has a port that is no number from 1 to 65535")
    if not parts.get("dbname"):
        raise _refused(name, url, "names no database")
    keys = {"dbname": "NAME", "user": "USER", "password": "PASSWORD", "host": "HOST", "port": "PORT"}
    settings = {name: str(parts.pop(key, "")) for key, name in keys.items()}
    return {**settings, "OPTIONS": parts}


def _refused(name, url, rule):
    shown = re.sub(r"//.*@", "//…@", url)  # the password is not for the screen
    return SettingRefused(name=name, value=re.sub(r"password=[^&]*", "password=…", shown), rule=rule)
