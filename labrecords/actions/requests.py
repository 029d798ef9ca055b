"""Requests that may arrive twice: the work is done once, and its answer is kept for whoever asks again."""

from __future__ import annotations

from contextlib import contextmanager
from dataclasses import dataclass

from django.db import connection, transaction

from labrecords.errors import KeyReused, Refusal
from labrecords.models import AnsweredRequest

KEPT_DAYS = 7

_CLAIM = """
    INSERT INTO labrecords_answeredrequest (person_id, key, digest, status, body) VALUES (%s, %s, %s, 0, '')
    ON CONFLICT (person_id, key) DO NOTHING
"""
_FORGET = """
    DELETE FROM labrecords_answeredrequest WHERE id IN (
        SELECT id FROM labrecords_answeredrequest WHERE answered_at < now() - %s * interval '1 day'
        ORDER BY id LIMIT 100 FOR UPDATE SKIP LOCKED)
"""


@dataclass
class Claim:
    """What `once` hands over: the kept answer of an earlier request, or room for that of this one."""

    status: int = 0
    body: str = ""

    @property
    def is_answered(self):
        return bool(self.status)


@contextmanager
def once(*, by, key, digest):
    """One transaction around the work of a request and the keeping of its answer; the block sets status and body.

    A request with the same key at the same time waits here until the first has ended. An answered one is not done
    again. A refused one is not kept: what it had stored outside its verb (a wrong password that is counted) stays.
    """
    refused = None
    with transaction.atomic():
        claim = _claim(by, key, digest)
        was_answered = claim.is_answered
        try:
            yield claim
        except Refusal as refusal:
            if refusal.status >= 500 or was_answered:
                raise
            _row(by, key).delete()
            refused = refusal
        else:
            if not was_answered:
                _row(by, key).update(status=claim.status, body=claim.body)
    if refused is not None:
        raise refused


def _claim(by, key, digest):
    with connection.cursor() as cursor:
        cursor.execute(_FORGET, [KEPT_DAYS])
        cursor.execute(_CLAIM, [by.pk, key, digest])
        is_new = cursor.rowcount == 1
    if is_new:
        return Claim()
    kept = _row(by, key).get()
    if kept.digest != digest:
        raise KeyReused(key=key)
    return Claim(kept.status, kept.body)


def _row(by, key):
    return AnsweredRequest.objects.filter(person=by, key=key)
