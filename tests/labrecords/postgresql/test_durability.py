"""Nothing is served from a database that may lose what it has acknowledged: a real server, set so."""

from tests.labrecords.postgresql.lab import is_one_sentence, other_version

SERVE = "import labrecords.wsgi; print('serving')"  # what every way of serving the pages comes by


def test_serving_is_refused_while_a_setting_is_off_for_the_role(lab):
    lab.manage("db", "start")
    assert lab.run(SERVE).stdout == "serving"
    assert lab.run("ask('ALTER ROLE labrecords SET synchronous_commit = off')").returncode == 0
    refused = lab.run(SERVE)
    assert refused.returncode == 1
    assert "synchronous_commit off and may lose what it has acknowledged" in refused.stderr
    assert refused.stdout == ""
    lab.manage("db", "stop")


def test_serve_command_refuses_in_one_sentence(lab):
    lab.environment = {"DJANGO_SETTINGS_MODULE": "labrecords.settings"}
    lab.manage("db", "start")
    assert lab.run("ask('ALTER ROLE labrecords_web SET synchronous_commit = off')").returncode == 0
    done = lab.manage("serve", "--port", "8731")
    assert done.returncode == 1
    assert is_one_sentence(done.stderr)
    assert "synchronous_commit off and may lose what it has acknowledged" in done.stderr
    assert "Serving on" not in done.stdout
    lab.manage("db", "stop")


def test_throw_away_server_of_the_tests_is_served(quick):
    assert quick.run(f"{SERVE}; print(ask('SHOW fsync'))").stdout.splitlines() == ["serving", "[('off',)]"]


def test_new_database_has_page_checksums_also_with_older_programs(quick):
    done = quick.run("print(ask('SHOW data_checksums'))", LABRECORDS_PG_BIN=other_version())
    assert done.stdout == "[('on',)]", done.stderr
