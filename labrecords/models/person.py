"""The people of the lab. They are disabled, never deleted, so that every record keeps its names."""

import pghistory
import pgtrigger
from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.contrib.auth.hashers import check_password
from django.db import models
from django.db.models.functions import Lower, Now
from django.utils.crypto import salted_hmac

from labrecords.access import ROLES
from labrecords.models.record import not_empty, one_of


# The hash of a password has no business in the trail; the chain keeps a digest of it. The sign-in time is no change.
@pghistory.track(exclude=["password", "last_login"])
class Person(AbstractBaseUser):
    PROJECT = None
    MOVES_BY_ITSELF = ("last_login",)  # without an entry: no business of trail and chain

    username = models.CharField("sign-in name", max_length=60, unique=True)
    full_name = models.CharField("name", max_length=120)
    role = models.CharField(max_length=20, choices=list(ROLES.items()))
    is_active = models.BooleanField(default=True)
    secret_set_at = models.DateTimeField("password set", db_default=Now(), editable=False)
    has_start_secret = models.BooleanField(
        "start password", default=False, editable=False, help_text="Known to whoever gave it; it opens only its change."
    )
    has_second_factor = models.BooleanField("second factor", default=False, editable=False)
    sessions_ended = models.PositiveIntegerField("times all sessions were ended", default=0, editable=False)

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
            # The trail leaves the hash out, so its stamp has to change with it: nobody sets a password unseen.
            pgtrigger.Protect(
                name="password_leaves_trace",
                operation=pgtrigger.Update,
                condition=pgtrigger.Q(
                    old__password__df=pgtrigger.F("new__password"),
                    old__secret_set_at__ndf=pgtrigger.F("new__secret_set_at"),
                ),
            ),
            # The trail names people by it: a name that changed hands would book one person's work to another.
            pgtrigger.ReadOnly(name="username_stays", fields=["username"]),
        ]

    def __str__(self):
        return self.full_name

    def check_password(self, raw_password):
        """Without Django's silent storing of a stronger hash: a hash changes with its stamp and reason only."""
        return check_password(raw_password, self.password)

    def _get_session_auth_hash(self, secret=None):
        """Sessions hold while the password and this count stay: either one's change ends them all at once."""
        value = f"{self.password} {self.sessions_ended}"
        return salted_hmac("labrecords.sessions", value, secret=secret, algorithm="sha256").hexdigest()
