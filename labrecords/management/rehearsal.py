"""A drill in a place of its own: a child process with a throw-away embedded server in a temporary folder."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

import labrecords
from labrecords.postgresql.base import embedded_server

MANAGE = Path(labrecords.__file__).parents[1] / "manage.py"
ELSEWHERE = ("DATABASE_URL", "LABRECORDS_OWNER_URL", "LABRECORDS_DATA")  # of the real place


def run(source: Path, passphrase: str) -> subprocess.CompletedProcess:
    folder = Path(tempfile.mkdtemp(prefix="labrecords-drill-"))
    # Run by root, the server works as another user, who has to pass through.
    folder.chmod(0o711)
    kept = {name: value for name, value in os.environ.items() if name not in ELSEWHERE}
    own = {"LABRECORDS_THROWAWAY": "1", "LABRECORDS_PASSPHRASE": passphrase}
    command = [sys.executable, MANAGE, "db", "drill", source.absolute(), "--here", "--data", folder]
    try:
        return subprocess.run(command, env=kept | own, stdout=subprocess.PIPE, text=True, check=False)
    finally:
        embedded_server(folder).stop()  # where the child was killed
        shutil.rmtree(folder, ignore_errors=True)
