"""F3: a disk runs full while people enter readings; nothing is acknowledged that is not stored, and room heals it."""

import json
import subprocess
import sys

import pytest

from tests.faults.figures import long
from tests.labrecords.postgresql.lab import CHECKOUT, IS_ROOT, new_folder, remove


def fill_disk(disk, fills, removed=""):
    """Run in a mount namespace of its own (tests/faults/full_disk.py); its figures."""
    if not IS_ROOT:
        pytest.skip("only root can mount a small disk")
    folder = new_folder()
    try:
        done = subprocess.run(
            ["unshare", "-m", sys.executable, "-m", "tests.faults.full_disk", str(folder), disk, str(fills), removed],
            cwd=CHECKOUT,
            capture_output=True,
            text=True,
            check=False,
        )
    finally:
        remove(folder)
    if done.returncode == 77 or "unshare:" in done.stderr:
        pytest.skip("this machine lets nobody mount a file system")
    assert done.returncode == 0, done.stderr[-3000:]
    print(done.stdout)
    return json.loads(done.stdout.splitlines()[-1])


@pytest.mark.parametrize(
    ("disk", "fills"),
    [
        ("data", 1),
        pytest.param("data", long(20), marks=pytest.mark.slow),
        pytest.param("log", long(20), marks=pytest.mark.slow),
    ],
)
def test_full_disk_acknowledges_nothing_that_is_not_stored_and_room_heals_it(disk, fills):
    found = fill_disk(disk, fills)
    assert (found["tried"], found["healed"]) == (fills, fills)
    assert found["refused_while_full"] > 0, "the disk was never full"
    assert found["acknowledged"] > fills
    assert (found["lost"], found["half"], found["doubled"], found["wrong"]) == (0, 0, 0, 0), found


@pytest.mark.thorough
def test_ignored_write_errors_are_found():
    """Control: what could not be stored is answered as if it were."""
    found = fill_disk("data", 1, "refusal_of_write_errors")
    assert found["lost"] > 0, found
