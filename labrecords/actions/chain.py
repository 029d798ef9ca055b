"""The record chain: its head, and whether records, trail and chain still say the same.

Three things are held against each other: every link with the one before (SHA-256), every entry of the trail with its
link, and every record as it stands now with its last entry. A change of any of them alone, or of two, shows.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from django.db import connection, transaction
from psycopg import sql

from labrecords.actions import signing
from labrecords.models import Link, Qualification
from labrecords.postgresql import guards

START = bytes(32)
PAGE = 2000


@dataclass(frozen=True)
class Break:
    """Something that does not fit: the table, the number of the row there, and what is wrong with it."""

    where: str
    what: str

    def __str__(self):
        return f"{self.where}: {self.what}"


def head() -> dict:
    """The newest link: whoever keeps its number and hash can tell later whether anything before it was changed."""
    link = Link.objects.order_by("-seq").first()
    if link is None:
        return {"number": 0, "hash": START.hex(), "at": ""}
    return {"number": link.seq, "hash": bytes(link.hash).hex(), "at": json.loads(link.entry)["event"]["pgh_created_at"]}


def breaks(known: dict[int, str] | None = None) -> Iterator[Break]:
    """Everything that does not fit, the first link first. `known`: hashes of links that were noted elsewhere."""
    with _one_moment():
        yield from _of_links(known or {})
        for event in guards.events():
            yield from _of_entries(event)
            yield from _of_records(event)
        yield from _of_files()
        yield from (Break("signatures", sentence) for sentence in signing.broken_signatures())


@contextmanager
def _one_moment():
    """Everything as of one moment, though others go on writing."""
    is_outermost = not connection.in_atomic_block
    with transaction.atomic(), connection.cursor() as cursor:
        if is_outermost:
            cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
        cursor.execute(guards.TEXT_FORMS)
        yield


def linked(before: bytes, digest: bytes) -> bytes:
    """The hash of a link: of the hash before it and of the digest of its entry."""
    return hashlib.sha256(before + digest).digest()


def noted() -> dict[int, str]:
    """The heads that issued reports carry, by their number."""
    found = Qualification.objects.values_list("evidence__report__chain", flat=True)
    return {said["number"]: said["hash"] for said in found if said}


def _of_links(known):
    before, expected, seen = START, 1, set()
    rows = Link.objects.order_by("seq").values_list("seq", "source", "event", "entry", "hash")
    for seq, source, event, entry, stored in rows.iterator(PAGE):
        where = f"chain, link {seq}"
        if seq != expected:
            yield Break(where, f"link {expected} should stand here: links are missing or were put in")
        computed = linked(before, hashlib.sha256(entry.encode()).digest())
        if computed != bytes(stored):
            yield Break(where, "its hash does not fit its entry and the link before")
        if (said := _read(entry)) is None or (said["seq"], said["source"], said["event"]["pgh_id"]) != (
            seq,
            source,
            event,
        ):
            yield Break(where, "it does not belong to the entry that it names")
        if known.get(seq, bytes(stored).hex()) != bytes(stored).hex():
            yield Break(where, "its hash is not the one that was noted, for example in an issued report")
        seen.add(seq)
        before, expected = bytes(stored), seq + 1
    for seq in sorted(set(known) - seen):
        yield Break(f"chain, link {seq}", "it was noted, for example in an issued report, and is gone")


def _read(entry):
    try:
        said = json.loads(entry)
        return said if isinstance(said["event"], dict) and "source" in said and "seq" in said else None
    except (ValueError, KeyError, TypeError):
        return None


def _of_entries(event):
    """The trail's own rows against the chain: none missing, none added, none altered."""
    table, source = event._meta.db_table, event.pgh_tracked_model._meta.db_table
    query = sql.SQL(
        "SELECT coalesce(l.event, e.pgh_id), l.entry, to_jsonb(e)::text, c.metadata::text FROM {table} e "
        "FULL JOIN (SELECT * FROM labrecords_link WHERE source = {source}) l ON l.event = e.pgh_id "
        "LEFT JOIN pghistory_context c ON c.id = e.pgh_context_id ORDER BY 1"
    ).format(table=sql.Identifier(table), source=sql.Literal(source))
    for number, entry, live, said in _rows(query):
        where = f"trail of {source}, entry {number}"
        if live is None:
            yield Break(where, "it is in the chain and gone from the trail")
        elif entry is None:
            yield Break(where, "it is in the trail and not in the chain")
        elif (linked := _read(entry)) is not None:  # an unreadable link was named before
            yield from _difference(where, linked["event"], json.loads(live))
            context = json.loads(said or "{}")
            if (linked["who"], linked["why"]) != (context.get("who"), context.get("why")):
                yield Break(where, "who or why is not what the chain says")


