"""Options of the whole suite."""

import pytest


def pytest_addoption(parser):
    parser.addoption("--run-slow", action="store_true", help="also run what takes minutes: faults, recovery, scale")


def pytest_collection_modifyitems(config, items):
    if config.getoption("--run-slow"):
        return
    for item in items:
        if "slow" in item.keywords:
            item.add_marker(pytest.mark.skip(reason="slow; run with --run-slow"))
