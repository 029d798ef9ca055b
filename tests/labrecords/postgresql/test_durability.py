"""Nothing is served from a database that may lose what it has acknowledged: a real server, set so."""

import pytest

from tests.labrecords.postgresql.lab import is_one_sentence, other_version

SERVE = "import labrecords.wsgi; print('serving')"  # what every way of serving the pages comes by


@pytest.mark.parametrize("setting", ["fsync", "full_page_writes", "synchronous_commit"])
def test_serving_is_refused_while_a_setting_is_off(lab, setting):
    lab.manage("db", "start")
    assert lab.run(SERVE).stdout == "serving"
    reload = "ask('SELECT pg_reload_conf()'); time.sleep(0.3)"
    assert lab.run(f"ask('ALTER SYSTEM SET {setting} = off'); {reload}").returncode == 0
    refused = lab.run(SERVE)
    assert refused.returncode == 1
    assert f"so nothing is served: switch on {setting}." in refused.stderr
    assert refused.stdout == ""
    assert (
        lab.run(f"ask('ALTER SYSTEM RESET {setting}'); ask('SELECT pg_reload_conf()'); time.sleep(0.3)").returncode == 0
    )
    assert lab.run(SERVE).stdout == "serving"
    lab.manage("db", "stop")


def test_setting_of_the_role_alone_counts_too(lab):
    lab.manage("db", "start")
    assert lab.run("ask('ALTER ROLE labrecords SET synchronous_commit = off')").returncode == 0
    assert "switch on synchronous_commit." in lab.run(SERVE).stderr
    lab.manage("db", "stop")


def test_serve_command_refuses_in_one_sentence(lab):
    lab.environment = {"DJANGO_SETTINGS_MODULE": "labrecords.settings"}
    lab.manage("db", "start")
    assert lab.run("ask('ALTER SYSTEM SET full_page_writes = off'); ask('SELECT pg_reload_conf()')").returncode == 0
    done = lab.manage("serve", "--port", "8731")
    assert done.returncode == 1
    assert is_one_sentence(done.stderr)
    assert "switch on full_page_writes." in done.stderr
    assert "Serving on" not in done.stdout
    lab.manage("db", "stop")


def test_throw_away_server_of_the_tests_is_served(quick):
    assert quick.run(f"{SERVE}; print(ask('SHOW fsync'))").stdout.splitlines() == ["serving", "[('off',)]"]


def test_new_database_has_page_checksums_also_with_older_programs(quick):
    done = quick.run("print(ask('SHOW data_checksums'))", LABRECORDS_PG_BIN=other_version())
    assert done.stdout == "[('on',)]", done.stderr
