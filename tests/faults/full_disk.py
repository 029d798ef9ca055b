"""Fills a small disk of its own: unshare -m python -m tests.faults.full_disk FOLDER data|log TIMES [NAME,…]"""

import json
import os
import subprocess
import sys
import time
from dataclasses import asdict
from pathlib import Path

from tests.faults.load import Load
from tests.faults.site import Site
from tests.faults.stored import check

MB = 2**20
ROOM = 24 * MB  # left when the ballast lies on the disk: one file of the server's log and a little more


def main():
    folder, disk, fills, removed = Path(sys.argv[1]), sys.argv[2], int(sys.argv[3]), sys.argv[4]
    site = Site(folder)
    if disk == "data":
        _mount(site.data, 700)
    begun = time.monotonic()
    try:
        site.seed()
        if disk == "log":
            _move_log(site)
        with site.nursery(removed) as nursery:
            site.start_web_from(nursery)
            full = site.data / "pg/data/pg_wal" if disk == "log" else site.data
            load, refused, healed = _fill(site, full, fills, removed)
        name = f"F3 full disk under the {'log' if disk == 'log' else 'data'}"
        name += ", control: write errors ignored" if removed else ""
        note = f"{refused} requests refused while it was full, healed {healed} of {fills} times"
        found = check(site, load, name, fills, time.monotonic() - begun, note).tell()
        print(json.dumps(asdict(found) | {"healed": healed, "refused_while_full": refused}))
    finally:
        site.kill_web()
        site.kill_database()


def _fill(site, full, fills, removed):
    healed = 0
    with Load(site, clients=3) as load:
        for _ in range(fills):
            load.wait_for_an_answer()
            before, ballast = len(load.failures), _ballast(full)
            end = time.monotonic() + (6 if removed else 90)
            # The server's own files grow until nothing more goes on the disk.
            while len(load.failures) < before + 3 and time.monotonic() < end:
                _grow(site)
                time.sleep(0.05)
            ballast.unlink()
            load.wait_for_an_answer()
            healed += 1
    return load, len(load.failures), healed


def _ballast(folder):
    """A file that leaves only ROOM."""
    place = os.statvfs(folder)
    path = Path(folder).resolve() / "ballast"
    with open(path, "wb") as file:
        os.posix_fallocate(file.fileno(), 0, max(place.f_bavail * place.f_frsize - ROOM, MB))
    return path


def _grow(site):
    """Other work that takes the rest of the disk: rows of a table beside the records."""
    try:
        site.ask("CREATE TABLE IF NOT EXISTS filling (t text)")
        site.ask("INSERT INTO filling SELECT repeat(md5(n::text), 30) FROM generate_series(1, 2000) n")
    except Exception as problem:
        print(type(problem).__name__, file=sys.stderr)


def _move_log(site):
    """The server's log on a disk of its own, as an operator would do it: stopped, moved, linked."""
    site.run(["manage.py", "db", "stop"])
    log, disk = site.data / "pg/data/pg_wal", site.folder / "log"
    disk.mkdir()
    _mount(disk, 160)
    owner = log.stat()
    subprocess.run(["cp", "-a", f"{log}/.", str(disk)], check=True)
    subprocess.run(["rm", "-r", str(log)], check=True)
    os.chown(disk, owner.st_uid, owner.st_gid)
    disk.chmod(0o700)
    log.symlink_to(disk)
    site.run(["manage.py", "db", "start"])


def _mount(folder, megabytes):
    if subprocess.run(
        ["mount", "-t", "tmpfs", "-o", f"size={megabytes}m", "none", str(folder)], check=False
    ).returncode:
        sys.exit(77)
    folder.chmod(0o755)


if __name__ == "__main__":
    main()
