"""Starting after a crash, and while others start, use or leave the same server."""

import os
import time
from contextlib import suppress

import psutil
import pytest

from tests.labrecords.postgresql.lab import MANAGE, as_root, finish, is_one_sentence, wait_for
from tests.labrecords.postgresql.test_cluster import write_until

COUNT = "print(ask('SELECT count(*) FROM t')[0][0])"


def kill_server(lab):
    head = psutil.Process(lab.pid)
    for process in [head, *head.children()]:
        process.kill()
    wait_for(lambda: not lab.pid)


def crashed(lab):
    """A lab whose server and starter were killed while they wrote; rows acknowledged."""
    writer = write_until(lab, 100)
    kill_server(lab)
    writer.kill()
    acknowledged = 100 + len(writer.stdout.readlines())
    finish(writer)
    return acknowledged


def test_kill_9_of_the_starter_does_not_disturb_another_process_that_uses_the_server(lab):
    starter = write_until(lab, 20)
    other = lab.start(
        """
        print(pid(), flush=True)
        end = time.monotonic() + 3
        count = 0
        while time.monotonic() < end:
            ask('SELECT 1'); count += 1
        print(count > 10, pid())
        """
    )
    before = other.stdout.readline().strip()
    starter.kill()
    finish(starter)
    assert lab.run("print(pid())").stdout == before, "a third process finds the same server"
    done = finish(other)
    assert (done.stdout, done.stderr) == (f"True {before}", "")
    assert not lab.pid, "the last of them has stopped it"


def test_two_starts_at_once_after_a_crash_share_one_recovered_server(lab):
    acknowledged = crashed(lab)
    both = [lab.start(COUNT + "; print(pid()); time.sleep(1)") for _ in range(2)]
    done = [finish(process) for process in both]
    assert [one.returncode for one in done] == [0, 0], [one.stderr for one in done]
    assert done[0].stdout == done[1].stdout
    assert acknowledged <= int(done[0].stdout.split()[0]) <= acknowledged + 1
    assert not lab.pid


def test_kill_9_in_the_middle_of_starts_after_a_crash_loses_nothing(lab):
    acknowledged = crashed(lab)
    for moment in (0.15, 0.3, 0.45, 0.6):
        starter = lab.start(COUNT)
        time.sleep(moment)
        starter.kill()
        finish(starter)
        with suppress(psutil.NoSuchProcess):  # it may be about to end by itself
            kill_server(lab)
    assert acknowledged <= int(lab.run(COUNT).stdout) <= acknowledged + 1


def test_process_killed_while_it_holds_the_start_lock_keeps_nobody_waiting(quick):
    holder = quick.start(
        """
        server().place.make_folder()
        with server()._one_at_a_time():
            print("held", flush=True); time.sleep(600)
        """
    )
    assert holder.stdout.readline() == "held\n"
    waiting = quick.start("print(ask('SELECT 1'))")
    time.sleep(1)
    assert waiting.poll() is None, "nobody starts while another one does"
    holder.kill()
    finish(holder)
    assert finish(waiting, 60).stdout == "[(1,)]"


def test_files_left_by_a_crash_stop_nobody(lab):
    """Locks, the socket and its lock, and the mark of `db start`, as after a power cut."""
    lab.manage("db", "start")
    lab.run("ask('CREATE TABLE t AS SELECT 7 AS n')")
    kill_server(lab)
    folder = lab.data / "pg"
    left = {path.name for path in [*folder.iterdir(), *(folder / "data").iterdir()]}
    assert {"start.lock", "lease.lock", "keep-running", "postmaster.pid"} <= left
    assert "not running" in lab.manage("db", "status").stdout
    done = lab.run("print(ask('SELECT n FROM t'))")
    assert (done.stdout, done.stderr) == ("[(7,)]", "")
    assert lab.pid, "the mark of `db start` still holds"
    assert lab.manage("db", "stop").stdout == "The database has stopped."


def test_interrupted_server_process_is_started_again_for_the_process_that_uses_it(quick):
    """An operator ends the server by its own signal while somebody works."""
    done = quick.run(
        """
        import signal
        ask('CREATE TABLE t AS SELECT 7 AS n')
        os.kill(pid(), signal.SIGTERM); connection.close()
        while pid():
            time.sleep(0.01)
        print(ask('SELECT n FROM t'))
        """
    )
    assert done.stdout == "[(7,)]", done.stderr


@as_root
@pytest.mark.parametrize("megabytes", [20, 120])
def test_disk_too_full_for_a_database_is_refused_and_nothing_is_left_half(root_lab, megabytes):
    root_lab.data.mkdir()
    script = f"""
        mount -t tmpfs -o size={megabytes}m none "$LABRECORDS_DATA" || exit 77
        chmod 755 "$LABRECORDS_DATA"
        "$0" "{MANAGE}" db start 1>&2; ls "$LABRECORDS_DATA/pg"
        mount -o remount,size=600m "$LABRECORDS_DATA"
        "$0" "{MANAGE}" db start && "$0" "{MANAGE}" db stop
    """
    done = finish(root_lab.spawn([], before=["unshare", "-m", "sh", "-c", script]))
    if done.returncode == 77 or "unshare" in done.stderr:
        pytest.skip("this machine lets nobody mount a file system")
    assert is_one_sentence(done.stderr)
    assert "has less than 200 MB free" in done.stderr
    assert "data" not in done.stdout.split()[:2]
    assert "The database has stopped." in done.stdout
    assert os.path.ismount(root_lab.data) is False, "the disk was the child's own"
