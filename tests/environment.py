"""Loaded by pytest before Django's settings: the suite gets its own data folder and its own embedded server."""

import os
import tempfile

if "LABRECORDS_DATA" not in os.environ:
    os.environ["LABRECORDS_DATA"] = tempfile.mkdtemp(prefix="labrecords-tests-")
    os.environ["LABRECORDS_THROWAWAY"] = "1"  # the launcher turns fsync off for a throw-away folder
# Playwright's synchronous interface runs an event loop in the test's thread; Django would refuse queries there.
os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "1")
