"""Options of the whole suite."""

import pytest


def pytest_addoption(parser):
    parser.addoption("--run-thorough", action="store_true", help="also run what .ci/run adds to the ordinary suite")
    parser.addoption("--run-slow", action="store_true", help="also run what takes minutes: faults, recovery, scale")


def pytest_collection_modifyitems(config, items):
    for marker in ("thorough", "slow"):
        option = f"--run-{marker}"
        for item in items:
            if marker in item.keywords and not config.getoption(option):
                item.add_marker(pytest.mark.skip(reason=f"{marker}; run with {option}"))
    if hasattr(config, "workerinput"):
        for item in items:
            if "alone" in item.keywords:
                item.add_marker(pytest.mark.skip(reason="measures time; run without other workers"))


@pytest.fixture(scope="module")
def open_folder():
    """A folder that the server's own user may enter when the tests run as root; pytest's tmp_path is closed to it."""
    from tests.labrecords.postgresql.lab import new_folder, remove

    folder = new_folder()
    yield folder
    remove(folder)
