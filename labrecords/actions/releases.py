"""Releases of this program that the lab put to use: the program tells what runs here, people what was checked."""

import platform

import django
from django.db import connection

import analysis
import labrecords
from labrecords.actions.rows import write
from labrecords.models import Release
from labrecords.trail import verb


@verb
def put_to_use(*, by, why="release put to use", checked, place, authorised_because):
    """Record that the version that runs here was checked before it was put to use."""
    return write(Release(**running(), checked=checked, place=place, authorised_because=authorised_because), by)


def running() -> dict[str, str]:
    """What runs here, in words: program, analysis, and what they stand on."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT current_setting('server_version')")
        [server] = cursor.fetchone()
    return {
        "program": labrecords.VERSION,
        "analysis": analysis.CODE_VERSION,
        "surroundings": f"Python {platform.python_version()}, Django {django.__version__}, PostgreSQL {server}, "
        f"{platform.system()} {platform.release()} {platform.machine()}",
    }


def current():
    """The newest record of the version that runs here, whatever it stands on; None where the lab has made none."""
    versions = {"program": labrecords.VERSION, "analysis": analysis.CODE_VERSION}
    return Release.objects.filter(**versions).select_related("created_by").first()
