"""The record chain, as far as archives, the drill and the health page have to do with it.

`head` reads what stands in the database; `first_break` asks the action that verifies the chain, once there is one.
"""

from __future__ import annotations

import importlib.util

ACTION = "labrecords.actions.chain"


def head(cursor) -> dict | None:
    """Number and hash of the newest link, as this cursor's transaction sees it; None before there is a chain."""
    cursor.execute("SELECT to_regclass('public.labrecords_link')")
    if cursor.fetchone()[0] is None:
        return None
    cursor.execute("SELECT seq, encode(hash, 'hex') FROM public.labrecords_link ORDER BY seq DESC LIMIT 1")
    found = cursor.fetchone()
    return {"seq": found[0], "hash": found[1]} if found else None


def first_break() -> str | None:
    """Empty when the whole chain holds, else where it breaks first; None while nothing can verify it.

    WIRE HERE ON MERGING: what `manage.py verify_records` calls to verify the chain of the default database.
    """
    if importlib.util.find_spec(ACTION) is None:
        return None
    from labrecords.actions import chain

    return chain.first_break()
