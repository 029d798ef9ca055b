"""F10, first half: kill -9 of `migrate`: each migration is there as a whole or not at all, and the next run goes on."""

import subprocess
import sys
import time

import pytest

from tests.faults.figures import Figures, long
from tests.faults.migrating import fingerprint
from tests.faults.site import Site
from tests.labrecords.postgresql.lab import new_folder


@pytest.fixture(scope="module")
def empty():
    """A lab whose database has no tables."""
    made = Site(new_folder())
    made.run(["manage.py", "db", "start"])
    yield made
    made.remove()


@pytest.fixture(scope="module")
def states(empty):
    """Fingerprint of the schema after each number of migrations, and how long all of them take."""
    return whole_states(empty)


def migrate(site, removed=""):
    pipe = subprocess.PIPE
    arguments = [sys.executable, "-m", "tests.faults.migrating", removed]
    return subprocess.Popen(arguments, **site.surroundings(), stdout=pipe, stderr=pipe, text=True)


def empty_it(site):
    site.ask("DROP SCHEMA public CASCADE")
    site.ask("CREATE SCHEMA public")


def whole_states(site):
    empty_it(site)
    begun, begins = time.monotonic(), 0.0
    with migrate(site) as process:
        states = {0: fingerprint(site.ask)}
        for line in process.stdout:
            begins = begins or time.monotonic() - begun
            if line.startswith("done"):
                states[len(states)] = line.split()[-1]
        assert process.wait() == 0, process.stderr.read()
    return states, time.monotonic() - begun - begins


def applied(site):
    there = site.ask("SELECT to_regclass('django_migrations') IS NOT NULL")[0][0]
    return site.ask("SELECT count(*) FROM django_migrations")[0][0] if there else 0


def kill_migrations(site, whole, draw, kills, removed="", until_half=False):
    begun = time.monotonic()
    states, lasts = whole
    half, stuck, done = 0, 0, 0
    while done < kills:
        empty_it(site)
        with migrate(site, removed) as process:
            process.stdout.readline()
            time.sleep(draw.uniform(0, lasts))
            if process.poll() is not None:
                continue  # too late: it had ended
            process.kill()
        _wait_for_its_worker(site)
        done += 1
        # The table of migrations itself comes before the first of them.
        half += applied(site) > 0 and fingerprint(site.ask) != states[applied(site)]
        if half and until_half:
            break
        with migrate(site) as again:
            _, said = again.communicate()
            stuck += again.returncode != 0 or fingerprint(site.ask) != states[len(states) - 1]
            assert not said or removed, said[-2000:]
    control = ", control: migrations not atomic" if removed else ""
    seconds = time.monotonic() - begun
    note = f"{len(states) - 1} migrations; “wrong”: the next one did not get to the end"
    return Figures(f"F10 kill -9 of migrate{control}", done, half=half, wrong=stuck, seconds=seconds, note=note).tell()


def _wait_for_its_worker(site):
    end = time.monotonic() + 30
    others = "SELECT count(*) FROM pg_stat_activity WHERE datname = current_database() AND pid <> pg_backend_pid()"
    while site.ask(others)[0][0]:
        assert time.monotonic() < end
        time.sleep(0.02)


@pytest.mark.parametrize(
    "kills", [pytest.param(4, marks=pytest.mark.thorough), pytest.param(long(50), marks=pytest.mark.slow)]
)
def test_kill_9_of_migrate_leaves_no_half_migration(empty, states, draw, kills):
    found = kill_migrations(empty, states, draw, kills)
    assert found.is_clean, found


@pytest.mark.thorough
def test_migrations_that_are_not_atomic_are_found_half_done(empty, states, draw):
    """Control."""
    assert kill_migrations(empty, states, draw, 8, "atomic_migrations", until_half=True).half > 0
