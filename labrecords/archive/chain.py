"""The head of the record chain as archives and the drill see it: they also meet databases from before it."""

from __future__ import annotations


def head(cursor) -> dict | None:
    """Number and hash of the newest link, as this cursor's transaction sees it; None before there is a chain."""
    cursor.execute("SELECT to_regclass('public.labrecords_link')")
    if cursor.fetchone()[0] is None:
        return None
    cursor.execute("SELECT seq, encode(hash, 'hex') FROM public.labrecords_link ORDER BY seq DESC LIMIT 1")
    found = cursor.fetchone()
    return {"seq": found[0], "hash": found[1]} if found else None