def _of_records(event):
    """The records as they stand against their last entries, with the digests of what the entries leave out."""
    source = event.pgh_tracked_model._meta.db_table
    query = sql.SQL(
        "SELECT coalesce(r.id, e.pgh_obj_id), to_jsonb(r)::text, to_jsonb(e)::text, {digests}, "
        "(SELECT entry FROM labrecords_link l WHERE l.source = {source} AND l.event = e.pgh_id) "
        "FROM {live} r FULL JOIN "
        "(SELECT DISTINCT ON (pgh_obj_id) * FROM {table} ORDER BY pgh_obj_id, pgh_id DESC) e ON e.pgh_obj_id = r.id "
        "ORDER BY 1"
    ).format(
        source=sql.Literal(source),
        live=sql.Identifier(source),
        table=sql.Identifier(event._meta.db_table),
        digests=_digests(guards.kept_apart(event)),
    )
    for number, live, last, digests, entry in _rows(query):
        where = f"{source}, row {number}"
        if live is None:
            if json.loads(last)["pgh_label"] != "delete":
                yield Break(where, "it is in the trail and gone from the records")
        elif last is None:
            yield Break(where, "it stands in the records without an entry in the trail")
        else:
            own = {key: value for key, value in json.loads(last).items() if not key.startswith("pgh_")}
            yield from _difference(where, own, json.loads(live))
            kept = (_read(entry or "") or {}).get("digests") or {}
            for column, digest in json.loads(digests or "{}").items():
                if kept.get(column, digest) != digest:
                    yield Break(where, f"{column} is not what the chain says")


def _digests(columns):
    """As labrecords_append computes them."""
    if not columns:
        return sql.SQL("NULL")
    return sql.SQL(
        "(SELECT jsonb_object_agg(key, encode(sha256(convert_to(value::text, 'UTF8')), 'hex'))::text "
        "FROM jsonb_each(to_jsonb(r)) WHERE key = ANY ({}))"
    ).format(sql.Literal(list(columns)))


def _difference(where, said, live):
    """Fields that both know: a later release may have added or dropped some."""
    for field in said.keys() & live.keys():
        if said[field] != live[field]:
            yield Break(where, f"{field} is {_short(live[field])}, and was {_short(said[field])}")


def _short(value):
    text = json.dumps(value, ensure_ascii=False)
    return text if len(text) <= 60 else text[:57] + "…"


def _of_files():
    """The issued files, byte for byte."""
    rows = Qualification.objects.order_by("pk").values_list("report_number", "file", "sha256")
    for number, file, stored in rows.iterator(20):
        if hashlib.sha256(bytes(file)).hexdigest() != stored:
            yield Break(f"report {number}", "its file is not the one that was issued")


def _rows(query):
    with connection.cursor() as cursor:
        cursor.execute(query)
        while rows := cursor.fetchmany(PAGE):
            yield from rows


def shown_head() -> str:
    """One line for people."""
    newest = head()
    return f"{newest['number']}:{newest['hash']}, {newest['at'] or 'nothing recorded yet'}"
