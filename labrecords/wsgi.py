import os

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "labrecords.settings")
application = get_wsgi_application()


def _refuse_unsafe():
    """Whatever serves the pages comes by here: `manage.py serve`, `runserver`, and any other WSGI server."""
    from django.db import connection

    try:
        connection.ensure_connection()
    finally:
        connection.close()  # the process may fork


_refuse_unsafe()
