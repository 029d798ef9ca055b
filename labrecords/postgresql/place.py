"""Where the server's files lie, and which system user owns them and runs the server.

PostgreSQL refuses to run as root. Root therefore hands the server to the owner of the data folder, or to
`nobody`; no user is added to the system and no folder that was there before is opened for others.
"""

from __future__ import annotations

import errno
import hashlib
import os
import pwd
import subprocess
import sys
import time
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from labrecords.errors import DatabaseUnavailable

SYSTEM_FOLDER = Path("/var/lib/labrecords")


@dataclass(frozen=True)
class Place:
    """The folder of the server's files and the account that owns it."""

    folder: Path
    uid: int
    gid: int

    @property
    def pgdata(self) -> Path:
        return self.folder / "data"

    def run(self, command, **options):
        """Run a program as the owner of the folder, without this process's PG… variables."""
        kept = {name: value for name, value in os.environ.items() if not name.startswith(("PG", "LC_", "LANG"))}
        if os.geteuid() == 0:
            options |= {"user": self.uid, "group": self.gid, "extra_groups": []}
        return subprocess.run(
            [str(part) for part in command],
            env=kept | {"LC_ALL": "C"},
            capture_output=True,
            text=True,
            errors="replace",
            start_new_session=True,  # Ctrl-C is meant for us, not for the server
            **{"cwd": "/", **options},
        )

    def new_file(self, name, text=""):
        """Make a private file that belongs to the account, unless it is there."""
        try:
            handle = os.open(self.folder / name, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_NOFOLLOW, 0o600)
        except FileExistsError:
            return
        with open(handle, "w") as file:
            self._give(handle)
            file.write(text)

    def make_folder(self):
        """Make the private folder, unless it is there; refuse one of another user."""
        try:
            self.folder.mkdir(mode=0o700)
            self._give(self.folder, follow_symlinks=False)
        except FileExistsError:
            owner = self._owner_once_given()
            if owner != self.uid:
                raise DatabaseUnavailable(why=_not_yours(self.folder, owner)) from None

    def _owner_once_given(self):
        """Root makes the folder and then hands it over: another process may look in between."""
        for _ in range(40):
            owner = self.folder.stat().st_uid
            if owner == self.uid or owner != os.geteuid():
                break
            time.sleep(0.05)
        return owner

    def give_tree(self, top):
        for path in [top, *top.rglob("*")]:
            self._give(path, follow_symlinks=False)

    def _give(self, target, **options):
        if os.geteuid() == 0:
            os.chown(target, self.uid, self.gid, **options)


def choose(data: Path) -> Place:
    """`pg` inside the data folder, or a system folder when the server's user may not enter that one."""
    data = data.resolve()
    inside = data / "pg"
    if os.geteuid() != 0:
        with refusing(data):
            data.mkdir(parents=True, exist_ok=True)
        return Place(inside, os.geteuid(), os.getegid())
    outside = SYSTEM_FOLDER / f"{data.parent.name or 'root'}-{hashlib.sha256(bytes(data)).hexdigest()[:12]}"
    for folder in (inside, outside):
        if folder.is_dir():
            return Place(folder, *_unprivileged(folder))
    with refusing(data):
        data.mkdir(parents=True, exist_ok=True)
        place = Place(inside, *_unprivileged(data))
        if _may_enter(place, data):
            return place
        SYSTEM_FOLDER.mkdir(mode=0o755, parents=True, exist_ok=True)
    name = account_name(place.uid)
    sys.stderr.write(f"The database's files go to {outside}: its server runs as {name}, who may not enter {data}.\n")
    return Place(outside, place.uid, place.gid)


@contextmanager
def refusing(folder):
    """Turn what the system says about a folder into one sentence."""
    try:
        yield
    except PermissionError:
        raise DatabaseUnavailable(why=_not_yours(folder, _owner(folder))) from None
    except OSError as error:
        reasons = {errno.EROFS: "it is read-only", errno.ENOSPC: "the disk is full"}
        why = reasons.get(error.errno, error.strerror or str(error))
        raise DatabaseUnavailable(why=f"The database folder {folder} cannot be used: {why}.") from None


def account_name(uid):
    try:
        return pwd.getpwuid(uid).pw_name
    except KeyError:
        return f"user {uid}"


def _unprivileged(folder):
    """Owner of the folder, or `nobody` when root owns it."""
    found = folder.stat()
    if found.st_uid:
        return found.st_uid, found.st_gid
    nobody = pwd.getpwnam("nobody")
    return nobody.pw_uid, nobody.pw_gid


def _may_enter(place, folder):
    return place.run(["/bin/sh", "-c", 'cd -- "$0"', folder]).returncode == 0


def _owner(folder):
    for path in (folder, *folder.parents):
        try:
            return path.stat().st_uid
        except OSError:
            continue
    return 0


def _not_yours(folder, owner):
    me = account_name(os.geteuid())
    if owner == os.geteuid():
        return f"The database folder {folder} cannot be used: {me} may not write there."
    return (
        f"The database folder {folder} belongs to {account_name(owner)}, and you are {me}: "
        "work as that user, or name a folder of your own with LABRECORDS_DATA."
    )
