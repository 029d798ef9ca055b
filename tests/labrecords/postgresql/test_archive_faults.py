"""Back-up and restore that are killed, run out of disk, or run while others write."""

import random
import re
import time

import psutil
import pytest

from labrecords.archive.container import opened
from tests.labrecords.archive.conftest import never
from tests.labrecords.archive.test_db_command import real_lab
from tests.labrecords.postgresql.lab import MANAGE, Lab, as_root, finish, is_one_sentence, new_folder, wait_for

# Not to be compressed, so that there is something to write.
BULK = """
ask("CREATE TABLE bulk (n int PRIMARY KEY, filling text)")
ask("INSERT INTO bulk SELECT n, (SELECT string_agg(md5(random()::text), '') FROM generate_series(1, 30) WHERE n > 0) "
    "FROM generate_series(1, {rows}) n")
"""
OTHERS = "SELECT count(*) FROM pg_stat_activity WHERE backend_type = 'client backend' AND pid <> pg_backend_pid()"


def bulk(lab, rows):
    made = lab.run(BULK.replace("{rows}", str(rows)))
    assert made.returncode == 0, made.stderr
    assert lab.manage("db", "start").returncode == 0  # what is measured here is not the server's start


def killed(process, after):
    """Kill it -9 after so many seconds; false when it had ended before."""
    time.sleep(after)
    was_running = process.poll() is None
    process.kill()
    process.communicate()
    return was_running


def kill_backups(lab, times):
    """How many attempts were killed while an archive was being written."""
    seen = 0
    target = lab.data / "killed.tar"
    draw = random.Random(times)
    for _ in range(times):
        process = lab.spawn([MANAGE, "db", "backup", str(target)])
        wait_for(lambda process=process: list(lab.data.glob("killed.tar.*.partial")) or process.poll() is not None)
        seen += killed(process, draw.uniform(0, 0.4))
        if target.exists():  # it had ended: whole, or this test fails
            with opened(target, never) as archive:
                assert archive.problems() == []
            target.unlink()
    return seen


@pytest.mark.parametrize(
    "times", [1, pytest.param(4, marks=pytest.mark.thorough), pytest.param(50, marks=pytest.mark.slow)]
)
def test_kill_9_of_a_backup_leaves_nothing_under_its_name(quick, times):
    bulk(quick, 10_000)
    seen = kill_backups(quick, times)
    assert seen >= times / 2, "hardly any was killed in the middle"
    assert list(quick.data.glob("killed.tar.*.partial")), "a killed attempt does leave its partial file"
    done = quick.manage("db", "backup", str(quick.data / "killed.tar"))
    assert done.returncode == 0, done.stderr
    assert not list(quick.data.glob("*.partial")), "which the next attempt sweeps"
    with opened(quick.data / "killed.tar", never) as archive:
        assert archive.problems() == []
        assert archive.manifest.tables["public.bulk"].rows == 10_000
    quick.manage("db", "stop")
    print(f"back-ups: {times} started, {seen} killed while writing, 0 left under the name")


@pytest.mark.parametrize(
    "times", [1, pytest.param(4, marks=pytest.mark.thorough), pytest.param(50, marks=pytest.mark.slow)]
)
def test_kill_9_of_a_restore_leaves_the_database_empty(quick, times):
    bulk(quick, 10_000)
    file = quick.data / "lab.tar"
    assert quick.manage("db", "backup", str(file)).returncode == 0
    quick.manage("db", "stop")
    second = Lab(quick.folder, quick.user, "data/second")
    second.environment = quick.environment
    assert second.manage("db", "start").returncode == 0
    draw, seen = random.Random(times), 0
    for _ in range(times):
        process = second.spawn([MANAGE, "db", "restore", str(file)])
        wait_for(lambda process=process: loads(second) or process.poll() is not None)
        assert killed(process, draw.uniform(0, 0.15)), "it had ended before it could be killed"
        seen += 1
        tables = second.run(
            f"""
            while ask("{OTHERS}")[0][0]:
                time.sleep(0.02)
            print(connection.introspection.table_names())
            """
        )
        assert tables.stdout == "[]", tables.stderr
    done = second.manage("db", "restore", str(file))
    assert done.returncode == 0, done.stderr
    assert second.run("print(ask('SELECT count(*) FROM bulk'))").stdout == "[(10000,)]"
    second.manage("db", "stop")
    print(f"restores: {seen} killed, 0 with anything left in the database")


def loads(lab):
    """Whether psql is at work on this folder's server."""
    found = psutil.process_iter(["name", "cmdline"])
    return any(p.info["name"] == "psql" and str(lab.data) in " ".join(p.info["cmdline"] or ()) for p in found)


WRITER = """
from tests.factories import make_lot, make_person
from labrecords.actions import coupons
by = make_person("quality")
lot = make_lot(by)
print("ready", flush=True)
for n in range(100000):
    coupons.log(by=by, lot=lot, exposed_area_mm2=1600.0)
    print(n + 1, flush=True)   # only what has been acknowledged
"""
LOGGED = """
numbers = [int(code[6:10]) for code, in ask("SELECT code FROM labrecords_coupon ORDER BY code")]
events = ask("SELECT count(*) FROM labrecords_couponevent WHERE pgh_label = 'insert'")[0][0]
last = ask("SELECT last_coupon_number FROM labrecords_laboratory")[0][0]
print(len(numbers), numbers == list(range(1, len(numbers) + 1)), events == len(numbers), last == len(numbers))
"""


