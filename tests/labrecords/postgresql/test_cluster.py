"""Faults: real processes are killed and real files left behind; nothing acknowledged may be lost."""

import os
import re
import signal
import subprocess
import time

import psutil
import pytest

from tests.labrecords.postgresql.lab import QUERY, as_root, finish, is_one_sentence, other_version, wait_for

WRITER = """
ask('CREATE TABLE IF NOT EXISTS t (n int PRIMARY KEY)')
for n in range(100000):
    ask('INSERT INTO t VALUES (%s)', n)
    print(n, flush=True)   # only what the server has acknowledged
"""


def write_until(lab, count):
    """A process that writes, and the number of rows acknowledged when it was stopped by the test's blow."""
    writer = lab.start(WRITER)
    for _ in range(count):
        assert writer.stdout.readline(), writer.stderr.read()
    return writer


def test_kill_9_of_the_starter_loses_nothing_and_leaves_no_orphan_for_good(lab):
    writer = write_until(lab, 200)
    writer.kill()
    acknowledged = 200 + len(writer.stdout.readlines())
    finish(writer)
    assert lab.pid, "nobody was left to stop it"
    done = lab.run("print(ask('SELECT count(*), max(n) FROM t')[0])")
    rows, highest = map(int, re.findall(r"\d+", done.stdout))
    assert rows == highest + 1
    assert acknowledged <= rows <= acknowledged + 1  # one more may have been stored but not yet reported
    assert not lab.pid, "the next process that ended cleanly has stopped it"


def test_kill_9_while_the_database_is_made_leaves_no_half_database(lab):
    starter = lab.start("ask('SELECT 1')")
    wait_for(lambda: list((lab.data / "pg").glob("new-*/base")) if os.access(lab.data / "pg", os.X_OK) else None)
    starter.kill()
    finish(starter)
    done = lab.run("print(ask('SELECT current_database()'))")
    assert done.stdout == "[('labrecords',)]", done.stderr
    assert not list((lab.data / "pg").glob("new-*"))


def test_kill_9_of_the_server_is_recovered_by_the_process_that_still_uses_it(lab):
    done = lab.run(
        """
        import psutil, signal
        ask('CREATE TABLE t AS SELECT generate_series(1, 1000) AS n')
        server_process = psutil.Process(pid())
        for process in [server_process, *server_process.children()]:
            process.kill()
        try:
            ask('SELECT 1')
        except Exception as error:
            print(type(error).__name__)
        connection.close()
        print(ask('SELECT count(*) FROM t'), pid() != server_process.pid)
        """
    )
    assert done.stdout.splitlines() == ["OperationalError", "[(1000,)] True"], done.stderr
    assert not lab.pid


def test_kill_9_of_server_and_starter_together_loses_nothing_acknowledged(lab):
    writer = write_until(lab, 200)
    server = psutil.Process(lab.pid)
    for process in [server, *server.children()]:
        process.kill()
    writer.kill()
    acknowledged = 200 + len(writer.stdout.readlines())
    finish(writer)
    done = lab.run("print(ask('SELECT count(*) FROM t')[0][0])")
    assert acknowledged <= int(done.stdout) <= acknowledged + 1


def test_kill_9_of_only_the_head_process_while_a_worker_is_busy(lab):
    busy = lab.start("ask('SELECT pg_sleep(3)')")
    head = wait_for(lambda: lab.pid)
    wait_for(lambda: (lab.data / "pg" / "data" / "postmaster.pid").read_text().count("ready"))
    time.sleep(0.5)
    os.kill(head, signal.SIGKILL)
    assert lab.run("print(ask('SELECT 1'))").stdout == "[(1,)]"
    assert finish(busy).returncode != 0


