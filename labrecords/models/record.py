"""What every row of the records shares: who, when, and that it is never deleted."""

import pgtrigger
from django.conf import settings
from django.core.validators import RegexValidator
from django.db import models
from django.db.models import Q
from django.db.models.functions import Now


def frozen():
    """A trigger that refuses every later change of the row: a revision is written once and whole."""
    return pgtrigger.Protect(name="frozen", operation=pgtrigger.Update)


def between(name, field, low, high):
    """A check that also keeps NaN and infinity out, which PostgreSQL sorts above every number."""
    return models.CheckConstraint(name=name, condition=Q(**{f"{field}__gte": low, f"{field}__lte": high}))


def one_of(name, field, keys):
    return models.CheckConstraint(name=name, condition=Q(**{f"{field}__in": sorted(keys)}))


# For codes that stand between the slashes of an address: one with a slash could never be asked for.
NO_SLASH = RegexValidator("/", "It holds a slash, which its page's address cannot.", inverse_match=True)


def not_empty(name, field):
    return models.CheckConstraint(name=name, condition=~Q(**{field: ""}))


class Record(models.Model):
    created_at = models.DateTimeField("entered", db_default=Now(), editable=False)
    created_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, related_name="+", editable=False, verbose_name="entered by"
    )

    class Meta:
        abstract = True
        triggers = [pgtrigger.Protect(name="never_deleted", operation=pgtrigger.Delete)]
