"""`manage.py` of a build without some protections: python -m tests.faults.served NAME[,NAME…] COMMAND …"""

import os
import sys

import manage
from tests.faults import removed


def without(names):
    """Django set up, then the named protections taken away."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "labrecords.settings")
    import django

    django.setup()
    for name in filter(None, names.split(",")):
        getattr(removed, name)()


def main():
    without(sys.argv.pop(1))
    manage.main()


if __name__ == "__main__":
    main()
