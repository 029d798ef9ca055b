"""Who starts the server, who shares it and who stops it."""

import pytest

from tests.labrecords.postgresql.lab import finish, wait_for


def test_five_starts_at_once_share_one_new_server(quick):
    code = "ask('SELECT 1'); print(pid(), flush=True); time.sleep(1)"
    done = [finish(process) for process in [quick.start(code) for _ in range(5)]]
    assert [one.stderr for one in done] == [""] * 5
    assert len({one.stdout for one in done}) == 1
    assert not quick.pid


def test_many_threads_of_one_process_share_one_server(root_lab):
    done = root_lab.run(
        """
        import threading
        found, together = [], threading.Barrier(8)
        def work():
            together.wait(); ask('SELECT 1'); found.append(pid()); connection.close()
        threads = [threading.Thread(target=work) for _ in range(8)]
        [thread.start() for thread in threads]; [thread.join() for thread in threads]
        print(len(found), len(set(found)))
        """
    )
    assert (done.stdout, done.stderr) == ("8 1", "")
    assert not root_lab.pid


def test_a_process_that_ends_leaves_the_server_to_the_others(quick):
    serving = quick.serve()
    before = quick.pid
    assert quick.run("print(ask('SELECT 1'))").stdout == "[(1,)]"
    assert quick.pid == before
    serving.terminate()
    finish(serving)
    assert not quick.pid


def test_a_forked_child_does_not_stop_its_parents_server(quick):
    done = quick.run(
        """
        ask('SELECT 1'); before = pid(); connection.close()
        child = os.fork()
        if not child:
            print(ask('SELECT 2'), flush=True)   # takes a lease of its own
            sys.exit(0)                          # and runs the parent's exit calls, too
        os.waitpid(child, 0)
        print(ask('SELECT 3'), pid() == before)
        """
    )
    assert done.stdout.splitlines() == ["[(2,)]", "[(3,)] True"], done.stderr
    assert not quick.pid


def test_a_child_forked_while_a_thread_starts_the_server_is_not_stuck(quick):
    child = quick.start(
        """
        import threading
        starting = threading.Thread(target=lambda: ask('SELECT 1'))
        starting.start()
        while not (server().place.folder / "start.lock").exists():
            time.sleep(0.001)
        child = os.fork()
        print(ask('SELECT 2' if child else 'SELECT 3'), flush=True)
        if child:
            os.waitpid(child, 0)
            starting.join()
        """
    )
    assert sorted(finish(child, 30).stdout.splitlines()) == ["[(2,)]", "[(3,)]"]
    wait_for(lambda: not quick.pid)


def test_started_server_stays_until_it_is_stopped(quick):
    assert quick.manage("db", "start").returncode == 0
    started = quick.pid
    assert started
    assert quick.run("print(pid())").stdout == str(started)
    assert "ready" in quick.manage("db", "status").stdout
    assert quick.pid == started
    assert quick.manage("db", "stop").stdout == "The database has stopped."
    assert not quick.pid
    assert quick.manage("db", "stop").stdout == "The database was not running."


def test_stop_waits_for_the_last_process_that_uses_the_server(quick):
    quick.manage("db", "start")
    serving = quick.serve()
    assert "Another process still uses the database" in quick.manage("db", "stop").stdout
    assert quick.pid
    serving.terminate()
    finish(serving)
    assert not quick.pid


@pytest.mark.parametrize("arguments", [["check"], ["makemigrations", "--check"], ["db", "status"], ["help", "db"]])
def test_commands_without_data_start_nothing(quick, arguments):
    # The whole project, with its models: makemigrations would look at the migrations already applied.
    done = quick.manage(*arguments, DJANGO_SETTINGS_MODULE="labrecords.settings")
    assert (done.returncode, done.stderr) == (0, "")
    assert not (quick.data / "pg").exists()


def test_reading_the_projects_settings_starts_nothing(quick):
    done = quick.run("from labrecords import settings; print(settings.DATABASES['default']['NAME'])")
    assert done.stdout == "labrecords"
    assert not (quick.data / "pg").exists()
