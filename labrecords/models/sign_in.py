"""What stands beside a person's sign-in: API tokens, and the security log's rows."""

import pghistory
import pgtrigger
from django.conf import settings
from django.db import models
from django.db.models.functions import Now

from labrecords.models.record import not_empty, one_of

READ, WRITE = "read", "write"
SCOPES = {READ: "read only", WRITE: "read and write"}


# A token that is used every minute is no change of a record.
@pghistory.track(exclude=["last_used_at"])
class ApiToken(models.Model):
    """What is known of an API token. The key itself is shown once; knox keeps its digest while it is valid."""

    PROJECT = None
    OWNER = "person"
    MOVES_BY_ITSELF = ("last_used_at",)

    person = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="api_tokens", editable=False)
    name = models.CharField(max_length=60, help_text="What uses it.")
    scope = models.CharField(max_length=10, choices=list(SCOPES.items()), default=READ)
    digest = models.CharField(max_length=128, unique=True, editable=False)
    created_at = models.DateTimeField("issued", db_default=Now(), editable=False)
    expires_at = models.DateTimeField("ends", editable=False)
    revoked_at = models.DateTimeField("revoked", null=True, blank=True, editable=False)
    last_used_at = models.DateTimeField("last used", null=True, blank=True, editable=False)

    class Meta:
        ordering = ["-id"]
        verbose_name = "API token"
        constraints = [one_of("apitoken_scope_known", "scope", SCOPES), not_empty("apitoken_named", "name")]
        triggers = [pgtrigger.Protect(name="never_deleted", operation=pgtrigger.Delete)]

    def __str__(self):
        return self.name


class SecurityEvent(models.Model):
    """A row of the security log, written by labrecords/security.py; never changed, never deleted."""

    PROJECT = None

    at = models.DateTimeField(db_default=Now(), editable=False, db_index=True)
    level = models.CharField(max_length=10)
    event = models.CharField(max_length=200)
    who = models.CharField(max_length=200, blank=True)
    facts = models.JSONField(default=dict)

    class Meta:
        ordering = ["-id"]
        triggers = [
            pgtrigger.Protect(name="never_deleted", operation=pgtrigger.Delete),
            pgtrigger.Protect(name="append_only", operation=pgtrigger.Update),
        ]

    def __str__(self):
        return f"{self.event} {self.who}".strip()
