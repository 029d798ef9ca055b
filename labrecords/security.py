"""The security log: who came in, who was kept out, and what an administrator changed about people.

One line of JSON an entry, in UTC: what somebody typed is escaped, so that it cannot forge a line. The same entries go
into the table `labrecords_securityevent`, which takes rows and gives none back changed.
"""

from __future__ import annotations

import json
import logging
import os
from contextvars import ContextVar
from datetime import UTC, datetime
from logging.handlers import RotatingFileHandler

from django.apps import apps

LOG = logging.getLogger("labrecords.security")
# Where the request that is being answered comes from and goes to: an action knows nothing of requests.
visit: ContextVar[dict] = ContextVar("visit", default={})  # noqa: B039  replaced whole, never changed
LONGEST = 200  # characters of a value: a log is no place to fill a disk by


def note(event: str, *, level: int = logging.INFO, **facts) -> None:
    """Write down what happened; never a password, a code or a token."""
    LOG.log(level, event, extra={"facts": facts})


def warn(event: str, **facts) -> None:
    note(event, level=logging.WARNING, **facts)


def entry_of(record: logging.LogRecord) -> dict:
    """What a record says, as plain short values. Django's own security loggers say it in their message."""
    facts = visit.get() | getattr(record, "facts", {})
    event = record.getMessage() if hasattr(record, "facts") else f"{record.name}: {_without_path(record, facts)}"
    return {"event": event[:LONGEST], **{name: str(value)[:LONGEST] for name, value in facts.items()}}


def _without_path(record, facts):
    """Django's own words end in the address as it was asked for, with the codes in it."""
    if record.args and hasattr(record, "request") and str(record.msg).endswith(": %s"):
        return record.msg % (*record.args[:-1], facts.get("path", ""))
    return record.getMessage()


class Line(logging.Formatter):
    """An entry as one line: ASCII only, so that neither line breaks nor direction marks get through."""

    def format(self, record):
        at = datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds")
        return json.dumps({"at": at, "level": record.levelname.lower(), **entry_of(record)})


class LogFile(RotatingFileHandler):
    """A file that only its owner reads, made when the first entry is written."""

    def _open(self):
        os.makedirs(os.path.dirname(self.baseFilename), mode=0o700, exist_ok=True)
        file = super()._open()
        os.chmod(self.baseFilename, 0o600)
        return file

    def handleError(self, record):
        """A full disk must not keep people out; the table and the console have the entry."""


class LogTable(logging.Handler):
    """The entry as a row. It goes with its transaction: what is rolled back stands in the file alone."""

    def emit(self, record):
        from django.db import Error, transaction

        facts = entry_of(record)
        row = apps.get_model("labrecords", "SecurityEvent")(
            level=record.levelname.lower(), event=facts.pop("event"), who=facts.pop("who", ""), facts=facts
        )
        try:
            if not transaction.get_connection().needs_rollback:
                with transaction.atomic():
                    row.save(force_insert=True)
        except (Error, RuntimeError):  # no table yet, no database, a test that may not use it
            return
