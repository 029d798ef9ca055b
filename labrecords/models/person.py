"""The people of the lab. They are disabled, never deleted, so that every record keeps its names."""

import pghistory
import pgtrigger
from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.db import models
from django.db.models.functions import Lower

from labrecords.access import ROLES
from labrecords.models.record import not_empty, one_of


# The hash of a password has no business in the trail; the sign-in time is no change of a record.
@pghistory.track(exclude=["password", "last_login"])
class Person(AbstractBaseUser):
    PROJECT = None

    username = models.CharField("sign-in name", max_length=60, unique=True)
    full_name = models.CharField("name", max_length=120)
    role = models.CharField(max_length=20, choices=list(ROLES.items()))
    is_active = models.BooleanField(default=True)

    objects = BaseUserManager()
    USERNAME_FIELD = "username"
    REQUIRED_FIELDS = ["full_name", "role"]

    class Meta:
        ordering = ["username"]
        verbose_name_plural = "people"
        constraints = [
            models.UniqueConstraint(Lower("username"), name="person_username_unique"),
            one_of("person_role_known", "role", ROLES),
            not_empty("person_named", "full_name"),
        ]
        triggers = [
            pgtrigger.Protect(name="never_deleted", operation=pgtrigger.Delete),
            # The trail names people by it: a name that changed hands would book one person's work to another.
            pgtrigger.ReadOnly(name="username_stays", fields=["username"]),
        ]

    def __str__(self):
        return self.full_name
