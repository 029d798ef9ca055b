"""The record chain, as far as archives, the drill and the health page have to do with it."""

from __future__ import annotations


def head(cursor) -> dict | None:
    """Number and hash of the newest link, as this cursor's transaction sees it; None before there is a chain."""
    cursor.execute("SELECT to_regclass('public.labrecords_link')")
    if cursor.fetchone()[0] is None:  # an archive of an earlier release
        return None
    cursor.execute("SELECT seq, encode(hash, 'hex') FROM public.labrecords_link ORDER BY seq DESC LIMIT 1")
    found = cursor.fetchone()
    return {"seq": found[0], "hash": found[1]} if found else None


def first_break() -> str:
    """Empty when records, trail and chain say the same, else where they first do not."""
    from labrecords.actions import chain

    return str(next(chain.breaks(chain.noted()), ""))
