"""Changes of records as CSV: one line a field, with who, when, why, the original and the amended value."""

from __future__ import annotations

import csv
import io

from labrecords import history, journal
from labrecords.exchange.cells import harmless
from labrecords.visibility import sight_of

COLUMNS = ("at", "noun", "record", "what", "who", "name", "why", "field", "original", "amended")
CHUNK = 500


def as_csv(by, lines):
    """The text in pieces, so that a long span needs little memory. `lines`: what journal.found gives this person."""
    names, sight, count = history.people(), sight_of(by), lines.count()
    yield _written([dict(zip(COLUMNS, COLUMNS, strict=True))])
    for start in range(0, count, CHUNK):
        told = journal.changes(list(lines[start : start + CHUNK]))
        yield _written([row for noun, change in told for row in _rows(noun, change, names, sight)])


def _rows(noun, change, names, sight):
    fields = {item.name: item for item in history.tracked_fields(change.event.pgh_tracked_model)}
    said = {"at": change.at.isoformat(), "noun": noun, "record": change.name, "who": change.who, "why": change.why}
    said |= {"what": "entered" if change.is_entry else "changed", "name": names.get(change.who, "")}
    for name in change.values:
        yield said | {
            "field": history.label_of(fields[name]),
            "original": "" if change.is_entry else history.in_words(fields[name], change.earlier, sight),
            "amended": history.in_words(fields[name], change.event, sight),
        }


def _written(rows):
    out = io.StringIO()
    writer = csv.DictWriter(out, COLUMNS, lineterminator="\n")
    writer.writerows({name: harmless(value) for name, value in row.items()} for row in rows)
    return out.getvalue()