@pytest.mark.thorough
def test_backup_while_others_write_holds_one_moment():
    source, target = real_lab(new_folder()), real_lab(new_folder())
    try:
        assert source.manage("migrate", "-v0").returncode == 0
        writer = source.start(WRITER)
        assert writer.stdout.readline() == "ready\n", writer.stderr.read()
        before = [writer.stdout.readline() for _ in range(20)]
        done = source.manage("db", "backup", str(source.data / "lab.tar"))
        assert done.returncode == 0, done.stderr
        after = [writer.stdout.readline() for _ in range(5)]
        writer.terminate()
        acknowledged = int([*after, *writer.stdout.readlines()][-1])
        finish(writer)
        with opened(source.data / "lab.tar", never) as archive:
            counted = archive.manifest.tables["public.labrecords_coupon"].rows
        assert int(before[-1]) <= counted < acknowledged, "the writing went on meanwhile"
        assert target.manage("db", "restore", str(source.data / "lab.tar")).returncode == 0
        # A prefix: the coupons from the first to the last of that moment, each with its entry in the trail.
        assert target.run(LOGGED).stdout == f"{counted} True True True"
    finally:
        source.remove()
        target.remove()


def test_write_that_fails_at_any_place_is_one_sentence_and_leaves_nothing(quick):
    """The system refuses to let the file grow beyond a share of what it needs."""
    bulk(quick, 2_000)
    whole = quick.data / "whole.tar"
    assert quick.manage("db", "backup", str(whole)).returncode == 0
    for share in (0, 0.01, 0.5, 0.99):
        blocks = int(whole.stat().st_size * share / 512)
        limited = ["sh", "-c", f'ulimit -f {blocks}; exec "$0" "$@"']
        done = finish(quick.spawn([MANAGE, "db", "backup", str(quick.data / "lab.tar")], before=limited))
        assert done.returncode == 1, share
        assert is_one_sentence(done.stderr)
        assert "cannot be written: File too large" in done.stderr
        assert sorted(path.name for path in quick.data.glob("*.tar*")) == ["whole.tar"], share
    quick.manage("db", "stop")


@as_root
def test_full_disk_is_one_sentence_and_leaves_nothing(root_lab):
    """On a small disk that another program fills as soon as the back-up has begun."""
    root_lab.data.mkdir()
    bulk(root_lab, 30_000)
    disk = root_lab.folder / "disk"
    disk.mkdir()
    script = f"""
        mount -t tmpfs -o size=64m none {disk} || exit 77
        (until ls {disk}/*.partial >/dev/null 2>&1; do sleep 0.01; done; cat /dev/zero > {disk}/filler) 2>/dev/null &
        "$0" "$@"; code=$?
        wait; ls {disk}; exit $code
    """
    command = [MANAGE, "db", "backup", f"{disk}/lab.tar"]
    done = finish(root_lab.spawn(command, before=["unshare", "-m", "sh", "-c", script]))
    root_lab.manage("db", "stop")
    if done.returncode == 77 or "unshare" in done.stderr:
        pytest.skip("this machine lets nobody mount a file system")
    assert done.returncode == 1
    assert is_one_sentence(done.stderr)
    assert "cannot be written: No space left on device" in done.stderr
    assert done.stdout == "filler"


@as_root
def test_disk_that_is_too_small_is_refused_before_anything_is_written(root_lab):
    root_lab.data.mkdir()
    bulk(root_lab, 10)
    disk = root_lab.folder / "disk"
    disk.mkdir()
    script = f'mount -t tmpfs -o size=1m none {disk} || exit 77; "$0" "$@"; code=$?; ls {disk}; exit $code'
    command = [MANAGE, "db", "backup", f"{disk}/lab.tar"]
    done = finish(root_lab.spawn(command, before=["unshare", "-m", "sh", "-c", script]))
    root_lab.manage("db", "stop")
    if done.returncode == 77 or "unshare" in done.stderr:
        pytest.skip("this machine lets nobody mount a file system")
    assert is_one_sentence(done.stderr)
    assert re.search(r"has \d+ MB free; the back-up may need \d+ MB", done.stderr)
    assert done.stdout == ""


def test_backup_to_a_folder_that_is_not_there_is_one_sentence(quick):
    quick.run("ask('SELECT 1')")
    done = quick.manage("db", "backup", str(quick.data / "nowhere" / "lab.tar"))
    assert is_one_sentence(done.stderr)
    assert "No such file or directory" in done.stderr


MANY = """
from django.core.management import call_command
call_command("migrate", verbosity=0)
from labrecords import trail
from labrecords.models import Reading
from tests.factories import make_person, make_run
by = make_person("quality")
run = make_run(by)
with trail.recorded("tests", "many readings"):
    for start in range(0, 100000, 10000):
        Reading.objects.bulk_create(
            Reading(run=run, quantity="sliding_angle", position=str(n // 1000), drop=n % 1000 + 1, value=n % 29,
                    created_by=by) for n in range(start, start + 10000))
print(Reading.objects.count())
"""


@pytest.mark.slow
def test_time_to_restore_100_000_readings():
    source = real_lab(new_folder())
    source.environment.pop("LABRECORDS_THROWAWAY")
    try:
        made = finish(source.start(MANY), 1500)
        assert made.stdout == "100000", made.stderr
        begun = time.monotonic()
        done = source.manage("db", "backup", str(source.data / "lab.tar"))
        print(f"back-up {time.monotonic() - begun:.1f} s: {done.stdout}")
        drilled = source.manage("db", "drill", str(source.data / "lab.tar"))
        print(drilled.stdout)
        assert drilled.returncode == 0, drilled.stdout + drilled.stderr
        assert float(re.search(r"RTO +([\d.]+) s", drilled.stdout)[1]) < 120
    finally:
        source.remove()