def test_pid_of_a_living_stranger_is_not_taken_for_the_server(quick):
    assert quick.run("ask('CREATE TABLE t AS SELECT 7 AS n')").returncode == 0
    with subprocess.Popen(["sleep", "60"]) as stranger:
        stale = quick.data / "pg" / "data" / "postmaster.pid"
        stale.write_text(f"{stranger.pid}\n{stale.parent}\n1700000000\n5432\n.\n\n  123 456\nready   \n")
        assert "not running" in quick.manage("db", "status").stdout
        done = quick.run("print(ask('SELECT n FROM t'))")
        assert (done.stdout, done.stderr) == ("[(7,)]", "")
        assert stranger.poll() is None, "the stranger lives on"
        stranger.kill()


def test_sigterm_of_the_serving_process_stops_the_server(lab):
    serving = lab.serve()
    assert lab.pid
    serving.send_signal(signal.SIGTERM)
    finish(serving)
    assert not lab.pid
    assert "database system is shut down" in (lab.data / "pg" / "server.log").read_text()


@pytest.mark.slow
def test_recovery_longer_than_ten_seconds_is_waited_for_by_all(lab):
    """Real log to read again: random inserts into indexes, no checkpoint, then kill -9 of everything."""
    made = lab.run(
        """
        import psutil
        ask("ALTER SYSTEM SET max_wal_size = '20GB'"); ask("ALTER SYSTEM SET checkpoint_timeout = '1h'")
        ask("SELECT pg_reload_conf()")
        ask("CREATE TABLE t (a uuid PRIMARY KEY, b uuid UNIQUE, c uuid UNIQUE)")
        begun = time.monotonic()
        while time.monotonic() - begun < 60:
            ask("INSERT INTO t SELECT gen_random_uuid(), gen_random_uuid(), gen_random_uuid() "
                "FROM generate_series(1, 20000)")
        print(ask("SELECT count(*) FROM t")[0][0])
        head = psutil.Process(pid())
        for process in [head, *head.children()]:
            process.kill()
        """
    )
    written = made.stdout
    begun = time.monotonic()
    starters = [lab.start("print(ask('SELECT count(*) FROM t')[0][0])") for _ in range(3)]
    done = [finish(process) for process in starters]
    assert time.monotonic() - begun > 10, "this was no long recovery"
    assert [one.stdout for one in done] == [written] * 3
    assert any("recovering after a crash" in one.stderr for one in done)
    assert not any("Traceback" in one.stderr for one in done)


COUNT = "print(ask('SELECT count(*) FROM t')[0][0])"
FILL_DISK = """
ask('CREATE TABLE t (n int PRIMARY KEY, filling text)')
ask('ALTER TABLE t ALTER filling SET STORAGE EXTERNAL')   # not compressed
for n in range(1000):
    try:
        ask("INSERT INTO t VALUES (%s, repeat(md5(%s::text), 30000))", n, n)
    except Exception as error:
        print(n, type(error).__name__)
        break
"""


@as_root
def test_full_disk_loses_nothing_acknowledged_once_there_is_room(root_lab):
    root_lab.environment = {}
    root_lab.data.mkdir()
    (root_lab.folder / "fill.py").write_text(QUERY + FILL_DISK)
    (root_lab.folder / "count.py").write_text(QUERY + COUNT)
    script = """
        mount -t tmpfs -o size=260m none "$LABRECORDS_DATA" || exit 77
        "$0" fill.py; mount -o remount,size=600m "$LABRECORDS_DATA"; "$0" count.py
    """
    done = finish(root_lab.spawn([], before=["unshare", "-m", "sh", "-c", script]))
    if done.returncode == 77 or "unshare" in done.stderr:
        pytest.skip("this machine lets nobody mount a file system")
    acknowledged, error, kept = done.stdout.split()
    assert error in {"OperationalError", "DiskFull", "InternalError"}
    assert int(acknowledged) > 50
    assert int(kept) in {int(acknowledged), int(acknowledged) + 1}, done.stderr


def test_database_of_another_major_version_is_refused_with_the_way_out(quick):
    old = other_version()
    assert quick.run("ask('SELECT 1')", LABRECORDS_PG_BIN=old).returncode == 0
    done = quick.manage("db", "start")
    assert done.returncode == 1
    assert is_one_sentence(done.stderr)
    assert all(word in done.stderr for word in ("PostgreSQL 16", "version 18", "db backup", "db restore"))
