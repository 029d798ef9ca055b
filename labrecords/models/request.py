"""Requests of the API that were answered, so that one which is sent again is answered again and not done again."""

from django.conf import settings
from django.db import models
from django.db.models.functions import Now


# No record: rows are forgotten after some days (labrecords/actions/requests.py), so there is no trail of them.
class AnsweredRequest(models.Model):
    """The answer to a request that carried a key of its sender's choice; written in the transaction of its work."""

    PROJECT = None

    person = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    key = models.CharField(max_length=200)
    digest = models.CharField(max_length=64)
    status = models.PositiveSmallIntegerField(default=0)  # 0: at work, seen by nobody but the transaction itself
    body = models.TextField(blank=True)
    answered_at = models.DateTimeField(db_default=Now(), db_index=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["person", "key"], name="answeredrequest_key_once_a_person")]

    def __str__(self):
        return self.key
