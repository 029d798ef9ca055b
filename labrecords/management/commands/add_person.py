"""Adds a person; the first one is the administrator."""

import getpass
import os
import sys

from labrecords.access import ROLES
from labrecords.actions import people
from labrecords.errors import PasswordMissing, ValueRefused
from labrecords.management.acting import ActingCommand, reason
from labrecords.models import Person

VARIABLE = "LABRECORDS_NEW_PASSWORD"


class Command(ActingCommand):
    help = f"Adds a person. The password is asked for, or read from {VARIABLE}."
    verb = "people.add"

    def add_arguments(self, parser):
        super().add_arguments(parser)
        parser.add_argument("username")
        parser.add_argument("--name", required=True)
        parser.add_argument("--role", required=True, choices=list(ROLES))

    def handle(self, *, username, name, role, by, why, **options):
        if Person.objects.exists():
            by = self.person(by)
            person = people.add(
                by=by, username=username, full_name=name, role=role, password=asked_password(), **reason(why)
            )
        else:
            person = _first(username, name, role)
        self.stdout.write(f"{person.username}: {person.full_name}, {person.role}")


def _first(username, name, role):
    if role != "administrator":
        rule = "cannot be the first one: the first person is an administrator, who adds the others"
        raise ValueRefused(field="role", label="Role", value=role, rule=rule)
    return people.install(username=username, full_name=name, password=asked_password())


def asked_password(words="New password", variable=VARIABLE):
    """From the variable, else typed twice; a command's line would show it to everybody on the machine."""
    given = os.environ.get(variable)
    if given:
        return given
    if not sys.stdin.isatty():
        raise PasswordMissing(label=words, instead=f"set {variable}")
    password = getpass.getpass(f"{words}: ")
    if getpass.getpass("Again: ") != password:
        raise ValueRefused(field="password", label="Password", value="…", rule="was not the same twice")
    return password
