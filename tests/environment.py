"""Loaded by pytest before Django's settings: a data folder and an embedded server for the suite alone."""

import atexit
import os
import shutil
import tempfile

if "LABRECORDS_DATA" not in os.environ or "PYTEST_XDIST_WORKER" in os.environ:  # a folder and a server each
    folder = tempfile.mkdtemp(prefix="labrecords-tests-")
    # Run by root, the server works as another user, who has to pass through.
    os.chmod(folder, 0o711)  # noqa: S103
    # Runs after the launcher has stopped the server: what is registered later is called earlier.
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    os.environ["LABRECORDS_DATA"] = folder
    os.environ["LABRECORDS_THROWAWAY"] = "1"  # the launcher turns fsync off for a throw-away folder
# Playwright's synchronous interface runs an event loop in the test's thread; Django would refuse to query.
os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "1")
