"""Whose server, and where its files lie: every test works as real users in real folders."""

import os
import pwd
import shutil
from pathlib import Path

import pytest

from labrecords.postgresql import programs
from tests.labrecords.postgresql.lab import (
    CHECKOUT,
    MANAGE,
    Lab,
    as_normal_user,
    as_root,
    finish,
    is_one_sentence,
    owner,
    packages,
    remove,
)


@as_normal_user
def test_normal_user_gets_a_private_database_in_the_data_folder(lab):
    done = lab.run("print(ask('SELECT current_database(), current_setting(%s), lower(%s)', 'fsync', 'Ä'))")
    assert done.stdout == "[('labrecords', 'on', 'ä')]", done.stderr
    assert not done.stderr
    assert (lab.data / "pg").stat().st_mode & 0o777 == 0o700
    assert (lab.data / "pg" / "password").stat().st_mode & 0o777 == 0o600
    assert {owner(path) for path in (lab.data / "pg").rglob("*")} == {owner(lab.data)}
    assert not lab.pid, "the last process stops the server"


def test_throwaway_folder_does_not_wait_for_the_disk(quick):
    done = quick.run("print([ask(f'SHOW {name}') for name in ('fsync', 'synchronous_commit', 'full_page_writes')])")
    assert done.stdout == "[[('off',)], [('off',)], [('off',)]]"


@as_root
def test_root_hands_the_server_to_nobody_and_opens_no_folder(root_lab):
    root_lab.data.mkdir(mode=0o751)
    users = Path("/etc/passwd").read_bytes()
    assert root_lab.run("print(ask('SELECT 1'))").stdout == "[(1,)]"
    assert owner(root_lab.data / "pg" / "data") == pwd.getpwnam("nobody").pw_uid
    assert owner(root_lab.data) == 0
    assert [path.stat().st_mode & 0o777 for path in (root_lab.folder, root_lab.data)] == [0o755, 0o751]
    assert Path("/etc/passwd").read_bytes() == users


@as_root
@as_normal_user
def test_root_on_a_users_folder_does_not_lock_the_user_out(quick):
    assert quick.run("ask('CREATE TABLE t AS SELECT 7 AS n')", user=None).returncode == 0
    assert {owner(path) for path in (quick.data / "pg").rglob("*")} == {owner(quick.data)}
    assert quick.run("print(ask('SELECT n FROM t'))").stdout == "[(7,)]"


@as_root
def test_root_with_a_private_checkout_gets_a_system_folder_and_is_told_once(root_lab):
    home = root_lab.folder / "home"
    home.mkdir(mode=0o700)
    shutil.copytree(CHECKOUT / "labrecords", home / "labrecords", ignore=shutil.ignore_patterns("__pycache__"))
    package = programs.folder().parents[1]
    for part in (package, package.with_name(package.name + ".libs")):
        shutil.copytree(part, home / "packages" / part.name, ignore=shutil.ignore_patterns("include", "*.a"))
    root_lab.data = home / "var"
    private = {"LABRECORDS_PG_BIN": str(home / "packages" / package.name / programs.folder().parent.name / "bin")}
    private["PYTHONPATH"] = os.pathsep.join([str(root_lab.folder), str(home), *packages()])
    try:
        first = root_lab.run("print(server().place.folder); ask('CREATE TABLE t AS SELECT 7 AS n')", **private)
        assert first.returncode == 0, first.stderr
        chosen = Path(first.stdout)
        assert chosen.parent == Path("/var/lib/labrecords")
        assert first.stderr.splitlines() == [
            f"The database's files go to {chosen}: its server runs as nobody, who may not enter {root_lab.data}."
        ]
        again = root_lab.run("print(ask('SELECT n FROM t'))", **private)
        assert (again.stdout, again.stderr) == ("[(7,)]", "")
        assert home.stat().st_mode & 0o777 == 0o700
        assert chosen.stat().st_mode & 0o777 == 0o700
    finally:
        if "chosen" in locals():
            remove(chosen)
        if not any(Path("/var/lib/labrecords").glob("*")):
            Path("/var/lib/labrecords").rmdir()


@as_root
@as_normal_user
def test_two_users_work_at_the_same_time_on_their_own_folders(quick):
    other = Lab(quick.folder, "daemon", "other")
    other.environment = quick.environment
    other.data.mkdir()
    os.chown(other.data, pwd.getpwnam("daemon").pw_uid, pwd.getpwnam("daemon").pw_gid)
    both = [lab.start("print(ask('SELECT 1'), flush=True); time.sleep(1)") for lab in (quick, other)]
    done = [finish(process) for process in both]
    assert [(one.returncode, one.stdout) for one in done] == [(0, "[(1,)]")] * 2
    assert owner(other.data / "pg") == pwd.getpwnam("daemon").pw_uid


@as_root
def test_another_users_folder_is_refused_in_one_sentence(quick):
    assert quick.run("ask('SELECT 1')").returncode == 0
    for verb in ("start", "status"):
        done = quick.manage("db", verb, user="daemon")
        assert done.returncode == 1
        assert is_one_sentence(done.stderr)
        assert "belongs to nobody, and you are daemon" in done.stderr


@as_root
def test_another_user_of_the_machine_cannot_connect(quick):
    serving = quick.serve()
    stranger = quick.run(
        """
        import psycopg
        folder = os.environ["LABRECORDS_DATA"] + "/pg/data"
        try:
            psycopg.connect(host=folder, user="labrecords", dbname="labrecords")
        except psycopg.OperationalError as error:
            print(error)
        """,
        user="daemon",
    )
    assert "Permission denied" in stranger.stdout
    serving.terminate()
    finish(serving)


def test_path_of_150_characters_works_and_still_asks_for_the_password(quick):
    quick.data = quick.data / ("d" * (150 - len(str(quick.data)) - 1))
    assert len(str(quick.data)) == 150
    done = quick.run(
        """
        import psycopg
        print(ask('SELECT 1'))
        address = server().cluster.address()
        try:
            psycopg.connect(**address | {"password": "wrong"}, dbname="labrecords")
        except psycopg.OperationalError as error:
            print(address["host"], "password authentication failed" in str(error))
        """
    )
    assert done.stdout.splitlines() == ["[(1,)]", "127.0.0.1 True"], done.stderr


def test_path_with_blanks_quotes_and_dollars_works(quick):
    quick.data = quick.data / "a 'b' \"c\" $HOME, ü"
    assert quick.run("print(ask('SELECT 1'))").stdout == "[(1,)]"


@as_normal_user
def test_read_only_folder_is_refused_in_one_sentence(lab):
    lab.data.chmod(0o555)
    done = lab.manage("db", "start")
    lab.data.chmod(0o755)
    assert done.returncode == 1
    assert is_one_sentence(done.stderr)
    assert "may not write there" in done.stderr


@as_root
def test_read_only_disk_is_refused_in_one_sentence(root_lab):
    root_lab.data.mkdir()
    script = 'mount -t tmpfs -o ro none "$LABRECORDS_DATA" || exit 77; exec "$0" "$@"'
    done = finish(root_lab.spawn([MANAGE, "db", "start"], before=["unshare", "-m", "sh", "-c", script]))
    if done.returncode == 77 or "unshare" in done.stderr:
        pytest.skip("this machine lets nobody mount a file system")
    assert done.returncode == 1
    assert is_one_sentence(done.stderr)
    assert "it is read-only" in done.stderr
