"""The record chain: every entry of the trail once more as text, each hashed together with the one before."""

import pgtrigger
from django.db import models


class Link(models.Model):
    """Written by the database alone, when the transaction of the change commits (labrecords/postgresql/guards.py).

    `hash` is SHA-256(hash before it + SHA-256(`entry` in UTF-8)); before the first stand 32 zero bytes. So a copy of
    some entries can be shown to belong to the chain with the digests of the others, without their contents.
    """

    PROJECT = None

    seq = models.BigIntegerField(primary_key=True)
    source = models.CharField("table of the entry", max_length=63)
    event = models.BigIntegerField("number of the entry in that table")
    entry = models.TextField()
    hash = models.BinaryField()

    class Meta:
        ordering = ["seq"]
        constraints = [models.UniqueConstraint(fields=["source", "event"], name="link_once_an_entry")]
        triggers = [pgtrigger.Protect(name="append_only", operation=pgtrigger.Update | pgtrigger.Delete)]

    def __str__(self):
        return f"link {self.seq}"
