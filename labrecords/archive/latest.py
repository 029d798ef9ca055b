"""When the last back-up was made: a small file beside the data, written anew as a whole.

A file and no row: a row would come after the snapshot of the very archive that it tells of, and a back-up of a
database that has become read-only must still be possible.
"""

from __future__ import annotations

import json
import os
from datetime import datetime
from pathlib import Path

NAME = "last-backup.json"


def note(data: Path, target: Path, taken_at: datetime, is_encrypted: bool) -> None:
    said = {
        "file": str(target.absolute()),
        "taken_at": taken_at.isoformat(),
        "bytes": target.stat().st_size,
        "is_encrypted": is_encrypted,
    }
    partial = data / f"{NAME}.partial"
    with open(os.open(partial, os.O_WRONLY | os.O_CREAT | os.O_TRUNC | os.O_NOFOLLOW, 0o644), "w") as file:
        json.dump(said, file, indent=1)
        file.flush()
        os.fsync(file.fileno())
    if os.geteuid() == 0:  # the owner of the data folder makes the next back-up
        os.chown(partial, data.stat().st_uid, data.stat().st_gid)
    partial.rename(data / NAME)


def read(data: Path) -> dict | None:
    """What `note` wrote last, with `taken_at` as a moment; None when there is nothing readable."""
    try:
        said = json.loads((data / NAME).read_text())
        return said | {"taken_at": datetime.fromisoformat(said["taken_at"])}
    except (OSError, ValueError, KeyError, TypeError):
        return None
