"""A whole copy of one record: its values, its history from the chain, its files; open formats in one ZIP file.

A reader needs nothing of ours to check it: SHA-256 over the hash before and over the entry's digest gives each hash.
"""

from __future__ import annotations

import csv
import hashlib
import io
import json
import zipfile

from django.core.serializers.json import DjangoJSONEncoder
from django.db import models

from labrecords import history
from labrecords.models import Attachment, Link, StoredFile
from labrecords.postgresql import guards

HOW = """What is in this archive, and how to check it without the program that wrote it

record.json    the record and its parts as they stand now: table, row number, values
history.jsonl  one line a change, oldest first: number in the chain, the entry exactly as it was hashed, its hash
chain.csv      every link of the chain up to now: number, SHA-256 of its entry, hash
files/         files kept with the record, byte for byte

1. In chain.csv each hash is SHA-256(hash of the line before + entry_sha256), both as 32 bytes; before the first line
   stand 32 zero bytes.
2. For each line of history.jsonl the SHA-256 of "entry" in UTF-8 is the entry_sha256 of that number in chain.csv.
3. A hash of chain.csv that you noted earlier, for example from an issued report, has to stand there still.
4. The last entry of each row in history.jsonl has the values of record.json; files have the SHA-256 named there.
   Of a file that was stored for a project out of your sight as well, only kind, size and SHA-256 are told.
"""


def copy_of(by, row) -> bytes:
    """The ZIP file's bytes, with what this person may see."""
    rows = [row, *parts_of(by, row)]
    stored = {part.stored_id: part.stored for part in rows if isinstance(part, Attachment)}
    # The same bytes may have come in with a project that this person knows nothing of: who, when and why stay there.
    in_sight = set(history.rows_of(by, StoredFile).filter(pk__in=stored).values_list("pk", flat=True))
    elsewhere = [stored.pop(pk) for pk in sorted(stored.keys() - in_sight)]
    rows += stored.values()
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("HOW-TO-CHECK.txt", HOW)
        archive.writestr("record.json", _as_json([*map(_values, rows), *map(_content_alone, elsewhere)]))
        archive.writestr("history.jsonl", "".join(f"{line}\n" for line in _history(rows)))
        archive.writestr("chain.csv", _chain())
        for name, data in _files([*rows, *elsewhere]):
            archive.writestr(f"files/{name}", data)
    return out.getvalue()


def parts_of(by, row) -> list[models.Model]:
    """Rows that belong to this one and have no code of their own: what of them the person may see."""
    found = [part for _, rows in history.parts(by, row) for part in rows.order_by("pk")]
    return [part for own in found for part in (own, *parts_of(by, own))]


def _values(row):
    said = {field.attname: field.value_from_object(row) for field in row._meta.concrete_fields}
    said = {
        name: _digest(value) if isinstance(value, bytes | memoryview) else value
        for name, value in said.items()
        if name not in ("password", "last_login")
    }
    return {"table": row._meta.db_table, "row": row.pk, "values": said}


def _content_alone(stored):
    said = {name: getattr(stored, name) for name in ("kind", "size", "sha256")}
    return {"table": stored._meta.db_table, "row": stored.pk, "values": said}


def _digest(value):
    return f"sha256:{hashlib.sha256(bytes(value)).hexdigest()}"


def _history(rows):
    wanted = {}
    for row in rows:
        wanted.setdefault(type(row), []).append(row.pk)
    numbers = []
    for model, keys in wanted.items():
        events = next(event for event in guards.events() if event.pgh_tracked_model is model)
        entries = events.objects.filter(pgh_obj_id__in=keys).values("pgh_id")
        found = Link.objects.filter(source=model._meta.db_table, event__in=entries)
        numbers += found.values_list("seq", "entry", "hash")
    for seq, entry, digest in sorted(numbers):
        yield json.dumps({"number": seq, "entry": entry, "hash": bytes(digest).hex()}, ensure_ascii=False)


def _chain():
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(["number", "entry_sha256", "hash"])
    for seq, entry, digest in Link.objects.order_by("seq").values_list("seq", "entry", "hash").iterator(2000):
        writer.writerow([seq, hashlib.sha256(entry.encode()).hexdigest(), bytes(digest).hex()])
    return out.getvalue()


def _files(rows):
    """Under numbers: what somebody called a file is no path."""
    for row in rows:
        for field in row._meta.concrete_fields:
            value = field.value_from_object(row)
            if isinstance(value, bytes | memoryview):
                kind = "pdf" if bytes(value[:5]) == b"%PDF-" else "bin"
                yield f"{row._meta.model_name}-{row.pk}.{kind}", bytes(value)


def _as_json(rows):
    return json.dumps(rows, ensure_ascii=False, indent=1, cls=DjangoJSONEncoder)
