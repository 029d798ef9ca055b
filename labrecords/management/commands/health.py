"""How the installation is, for whoever runs the machine; ends with 1 when something needs attention."""

import dataclasses
import json
import sys

from django.conf import settings
from django.core.management.base import BaseCommand

from labrecords.actions import health


class Command(BaseCommand):
    help = "Versions, migrations, disk, last back-up, record chain, clock; ends with 1 if something needs attention."
    requires_system_checks = []  # it must answer whatever state the code is in

    def add_arguments(self, parser):
        parser.add_argument("--json", action="store_true", help="for a program that watches")
        parser.add_argument("--data", help="folder of database and reports (default: var)")

    def handle(self, **options):
        found = health.items(settings.DATA)
        self.stdout.write(_as_json(found) if options["json"] else _as_text(found))
        if health.needs_attention(found):
            sys.exit(1)


def _as_json(found):
    said = {"needs_attention": bool(health.needs_attention(found)), "items": [dataclasses.asdict(i) for i in found]}
    return json.dumps(said, indent=1, ensure_ascii=False)


def _as_text(found):
    lines = []
    for item in found:
        lines.append(f"{'  ' if item.is_fine else '! '}{item.label:<24} {item.value}")
        if not item.is_fine and item.advice:
            lines.append(f"{'':<27}{item.advice}")
    return "\n".join(lines)
