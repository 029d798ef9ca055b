"""A command that does what one person may do: who acts, and refusals that end it with a sentence."""

from __future__ import annotations

import os

from django.core.management.base import BaseCommand
from django.db import connection

from labrecords import access
from labrecords.actions import people
from labrecords.errors import DatabaseUnavailable, FileRefused, ValueRefused
from labrecords.models import Person


class ActingCommand(BaseCommand):
    verb = ""  # the action that the command calls; it decides who may act

    def add_arguments(self, parser):
        parser.add_argument("--data", help="folder of database and reports (default: var)")
        if self.verb:
            parser.add_argument("--by", metavar="USERNAME", help="who acts (default: the only person who may)")
            parser.add_argument("--why", help="the reason, kept with every change")

    def execute(self, *arguments, **options):
        if Person._meta.db_table not in connection.introspection.table_names():
            raise DatabaseUnavailable(why="The database has no tables yet: run manage.py migrate first.")
        try:
            return super().execute(*arguments, **options)
        except FileRefused as refusal:
            for found in refusal.lines:
                self.stderr.write(_sentence(found))
            raise

    def person(self, username):
        """Who acts: the one who is named, else the only one whose role allows it."""
        if username:
            return people.find(username, field="by")
        able = [person for person in Person.objects.filter(is_active=True) if access.may(person, self.verb)]
        if len(able) != 1:
            names = ", ".join(person.username for person in able)
            rule = "could each do this: name one with --by" if able else "is open to nobody here yet: add a person"
            raise ValueRefused(field="by", label="Acting person", value=names or self.verb, rule=rule)
        return able[0]

    def looking(self, username, verb):
        """Who looks: the one who is named, if the role allows it; nobody in particular sees what is open to the lab."""
        if not username:
            return None
        person = people.find(username, field="by")
        access.check(person, verb)
        return person


def reason(why):
    """`why` for an action, which has its own when none was given."""
    return {"why": why} if why else {}


def refuse_unwritable(out, *, field="out"):
    """Before anything is stored: an issued report is never taken back because its file could not be written."""
    folder = out.absolute().parent
    if out.is_dir() or not folder.is_dir() or not os.access(out if out.exists() else folder, os.W_OK):
        rule = "cannot be written: no such folder, or no right to write there"
        raise ValueRefused(field=field, label="File", value=out, rule=rule)


def _sentence(found):
    where = f"line {found['line']}" + (f", column {found['column']}" if found["column"] else "")
    shown = f" “{found['value']}”:" if found["value"] else ""
    return f"{where},{shown} {found['rule']}" if shown else f"{where}: {found['rule']}"
